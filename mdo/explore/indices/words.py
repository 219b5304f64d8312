"""What a sensitivity analysis says, one sentence each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from mdo.explore.indices.methods import LEAST_KEPT

if TYPE_CHECKING:
    from mdo.explore.indices.run import Found

SUBJECTS = {"design": "the design as it is", "optimum": "the optimum found again"}
NAMED = 3  # inputs named per output
UNMOVED_IS_PLAIN = frozenset({"feasible_optimum"})  # the share of points says it already


def sensitivity_lines(found: Mapping[str, Found], confidence: float) -> tuple[str, ...]:
    """Sentences on all subjects."""
    lines: list[str] = []
    for of, one in found.items():
        lines.append(_sampled(of, one))
        most = max((len(left) for left in one.left.values()), default=0)
        if most < len(one.inputs):
            lines.append(
                f"{SUBJECTS[of].capitalize()}: {len(one.inputs)} inputs were screened by Morris' "
                f"effects; the Sobol indices of an output are those of up to {most} inputs with "
                "the largest effects on it, the others held at the values of the study."
            )
        lines += [
            f"{SUBJECTS[of].capitalize()}, {output.replace('_', ' ')}: none of the inputs moves it."
            for output, left in one.left.items()
            if not left and output not in UNMOVED_IS_PLAIN
        ]
        for output in one.sobol:
            lines += _of_output(of, one, output, confidence)
    return tuple(lines)


def _sampled(of: str, one: Found) -> str:
    total = sum(one.statuses.values())
    good, none = one.statuses.get("feasible", 0), one.statuses.get("infeasible", 0)
    if of == "design":
        return (
            f"The design as it is meets every requirement at {good / total:.0%} of {total:,} "
            "points of the inputs."
        )
    unsettled = one.statuses.get("not settled", 0)
    more = f", {unsettled / total:.1%} did not settle" if unsettled else ""
    return (
        f"The optimum found again: {none / total:.1%} of {total:,} points have no feasible design"
        f"{more}."
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
    lines = [f"{name}: largest total Sobol indices ({confidence:.0%} interval): {parts}."]
    if indices.kept < one.base:
        lines.append(
            f"{name}: {one.base - indices.kept} of {one.base} samples have a point without a value "
            "and were dropped whole; the indices hold where all points of a sample have one."
        )
    return lines
