"""One law and mode of a family: the optimum at every size, from neighbours and from starts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.explore.scaling.pure import Anchor, actuator_length, pure_problem, variable_stretch
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.problem_text import problem_in
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN, SETTLED
from mdo.results.work import Columns
from mdo.study.analyses import MODES
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import LAWS, scaled

FUNCTION = f"{__name__}:solve_family"
FULL, PURE = MODES
STARTS = 2  # of the count problem at each size, beside the neighbour's design
MORE_STARTS = 6  # where none of these ended at an optimum
CARRIES = 1e-4  # share of the largest multiplier from which a row is active
BLAMED = 0.1  # share of the largest violation from which a row is a reason
BETTER = 1e-7  # share of the mass by which a second look must gain
TIMES = {"fold_time": "fold_time_row", "return_time": "return_time_row"}
PLAIN = ("system_mass", "alloy_mass", "peak_power", "sortie_energy", "bundle_length")
QUANTITIES = (
    *PLAIN, "required_moment_max", "actuator_work_max", "leg_work_density_max", *TIMES,
    "tube_count", "tube_outer_radius", "tube_length", "gear_ratio",
)  # fmt: skip


class Member(NamedTuple):
    """One size: its problem and optimum, or why there is no such study."""

    size: float
    vehicle_mass: float
    optimum: Optimum | None
    refused: str


def solve_family(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve all sizes of one law and mode.

    Parameters
    ----------
    context : the study
    payload : ``law``, ``mode``, ``sizes`` (length over that of the given vehicle)
    """
    law, mode = str(payload["law"]), str(payload["mode"])
    sizes = [float(size) for size in payload["sizes"]]
    family = Family(problem_in(context), law, mode)
    members = family.solve(sizes)
    found = [quantities(member) for member in members]
    return {
        "law": [law] * len(members),
        "mode": [mode] * len(members),
        "size": np.array(sizes),
        "vehicle_mass": np.array([member.vehicle_mass for member in members]),
        "status": [status(member) for member in members],
        "reason": [reason(member) for member in members],
        "active": [active(member) for member in members],
        "violation": np.array([getattr(m.optimum, "violation", np.nan) for m in members]),
        "kkt_residual": np.array([getattr(m.optimum, "kkt_residual", np.nan) for m in members]),
        **{name: np.array([one[name] for one in found]) for name in QUANTITIES},
    }


class Family:
    """Sizes of one vehicle by one law.

    Parameters
    ----------
    given : the vehicle of size one
    law : a key of :data:`mdo.study.scaling_laws.LAWS`
    mode : ``pure`` or ``full``
    """

    def __init__(self, given: DesignProblem, law: str, mode: str) -> None:
        self.given, self.law, self.mode = given, law, mode
        self.anchor: Anchor | None = None

    def solve(self, sizes: Sequence[float]) -> list[Member]:
        """Members in the order of the sizes: outward from the given one, then a second look."""
        order = [int(n) for n in np.argsort(np.abs(np.log(sizes)), kind="stable")]
        if self.mode == PURE:
            self._drop_anchor()
        known: dict[int, Member] = {}
        for place in order:
            known[place] = self._member(sizes[place], self._neighbour(known, sizes[place]))
        for place in reversed(order):
            for near in _beside(known, sizes, place):
                known[place] = self._look_again(known[place], near)
        return [known[place] for place in range(len(sizes))]

    def problem(self, size: float) -> DesignProblem:
        """Problem of one size.

        Raises
        ------
        StudyError
            If the scaled vehicle is no study.
        """
        whole = self.mode == FULL
        natural = make_problem(scaled(self.given.study, self.law, size, cases=whole))
        if whole:
            return natural
        return pure_problem(self.given, natural, self.law, size, self.anchor)

    def carried(self, design: Floats, ratio: float) -> Floats:
        """Design for a vehicle larger by a ratio: a start, no more."""
        labels = self.given.labels
        if self.mode == PURE:
            return np.asarray(design * variable_stretch(labels, actuator_length(self.law, ratio)))
        load = ratio ** LAWS[self.law].moment
        follows = ("tube_count", "heater_power")
        factors = [load if at.startswith(follows) else 1.0 for at in labels]
        return np.asarray(design * np.array(factors))

    def _drop_anchor(self) -> None:
        """Fix the masses of the given size, from which the pure mode scales what flies."""
        found = find_optimum(self.problem(1.0))
        masses = found.problem.values(found.design, "closed_vehicle_mass", "system_mass")
        self.anchor = Anchor(*(float(value) for value in masses.values()))

    def _neighbour(self, known: Mapping[int, Member], size: float) -> Member | None:
        solved = [one for one in known.values() if one.optimum is not None]
        good = [one for one in solved if one.optimum is not None and one.optimum.feasible]
        return min(good or solved, key=lambda one: abs(np.log(one.size / size)), default=None)

    def _member(self, size: float, near: Member | None) -> Member:
        try:
            problem = self.problem(size)
        except StudyError as error:
            return Member(size, np.nan, None, error.problems[0])
        first = None
        if near is not None and near.optimum is not None:
            first = self._start(problem, near, size)
        found = find_optimum(problem, starts=STARTS, first=first)
        if found.feasible and found.kkt_residual > SETTLED:
            found = find_optimum(problem, starts=MORE_STARTS, first=found.design)
        return Member(size, problem.study.vehicle.mass, found, "")

    def _look_again(self, member: Member, near: Member) -> Member:
        """Member from another neighbour where that is better."""
        had = member.optimum
        if had is None or near.optimum is None:
            return member
        start = self._start(had.problem, near, member.size)
        found = find_optimum(had.problem, starts=0, first=start)
        lighter = found.feasible and found.mass < had.mass * (1.0 - BETTER)
        less = not had.feasible and found.violation < had.violation
        better = found.feasible if found.feasible != had.feasible else (lighter or less)
        return member._replace(optimum=found) if better else member

    def _start(self, problem: DesignProblem, near: Member, size: float) -> Floats:
        assert near.optimum is not None
        carried = self.carried(near.optimum.design, size / near.size)
        return np.clip(carried, problem.lower, problem.upper)


def _beside(known: Mapping[int, Member], sizes: Sequence[float], place: int) -> list[Member]:
    """Solved members of the next size below and the next above."""
    ranked = sorted(range(len(sizes)), key=lambda n: sizes[n])
    at = ranked.index(place)
    return [known[n] for n in (*ranked[max(at - 1, 0) : at], *ranked[at + 1 : at + 2])]


def status(member: Member) -> str:
    """Feasible, infeasible, or not settled: no such study, or a design that is no optimum."""
    found = member.optimum
    if found is None:
        return OPEN
    if not found.feasible:
        return INFEASIBLE
    return FEASIBLE if found.kkt_residual <= SETTLED else OPEN


def reason(member: Member) -> str:
    """Titles of the rows that stand against a feasible design, worst first."""
    found = member.optimum
    if found is None:
        return f"no such study: {member.refused}"
    if found.feasible:
        left = f"the optimiser ended at a KKT residual of {found.kkt_residual:.1e}"
        return "" if status(member) == FEASIBLE else left
    problem = found.problem
    lacks = -np.minimum(problem.evaluate(found.design).rows, 0.0)
    return "; ".join(_groups(problem, lacks, BLAMED))


def active(member: Member) -> str:
    """Titles of the rows that hold the optimum, heaviest first."""
    found = member.optimum
    if found is None or status(member) != FEASIBLE:
        return ""
    return "; ".join(_groups(found.problem, found.multipliers, CARRIES))


def _groups(problem: DesignProblem, weights: Floats, share: float) -> list[str]:
    """Titles of the groups of rows with at least a share of the largest weight, heaviest first."""
    total: dict[str, float] = {}
    for label, weight in zip(problem.counting_labels, weights, strict=True):
        total[label.group] = max(total.get(label.group, 0.0), float(weight))
    most = max([*total.values(), 1e-300])
    kept = [group for group, weight in total.items() if weight > share * most]
    return [REQUIREMENTS[group].title for group in sorted(kept, key=lambda one: -total[one])]


def quantities(member: Member) -> dict[str, float]:
    """Quantities of an optimum, NaN where there is none; tubes and moments of one wing."""
    found = member.optimum
    if found is None or status(member) != FEASIBLE:
        return dict.fromkeys(QUANTITIES, np.nan)
    problem = found.problem
    values = problem.values(found.design)
    design = dict(zip(problem.labels, found.design, strict=True))
    present = np.asarray(problem.assembled.parameters["choices"].set_present)
    counts = np.array([design["tube_count.up"], design["tube_count.down"]])
    own = {name: float(values[name]) for name in PLAIN}
    moves = np.asarray(problem.assembled.parameters["legs"].moves) > 0.5
    moment, work = values["required_moment"][moves], values["actuator_work"][moves]
    return own | {
        "required_moment_max": float(moment.max()),
        "actuator_work_max": float(work.max()),
        "leg_work_density_max": float(values["leg_work_density"][moves].max()),
        **{name: _longest(problem, values, row) for name, row in TIMES.items()},
        "tube_count": float(counts @ present),
        **{name: design[name] for name in ("tube_outer_radius", "tube_length", "gear_ratio")},
    }


def _longest(problem: DesignProblem, values: Mapping[str, Floats], row: str) -> float:
    """Longest time of the legs whose row counts [s]; NaN without one."""
    rows, limits = problem.rows, np.asarray(problem.assembled.parameters["legs"].time_limit)
    groups = [label.group for label in rows.labels]
    counts = rows.counts[np.equal(groups, row)][: limits.size]
    times = limits * np.exp(-np.ravel(values[row]))
    return float(times[counts].max()) if counts.any() else float("nan")
