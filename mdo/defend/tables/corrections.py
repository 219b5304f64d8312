"""The corrections by which an optimum was found for dearer levels than the study optimises with."""

from __future__ import annotations

import pandas as pd

from mdo.defend.tables.frame import of_records
from mdo.optimise.appraisal import Appraisal

COLUMNS = (
    "dear_evaluations=evaluations dear_gradients=gradients system_mass=objective violation "
    "kkt_residual box=radius step=size foretold gained taken=accepted moved"
)


def corrections_tables(appraisal: Appraisal) -> dict[str, pd.DataFrame]:
    """Table of the corrections, the dear model's own mass [kg], violation and residual in each.

    Nothing where the study corrects nothing.
    """
    optimum = appraisal.optimum
    if optimum is None or optimum.corrections is None:
        return {}
    ended = optimum.corrections
    table = of_records(ended.steps, COLUMNS)
    labels = [appraisal.problem.counting_labels[step.worst] for step in ended.steps]
    table["most_moved"] = [
        appraisal.problem.describe(label) if step.worst >= 0 else ""
        for step, label in zip(ended.steps, labels, strict=True)
    ]
    last = len(ended.steps) - 1
    table["way"] = [ended.way if place == last else "" for place in range(len(table))]
    return {"corrections": table}
