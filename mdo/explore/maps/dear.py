"""How far the masses of a map of corrected rows are off, from its table."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Booleans
from mdo.model.system import OBJECTIVE
from mdo.optimise.status import FEASIBLE

SOLVED_DEAR, HELD_OUT = "solved dear", "held out"


class DearFigures(NamedTuple):
    """How far a map of corrected rows is off, of all choices together.

    Attributes
    ----------
    dear_points
        Optimised at the dear levels to correct the others.
    mass_bound_median, mass_bound_most
        Of the bound over the mass; NaN where nothing is feasible.
    mass_bound_unknown
        Feasible points without a bound: other rows count there.
    held_out, held_out_inside
        Points optimised at the dear levels to judge the bound, and those inside it.
    """

    dear_points: int
    mass_bound_median: float
    mass_bound_most: float
    mass_bound_unknown: int
    held_out: int
    held_out_inside: int


def dear_figures(points: pd.DataFrame) -> DearFigures | None:
    """How far a map is off, from its points; None where nothing is corrected."""
    if "mass_bound" not in points:
        return None
    good = points[points["status"] == FEASIBLE]
    share = good["mass_bound"] / good[OBJECTIVE]
    held = good[good["dear"] == HELD_OUT]
    return DearFigures(
        int((points["dear"] == SOLVED_DEAR).sum()), float(share.median()), float(share.max()),
        int(share.isna().sum()), len(held), int(inside(held).sum()),
    )  # fmt: skip


def inside(held: pd.DataFrame) -> Booleans:
    """Whether the dear mass of each point that was held out lies inside its bound."""
    off = (held["dear_mass"] - held[OBJECTIVE]).abs()
    return np.asarray(off <= held["mass_bound"])
