"""How far each input may go, alone and at a fixed design, until a requirement breaks."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.uncertain import Uncertain
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem import DesignProblem

FLAT = 1e-12  # slopes below this times the width of the range move nothing
REACH = 1.0  # widths of the range up to which a first-order distance is worth telling


class Break(NamedTuple):
    """What happens to the requirements as one input goes one way, to first order.

    Attributes
    ----------
    at_once
        Groups of rows that stand at their limit and break with the first step.
    requirement
        Of the row that breaks first among those not at their limit; empty where none does within
        one width of the range from the present value.
    row
        Position of that row among the counting rows; -1 where none breaks.
    value
        Value of the input at which it breaks [SI]; NaN where none does.
    share
        That distance over the distance to the end of the range: below 1 it breaks within the range;
        infinite where the present value is at that end, or where nothing breaks.
    """

    at_once: tuple[str, ...]
    requirement: str
    row: int
    value: float
    share: float

    @property
    def titles(self) -> str:
        """Titles of the requirements that break at once."""
        return "; ".join(REQUIREMENTS[group].title for group in self.at_once)


def first_break(
    problem: DesignProblem, entry: Uncertain, rows: Floats, slopes: Floats, way: int
) -> Break:
    """Find what breaks first as an input goes one way.

    Parameters
    ----------
    problem, entry : the study and the input
    rows, slopes : counting rows and their slopes by the input in its even variable, (rows,)
    way : +1 where the input rises, -1 where it falls
    """
    width = entry.step_to(entry.high) - entry.step_to(entry.low)
    end = entry.step_to(entry.high if way > 0 else entry.low)
    rising = way * slopes
    falls = -rising * width > FLAT
    limit = rows <= FEASIBLE
    labels = problem.counting_labels
    at_once = tuple(dict.fromkeys(labels[j].group for j in np.flatnonzero(falls & limit)))
    distance = np.full(rows.size, np.inf)
    later = falls & ~limit
    distance[later] = rows[later] / -rising[later]
    row = int(distance.argmin())
    far = float(distance[row])
    if not far <= REACH * width:
        return Break(at_once, "", -1, np.nan, np.inf)
    share = far / abs(end) if end != 0.0 else np.inf
    return Break(at_once, problem.describe(labels[row]), row, entry.stepped(way * far), share)
