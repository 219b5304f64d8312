"""How far the masses of a map of corrected rows are off, from its table."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from mdo.arrays import Booleans
from mdo.model.system import OBJECTIVE
from mdo.optimise.status import FEASIBLE

if TYPE_CHECKING:
    import pandas as pd

SOLVED_DEAR, HELD_OUT = "solved dear", "held out"


class DearFigures(NamedTuple):
    """How far a map of corrected rows is off, of all choices together.

    Attributes
    ----------
    dear_points
        Optimised at the dear levels to correct the others.
    bound_median, bound_most
        Of the bound over the mass; NaN where nothing is feasible.
    unknown
        Feasible points without a bound: other rows count there.
    held_out, inside
        Points optimised at the dear levels to judge the bound, and those inside it.
    """

    dear_points: int
    bound_median: float
    bound_most: float
    unknown: int
    held_out: int
    inside: int


def dear_figures(points: pd.DataFrame) -> DearFigures | None:
    """How far a map is off, from its points; None where nothing is corrected."""
    if "mass_bound" not in points:
        return None
    good = points[points["status"] == FEASIBLE]
    share = good["mass_bound"] / good[OBJECTIVE]
    held = good[good["dear"] == HELD_OUT]
    return DearFigures(
        int((points["dear"] == SOLVED_DEAR).sum()),
        float(share.median()),
        float(share.max()),
        int(share.isna().sum()),
        len(held),
        int(inside(held).sum()),
    )


def inside(held: pd.DataFrame) -> Booleans:
    """Whether the dear mass of each point that was held out lies inside its bound."""
    off = (held["dear_mass"] - held[OBJECTIVE]).abs()
    return np.asarray(off <= held["mass_bound"])
