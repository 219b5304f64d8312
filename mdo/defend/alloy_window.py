"""Window of transformation temperatures that the cases of a study demand, whatever the alloy."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.optimize import brentq

from mdo.defend.cautions.base import celsius

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

HEAT_LIMITS = ("structure_temperature_row", "heater_sheath", "alloy_temperature")


class WindowLine(NamedTuple):
    """Bounds of one transformation temperature without stress [K], None where open.

    ``set_by`` names what sets each bound; ``card`` is the value of the study's alloy [K].
    """

    temperature: str
    at_least: float | None
    at_most: float | None
    set_by: str
    card: float


def transformation_window(appraisal: Appraisal) -> tuple[WindowLine, ...]:
    """Window of Mf, As and Af that the cases demand, lot tolerance and gates included.

    Mf and As follow from the gates, with the shift that the stress of this design gives. Af may
    rise, with the hot temperature, until structure, heater, alloy or the bound of the hot
    temperature stops it, all else of the design kept; no lot tolerance is taken off Af.
    """
    alloy = appraisal.problem.assembled.parameters["alloy"]
    finish, start = float(alloy.martensite_finish), float(alloy.austenite_start)
    least_finish, finish_by = _gate(appraisal, finish, "return_temperature")
    least_start, start_by = _gate(appraisal, start, "self_start", "static_self_start")
    present = np.asarray(appraisal.problem.assembled.parameters["choices"].set_present) > 0.5
    shifted = float(appraisal.values["heating_finish"][present].max())
    shift = shifted - float(alloy.austenite_finish)
    hottest, hot_by = hottest_allowed(appraisal)
    return (
        WindowLine("Mf", least_finish, None, finish_by, finish),
        WindowLine("As", least_start, None, start_by, start),
        WindowLine(
            "Af",
            None,
            hottest - shift,
            f"{hot_by}: at most {celsius(hottest)} hot, less {shift:.1f} K shift by stress",
            float(alloy.austenite_finish),
        ),
    )


def _gate(appraisal: Appraisal, card: float, *groups: str) -> tuple[float | None, str]:
    """Least temperature that rows on it allow, and the leg or case that sets it."""
    rows = [row for row in appraisal.rows if row.label.group in groups]
    if not rows:
        return None, "no case asks for it"
    worst = min(rows, key=lambda row: row.value)
    return card - appraisal.reading(worst.label).margin, worst.text


def hottest_allowed(appraisal: Appraisal) -> tuple[float, str]:
    """Highest hot temperature [K] that the design may take, all else kept, and what sets it."""
    problem = appraisal.problem
    at = problem.labels.index("hot_temperature")
    best = float(problem.upper[at])
    by = "Bound of the hot temperature"
    positions = {
        name: [n for n, label in enumerate(problem.counting_labels) if label.group == name]
        for name in HEAT_LIMITS
    }

    def least(temperature: float, rows: list[int]) -> tuple[float, int]:
        x = np.array(appraisal.x)
        x[at] = temperature
        values = problem.rows_of(problem.values(x, *problem.chain.row_names))[problem.counting]
        worst = min(rows, key=lambda n: float(values[n]))
        return float(values[worst]), worst

    for rows in positions.values():
        if not rows:
            continue
        low = float(problem.lower[at])
        value, worst = least(best, rows)
        if value >= 0.0:
            continue
        by = problem.describe(problem.counting_labels[worst])
        if least(low, rows)[0] <= 0.0:
            return low, f"{by}, even at the lowest hot temperature"
        best = float(brentq(lambda t, own: least(t, own)[0], low, best, args=(rows,), xtol=1e-6))
    return best, by
