"""Where the comparison turns: the value of one number at which both concepts weigh the same.

Along a knob the SMA system is optimised again and the geared hinge is sized again: both pay for
time, load and margin. The walk goes the way in which the difference narrows (first derivative: by
the envelope theorem for the optimum, ``dm*/dp = dm/dp - multipliers . d rows/dp``) to the end of a
sensible range; where the difference changes its sign, the root is closed in on by Brent's method
and stands on an optimum at that value. Where it does not, the closest point is reported.
Only the end, the middle, twice Newton's step and the way to the root are looked at: a range in
which the difference turns twice between them can be missed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from mdo.defend.comparison.break_even_walk import Find, Reached, Walk, walk_to
from mdo.defend.slopes import knob_slopes
from mdo.defend.tables.frame import of_records
from mdo.defend.uncertain import Uncertain, theta_with, uncertain_inputs
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import SHARES, TECHNOLOGY, Knob, Move
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.problem import DesignProblem
from mdo.optimise.reoptimise import reoptimise_with
from mdo.study.number_text import quantity

RIVAL = "geared_mass"
DENSITY = "assumptions.baseline.torque_density"
COLUMNS = (
    "knob=knob.name title=knob.title kind=knob.kind unit=knob.unit now=knob.value outcome value "
    "slope difference_now=now.difference closest_at=closest.value closest_mass=closest.mass "
    "closest_rival=closest.rival closest_difference=closest.difference limit stopped_at "
    "stopped_by optima"
)
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
    optimum: Optimum, knobs: Sequence[Knob] | None = None, say: Progress = lambda _: None
) -> tuple[BreakEven, ...]:
    """Find the value of each knob at which SMA system and geared hinge weigh the same.

    Parameters
    ----------
    optimum : of the study
    knobs : what to turn; by default every knob of the study and the torque density of the geared
        hinge, which needs no new design and is not held to its judged range
    say : told what is being done

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
    problem = optimum.problem
    chosen = comparison_knobs(problem) if knobs is None else tuple(knobs)
    rival = float(problem.values(optimum.design, RIVAL)[RIVAL])
    results = []
    for number, knob in enumerate(chosen):
        say(f"Break-even of '{knob.title}', {number + 1} of {len(chosen)}")
        results.append(_break_even(optimum, knob, rival))
    if knobs is None:
        results += [
            density_break_even(optimum, entry)
            for entry in uncertain_inputs(problem)
            if entry.path == DENSITY
        ]
    return tuple(results)


def comparison_knobs(problem: DesignProblem) -> tuple[Knob, ...]:
    """Knobs of the study, with the times of single cases in proportion to those of the study."""
    knobs = all_knobs(problem)
    kept = []
    for knob in knobs:
        name, _, case = knob.name.partition(".")
        if case and name in {"fold_time", "return_time"}:
            continue
        parts = [part for part in knobs if part.name.startswith(f"{knob.name}.")]
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


def _break_even(optimum: Optimum, knob: Knob, rival: float) -> BreakEven:
    problem, now = optimum.problem, Reached(knob.value, optimum.mass, rival, optimum)
    scale = max(float(problem.values(optimum.design, "baseline_moment")["baseline_moment"]), 1.0)
    low, high = range_of(knob, scale)
    slopes = knob_slopes(optimum, knob)
    slope = float(slopes.mass[0] - slopes.figures[RIVAL][0])
    ahead = -math.copysign(1.0, slope * now.difference)
    small = abs(slope) * max(high - knob.value, knob.value - low) < LITTLE * abs(now.difference)
    if small and now.difference < 0.0:  # what binds only later makes the SMA system heavier
        ahead, small = -float(knob.easier), False
    limit = high if ahead > 0.0 else low
    if small or limit == knob.value:
        outcome = INDIFFERENT if small else AT_END
        return BreakEven(knob, outcome, slope, now, now, knob.value, math.nan, "", 0)
    return _walked(knob, slope, Walk(_optimised(optimum, knob), now), limit)


def _walked(knob: Knob, slope: float, walk: Walk, limit: float) -> BreakEven:
    root = walk_to(walk, limit, slope)
    beyond = walk.beyond()
    outcome = TURNS if root is not None else NEVER if beyond is None else GAP
    closest = root or beyond or walk.closest()
    return BreakEven(
        knob, outcome, slope, walk.now, closest, limit, *walk.first_stop(), walk.optima
    )


def _optimised(optimum: Optimum, knob: Knob) -> Find:
    """Optimum of the study with a knob turned, from a design nearby."""

    def find(value: float, near: Reached) -> Reached:
        there = reoptimise_with(optimum.problem, knob.fields(value), near.optimum or optimum)
        rival = float(there.problem.values(there.design, RIVAL)[RIVAL])
        return Reached(value, there.mass, rival, there)

    return find


def density_break_even(optimum: Optimum, density: Uncertain) -> BreakEven:
    """Torque density of the geared hinge: the number on which its mass rests most.

    The SMA system does not know it: no new optimum is needed, and the value need not be one that a
    study may have.
    """
    title, turned = "Torque density of the geared hinge", Move(density.path, density.value)
    knob = Knob(
        name="torque_density", title=title, kind=TECHNOLOGY, unit=density.unit,
        value=density.value, low=density.low, high=density.high, step=1.0, per="N*m/kg", easier=1,
        moves=(turned,),
    )  # fmt: skip

    problem = optimum.problem

    def find(value: float, near: Reached) -> Reached:
        theta = theta_with(problem, {density: value})
        outputs = problem.values_with(optimum.design, theta)
        return near._replace(value=value, rival=float(outputs[RIVAL]))

    now = find(density.value, Reached(density.value, optimum.mass, math.nan, optimum))
    step = 1e-4 * density.value
    slope = (now.rival - find(density.value + step, now).rival) / step
    limit = density.value * (1.0 / FACTOR if now.difference > 0.0 else FACTOR)
    return _walked(knob, slope, Walk(find, now), limit)


def sentence(result: BreakEven) -> str:
    """Return the result of one knob in words."""
    knob, closest = result.knob, result.closest
    heavier = result.now.difference > 0.0

    stopped = said(knob, result.stopped_at) if math.isfinite(result.stopped_at) else ""
    at = said(knob, closest.value)
    outside = "" if knob.low <= closest.value <= knob.high else ", outside its judged range"
    edge = (
        f", {result.stopped_by} at {stopped}"
        if stopped
        else f", searched to {said(knob, result.limit)}"
    )
    apart = quantity(abs(closest.difference), "kg", digits=3)
    text = {
        INDIFFERENT: "no influence on the difference at this design",
        AT_END: "already at the end of its range that suits the "
        f"{'SMA actuator' if heavier else 'rival'} best",
        GAP: f"turned at {at}, across values without a design ({stopped})",
        TURNS: f"both weigh the same at {at}{outside}",
        NEVER: f"never{edge}; the SMA actuator stays {'heavier' if heavier else 'lighter'}, least "
        f"by {apart} {'now' if closest.value == knob.value else f'at {at}'}",
    }[result.outcome]
    return f"{knob.title} (now {said(knob, knob.value)}): {text}."


def said(knob: Knob, value: float) -> str:
    """Return a value of a knob as text."""
    absolute = knob.unit == "K" and knob.value > ABSOLUTE
    unit = "N*m/kg" if knob.name == "torque_density" else knob.unit  # in the table as J/kg
    unit = "fraction" if knob.name in SHARES else unit
    return quantity(value, unit, digits=3, difference=not absolute)


def break_even_tables(results: Sequence[BreakEven]) -> dict[str, pd.DataFrame]:
    """Break-even of every knob: those that turn it first, then the nearest misses; and in words.

    ``now``, ``value``, ``closest_at``, ``limit`` and ``stopped_at`` in ``unit`` (SI); masses of the
    aircraft [kg]; ``difference`` is SMA actuator less rival.
    """
    order = [TURNS, GAP, NEVER, AT_END, INDIFFERENT]
    ranked = sorted(
        results, key=lambda result: (order.index(result.outcome), abs(result.closest.difference))
    )
    table = of_records(ranked, COLUMNS).assign(text=[sentence(result) for result in ranked])
    words = pd.DataFrame({"text": [sentence(result) for result in results]})
    return {"break_even": table, "break_even_words": words}
