"""What a sensitivity analysis says, one sentence each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from mdo.explore.indices.methods import LEAST_KEPT

if TYPE_CHECKING:
    from mdo.explore.indices.sensitivity import Found

SUBJECTS = {"design": "the design as it is", "optimum": "the optimum found again"}
NAMED = 3  # inputs named per output
UNMOVED_IS_PLAIN = frozenset({"feasible_optimum"})  # the share of points says it already


def sensitivity_lines(
    found: Mapping[str, Found], inputs: int, confidence: float
) -> tuple[str, ...]:
    """Sentences on all subjects."""
    lines: list[str] = []
    for of, one in found.items():
        lines.append(_sampled(of, one))
        lines += _screening(of, one, inputs)
        lines += [
            f"{SUBJECTS[of].capitalize()}, {output.replace('_', ' ')}: over the whole ranges too "
            "many trajectories have a point without a feasible design; effects and indices are "
            f"those of {part:g} of every range, about the values of the study."
            for output, part in one.parts.items()
            if part < 1.0
        ]
        lines += [
            f"{SUBJECTS[of].capitalize()}, {output.replace('_', ' ')}: none of the inputs moves it."
            for output, left in one.left.items()
            if not left and output not in UNMOVED_IS_PLAIN
        ]
        for output in one.sobol:
            lines += _of_output(of, one, output, confidence)
    return tuple(lines)


def _screening(of: str, one: Found, inputs: int) -> list[str]:
    """How many inputs were looked at, and how those of the indices were chosen."""
    name = SUBJECTS[of].capitalize()
    most = max((len(left) for left in one.left.values()), default=0)
    if one.screened is not None:
        said = (
            f"{name}: {inputs} inputs were moved to both ends of their ranges one at a time; "
            f"effects and indices are those of the {len(one.inputs)} with the largest changes of "
            "the mass, the others held at the values of the study."
        )
        return [said]
    said = (
        f"{name}: {inputs} inputs were screened by Morris' effects; the Sobol indices of an "
        f"output are those of up to {most} inputs with the largest effects on it, the others "
        "held at the values of the study."
    )
    return [said] if most < inputs else []


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g} %"


def _sampled(of: str, one: Found) -> str:
    total = max(sum(one.whole.values()), 1)
    good, none = one.whole.get("feasible", 0), one.whole.get("infeasible", 0)
    if of == "design":
        return (
            f"The design as it is meets every requirement at {_percent(good / total)} of {total:,} "
            "points of all inputs."
        )
    unsettled = one.whole.get("not settled", 0)
    more = f", {_percent(unsettled / total)} did not settle" if unsettled else ""
    return (
        f"The optimum found again: over the whole ranges {_percent(none / total)} of {total:,} "
        f"points have no feasible design{more}."
    )


def _of_output(of: str, one: Found, output: str, confidence: float) -> list[str]:
    """Which inputs the variance of an output comes from, and what was dropped."""
    indices = one.sobol[output]
    name = f"{SUBJECTS[of].capitalize()}, {output.replace('_', ' ')}"
    if indices.kept < LEAST_KEPT:
        kept = f"only {indices.kept} of {one.base} samples have values at all their points"
        return [f"{name}: {kept}: no indices; narrower ranges or more samples would give them."]
    if not np.nanmax(indices.total, initial=0.0) > 0.0:
        return [] if output in UNMOVED_IS_PLAIN else [f"{name}: none of the inputs moves it."]
    order = np.argsort(-indices.total, kind="stable")[:NAMED]
    parts = ", ".join(
        f"{one.left[output][n].axis.title} {indices.total[n]:.2f} ± {indices.total_interval[n]:.2f}"
        for n in order
    )
    lines = [f"{name}: largest total Sobol indices ({_percent(confidence)} interval): {parts}."]
    if indices.kept < one.base:
        lines.append(
            f"{name}: {one.base - indices.kept} of {one.base} samples have a point without a value "
            "and were dropped whole; the indices hold where all points of a sample have one."
        )
    return lines
