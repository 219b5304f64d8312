"""What the design depends on: margins against every input, and which three numbers to measure.

All of it at one design. Slopes are exact, shares and distances follow from them to first order; the
design at the ends of the ranges and the odds that it meets its requirements are re-evaluated. A
step of an input is taken in the variable that is even over its range (the logarithm of a wide
range).

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

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.defend.sensitivity.breaking import Break, even_steps, find_breaks
from mdo.defend.sensitivity.design_odds import Odds, design_odds
from mdo.defend.sensitivity.elasticity import (
    ALL,
    Along,
    Base,
    Elasticity,
    Unmoved,
    find_elasticities,
)
from mdo.defend.sensitivity.reliability import (
    GroupOdds,
    Reserve,
    find_reserve,
    group_odds,
    rows_of_groups,
    variance_shares,
    verdict_shares,
)
from mdo.defend.uncertain import Uncertain, directions, uncertain_inputs
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import Optimum, reoptimise
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]


class Effect(NamedTuple):
    """What one input does at the ends of its range, the others as they are.

    Attributes
    ----------
    mass_low, mass_high
        Change of the system mass of the design as it is [kg], re-evaluated.
    optimum_low, optimum_high
        Change of the re-optimised mass [kg], first order; NaN where there is no feasible optimum.
    margin_low, margin_high
        Worst torque margin A/R - 1 [1], re-evaluated.
    worst_low, worst_high
        Worst counting row of each group, (groups,), re-evaluated.
    mass_share, fixed_share
        Share in the variance of the re-optimised mass, and of the mass of the design as it is.
    verdict_share
        Share in the doubt of the verdict.
    falls, rises
        What breaks as the input falls and as it rises.
    """

    mass_low: float
    mass_high: float
    optimum_low: float
    optimum_high: float
    margin_low: float
    margin_high: float
    worst_low: Floats
    worst_high: Floats
    mass_share: float
    fixed_share: float
    verdict_share: float
    falls: Break
    rises: Break

    @property
    def share(self) -> float:
        """Larger of the shares in mass and verdict; one that is not known does not count."""
        return float(np.nan_to_num([self.mass_share, self.verdict_share]).max())


class InputSlopes(NamedTuple):
    """Slopes by the inputs in their even variables: first axis inputs.

    ``rows`` counting rows of the design, ``binding`` those of the optimum, ``mass`` and
    ``optimum_mass`` [kg], ``margins`` torque margins of heated legs that meet resistance.
    """

    rows: Floats
    binding: Floats
    mass: Floats
    optimum_mass: Floats
    margins: Floats


class Ends(NamedTuple):
    """The design re-evaluated with each input at one end of its range; first axis inputs.

    Counting rows, system mass [kg], worst torque margin.
    """

    rows: Floats
    mass: Floats
    margin: Floats


class Confirmed(NamedTuple):
    """Re-optimised mass at the ends of the range of one input [kg]; NaN where none is feasible."""

    path: str
    low: float
    high: float


@dataclass(frozen=True)
class Sensitivity:
    """Sensitivity of one design.

    Attributes
    ----------
    problem, optimum
        The study, and the optimum whose multipliers are used.
    design
        Design vector that was examined.
    inputs
        Inputs with a range, in the order of ``slopes`` and ``effects``.
    rows, mass, torque_margin
        Of the design: counting rows (rows,), system mass [kg], worst margin A/R - 1.
    groups, worst
        Groups of rows and the worst row of each now.
    slopes, effects, odds_of_groups, odds, reserve, confirmed, elasticities
        Results, see their classes.
    unmoved
        Numbers of the study that could not be changed alone.
    """

    problem: DesignProblem
    optimum: Optimum
    design: Floats
    inputs: tuple[Uncertain, ...]
    rows: Floats
    mass: float
    torque_margin: float
    groups: tuple[str, ...]
    worst: Floats
    slopes: InputSlopes
    effects: tuple[Effect, ...]
    odds_of_groups: tuple[GroupOdds, ...]
    odds: Odds
    reserve: Reserve
    confirmed: tuple[Confirmed, ...]
    elasticities: tuple[Elasticity, ...]
    unmoved: tuple[Unmoved, ...]

    def ranking(self) -> tuple[int, ...]:
        """Positions of the inputs, the one to measure first in front: by the larger share."""
        return _ranking(self.effects)


def find_sensitivity(
    problem: DesignProblem,
    optimum: Optimum,
    *,
    design: Floats | None = None,
    inputs: tuple[Uncertain, ...] | None = None,
    samples: int = 500,
    confirm: int = 3,
    known_numbers: str = ALL,
    progress: Callable[[str], None] | None = None,
) -> Sensitivity:
    """Find how a design answers to every input, and which inputs to measure first.

    Parameters
    ----------
    problem, optimum : the study and its optimum
    design : design vector to examine; the optimum's where it is not given
    inputs : what is uncertain; card, judged assumptions and declared life where not given
    samples : re-evaluated designs for the odds
    confirm : for how many of the first inputs the mass is re-optimised at both ends of the range
    known_numbers : which of the known numbers of the study: ``all``, ``knobs``, ``none``
    progress : told what is being done

    Raises
    ------
    ValueError
        If there is no sample to take, or ``known_numbers`` is another word.
    """
    say = progress or (lambda _: None)
    if inputs is None:
        inputs = uncertain_inputs(problem)
    chosen = np.asarray(optimum.design if design is None else design)
    point = _Point(problem, optimum, chosen)
    say(f"Slopes by {len(inputs)} uncertain inputs")
    ways = directions(problem, inputs)
    slopes = point.by_inputs(inputs, ways)
    odds = design_odds(problem, chosen, inputs, ways=ways, samples=samples, progress=say)
    doubts = group_odds(problem, inputs, point.base.rows, slopes.rows, odds)
    ends = [
        point.at(np.array([getattr(one, end) - one.value for one in inputs]), ways)
        for end in ("low", "high")
    ]
    effects = _effects(problem, inputs, point.base, slopes, ends, doubts)
    say("Numbers of the study that are known")
    known = frozenset(one.path for one in inputs)
    answers, unmoved = find_elasticities(
        problem, point.base, point.along, known=known, which=known_numbers
    )
    say("Mass to hold in reserve")
    reserve = find_reserve(
        problem,
        optimum,
        inputs,
        optimum_slopes=slopes.optimum_mass,
        binding_slopes=slopes.binding,
        of_groups=doubts,
        odds=odds,
    )
    first = [inputs[k] for k in _ranking(effects)[:confirm]]
    return Sensitivity(
        problem=problem,
        optimum=optimum,
        design=chosen,
        inputs=inputs,
        rows=point.base.rows,
        mass=point.base.mass,
        torque_margin=float(point.base.margins.min(initial=np.inf)),
        groups=tuple(rows_of_groups(problem)),
        worst=_worst(problem, point.base.rows),
        slopes=slopes,
        effects=effects,
        odds_of_groups=doubts,
        odds=odds,
        reserve=reserve,
        confirmed=_confirm(problem, optimum, first, say),
        elasticities=answers,
        unmoved=unmoved,
    )


class _Point:
    """Slopes along directions at the design, with those of the optimum for the envelope."""

    def __init__(self, problem: DesignProblem, optimum: Optimum, x: Floats) -> None:
        self._problem, self._optimum, self._x = problem, optimum, x
        self._same = bool(np.array_equal(x, optimum.design))
        values = problem.values(x)
        self._resists = _resisted(values)
        self.base = Base(
            rows=problem.rows_of(values)[problem.counting],
            mass=float(values["system_mass"]),
            optimum_mass=optimum.mass if optimum.feasible else float("nan"),
            margins=values["torque_margin"][self._resists],
        )

    def along(self, way: Floats) -> Along:
        """Slopes along one direction in theta."""
        problem = self._problem
        chain, theta, prelude = problem.chain, problem.theta, problem.prelude
        here = chain.slopes(self._x, theta, prelude, way)
        there = here if self._same else chain.slopes(self._optimum.design, theta, prelude, way)
        binding = np.asarray(there.rows)[0][problem.counting]
        mass = float(there.figures["system_mass"][0])
        saved = float(self._optimum.multipliers @ binding)
        return Along(
            rows=np.asarray(here.rows)[0][problem.counting],
            binding=binding,
            mass=float(here.figures["system_mass"][0]),
            optimum_mass=mass - saved if self._optimum.feasible else float("nan"),
            margins=np.asarray(here.figures["torque_margin"])[0][self._resists],
        )

    def by_inputs(self, inputs: tuple[Uncertain, ...], ways: Floats) -> InputSlopes:
        """Slopes by every input, in its even variable."""
        found = [
            [one.stretch * np.asarray(part) for part in self.along(way)]
            for one, way in zip(inputs, ways, strict=True)
        ]
        return InputSlopes(*(np.stack(column) for column in zip(*found, strict=True)))

    def at(self, moves: Floats, ways: Floats) -> Ends:
        """Design re-evaluated with each input in turn moved by an amount [SI]."""
        problem, found = self._problem, []
        for move, way in zip(moves, ways, strict=True):
            theta = np.asarray(problem.theta) + move * way
            prelude = problem.chain.prelude(theta)
            outputs = {**prelude, **problem.chain.values(self._x, theta, prelude)}
            values = {name: np.asarray(value) for name, value in outputs.items()}
            margins = values["torque_margin"][_resisted(values)]
            rows = problem.rows_of(values)[problem.counting]
            found.append((rows, values["system_mass"], margins.min(initial=np.inf)))
        return Ends(*(np.stack(column) for column in zip(*found, strict=True)))


def _resisted(values: Mapping[str, Any]) -> NDArray[np.bool_]:
    """Where a heated set meets resistance, (legs, angles)."""
    meets = np.asarray(values["torque_margin"]) < NO_RESISTANCE
    return np.asarray((np.asarray(values["heated"]) > 0.5)[:, None] & meets)


def _ranking(effects: tuple[Effect, ...]) -> tuple[int, ...]:
    shares = np.array([one.share for one in effects])
    return tuple(int(k) for k in np.argsort(-shares, kind="stable"))


def _worst(problem: DesignProblem, rows: Floats) -> Floats:
    """Worst row of every group: (..., rows) to (..., groups)."""
    places = rows_of_groups(problem).values()
    return np.stack([rows[..., own].min(axis=-1) for own in places], axis=-1)


def _effects(
    problem: DesignProblem,
    inputs: tuple[Uncertain, ...],
    base: Base,
    slopes: InputSlopes,
    ends: list[Ends],
    doubts: tuple[GroupOdds, ...],
) -> tuple[Effect, ...]:
    low, high = even_steps(inputs)
    breaks = find_breaks(problem, inputs, base.rows, slopes.rows)
    shares = variance_shares(inputs, slopes.optimum_mass)
    fixed = variance_shares(inputs, slopes.mass)
    doubt = verdict_shares(inputs, slopes.rows, doubts)
    worst = [_worst(problem, one.rows) for one in ends]
    return tuple(
        Effect(
            mass_low=float(ends[0].mass[k] - base.mass),
            mass_high=float(ends[1].mass[k] - base.mass),
            optimum_low=float(low[k] * slopes.optimum_mass[k]),
            optimum_high=float(high[k] * slopes.optimum_mass[k]),
            margin_low=float(ends[0].margin[k]),
            margin_high=float(ends[1].margin[k]),
            worst_low=worst[0][k],
            worst_high=worst[1][k],
            mass_share=float(shares[k]),
            fixed_share=float(fixed[k]),
            verdict_share=float(doubt[k]),
            falls=breaks[2 * k],
            rises=breaks[2 * k + 1],
        )
        for k in range(len(inputs))
    )


def _confirm(
    problem: DesignProblem,
    optimum: Optimum,
    first: list[Uncertain],
    say: Callable[[str], None],
) -> tuple[Confirmed, ...]:
    """Re-optimise at both ends of the ranges of the first inputs."""
    if not optimum.feasible:
        return ()
    found = []
    for one in first:
        say(f"Optimum at both ends of the range of {one.path}")
        masses = []
        for value in (one.low, one.high):
            ended = reoptimise(with_fields(problem, {one.path: value}), optimum, starts=0)
            masses.append(ended.mass if ended.feasible else float("nan"))
        found.append(Confirmed(one.path, *masses))
    return tuple(found)
