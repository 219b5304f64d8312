"""A design at the neighbouring levels of fidelity of each discipline, nothing optimised again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.levels import LEVELS, Fidelity, ladder
from mdo.model.layout import split_design
from mdo.model.marching import JUDGED_FACTOR
from mdo.model.resolved_heat import LEVEL as RESOLVED
from mdo.model.resolved_heat import with_resolved_heat
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.optimise.verify import LEVEL, Verification


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
            if level in LEVELS[discipline] and not _without_loads(problem, discipline, level):
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


def _without_loads(problem: DesignProblem, discipline: str, level: str) -> bool:
    """Whether a level of the loads has no table, or on a bench no wing, to take them from."""
    missing = problem.study.load_table is None if level == "table" else problem.study.bench
    return discipline == "hinge_moment" and bool(missing)
