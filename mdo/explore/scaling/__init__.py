"""A family of vehicles of one shape, scaled by three laws and optimised at each size."""

from mdo.explore.scaling.laws import LAWS, scaled
from mdo.explore.scaling.run import ScalingOptions, run_scaling

__all__ = ["LAWS", "ScalingOptions", "run_scaling", "scaled"]
