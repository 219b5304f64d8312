"""A design verified by the level that follows the path of its tubes, and optimised with its stress.

Every leg is marched (:mod:`mdo.disciplines.tube.marched_legs`). The outer-fibre stress over that of
the level in the coupled model replaces the judged factor of the life rows of the study, and the
study is optimised again, until its mass stays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

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
ROUNDS = 8  # of marching and optimising, most
NOTICED = 0.005  # torque margin: a shortfall below half a percent is none
SETTLED = 1e-4  # relative change of mass at which they end
FACTOR = "outer_stress_factor"


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
    """Optimum with the outer stress of its own paths in the life rows, and its verification.

    Less stress than the study judges is taken only where the torque margins hold along the same
    paths: a lighter design that falls short of them is no relief. More stress always counts.

    Parameters
    ----------
    problem : the study, with the factors that it judges
    optimum : its optimum; in whole tubes it may have the factors of the continuous one
    say : told what is being done
    relief : False where less stress is not credited anyway, as of the bound of whole tubes
    """
    say(f"Marching every leg along its path ({LEVEL})")
    judged = np.asarray(problem.assembled.parameters["legs"].outer_stress_factor)
    values = optimum.problem.values(optimum.design)
    found = verify(optimum.problem, optimum.design, values)
    if not optimum.feasible:
        return optimum, found
    if relief and not short_legs(optimum.problem, values, found).any():
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
    """Optimise with the stress of the march in rounds, until the mass stays."""
    first, masses = optimum, [optimum.mass]
    for number in range(1, ROUNDS + 1):
        fed = with_stress_factors(optimum.problem, found, relief=relief, judged=judged)
        if fed is not None:
            say(f"Verified: round {number}, optimising with the outer stress found")
            again = reoptimise(fed, optimum.design)
            if not again.feasible:
                break
            optimum = again
            found = verify(fed, optimum.design, fed.values(optimum.design))
        masses.append(optimum.mass)
        if _alike(*masses[-2:]):
            break
    whole = replace(optimum, attempts=first.attempts)
    return whole, replace(found, masses=tuple(masses))


def with_stress_factors(
    problem: DesignProblem, found: Verification, *, relief: bool, judged: Floats | None = None
) -> DesignProblem | None:
    """Problem whose life rows have the outer stress of a march; its text stays that of the file.

    Without relief no factor falls below that which is judged (left out: that of the problem); None
    where none changes.
    """
    study, low, high = problem.study, *_factor_range()
    own = np.asarray(problem.assembled.parameters["legs"].outer_stress_factor)
    changes: dict[str, object] = {}
    least = own if judged is None else judged
    for leg, ratio, floor, has in zip(
        problem.assembled.legs, found.ratio, least, own, strict=False
    ):
        wanted = ratio if relief else max(ratio, floor)
        if np.isfinite(ratio) and (relief or wanted != has):
            within = ".return" if leg.is_return else ""
            changes[f"case.{leg.case}{within}.{FACTOR}"] = float(np.clip(wanted, low, high))
    if not changes:
        return None
    changed = replace(study.with_values(changes), text=study.text, hash=study.hash)
    return problem_of(changed, problem.card_fields, problem.correction, problem.fixed)


def _factor_range() -> tuple[float, float]:
    line = QUANTITIES[FACTOR]
    return float(line.low), float(line.high)


def _alike(before: float, after: float) -> bool:
    return abs(after / before - 1.0) < SETTLED
