"""Sobol indices and Morris effects."""
