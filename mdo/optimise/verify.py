"""A design verified by the level that follows the path of its tubes, and optimised with it.

Every leg is marched (:mod:`mdo.disciplines.tube.marched_legs`). The outer-fibre stress over that of
the level in the coupled model replaces the judged factor of the life rows of the study, drag and
lost strain of the path are taken over at every fold angle, and the study is optimised again, until
its mass stays: where it ends, its rows are those of the path.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.disciplines.tube.record import MarchedLeg
from mdo.model.layout import split_design
from mdo.model.marching import march_design
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.optimise.reoptimise import reoptimise
from mdo.quantities import QUANTITIES

LEVEL = "incremental"
ROUNDS = 28  # of marching and optimising, most
# share of what a march finds that is taken from each round on: less later, so that none swings
SHARES = ((1, 1.0), (4, 0.5), (19, 0.25))
PARTS = (1.0, 0.5, 0.25)  # of a change that are tried, where all of it leaves no design
NOTICED = 0.005  # torque margin: a shortfall below half a percent is none
SETTLED = 1e-4  # relative change of mass at which they end
FACTOR, DRAG, STRAIN = "outer_stress_factor", "path_drag_factor", "path_strain"


@dataclass(frozen=True)
class Verification:
    """Legs of a design along their paths, and what the stress found there did to the mass.

    Attributes
    ----------
    march
        By leg and fold angle; meaningless where no heated set drives.
    driven
        Legs that a heated set drives, (legs,).
    ratio
        Largest outer stress of that set, driving or wound before, over that of the level of the
        coupled model [1], (legs,); NaN elsewhere, and where the level has next to none.
    drag_factor, strain
        Drag of the set that is wound over that of the level by itself [1], and strain that the
        driver lacks along its path [1], (legs, angles).
    values
        Outputs of the model that the march has otherwise, by name.
    masses
        System mass of each optimum [kg]: before, then one a round; only one where it was not
        optimised.
    kept_back
        Whether less stress than the study judges was not credited, for want of torque margin.
    """

    march: MarchedLeg
    driven: Booleans
    ratio: Floats
    drag_factor: Floats
    strain: Floats
    values: Mapping[str, Floats]
    masses: tuple[float, ...]
    kept_back: bool = False

    @property
    def settled(self) -> bool:
        """Whether the mass has come to rest."""
        return len(self.masses) > 1 and _alike(*self.masses[-2:])


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
    return Verification(*marched, masses=(float(values["system_mass"]),))


def verified_optimum(
    problem: DesignProblem,
    optimum: Optimum,
    say: Callable[[str], None],
    *,
    relief: bool = True,
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
    judged = np.asarray(problem.assembled.parameters["legs"].outer_stress_factor)
    found = verify(optimum.problem, optimum.design, optimum.problem.values(optimum.design))
    if not optimum.feasible:
        return optimum, found
    if relief:
        relieved, end = fed_back(optimum, found, say, relief=True)
        values = relieved.problem.values(relieved.design)
        if not short_legs(relieved.problem, values, end).any():
            return relieved, end
    unrelieved, end = fed_back(optimum, found, say, relief=False, judged=judged)
    own = np.asarray(unrelieved.problem.assembled.parameters["legs"].outer_stress_factor)
    return unrelieved, replace(end, kept_back=bool(np.any(end.ratio < own[: end.ratio.size])))


def short_legs(
    problem: DesignProblem, values: Mapping[str, Floats], found: Verification
) -> Booleans:
    """Legs whose torque margin is met at the level of the study, not along the path; (legs,)."""
    required = np.asarray(problem.assembled.parameters["legs"].torque_margin_required)
    marched, own = (each["torque_margin"].min(axis=1) for each in (found.values, values))
    short: Booleans = (marched < required - NOTICED) & (marched < own - NOTICED)
    return found.driven & short


def fed_back(
    optimum: Optimum,
    found: Verification,
    say: Callable[[str], None],
    *,
    relief: bool,
    judged: Floats | None = None,
) -> tuple[Optimum, Verification]:
    """Optimise with what the march finds in rounds, until mass and torque margins stay.

    Where all of it leaves no design, a part of it may; where not even that does, there is none:
    what is given back is infeasible.
    """
    first, problem, masses = optimum, optimum.problem, [optimum.mass]
    feed = partial(with_march, relief=relief, judged=judged)
    for number in range(1, ROUNDS + 1):
        share = next(share for start, share in reversed(SHARES) if number >= start)
        say(f"Verified: round {number}, optimising with what the paths take")
        for part in PARTS:
            base, march = problem, found
            if number == 1:  # drag first: stress and strain of the level follow from it
                none = np.zeros_like(found.strain)
                dragged = feed(problem, replace(found, strain=none), share=part)
                if dragged is None:  # nothing is driven
                    return optimum, replace(found, masses=(optimum.mass, optimum.mass))
                base, values = dragged, dragged.values(optimum.design)
                march = verify(base, optimum.design, values)
            fed = feed(base, march, share=part * share)
            assert fed is not None
            again = reoptimise(fed, optimum.design)
            if again.feasible:
                break
        optimum, problem = again, again.problem
        values = problem.values(again.design)
        found = verify(problem, again.design, values)
        if not again.feasible:
            break
        masses.append(optimum.mass)
        if _alike(*masses[-2:]) and not short_legs(problem, values, found).any():
            break
    rounds = f"{len(masses) - 1} rounds"
    say(f"Along the paths: {first.mass:.3f} kg, {optimum.mass:.3f} kg after {rounds}")
    whole = replace(optimum, attempts=first.attempts)
    return whole, replace(found, masses=tuple(masses))


def with_march(
    problem: DesignProblem,
    found: Verification,
    *,
    relief: bool,
    judged: Floats | None = None,
    share: float = 1.0,
) -> DesignProblem | None:
    """Problem whose rows have stress, drag and strain of a march; its text stays that of the file.

    Parameters
    ----------
    problem : with what it has of the march before
    found : the march
    relief : whether a factor of the stress may fall below that which is judged
    judged : that factor by leg; left out: that of the problem
    share : of the way from what the problem has to what the march found

    Returns
    -------
    None where no leg is driven.
    """
    study, line, known = problem.study, QUANTITIES[FACTOR], problem.assembled.parameters
    own = np.asarray(known["legs"].outer_stress_factor)
    least = own if judged is None else judged
    changes: dict[str, object] = {}
    for at in np.flatnonzero(found.driven):
        leg = problem.assembled.legs[at]
        within = f"case.{leg.case}{'.return' if leg.is_return else ''}"
        drag, strain = (
            before + share * (after - before)
            for before, after in (
                (known[DRAG][at], found.drag_factor[at]), (known[STRAIN][at], found.strain[at])
            )
        )  # fmt: skip
        changes[f"{within}.{DRAG}"] = drag.tolist()
        changes[f"{within}.{STRAIN}"] = strain.tolist()
        if np.isfinite(found.ratio[at]):
            wanted = own[at] + share * (found.ratio[at] - own[at])
            wanted = wanted if relief else max(wanted, least[at])
            changes[f"{within}.{FACTOR}"] = float(
                np.clip(wanted, float(line.low), float(line.high))
            )
    if not changes:
        return None
    changed = replace(study.with_values(changes), text=study.text, hash=study.hash)
    return problem_of(changed, problem.card_fields, problem.correction, problem.fixed)


def _alike(before: float, after: float) -> bool:
    return abs(after / before - 1.0) < SETTLED
