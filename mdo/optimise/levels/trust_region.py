"""The optimum of a dear model by corrections of a cheap one, in a trust region.

The cheap model gets values and slopes of the dear one at a centre (first-order additive correction:
Alexandrov, Lewis, Gumbert, Green and Newman, Journal of Aircraft 38, 2001) and the curvature of the
difference of their Lagrangians by symmetric rank-one secants; it is minimised within a box around
the centre, and the step is judged by an exact penalty of the dear model (Conn, Gould and Toint,
Trust-Region Methods, SIAM, 2000, ch. 15; Nocedal and Wright, Numerical Optimization, 2nd ed., ch.
6.2 and 18.5; all from memory). Nothing but the dear model's own optimality ends it. Where the
corrections do not carry that far the dear model is minimised directly.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.newton_end import AT_BOUND, NEAR, Conditions, stationarity
from mdo.optimise.problem import Evaluated

CORRECTED, DIRECT = "corrected", "direct"
BADLY, WELL = 0.25, 0.75  # shares of the gain foretold: the box shrinks, may grow
LEAST = 0.05  # share with which a step is taken
SHRINK, GROW = 0.3, 2.0
BIGGEST = 4.0  # size of the box in the scaled variables
NOISE, STALLED, SLACK = 1e-9, 1e-9, 1e-6  # gain (relative), step and violation that are none
SECANT = 1e-8  # least cosine with which a secant says something (Nocedal and Wright, eq. 6.26)


class Model(NamedTuple):
    """Functions of the scaled variables: objective and rows (>= 0), and these with slopes."""

    values: Callable[[Floats], tuple[float, Floats]]
    slopes: Callable[[Floats], Evaluated]


class Options(NamedTuple):
    """When to end and when to give up.

    Attributes
    ----------
    optimal, feasible
        KKT residual and violation of the dear model that end it.
    radius
        Half the side of the first box.
    rejections
        Steps refused in a row after which the dear model is minimised directly.
    gradients
        Gradients of the dear model after which it is.
    """

    optimal: float = 1e-6
    feasible: float = 1e-7
    radius: float = 0.5
    rejections: int = 3
    gradients: int = 12


DEFAULT = Options()


class Difference(NamedTuple):
    """Difference of the dear model and the cheap one around a centre; objective first, then rows.

    ``curvature`` is that of the Lagrangians; it is added to the objective.
    """

    centre: Floats
    values: Floats
    slopes: Floats
    curvature: Floats

    def corrected(self, z: Floats, cheap: Evaluated) -> Evaluated:
        """Values and slopes of the cheap model, corrected."""
        step = z - self.centre
        change, bent = self.values + self.slopes @ step, self.curvature @ step
        return Evaluated(
            cheap.objective + float(change[0] + step @ bent / 2.0),
            cheap.rows + change[1:],
            cheap.objective_slope + self.slopes[0] + bent,
            cheap.row_slopes + self.slopes[1:],
        )


class Step(NamedTuple):
    """The centre after a step, and what the step was; the first has none.

    Attributes
    ----------
    evaluations, gradients, objective, violation, kkt_residual
        Of the dear model: until then, and at the centre.
    radius, size
        Half the side of the box, and the largest part of the step.
    foretold, gained
        Fall of the penalised objective by the corrected model and by the dear one.
    accepted
        Whether the centre moved.
    worst, moved
        Row near its limit that the correction moves most (-1: none), and by how much there.
    """

    evaluations: int
    gradients: int
    objective: float
    violation: float
    kkt_residual: float
    radius: float
    size: float
    foretold: float
    gained: float
    accepted: bool
    worst: int
    moved: float


class Ended(NamedTuple):
    """Where it ended: by corrections or directly, and every step.

    ``value`` is the dear model's there; ``difference`` corrects the cheap model around it.
    """

    z: Floats
    value: Evaluated
    conditions: Conditions
    violation: float
    optimal: bool
    way: str
    difference: Difference
    steps: tuple[Step, ...]

    @property
    def evaluations(self) -> int:
        """Designs at which the dear model was evaluated."""
        return self.steps[-1].evaluations

    @property
    def gradients(self) -> int:
        """Designs at which it was evaluated with slopes."""
        return self.steps[-1].gradients


class Direct(NamedTuple):
    """End of the direct minimisation, and what it took of the dear model."""

    z: Floats
    evaluations: int
    gradients: int


class _Centre(NamedTuple):
    """A design with the dear model there and its difference to the cheap one."""

    z: Floats
    dear: Evaluated
    values: Floats
    slopes: Floats
    conditions: Conditions

    @property
    def violation(self) -> float:
        return violation_of(self.dear.rows)

    @property
    def worst(self) -> tuple[int, float]:
        """Row near its limit that the correction moves most, and by how much; -1 for none."""
        change = np.abs(self.values[1:])
        near = np.flatnonzero(np.abs(self.dear.rows) < change + NEAR)
        if not near.size:
            return -1, 0.0
        row = int(near[change[near].argmax()])
        return row, float(self.values[1 + row])


class _Pair(NamedTuple):
    """Both models between bounds; ``scale`` is the norm of the first slope."""

    dear: Model
    cheap: Model
    lower: Floats
    upper: Floats
    scale: float

    def centre(self, z: Floats) -> _Centre:
        own, other = self.dear.slopes(z), self.cheap.slopes(z)
        return _Centre(
            z,
            own,
            np.append(own.objective - other.objective, own.rows - other.rows),
            np.vstack([own.objective_slope - other.objective_slope,
                       own.row_slopes - other.row_slopes]),
            self.conditions(own, z, self.lower, self.upper),
        )  # fmt: skip

    def conditions(self, value: Evaluated, z: Floats, lower: Floats, upper: Floats) -> Conditions:
        every = np.arange(value.rows.size)
        low, high = z - lower < AT_BOUND, upper - z < AT_BOUND
        return stationarity(value, every, low, high, least=self.scale)


Subproblem = Callable[[Difference, Floats, Floats], Floats]


def violation_of(rows: Floats) -> float:
    """Largest violation of rows that should be >= 0."""
    return max(0.0, -float(rows.min(initial=0.0)))


def minimise(
    dear: Model,
    cheap: Model,
    subproblem: Subproblem,
    direct: Callable[[Floats], Direct],
    *,
    start: Floats,
    lower: Floats,
    upper: Floats,
    options: Options = DEFAULT,
    say: Callable[[Step], None] = lambda _: None,
) -> Ended:
    """Minimise the dear model.

    Parameters
    ----------
    dear, cheap : the models
    subproblem : minimiser of the cheap model with a difference, between bounds
    direct : minimiser of the dear model, from a design
    start : first centre, best the optimum of the cheap model
    lower, upper : bounds of the scaled variables
    options : when to end
    say : told every step
    """
    scale = float(np.linalg.norm(dear.slopes(start).objective_slope))
    pair = _Pair(dear, cheap, lower, upper, max(scale, NOISE))
    at, curvature = pair.centre(start), np.zeros((start.size, start.size))
    radius, refused, penalty = options.radius, 0, 0.0
    steps = [_step(at, 1, 1, radius)]
    say(steps[0])
    while not _optimal(at, options):
        evaluations, gradients = steps[-1].evaluations + 1, steps[-1].gradients
        if refused == options.rejections or gradients >= options.gradients:
            return _directly(pair, direct, at, steps, options, say)
        low, high = np.maximum(lower, at.z - radius), np.minimum(upper, at.z + radius)
        difference = Difference(at.z, at.values, at.slopes, curvature)
        z = np.clip(subproblem(difference, low, high), low, high)
        size = float(np.abs(z - at.z).max(initial=0.0))
        if size < STALLED:
            return _directly(pair, direct, at, steps, options, say)
        model = difference.corrected(z, cheap.slopes(z))
        multipliers = pair.conditions(model, z, low, high).multipliers
        penalty = _penalty(penalty, at, model, multipliers)
        objective, rows = dear.values(z)
        before = at.dear.objective + penalty * at.violation
        foretold = before - model.objective - penalty * violation_of(model.rows)
        gained = before - objective - penalty * violation_of(rows)
        accepted = gained > LEAST * foretold - NOISE * abs(objective)
        if accepted:
            new = pair.centre(z)
            curvature = _secant(curvature, at, new, multipliers)
            at, refused, gradients = new, 0, gradients + 1
        else:
            refused += 1
        steps.append(
            _step(at, evaluations, gradients, radius, size, foretold, gained, accepted=accepted)
        )
        say(steps[-1])
        radius = _next_radius(steps[-1])
    return _ended(at, curvature, CORRECTED, steps, options)


def _optimal(at: _Centre, options: Options) -> bool:
    return at.violation <= options.feasible and at.conditions.residual <= options.optimal


def _penalty(before: float, at: _Centre, model: Evaluated, multipliers: Floats) -> float:
    """Weight of the largest violation: above the sum of multipliers, so that it is exact.

    And so large that a step which mends violations is foretold to be a gain.
    """
    mended = at.violation - violation_of(model.rows)
    needed = (model.objective - at.dear.objective) / mended if mended > NOISE else 0.0
    return max(before, 2.0 * float(multipliers.sum()), 2.0 * needed)


def _secant(curvature: Floats, old: _Centre, new: _Centre, multipliers: Floats) -> Floats:
    """Symmetric rank-one update by the change of the slope of the difference of Lagrangians."""
    step = new.z - old.z
    left = np.append(1.0, -multipliers) @ (new.slopes - old.slopes) - curvature @ step
    along = float(left @ step)
    if abs(along) <= SECANT * float(np.linalg.norm(left) * np.linalg.norm(step)):
        return curvature
    return np.asarray(curvature + np.outer(left, left) / along)


def _next_radius(step: Step) -> float:
    """Half the side of the next box."""
    if not step.accepted:
        return SHRINK * step.size
    if step.gained < BADLY * step.foretold:
        return 0.5 * step.size
    if step.gained > WELL * step.foretold and step.size > 0.8 * step.radius:
        return min(GROW * step.radius, BIGGEST)
    return step.radius


def _step(
    at: _Centre,
    evaluations: int,
    gradients: int,
    radius: float,
    size: float = 0.0,
    foretold: float = 0.0,
    gained: float = 0.0,
    *,
    accepted: bool = True,
) -> Step:
    return Step(
        evaluations, gradients, at.dear.objective, at.violation, at.conditions.residual,
        radius, size, foretold, gained, accepted, *at.worst,
    )  # fmt: skip


def _directly(
    pair: _Pair,
    direct: Callable[[Floats], Direct],
    at: _Centre,
    steps: list[Step],
    options: Options,
    say: Callable[[Step], None],
) -> Ended:
    """Minimise the dear model from where the corrections have come to."""
    found = direct(at.z)
    end = pair.centre(found.z)
    if end.violation > max(at.violation, SLACK):  # no better than what is in hand
        end = at
    evaluations = steps[-1].evaluations + found.evaluations
    gradients = steps[-1].gradients + found.gradients
    size = float(np.abs(end.z - at.z).max(initial=0.0))
    gain = at.dear.objective - end.dear.objective
    steps.append(_step(end, evaluations, gradients, np.inf, size, np.nan, gain))
    say(steps[-1])
    return _ended(end, np.zeros((end.z.size, end.z.size)), DIRECT, steps, options)


def _ended(at: _Centre, curvature: Floats, way: str, steps: list[Step], options: Options) -> Ended:
    return Ended(
        at.z, at.dear, at.conditions, at.violation, _optimal(at, options), way,
        Difference(at.z, at.values, at.slopes, curvature), tuple(steps),
    )  # fmt: skip
