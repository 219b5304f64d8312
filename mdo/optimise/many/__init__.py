"""Optima of one study at thousands of points of its axes.

``model`` makes the compiled chain a model of the batch, ``points`` solves points in one process,
``chunk`` does a chunk, says what came out and checks the verdicts, ``solution`` is its record,
``optima`` goes through all points in levels, each started from its ``neighbours``.
"""
