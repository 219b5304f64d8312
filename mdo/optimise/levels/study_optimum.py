"""The optimum of a study at the levels that its rows are corrected to."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, fields, replace

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.levels import Fidelity
from mdo.model.correction import Correction, no_correction
from mdo.model.sizes import filled
from mdo.optimise.descent import Cache
from mdo.optimise.idle_rows import FEASIBLE, distinct_rows, given_rows
from mdo.optimise.levels.trust_region import (
    Difference,
    Direct,
    Ended,
    Model,
    Options,
    Step,
    minimise,
)
from mdo.optimise.linear_algebra import one_thread
from mdo.optimise.newton_end import Solution, optimality, polish
from mdo.optimise.optimum import SAME, Attempt, Optimum, attempt, optimum_at
from mdo.optimise.problem import DesignProblem, Evaluated, problem_of
from mdo.results.work.chunks import ChunkFolder

TOLERANCE, ITERATIONS = 1e-10, 300
KEY_DIGITS = 20  # of what a kept evaluation depends on, in the name of its file
# Newton's steps leave less; of masses that are compared this is a part in ten million.
OPTIONS = Options(feasible=1e-8)


@dataclass(frozen=True, eq=False)
class DearProblem(DesignProblem):
    """A study at its dear levels; remembers the designs at which it was evaluated."""

    evaluated: set[bytes] = field(default_factory=set)
    sloped: set[bytes] = field(default_factory=set)

    def evaluate(self, x: Floats) -> Evaluated:
        """As any problem; what an earlier run has kept is read."""
        self.evaluated.add(x.tobytes())
        self.sloped.add(x.tobytes())
        rows, active = self.counting.size, int(self.active.sum())
        own = super().evaluate
        found = self._kept(b"slopes", x, lambda: [np.ravel(part) for part in own(x)])
        first, held, slope, slopes = np.split(found, np.cumsum([1, rows, active]))
        return Evaluated(float(first[0]), held, slope, slopes.reshape(rows, active))

    def values_only(self, x: Floats) -> tuple[float, Floats]:
        """As any problem; what an earlier run has kept is read."""
        self.evaluated.add(x.tobytes())
        own = super().values_only
        found = self._kept(b"values", x, lambda: [np.ravel(part) for part in own(x)])
        return float(found[0]), found[1:]

    def _kept(self, what: bytes, x: Floats, compute: Callable[[], list[Floats]]) -> Floats:
        """Numbers that are kept by all that they depend on, or computed and kept."""
        folder = _KEPT.get()
        if folder is None:
            return np.concatenate(compute())
        depends = np.concatenate([self.theta, x, self.active, self.counting])
        key = hashlib.sha256(what + depends.tobytes()).hexdigest()[:KEY_DIGITS]
        if key not in folder:
            folder.write_numbers(key, np.concatenate(compute()))
        return folder.read_numbers(key)


_KEPT: ContextVar[ChunkFolder | None] = ContextVar("where dear evaluations are kept", default=None)


@contextmanager
def keeping(folder: ChunkFolder) -> Iterator[None]:
    """Keep dear evaluations in a folder; those that an earlier run left there are read."""
    token = _KEPT.set(folder)
    try:
        yield
    finally:
        _KEPT.reset(token)


def dear_problem(problem: DesignProblem) -> DearProblem:
    """The same study with the levels that its rows are corrected to in the chain."""
    fidelity = problem.study.fidelity
    dearer = fidelity.dear
    own = dearer._asdict()
    verify = {name: level for name, level in fidelity.verify.items() if level != own[name]}
    study = replace(
        problem.study,
        fidelity=Fidelity(dearer, {}, verify),
        content={**problem.study.content, "fidelity": {"optimise": own, "verify": verify}},
    )
    made = problem_of(study, problem.card_fields, fixed=problem.fixed)
    return DearProblem(**{part.name: getattr(made, part.name) for part in fields(DesignProblem)})


class _Pair:
    """Cheap and dear problem in the scaled active variables, around a design."""

    def __init__(self, cheap: DesignProblem, dear: DearProblem, x: Floats) -> None:
        every = np.arange(cheap.counting.size)
        self.plain = cheap.corrected_by(no_correction(filled(cheap.assembled.parameters)))
        self.dear = dear
        self.at_cheap, self.at_dear = Cache(self.plain, x, every), Cache(dear, x, every)

    def scaled(self, x: Floats) -> Floats:
        """Scaled active variables of a design."""
        return self.plain.scale(x)[self.plain.active]

    def corrected(self, difference: Difference) -> DesignProblem:
        """Cheap problem with a difference among its parameters."""
        problem, blank = self.plain, self.plain.correction
        assert blank is not None
        places = np.append(0, 1 + problem.counting)
        active = np.flatnonzero(problem.active)
        values, slopes = np.array(blank.values), np.array(blank.slopes)
        curvature = np.array(blank.curvature)
        values[places] = difference.values
        slopes[np.ix_(places, active)] = difference.slopes
        curvature[np.ix_(active, active)] = difference.curvature
        centre = self.at_cheap.design(difference.centre)
        return problem.corrected_by(Correction(centre, values, slopes, curvature))

    def subproblem(self, difference: Difference, low: Floats, high: Floats) -> Floats:
        """Minimise the corrected cheap problem between bounds."""
        lower, upper = self.plain.lower.copy(), self.plain.upper.copy()
        lower[self.plain.active] = self.at_cheap.design(low)[self.plain.active]
        upper[self.plain.active] = self.at_cheap.design(high)[self.plain.active]
        corrected = replace(self.corrected(difference), lower=lower, upper=upper)
        return self.scaled(_attempt(corrected, self.at_cheap.design(difference.centre)).design)

    def direct(self, z: Floats) -> Direct:
        """Minimise the dear problem."""
        before = len(self.dear.evaluated), len(self.dear.sloped)
        x = _attempt(self.dear, self.at_dear.design(z)).design
        x = polish(self.dear, x, distinct_rows(self.dear, x)[0]).design
        after = len(self.dear.evaluated), len(self.dear.sloped)
        return Direct(self.scaled(x), after[0] - before[0], after[1] - before[1])


def _attempt(problem: DesignProblem, x: Floats) -> Attempt:
    keep = np.union1d(*distinct_rows(problem, x))  # what is flat here may not be further on
    return attempt(problem, x, keep, tolerance=TOLERANCE, iterations=ITERATIONS)


def corrected_end(
    problem: DesignProblem,
    dear: DearProblem,
    x: Floats,
    *,
    options: Options = OPTIONS,
    say: Callable[[Step], None] = lambda _: None,
) -> tuple[Ended, DesignProblem]:
    """Optimum of the dear problem from a design, and the cheap problem corrected around it.

    Parameters
    ----------
    problem, dear : the study at its levels, and at those that it corrects to
    x : start, best the optimum of the study at its own levels
    options : when to end
    say : told every step
    """
    pair = _Pair(problem, dear, x)
    high, low = (Model(each.values, each.slopes) for each in (pair.at_dear, pair.at_cheap))
    start, lower, upper = map(pair.scaled, (problem.clip(x), problem.lower, problem.upper))
    with one_thread():
        end = minimise(
            high, low, pair.subproblem, pair.direct,
            start=start, lower=lower, upper=upper, options=options, say=say,
        )  # fmt: skip
    return end, pair.corrected(end.difference)


def dear_optimum(
    cheap: Optimum, dear: DearProblem, progress: Callable[[str], None] = lambda _: None
) -> Optimum:
    """Optimum of a study at the levels that it corrects to, from that at its own levels.

    Its problem is the study corrected around it. Starts that ended at the optimum of the study's
    own levels are led on together.
    """

    def say(step: Step) -> None:
        state = "taken" if step.accepted else "refused"
        progress(
            f"Correction {step.gradients}: {step.objective:.3f} kg, violation "
            f"{step.violation:.1e}, KKT {step.kkt_residual:.1e} ({state})"
        )

    if cheap.blocked.size:  # rows that fail whatever the design: nothing to correct
        return cheap
    end, problem = corrected_end(cheap.problem, dear, cheap.design, say=say)
    x = cheap.design.copy()
    x[problem.active] = problem.unscale(_whole(problem, x, end.z))[problem.active]
    x = problem.clip(x)
    keep, blocked = given_rows(problem, x)
    conditions = optimality(dear, x, keep, end.value)
    led = tuple(
        replace(each, design=x, mass=end.value.objective, violation=end.violation)
        if _alike(each, cheap)
        else each
        for each in cheap.attempts
    )
    solution = Solution(x, end.value, conditions, end.violation)
    return optimum_at(problem, solution, led, keep, blocked, corrections=end)


def _alike(start: Attempt, cheap: Optimum) -> bool:
    """Whether a start ended at the optimum: at its mass, or at that very design."""
    mass = start.violation <= FEASIBLE and abs(start.mass / cheap.mass - 1.0) <= SAME
    return mass or np.array_equal(start.design, cheap.design)


def _whole(problem: DesignProblem, x: Floats, z: Floats) -> Floats:
    whole = problem.scale(x)
    whole[problem.active] = z
    return whole
