"""A family of vehicles of one shape, scaled by three laws and optimised at each size."""

from mdo.explore.scaling.scaling import ScalingOptions, run_scaling
from mdo.study.scaling_laws import LAWS, scaled

__all__ = ["LAWS", "ScalingOptions", "run_scaling", "scaled"]
