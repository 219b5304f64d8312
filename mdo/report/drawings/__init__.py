"""Drawings to scale: pure functions of a design."""
