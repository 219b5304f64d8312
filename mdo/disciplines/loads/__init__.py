"""Hinge moment of the folding panel: air, gravity, inertia, friction."""
