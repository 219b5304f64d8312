"""Where the comparison turns: the value of one number at which both concepts weigh the same.

Along a knob the SMA system is optimised again and the geared hinge is sized again: both pay for
time, load and margin. The walk goes the way in which the difference narrows (first derivative: by
the envelope theorem for the optimum, ``dm*/dp = dm/dp - multipliers . d rows/dp``) to the end of a
sensible range; where the difference changes its sign, the root is closed in on by Brent's method
and stands on an optimum at that value. Where it does not, the closest point is reported.
Only the end, the middle and the way to the root are looked at: a range in which the difference
turns twice between them can be missed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.comparison.break_even_walk import Find, Reached, StoppedError, Walk, walk_to
from mdo.defend.uncertain import Uncertain, theta_with, uncertain_inputs
from mdo.model.system import OBJECTIVE
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import TECHNOLOGY, Knob, Move, direction, turned
from mdo.optimise.optimum import Optimum, reoptimise
from mdo.optimise.problem import DesignProblem
from mdo.study.number_text import quantity
from mdo.study.reader import StudyError

Floats = NDArray[np.float64]
RIVAL = "geared_mass"
DENSITY = "assumptions.baseline.torque_density"
TURNS, NEVER = "turns", "never in the range"
INDIFFERENT, AT_END = "no influence", "at the end of its range"
GAP = "turns where no design is found"
FACTOR = 10.0  # widest range looked at, over or under the present value
KELVIN = 60.0  # the same for absolute temperatures
ABSOLUTE = 150.0  # [K] a knob in kelvin from here on is a temperature, below it a difference
LITTLE = 1e-3  # share of the difference below which a whole range counts as no influence


@dataclass(frozen=True)
class BreakEven:
    """Where one knob turns the comparison.

    Attributes
    ----------
    knob
        What is turned.
    outcome
        ``turns``, ``never in the range``, ``turns where no design is found`` (the sign changes
        across values without a design), ``no influence`` or ``at the end of its range`` (the way
        that would narrow the difference is closed).
    slope
        Derivative of the difference (SMA less rival) by the knob at the present optimum, in kg per
        SI unit of the knob. That the rival's loads follow the mass of the new design is left out of
        it (5 % seen), not of the masses.
    now, closest
        Present point; the point of least difference that was reached, the break-even itself where
        it turns.
    limit
        End of the range that was looked at; the present value where none was.
    stopped_at, stopped_by
        Value nearest to the present one at which there was nothing to compare, NaN if there was
        none, and why.
    optima
        How many optima it took.
    """

    knob: Knob
    outcome: str
    slope: float
    now: Reached
    closest: Reached
    limit: float
    stopped_at: float
    stopped_by: str
    optima: int

    @property
    def value(self) -> float:
        """Value at which it turns, NaN if it does not."""
        return self.closest.value if self.outcome == TURNS else math.nan


def find_break_even(
    problem: DesignProblem,
    optimum: Optimum,
    *,
    knobs: Sequence[Knob] | None = None,
    rival: str = RIVAL,
    progress: Callable[[str], None] | None = None,
) -> tuple[BreakEven, ...]:
    """Find the value of each knob at which SMA system and rival weigh the same.

    Parameters
    ----------
    problem, optimum : the study and its optimum
    knobs : what to turn; by default every knob of the study and the torque density of the geared
        hinge, which needs no new design and is not held to its judged range
    rival : figure of the rival's mass
    progress : told what is being done

    Returns
    -------
    In the order of the knobs.

    Raises
    ------
    ValueError
        If the optimum is not feasible: there is no design whose mass could be compared.
    """
    if not optimum.feasible:
        raise ValueError("break-even: got a study without a feasible design, expected an optimum")
    say = progress or (lambda _: None)
    chosen = comparison_knobs(problem) if knobs is None else tuple(knobs)
    mass = float(problem.values(optimum.design, rival)[rival])
    results = []
    for number, knob in enumerate(chosen):
        say(f"Break-even of '{knob.title}', {number + 1} of {len(chosen)}")
        now = Reached(knob.value, optimum.mass, mass, optimum)
        results.append(_break_even(problem, optimum, knob, now, rival))
    if knobs is None:
        density = next((one for one in uncertain_inputs(problem) if one.path == DENSITY), None)
        if density is not None and rival == RIVAL:
            results.append(density_break_even(problem, optimum, density))
    return tuple(results)


def comparison_knobs(problem: DesignProblem) -> tuple[Knob, ...]:
    """Knobs of the study, with the times of single cases in proportion to those of the study."""
    found = all_knobs(problem)
    kept = []
    for knob in found:
        name, _, case = knob.name.partition(".")
        if case and name in {"fold_time", "return_time"}:
            continue
        parts = [one for one in found if one.name.startswith(f"{knob.name}.")]
        kept.append(_in_proportion(knob, parts) if parts else knob)
    return tuple(kept)


def _in_proportion(knob: Knob, parts: Sequence[Knob]) -> Knob:
    """Knob that moves the same field of single cases too."""
    own = {move.path for move in knob.moves}
    moves = [
        Move(move.path, move.base, move.base / knob.value)
        for part in parts
        for move in part.moves
        if move.path not in own
    ]
    title = f"{knob.title}, all cases in proportion"
    return replace(knob, title=title, moves=(*knob.moves, *moves))


def range_of(knob: Knob, scale: float) -> tuple[float, float]:
    """Range of a knob that is looked at: its own, within a factor of ten or 60 K.

    Parameters
    ----------
    knob : the knob
    scale : size of a knob that stands at zero, in its unit
    """
    if knob.unit == "K" and knob.value > ABSOLUTE:
        low, high = knob.value - KELVIN, knob.value + KELVIN
    else:
        low = -math.inf if knob.low <= 0.0 else knob.value / FACTOR
        high = FACTOR * (knob.value or scale)
    return max(low, knob.low), min(high, knob.high)


def _break_even(
    problem: DesignProblem, optimum: Optimum, knob: Knob, now: Reached, rival: str
) -> BreakEven:
    scale = max(float(problem.values(optimum.design, "baseline_moment")["baseline_moment"]), 1.0)
    low, high = range_of(knob, scale)
    slope = _slope(problem, optimum, knob, rival)
    ahead = -math.copysign(1.0, slope * now.difference)
    small = abs(slope) * max(high - knob.value, knob.value - low) < LITTLE * abs(now.difference)
    if small and now.difference < 0.0:  # what binds only later makes the SMA system heavier
        ahead, small = -float(knob.easier), False
    limit = high if ahead > 0.0 else low
    if small or limit == knob.value:
        outcome = INDIFFERENT if small else AT_END
        return BreakEven(knob, outcome, slope, now, now, knob.value, math.nan, "", 0)
    return _walked(knob, slope, Walk(_optimised(problem, optimum, knob, rival), now), limit)


def _walked(knob: Knob, slope: float, walk: Walk, limit: float) -> BreakEven:
    found = walk_to(walk, limit)
    beyond = walk.beyond()
    outcome = TURNS if found is not None else NEVER if beyond is None else GAP
    stopped_at, stopped_by = walk.first_stop()
    return BreakEven(
        knob=knob,
        outcome=outcome,
        slope=slope,
        now=walk.now,
        closest=found or beyond or walk.closest(),
        limit=limit,
        stopped_at=stopped_at,
        stopped_by=stopped_by,
        optima=walk.optima,
    )


def _optimised(problem: DesignProblem, optimum: Optimum, knob: Knob, rival: str) -> Find:
    """Optimum of the study with a knob turned, from a design nearby."""

    def find(value: float, near: Reached) -> Reached:
        try:
            other = turned(problem, {knob: value})
        except StudyError as error:
            raise StoppedError("no such study") from error
        found = reoptimise(other, near.found or optimum, starts=0)
        if not found.feasible:
            raise StoppedError("no design found")
        mass = float(other.values(found.design, rival)[rival])
        return Reached(value, found.mass, mass, found)

    return find


def density_break_even(problem: DesignProblem, optimum: Optimum, density: Uncertain) -> BreakEven:
    """Torque density of the geared hinge: the number on which its mass rests most.

    The SMA system does not know it: no new optimum is needed, and the value need not be one that a
    study may have.
    """
    knob = Knob(
        name="torque_density",
        title="Torque density of the geared hinge",
        kind=TECHNOLOGY,
        unit=density.unit,
        value=density.value,
        low=density.low,
        high=density.high,
        step=1.0,
        per="N*m/kg",
        easier=1,
        moves=(Move(density.path, density.value),),
    )

    def find(value: float, near: Reached) -> Reached:
        theta = theta_with(problem, {density: value})
        outputs = problem.chain.values(optimum.design, theta, problem.chain.prelude(theta))
        return near._replace(value=value, rival=float(outputs[RIVAL]))

    now = find(density.value, Reached(density.value, optimum.mass, math.nan, optimum))
    step = 1e-4 * density.value
    slope = (now.rival - find(density.value + step, now).rival) / step
    limit = density.value * (1.0 / FACTOR if now.difference > 0.0 else FACTOR)
    return _walked(knob, slope, Walk(find, now), limit)


def _slope(problem: DesignProblem, optimum: Optimum, knob: Knob, rival: str) -> float:
    """Derivative of the difference by the knob, the SMA system re-optimised."""
    slopes = problem.chain.slopes(
        optimum.design, problem.theta, problem.prelude, direction(problem, knob)
    )
    rows = slopes.rows[0][problem.counting] @ optimum.multipliers
    return float(slopes.figures[OBJECTIVE][0] - rows - slopes.figures[rival][0])


def sentence(found: BreakEven, units: str = "si") -> str:
    """Return the result of one knob in words."""
    knob = found.knob
    head = f"{knob.title} (now {said(knob, knob.value, units)})"
    if found.outcome == INDIFFERENT:
        return f"{head}: no influence on the difference at this design."
    if found.outcome == AT_END:
        return f"{head}: already at the end of its range that suits the {_behind(found)} best."
    if found.outcome == GAP:
        turned_at = said(knob, found.closest.value, units)
        missing = said(knob, found.stopped_at, units)
        return f"{head}: turned at {turned_at}, across values without a design ({missing})."
    if found.outcome == TURNS:
        return f"{head}: both weigh the same at {said(knob, found.value, units)}{_outside(found)}."
    return f"{head}: {_never(found, units)}."


def said(knob: Knob, value: float, units: str) -> str:
    """Return a value of a knob as text."""
    absolute = knob.unit == "K" and knob.value > ABSOLUTE
    unit = "N*m/kg" if knob.name == "torque_density" else knob.unit  # in the table as J/kg
    return quantity(value, unit, units, digits=3, difference=not absolute)


def kilograms(value: float, units: str) -> str:
    """Return a mass as text."""
    return quantity(value, "kg", units, digits=3)


def _behind(found: BreakEven) -> str:
    return "SMA actuator" if found.now.difference > 0.0 else "rival"


def _outside(found: BreakEven) -> str:
    """Say so where the value is outside the range that is judged possible."""
    outside = not found.knob.low <= found.value <= found.knob.high
    return ", outside its judged range" if outside else ""


def _never(found: BreakEven, units: str) -> str:
    knob = found.knob
    edge = f"never to {said(knob, found.limit, units)}"
    if math.isfinite(found.stopped_at):
        edge = f"never, {found.stopped_by} at {said(knob, found.stopped_at, units)}"
    heavier = "heavier" if found.now.difference > 0.0 else "lighter"
    at = "now"
    if found.closest.value != knob.value:
        at = f"at {said(knob, found.closest.value, units)}"
    apart = kilograms(abs(found.closest.difference), units)
    return f"{edge}; the SMA actuator stays {heavier}, least by {apart} {at}"


def break_even_table(found: Sequence[BreakEven]) -> pd.DataFrame:
    """Break-even of every knob: those that turn it first, then the nearest misses.

    ``now``, ``value``, ``closest_at``, ``limit`` and ``stopped_at`` in ``unit`` (SI); masses of the
    aircraft [kg]; ``difference`` is SMA actuator less rival.
    """
    order = {TURNS: 0, GAP: 1, NEVER: 2, AT_END: 3, INDIFFERENT: 4}
    ranked = sorted(found, key=lambda one: (order[one.outcome], abs(one.closest.difference)))
    return pd.DataFrame(
        [
            {
                "knob": one.knob.name,
                "title": one.knob.title,
                "kind": one.knob.kind,
                "unit": one.knob.unit,
                "now": one.knob.value,
                "outcome": one.outcome,
                "value": one.value,
                "slope": one.slope,
                "difference_now": one.now.difference,
                "closest_at": one.closest.value,
                "closest_mass": one.closest.mass,
                "closest_rival": one.closest.rival,
                "closest_difference": one.closest.difference,
                "limit": one.limit,
                "stopped_at": one.stopped_at,
                "stopped_by": one.stopped_by,
                "optima": one.optima,
                "text": sentence(one),
            }
            for one in ranked
        ]
    )
