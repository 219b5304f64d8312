"""What an optimum depends on: margins against every input, and which three numbers to measure.

Slopes are exact, shares and distances follow from them to first order; the design at the ends of
the ranges and the odds that it meets its requirements are re-evaluated. A step of an input is taken
in the variable that is even over its range (the logarithm of a wide range).

- *Mass*: the share of an input in the variance of the re-optimised mass, (deviation x slope)^2 over
  the sum. The slope is that of the envelope theorem: ``dm/dp - multipliers . d rows/dp``.
- *Verdict*: the share of an input in the variance of the rows that may fail, weighted by how often
  they do (:func:`mdo.defend.sensitivity.reliability.verdict_shares`).

An optimum stands on its limits: there about half of all steps break a requirement, and the odds
that the design as drawn meets all of them are poor. The reserves say what it would take. Ranges are
wide: where the slopes cannot be trusted to their ends, the confirmed optima and the counted odds
say so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import DrawnDesigns, rows_of_groups
from mdo.defend.sensitivity.reliability import (
    GroupOdds,
    Reserve,
    find_reserve,
    group_odds,
    variance_shares,
    verdict_shares,
)
from mdo.defend.slopes import design_values, mass_with, optimum_slopes
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import OBJECTIVE
from mdo.optimise.optimum import FEASIBLE, Optimum
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


class Effect(NamedTuple):
    """What one input does at the ends of its range, the others as they are.

    Attributes
    ----------
    mass_low, mass_high
        Change of the system mass of the design as it is [kg], re-evaluated.
    margin_low, margin_high
        Worst torque margin A/R - 1 [1], re-evaluated.
    worst_low, worst_high
        Worst counting row of each group, (groups,), re-evaluated.
    optimum_low, optimum_high
        Change of the re-optimised mass [kg], first order.
    mass_share
        Share in the variance of the re-optimised mass.
    verdict_share
        Share in the doubt of the verdict.
    falls, rises
        What breaks as the input falls and as it rises.
    """

    mass_low: float
    margin_low: float
    worst_low: Floats
    mass_high: float
    margin_high: float
    worst_high: Floats
    optimum_low: float
    optimum_high: float
    mass_share: float
    verdict_share: float
    falls: Break
    rises: Break

    @property
    def share(self) -> float:
        """Larger of the shares in mass and verdict."""
        return float(max(self.mass_share, self.verdict_share))


class InputSlopes(NamedTuple):
    """Slopes by the inputs in their even variables: first axis inputs.

    Counting rows, system mass of the design as it is and re-optimised [kg].
    """

    rows: Floats
    mass: Floats
    optimum_mass: Floats


class Confirmed(NamedTuple):
    """Re-optimised mass at the ends of the range of one input [kg]; NaN where none is feasible."""

    path: str
    low: float
    high: float


@dataclass(frozen=True)
class Sensitivity:
    """Sensitivity of an optimum.

    Attributes
    ----------
    optimum
        The optimum.
    odds
        The same design evaluated with drawn inputs.
    torque_margin
        Worst margin A/R - 1 of the design.
    worst
        Worst row of each group now.
    slopes, effects
        By the inputs, in their order.
    odds_of_groups, reserve, confirmed
        Results, see their classes.
    """

    optimum: Optimum
    odds: DrawnDesigns
    torque_margin: float
    worst: Floats
    slopes: InputSlopes
    effects: tuple[Effect, ...]
    odds_of_groups: tuple[GroupOdds, ...]
    reserve: Reserve
    confirmed: tuple[Confirmed, ...]

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        """What is uncertain, in the order of slopes and effects."""
        return self.odds.inputs

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups of rows, in the order of ``worst``."""
        return tuple(rows_of_groups(self.optimum.problem))

    def ranking(self) -> tuple[int, ...]:
        """Positions of the inputs, the one to measure first in front: by the larger share."""
        return _ranking(self.effects)


def find_sensitivity(
    optimum: Optimum,
    odds: DrawnDesigns,
    *,
    confirm: int = 3,
    progress: Callable[[str], None] | None = None,
) -> Sensitivity:
    """Find how an optimum answers to every input, and which inputs to measure first.

    Parameters
    ----------
    optimum : the optimum
    odds : its design evaluated with drawn inputs
    confirm : for how many of the first inputs the mass is re-optimised at both ends of the range
    progress : told what is being done

    Raises
    ------
    ValueError
        If the optimum is not feasible: there is no mass to compare with.
    """
    if not optimum.feasible:
        raise ValueError("sensitivity: the study is infeasible, expected a feasible optimum")
    say = progress or (lambda _: None)
    problem, inputs = optimum.problem, odds.inputs
    here = design_values(problem, optimum.design)
    slopes = _input_slopes(problem, optimum, inputs)
    doubts = group_odds(problem, here.rows, slopes.rows, odds)
    columns = [
        *_at_ends(problem, optimum, inputs, "low"),
        *_at_ends(problem, optimum, inputs, "high"),
        [entry.step_to(entry.low) for entry in inputs] * slopes.optimum_mass,
        [entry.step_to(entry.high) for entry in inputs] * slopes.optimum_mass,
        variance_shares(inputs, slopes.optimum_mass),
        verdict_shares(inputs, slopes.rows, doubts),
        *(
            [
                first_break(problem, entry, here.rows, slopes.rows[k], way)
                for k, entry in enumerate(inputs)
            ]
            for way in (-1, 1)
        ),
    ]
    effects = tuple(Effect(*column) for column in zip(*columns, strict=True))
    say("Mass to hold in reserve")
    reserve = find_reserve(optimum, odds, slopes.optimum_mass, slopes.rows, doubts)
    first = [inputs[k] for k in _ranking(effects)[:confirm]]
    return Sensitivity(
        optimum=optimum,
        odds=odds,
        torque_margin=here.worst_margin,
        worst=_worst(problem, here.rows),
        slopes=slopes,
        effects=effects,
        odds_of_groups=doubts,
        reserve=reserve,
        confirmed=tuple(_confirmed(optimum, entry, say) for entry in first),
    )


def _input_slopes(
    problem: DesignProblem, optimum: Optimum, inputs: tuple[Uncertain, ...]
) -> InputSlopes:
    slopes = optimum_slopes(problem, optimum, directions(problem, inputs))
    stretch = of_inputs(inputs, "stretch")
    mass = slopes.figures[OBJECTIVE]
    return InputSlopes(stretch[:, None] * slopes.rows, stretch * mass, stretch * slopes.mass)


def _at_ends(
    problem: DesignProblem, optimum: Optimum, inputs: tuple[Uncertain, ...], end: str
) -> tuple[list[float], list[float], list[Floats]]:
    """Design re-evaluated with each input in turn at one end of its range.

    Change of mass [kg], worst margin, worst row of each group.
    """
    masses, margins, worst = [], [], []
    for entry, way in zip(inputs, directions(problem, inputs), strict=True):
        theta = np.asarray(problem.theta) + (getattr(entry, end) - entry.value) * way
        values = design_values(problem.with_theta(theta), optimum.design)
        masses.append(values.mass - optimum.mass)
        margins.append(values.worst_margin)
        worst.append(_worst(problem, values.rows))
    return masses, margins, worst


def _ranking(effects: Iterable[Effect]) -> tuple[int, ...]:
    shares = np.array([effect.share for effect in effects])
    return tuple(int(k) for k in np.argsort(-shares, kind="stable"))


def _worst(problem: DesignProblem, rows: Floats) -> Floats:
    """Worst row of every group, (groups,)."""
    return np.array([rows[own].min() for own in rows_of_groups(problem).values()])


def _confirmed(optimum: Optimum, entry: Uncertain, say: Callable[[str], None]) -> Confirmed:
    """Re-optimise at both ends of the range of an input."""
    say(f"Optimum at both ends of the range of {entry.path}")
    low, high = (mass_with(optimum, {entry.path: end}) for end in (entry.low, entry.high))
    return Confirmed(entry.path, low, high)
