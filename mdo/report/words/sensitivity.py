"""What a sensitivity analysis says, one sentence each."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from mdo.explore.exploration import Exploration
from mdo.explore.indices.methods import LEAST_KEPT
from mdo.explore.indices.subject import Subject
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN

SUBJECTS = {"design": "The design as it is", "optimum": "The optimum found again"}
NAMED = 3  # inputs named per output
UNMOVED_IS_PLAIN = frozenset({"feasible_optimum"})  # the share of points says it already
NO_OPTIMUM = (
    "The study has no feasible design: the design looked at is that of the least violation, and "
    "there is no optimum to be found again."
)


def sensitivity_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences on the design as it is and on the optimum found again."""
    facts = exploration.facts
    for of, subject in facts.subjects.items():
        yield _sampled(of, subject)
        yield from _screening(SUBJECTS[of], subject, len(facts.inputs))
        for output, part in subject.parts.items():
            if part < 1.0:
                yield (
                    f"{_name(of, output)}: over the whole ranges too many trajectories have a "
                    "point without a feasible design; effects and indices are those of "
                    f"{part:g} of every range, about the values of the study."
                )
        for output, left in subject.left.items():
            if not left and output not in UNMOVED_IS_PLAIN:
                yield f"{_name(of, output)}: none of the inputs moves it."
        for output in subject.sobol:
            yield from _of_output(_name(of, output), subject, output, facts.confidence)
    if not facts.feasible:
        yield NO_OPTIMUM


def _name(of: str, output: str) -> str:
    return f"{SUBJECTS[of]}, {output.replace('_', ' ')}"


def _sampled(of: str, subject: Subject) -> str:
    total = max(sum(subject.whole.values()), 1)
    good, none, open_ = (subject.whole.get(name, 0) for name in (FEASIBLE, INFEASIBLE, OPEN))
    if of == "design":
        return (
            f"{SUBJECTS[of]} meets every requirement at {100.0 * good / total:.3g} % of {total:,} "
            "points of all inputs."
        )
    more = f", {100.0 * open_ / total:.3g} % did not settle" if open_ else ""
    return (
        f"{SUBJECTS[of]}: over the whole ranges {100.0 * none / total:.3g} % of {total:,} "
        f"points have no feasible design{more}."
    )


def _screening(name: str, subject: Subject, inputs: int) -> Iterator[str]:
    """How many inputs were looked at, and how those of the indices were chosen."""
    most = max((len(left) for left in subject.left.values()), default=0)
    if subject.screened is not None:
        yield (
            f"{name}: {inputs} inputs were moved to both ends of their ranges one at a time; "
            f"effects and indices are those of the {len(subject.inputs)} with the largest changes "
            "of the mass, the others held at the values of the study."
        )
    elif most < inputs:
        yield (
            f"{name}: {inputs} inputs were screened by Morris' effects; the Sobol indices of an "
            f"output are those of up to {most} inputs with the largest effects on it, the others "
            "held at the values of the study."
        )


def _of_output(name: str, subject: Subject, output: str, confidence: float) -> Iterator[str]:
    """Which inputs the variance of an output comes from, and what was dropped."""
    indices, base = subject.sobol[output], subject.base
    if indices.kept < LEAST_KEPT:
        yield (
            f"{name}: only {indices.kept} of {base} samples have values at all their points: no "
            "indices; narrower ranges or more samples would give them."
        )
        return
    if not np.nanmax(indices.total, initial=0.0) > 0.0:
        if output not in UNMOVED_IS_PLAIN:
            yield f"{name}: none of the inputs moves it."
        return
    parts = ", ".join(
        f"{subject.left[output][n].axis.title} {indices.total[n]:.2f} ± "
        f"{indices.total_interval[n]:.2f}"
        for n in np.argsort(-indices.total, kind="stable")[:NAMED]
    )
    yield f"{name}: largest total Sobol indices ({100.0 * confidence:.3g} % interval): {parts}."
    if indices.kept < base:
        yield (
            f"{name}: {base - indices.kept} of {base} samples have a point without a value and "
            "were dropped whole; the indices hold where all points of a sample have one."
        )
