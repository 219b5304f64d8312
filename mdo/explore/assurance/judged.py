"""Samples of the judged inputs: their distribution, drawn by a scrambled Sobol sequence.

Each input is independent of the others; the ranges are those of the alloy card and of the defaults.
No card says how its numbers go together, nor which part of a range is scatter from lot to lot: a
range is taken whole, as ignorance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.stats import qmc

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import agrees
from mdo.defend.uncertain import Uncertain, of_inputs, uncertain_inputs
from mdo.explore.exploration import refuse
from mdo.explore.indices.subject import COMPARED
from mdo.optimise.problem import DesignProblem
from mdo.study.analyses import EVEN

ROUNDS = 12  # doublings of a sequence before the ranges of a card are given up as contradictory


def judged_inputs(problem: DesignProblem) -> tuple[Uncertain, ...]:
    """Return the inputs over which a study is to be sized: those of its plan, else all judged ones.

    Raises
    ------
    StudyError
        If the plan names an input that is not judged, a variable that cannot be trimmed, or there
        are no inputs.
    """
    plan = problem.study.analysis.assurance
    known = {one.path: one for one in uncertain_inputs(problem) if one.record != COMPARED}
    faults = [
        f"{field}: no judged input '{name}', expected paths such as {', '.join(list(known)[:3])} "
        "(those with a range in the alloy card or the defaults; the tables of 'defence' list them)"
        for field, names in (("inputs", plan.inputs), ("known", plan.known))
        for name in names
        if name not in known
    ]
    wanted = [name for name in plan.inputs or known if name not in plan.known]
    left = tuple(known[name] for name in wanted if name in known)
    if not left:
        faults.append("inputs: none is left that is judged, so that there is nothing to size for")
    faults += [
        f"probabilities: got {one:g}, expected more than 0 and less than 1 (a share of the samples "
        "as near to 1 as 0.999; no finite sample shows certainty)"
        for one in plan.probabilities
        if not 0.0 < one < 1.0
    ]
    refuse(problem, "assurance", faults)
    return left


def steps_at(inputs: Sequence[Uncertain], shares: Floats, distribution: str) -> Floats:
    r"""Distances from the present values, in the variables that are even over the ranges.

    Triangular: from the low end :math:`a` over the present value :math:`c` to the high end
    :math:`b`; its distribution is :math:`(x-a)^2/((b-a)(c-a))` up to the middle (Evans, Hastings
    and Peacock, Statistical Distributions, 3rd ed., 2000, from memory). A present value outside its
    range stands at the nearest end.

    Parameters
    ----------
    inputs : what is judged
    shares : probabilities of each, shape (samples, inputs)
    distribution : ``triangular`` or ``even``
    """
    low, high = (
        np.array([float(one.step_to(getattr(one, end))) for one in inputs])
        for end in ("low", "high")
    )
    width = high - low
    if distribution == EVEN:
        return np.asarray(low + shares * width)
    mode = np.clip(0.0, low, high)
    up = low + np.sqrt(shares * width * (mode - low))
    down = high - np.sqrt((1.0 - shares) * width * (high - mode))
    return np.asarray(np.where(shares * width < mode - low, up, down))


def values_at(inputs: Sequence[Uncertain], steps: Floats) -> Floats:
    """Values of inputs at distances in their even variables, SI, as ``steps``."""
    here, ratio = of_inputs(inputs, "value"), np.array([one.logarithmic for one in inputs])
    return np.asarray(np.where(ratio, here * np.exp(np.where(ratio, steps, 0.0)), here + steps))


def drawn_steps(
    problem: DesignProblem, inputs: Sequence[Uncertain], count: int, seed: int
) -> Floats:
    """Steps of so many samples whose alloy agrees with itself, shape (count, inputs).

    Raises
    ------
    ValueError
        If the ranges leave no alloy that agrees with itself.
    """
    sequence = qmc.Sobol(len(inputs), scramble=True, rng=np.random.default_rng(seed))
    kept, paths = np.empty((0, len(inputs))), [one.path for one in inputs]
    distribution = problem.study.analysis.assurance.distribution
    for _ in range(ROUNDS):
        shares = sequence.random(1 << (count - 1).bit_length())
        steps = steps_at(inputs, shares, distribution)
        kept = np.concatenate([kept, steps[agrees(problem, paths, values_at(inputs, steps))]])
        if len(kept) >= count:
            return kept[:count]
    raise ValueError(
        f"alloy '{problem.study.actuator.alloy}': its ranges leave no card that agrees with itself"
    )
