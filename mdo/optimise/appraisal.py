"""A design of a study with everything computed about it, at neighbouring levels of fidelity too."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.levels import LEVELS, Fidelity, ladder
from mdo.model.layout import split_design
from mdo.model.marching import JUDGED_FACTOR, RESOLVED, with_resolved_heat
from mdo.model.rows import Reading, RowLabel, read_row
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.optimise.verify import LEVEL, Verification
from mdo.optimise.whole_tubes.rounding import Rounded
from mdo.study.study import Study


class NeighbourLevel(NamedTuple):
    """Outputs that requirements and margins read, with one discipline at another level."""

    discipline: str
    level: str
    values: Mapping[str, Floats]


def neighbour_levels(
    problem: DesignProblem,
    x: Floats,
    values: Mapping[str, Floats],
    verification: Verification | None,
) -> Iterator[NeighbourLevel]:
    """A design at the levels next to those of its study, and at those that verify it.

    Parameters
    ----------
    problem : the study
    x, values : design, and its outputs
    verification : of the tubes along their paths, if they were marched
    """
    fidelity = problem.study.fidelity
    for discipline, own in fidelity.optimise._asdict().items():
        known = ladder(discipline)
        at = known.index(own)
        next_to = {*known[max(at - 1, 0) : at], *known[at + 1 : at + 2]}
        for level in [one for one in known if one in next_to | {fidelity.verify.get(discipline)}]:
            # a level of the loads that has no table, or on a bench no wing, to take them from
            missing = problem.study.load_table is None if level == "table" else problem.study.bench
            if level in LEVELS[discipline] and not (discipline == "hinge_moment" and missing):
                levels = fidelity.optimise._replace(**{discipline: level})
                study = replace(problem.study, fidelity=Fidelity(levels, {}, {}))
                beside = problem_of(study, problem.card_fields, fixed=problem.fixed)
                if discipline == "tube":  # what is known of the path belongs to its own level
                    beside = _without_march(beside)
                alike = beside.chain.identity_after_prelude == problem.chain.identity_after_prelude
                outputs = beside.values(x) if alike else beside.compared(x)
                yield NeighbourLevel(discipline, level, outputs)
            elif level == LEVEL and verification is not None:
                yield NeighbourLevel(discipline, level, {**values, **verification.values})
            elif level == RESOLVED == fidelity.verify.get(discipline):
                design = {name: np.asarray(part) for name, part in split_design(x).items()}  # type: ignore[arg-type]
                resolved = with_resolved_heat(problem.assembled.parameters, design, values)
                yield NeighbourLevel(discipline, level, resolved)


def _without_march(problem: DesignProblem) -> DesignProblem:
    """Problem with the judged factor of the stress, and nothing lost along a path."""
    known = dict(problem.assembled.parameters)
    factor = np.full_like(known["legs"].outer_stress_factor, JUDGED_FACTOR)
    known["legs"] = known["legs"]._replace(outer_stress_factor=factor)
    known["path_strain"] = np.zeros_like(known["path_strain"])
    known["path_drag_factor"] = np.ones_like(known["path_drag_factor"])
    return problem.with_parameters(known)


class RowResult(NamedTuple):
    """A row that counts: its label, words, normalised value (>= 0 good) and multiplier [kg]."""

    label: RowLabel
    text: str
    value: float
    multiplier: float


@dataclass(frozen=True)
class Appraisal:
    """One design of a study, evaluated.

    Attributes
    ----------
    kind
        ``evaluate``, ``optimum`` or ``defence``: the analysis it belongs to.
    problem
        The study as a problem; ``problem.assembled`` has legs, statics, parameters and alloy card.
    x
        Design vector.
    values
        Every output of the system at the design (names of :mod:`mdo.quantities`), SI units.
    optimum
        How the design was found, if it was optimised.
    origin
        Where the design comes from, in words.
    verification
        Its legs marched along their paths, if a level of the study does that.
    neighbours
        The design at the neighbouring levels, if they were run.
    bound
        The continuous optimum that a design in whole tubes was found from; no such design can be
        lighter if that is the least there is. None for any other design.
    rounded
        How the design in whole tubes was found.
    """

    kind: str
    problem: DesignProblem
    x: Floats
    values: Mapping[str, Floats]
    optimum: Optimum | None
    origin: str
    verification: Verification | None = None
    neighbours: tuple[NeighbourLevel, ...] = ()
    bound: Appraisal | None = None
    rounded: Rounded | None = None

    @property
    def continuous(self) -> Appraisal:
        """The bound of a design in whole tubes, any other design itself: what requirements cost."""
        return self.bound or self

    @property
    def study(self) -> Study:
        """The study."""
        return self.problem.study

    @cached_property
    def design(self) -> dict[str, Floats]:
        """Design variables by name; per-set ones have two entries (up, down)."""
        return {name: np.asarray(value) for name, value in split_design(self.x).items()}  # type: ignore[arg-type]

    @cached_property
    def known(self) -> dict[str, Any]:
        """Parameters, design variables and outputs by name: what requirements read."""
        return {**self.problem.assembled.parameters, **self.design, **self.values}

    def reading(self, label: RowLabel) -> Reading:
        """Value, limit and margin of a row in the unit of its requirement."""
        return read_row(label, self.known)

    @cached_property
    def rows(self) -> tuple[RowResult, ...]:
        """The rows that count, in the order of the declaration."""
        values = self.problem.rows_of(self.values)[self.problem.counting]
        multipliers = np.zeros(values.size) if self.optimum is None else self.optimum.multipliers
        rows = zip(self.problem.counting_labels, values, multipliers, strict=True)
        return tuple(
            RowResult(label, self.problem.describe(label), float(value), float(multiplier))
            for label, value, multiplier in rows
        )

    @cached_property
    def violated(self) -> tuple[RowResult, ...]:
        """Rows that do not hold, worst first."""
        return tuple(sorted((r for r in self.rows if r.value < -FEASIBLE), key=lambda r: r.value))

    @cached_property
    def active(self) -> tuple[RowResult, ...]:
        """Rows at their limit, dearest first."""
        near = [row for row in self.rows if abs(row.value) <= FEASIBLE]
        return tuple(sorted(near, key=lambda row: -row.multiplier))

    @property
    def mass(self) -> float:
        """System mass of the aircraft, growth included [kg]."""
        return float(self.values["system_mass"])
