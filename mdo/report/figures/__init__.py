"""Figures: pure functions of a table of a result."""
