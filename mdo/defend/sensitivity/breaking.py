"""How far each input may go, alone and at a fixed design, until a requirement breaks."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.defend.uncertain import Uncertain
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]
FLAT = 1e-12  # slopes below this times the width of the range move nothing
REACH = 1.0  # widths of the range up to which a first-order distance is worth telling


class Break(NamedTuple):
    """What happens to the requirements as one input goes one way, to first order.

    Attributes
    ----------
    path, way
        Input, and +1 where it rises, -1 where it falls.
    at_once
        Groups of rows that stand at their limit and break with the first step.
    group, requirement
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

    path: str
    way: int
    at_once: tuple[str, ...]
    group: str
    requirement: str
    row: int
    value: float
    share: float


def even_steps(inputs: tuple[Uncertain, ...]) -> tuple[Floats, Floats]:
    """Distance from the present value to either end of the range, in the even variable."""
    low = [one.low - one.value for one in inputs]
    high = [one.high - one.value for one in inputs]
    for number, one in enumerate(inputs):
        if one.logarithmic:
            low[number] = np.log(one.low / one.value)
            high[number] = np.log(one.high / one.value)
    return np.array(low), np.array(high)


def find_breaks(
    problem: DesignProblem, inputs: tuple[Uncertain, ...], rows: Floats, slopes: Floats
) -> tuple[Break, ...]:
    """Find what breaks first as each input falls and as it rises, two entries an input.

    Parameters
    ----------
    problem : the study
    inputs : what is uncertain
    rows : counting rows, (rows,)
    slopes : their slopes by each input in its even variable, (inputs, rows)
    """
    low, high = even_steps(inputs)
    found = []
    for number, one in enumerate(inputs):
        for way, end in ((-1, low[number]), (1, high[number])):
            width = high[number] - low[number]
            found.append(_break(problem, one, rows, way * slopes[number], (way, end, width)))
    return tuple(found)


def _break(
    problem: DesignProblem,
    one: Uncertain,
    rows: Floats,
    rising: Floats,
    going: tuple[int, float, float],
) -> Break:
    """One way of one input; ``rising`` are the slopes that way."""
    way, end, width = going
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
        return Break(one.path, way, at_once, "", "", -1, np.nan, np.inf)
    value = one.value * float(np.exp(way * far)) if one.logarithmic else one.value + way * far
    share = far / abs(end) if end != 0.0 else np.inf
    label = labels[row]
    return Break(one.path, way, at_once, label.group, problem.describe(label), row, value, share)
