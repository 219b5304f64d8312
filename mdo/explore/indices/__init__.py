"""Sobol indices and Morris effects of a fixed design and of the optimum found again."""

from mdo.explore.indices.sensitivity import SensitivityOptions, run_sensitivity

__all__ = ["SensitivityOptions", "run_sensitivity"]
