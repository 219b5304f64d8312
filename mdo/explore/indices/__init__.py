"""Sobol indices and Morris effects of a fixed design and of the optimum found again."""
