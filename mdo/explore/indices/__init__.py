"""Sobol indices and Morris effects of a fixed design and of the optimum found again."""

from mdo.explore.indices.options import SensitivityOptions
from mdo.explore.indices.sensitivity import run_sensitivity

__all__ = ["SensitivityOptions", "run_sensitivity"]
