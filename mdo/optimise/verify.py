"""A design verified by the level that follows the path of its tubes, and optimised with it.

Every leg is marched (:mod:`mdo.disciplines.tube.marched_legs`). The outer-fibre stress over that of
the level in the coupled model replaces the judged factor of the life rows of the study, drag and
lost strain of the path are taken over at every fold angle, and the study is optimised again, until
its mass stays: where it ends, its rows are those of the path.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.model.layout import split_design
from mdo.model.marching import Marched, march_design
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.optimise.reoptimise import reoptimise
from mdo.quantities import QUANTITIES

LEVEL = "incremental"
ROUNDS = 28  # of marching and optimising, most
MIXED = 15  # rounds mixed from those before; what a march that jumps gives is averaged then
DEPTH = 4  # differences of points that are mixed
PLAIN = 2  # first points, which are taken as the map gives them
CUTOFF = 1e-2  # of the largest singular value: directions that are hardly known are left out
PARTS = (0.5, 0.25)  # of a change that are tried, where what is mixed leaves no design
STRAIN_SCALE = 0.01  # [1]: a strain weighs as a factor does when points are mixed
NOTICED = 0.005  # torque margin: a shortfall below half a percent is none
SETTLED = 1e-4  # relative change of mass at which they end
FACTOR, DRAG, STRAIN = "outer_stress_factor", "path_drag_factor", "path_strain"


class Paths(NamedTuple):
    """What paths take: factor of stress [1], (legs,); of drag, and strain [1], (legs, angles)."""

    factor: Floats
    drag: Floats
    strain: Floats


@dataclass(frozen=True)
class Verification(Marched):
    """Legs of a design along their paths, and what the stress found there did to the mass.

    Attributes
    ----------
    masses
        System mass of each optimum [kg]: before, then one a round; only one where it was not
        optimised.
    kept_back
        Whether less stress than the study judges was not credited, for want of torque margin.
    """

    masses: tuple[float, ...]
    kept_back: bool = False

    @property
    def settled(self) -> bool:
        """Whether the mass has come to rest."""
        return len(self.masses) > 1 and _alike(*self.masses[-2:])


def is_marched(problem: DesignProblem) -> bool:
    """Whether the study is verified by the level that follows the path of its tubes."""
    return problem.study.fidelity.verify.get("tube") == LEVEL


def verify(problem: DesignProblem, x: Floats, values: Mapping[str, Floats]) -> Verification:
    """March every leg of a design.

    Parameters
    ----------
    problem : the study
    x : design
    values : outputs of the model there
    """
    cases = [leg.case for leg in problem.assembled.legs]
    design = split_design(x)  # type: ignore[arg-type]
    marched = march_design(problem.assembled.parameters, cases, design, values)
    return Verification(**vars(marched), masses=(float(values["system_mass"]),))


def verified_optimum(
    problem: DesignProblem, optimum: Optimum, say: Progress, *, relief: bool = True
) -> tuple[Optimum, Verification]:
    """Optimum with stress, drag and strain of its own paths in its rows, and its verification.

    Less stress than the study judges is taken only where the torque margins hold along the same
    paths in the end: a lighter design that falls short of them is no relief.

    Parameters
    ----------
    problem : the study, with the factors that it judges
    optimum : its optimum; in whole tubes it may have the factors of the continuous one
    say : told what is being done
    relief : False where less stress is not credited anyway, as of the bound of whole tubes
    """
    say(f"Marching every leg along its path ({LEVEL})")
    found = verify(optimum.problem, optimum.design, optimum.problem.values(optimum.design))
    if not optimum.feasible:
        return optimum, found
    if relief:
        relieved, end = fed_back(optimum, found, say)
        values = relieved.problem.values(relieved.design)
        if not short_legs(relieved.problem, values, end).any():
            return relieved, end
    unrelieved, end = fed_back(optimum, found, say, least=paths_of(problem).factor)
    kept_back = bool((end.ratio < paths_of(unrelieved.problem).factor).any())
    return unrelieved, replace(end, kept_back=kept_back)


def short_legs(
    problem: DesignProblem, values: Mapping[str, Floats], found: Verification
) -> Booleans:
    """Legs whose torque margin is met at the level of the study, not along the path; (legs,)."""
    required = np.asarray(problem.assembled.parameters["legs"].torque_margin_required)
    marched, own = (each["torque_margin"].min(axis=1) for each in (found.values, values))
    short: Booleans = (marched < required - NOTICED) & (marched < own - NOTICED)
    return found.driven & short


def fed_back(
    optimum: Optimum, found: Verification, say: Progress, *, least: Floats | float = 0.0
) -> tuple[Optimum, Verification]:
    """Optimise with what the march finds in rounds, until mass and torque margins stay.

    Where all of it leaves no design, a part of it may; where not even that does, there is none:
    what is given back is infeasible. ``least`` is the factor of the stress below which none is
    credited.
    """
    first, masses, tried = optimum, [optimum.mass], []
    # drag first: stress and strain of the level follow from it
    dragged = replace(found, strain=np.zeros_like(found.strain))
    problem = with_march(optimum.problem, dragged, least=least)
    if problem is None:  # nothing is driven
        return optimum, replace(found, masses=(optimum.mass, optimum.mass))
    found = verify(problem, optimum.design, problem.values(optimum.design))
    for number in range(1, ROUNDS + 1):
        had, given = _flat(paths_of(problem)), _flat(_given(problem, found, least))
        tried.append((had, given - had))
        say(f"Verified: round {number}, optimising with what the paths take")
        start = had if number > 1 else _flat(paths_of(first.problem))
        late = number - MIXED
        ahead = had + (given - had) / (late + 1) if late > 0 else mixed(tried)
        for point in (ahead, *(start + part * (given - start) for part in PARTS)):
            fed = with_paths(problem, np.flatnonzero(found.driven), _unflat(point, found))
            again = reoptimise(fed, optimum.design)
            if again.feasible:
                break
        optimum, problem = again, again.problem
        values = problem.values(optimum.design)
        found = verify(problem, optimum.design, values)
        if not optimum.feasible:
            break
        masses.append(optimum.mass)
        if _alike(*masses[-2:]) and not short_legs(problem, values, found).any():
            break
    rounds = "1 round" if len(masses) == 2 else f"{len(masses) - 1} rounds"
    say(f"Along the paths: {first.mass:.3f} kg, {optimum.mass:.3f} kg after {rounds}")
    whole = replace(optimum, attempts=first.attempts)
    return whole, replace(found, masses=tuple(masses))


def with_march(
    problem: DesignProblem, found: Verification, *, least: Floats | float = 0.0
) -> DesignProblem | None:
    """Problem whose rows have stress, drag and strain of a march; its text stays that of the file.

    Parameters
    ----------
    problem : with what it has of the march before
    found : the march
    least : factor of the stress by leg below which none is credited

    Returns
    -------
    None where no leg is driven.
    """
    driven = np.flatnonzero(found.driven)
    return with_paths(problem, driven, _given(problem, found, least)) if driven.size else None


def paths_of(problem: DesignProblem) -> Paths:
    """What the legs of a problem have of it."""
    known = problem.assembled.parameters
    legs = slice(len(problem.assembled.legs))
    factor = known["legs"].outer_stress_factor
    return Paths(*(np.asarray(part)[legs] for part in (factor, known[DRAG], known[STRAIN])))


def _given(problem: DesignProblem, found: Verification, least: Floats | float) -> Paths:
    """What a march gives them; what they have where it says nothing."""
    had, driven = paths_of(problem), found.driven
    factor = np.where(driven & np.isfinite(found.ratio), found.ratio, had.factor)
    drag, strain = (
        np.where(driven[:, None], marched, own)
        for marched, own in ((found.drag_factor, had.drag), (found.strain, had.strain))
    )
    return _within(Paths(np.maximum(factor, least), drag, strain))


def _within(paths: Paths) -> Paths:
    """Within the ranges of the fields of a study."""
    lines = [QUANTITIES[name] for name in (FACTOR, DRAG, STRAIN)]
    ends = zip(lines, paths, strict=True)
    return Paths(*(np.clip(part, float(line.low), float(line.high)) for line, part in ends))


def with_paths(problem: DesignProblem, legs: Iterable[int], paths: Paths) -> DesignProblem:
    """Problem some of whose legs have what paths take; its text stays that of the file."""
    study = problem.study
    changes: dict[str, object] = {}
    for at in legs:
        leg = problem.assembled.legs[at]
        within = f"case.{leg.case}{'.return' if leg.is_return else ''}"
        for name, part in zip((FACTOR, DRAG, STRAIN), paths, strict=True):
            changes[f"{within}.{name}"] = part[at].tolist()
    changed = replace(study.with_values(changes), text=study.text, hash=study.hash)
    return problem_of(changed, problem.card_fields, problem.correction, problem.fixed)


def _flat(paths: Paths) -> Floats:
    return np.concatenate([paths.factor, paths.drag.ravel(), paths.strain.ravel() / STRAIN_SCALE])


def _unflat(point: Floats, found: Verification) -> Paths:
    legs, size = found.ratio.size, found.strain.size
    factor, drag, strain = np.split(point, [legs, legs + size])
    shape = found.strain.shape
    return _within(Paths(factor, drag.reshape(shape), STRAIN_SCALE * strain.reshape(shape)))


def _alike(before: float, after: float) -> bool:
    return abs(after / before - 1.0) < SETTLED


def mixed(tried: Sequence[tuple[Floats, Floats]]) -> Floats:
    r"""Next point toward a fixed point, by Anderson's mixing.

    .. math:: z' = z + f - (\Delta Z + \Delta F)\,\gamma, \quad
        \gamma = \arg\min |f - \Delta F\,\gamma|

    Parameters
    ----------
    tried
        Points :math:`z` and what the map gave there less the point, :math:`f`, the last one last.

    Returns
    -------
    Array
        Point, in the unit of those tried.

    Examples
    --------
    A map with slope 0.9, whose plain steps take 44 rounds to a hundredth of the way (hand: 10):

    >>> line = lambda z: 1.0 + 0.9 * z - z
    >>> points = [np.array([x]) for x in (0.0, 1.0, 1.9)]
    >>> float(mixed([(z, line(z)) for z in points])[0])
    10.0

    References
    ----------
    Anderson 1965, J. ACM 12, 547 (from memory).
    """
    points, misses = (np.array(part[-DEPTH - 1 :]) for part in zip(*tried, strict=True))
    if len(tried) <= PLAIN:
        plain: Floats = points[-1] + misses[-1]
        return plain
    turned, changed = np.diff(misses, axis=0).T, np.diff(points, axis=0).T
    weights = np.linalg.lstsq(turned, misses[-1], rcond=CUTOFF)[0]
    following: Floats = points[-1] + misses[-1] - (changed + turned) @ weights
    return following
