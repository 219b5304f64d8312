"""Requirement maps: the optimum at every point of some axes, and which choice wins where."""
