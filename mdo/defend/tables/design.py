"""Tables of a result: SI units; columns are named as in :mod:`mdo.quantities` where they can be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from mdo.defend.defence import defence_of
from mdo.defend.failures.states import FailureLine, failure_states
from mdo.defend.order.sheet import order_sheet_table
from mdo.defend.order.tubes import COLUMNS, order_items
from mdo.defend.tables.legs import (
    energy_table,
    life_table,
    sets_table,
    temperatures_table,
    times_table,
    torque_table,
)
from mdo.defend.tables.requirements import Facts, RequirementLine, requirement_lines
from mdo.defend.validation import validation_table
from mdo.defend.verdict import judge
from mdo.defend.waterfall import loss_waterfall, waterfall_table
from mdo.disciplines.records import MASS_LINES, WINGS
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.optimise.appraisal import Appraisal
from mdo.quantities import QUANTITIES

SHARED_LINES = 4  # the last mass lines belong to the aircraft, the others are twice those of a wing

# Electrical results and the mass of what supplies them: whose each is.
POWER_LINES = {
    "peak_power": AIRCRAFT,
    "sortie_energy": AIRCRAFT,
    "feeder_current": WING,
    "wire_drop": WING,
    "wire_area": WING,
    "wire_loss": AIRCRAFT,
    "blower_power": WING,
    "wire_mass": AIRCRAFT,
    "converter_mass": AIRCRAFT,
    "controller_mass": AIRCRAFT,
    "battery_energy_mass": AIRCRAFT,
    "battery_power_mass": AIRCRAFT,
    "battery_mass": AIRCRAFT,
    "generator_mass": AIRCRAFT,
}
WING_VARIABLES = ("tube_count", "heater_power", "spring_moment", "spring_rate")


def result_tables(appraisal: Appraisal) -> dict[str, pd.DataFrame]:
    """Every table of an appraisal by name, in SI units.

    Tables that do not apply (attempts of an evaluation) are there without lines.
    """
    facts = Facts(appraisal)
    found: dict[str, pd.DataFrame] = {}
    if defence_of(appraisal) is not None:
        from mdo.defend.defence import defence_tables

        found = defence_tables(appraisal)
    return {
        "verdict": verdict_table(appraisal),
        "design": design_table(appraisal),
        "order": pd.DataFrame(order_items(appraisal)).iloc[:, : len(COLUMNS)],
        "order_sheet": order_sheet_table(appraisal),
        "masses": masses_table(appraisal),
        "compliance": compliance_table(appraisal),
        "failures": pd.DataFrame(failure_states(facts), columns=list(FailureLine._fields)),
        "waterfall": waterfall_table(loss_waterfall(facts)),
        "active": active_table(appraisal),
        "torque": torque_table(facts),
        "times": times_table(facts),
        "temperatures": temperatures_table(facts),
        "sets": sets_table(facts),
        "power": power_table(appraisal),
        "energy": energy_table(facts),
        "life": life_table(facts),
        "limits": limits_table(appraisal),
        "window": window_table(appraisal),
        "cautions": cautions_table(appraisal),
        "inputs": inputs_table(appraisal),
        "alloy": alloy_table(appraisal),
        "validation": validation_table(),
        "attempts": attempts_table(appraisal),
        **found,
    }


def verdict_table(appraisal: Appraisal) -> pd.DataFrame:
    """Verdict, its causes and open items, and where the design comes from."""
    verdict = judge(appraisal)
    rows = [("verdict", verdict.level), ("origin", appraisal.origin)]
    rows += [("cause", text) for text in verdict.causes]
    rows += [("open item", text) for text in verdict.open_items]
    return pd.DataFrame(rows, columns=["kind", "text"])


def design_table(appraisal: Appraisal) -> pd.DataFrame:
    """Design variables with bounds, who decided them, and whether they stand at a bound."""
    problem = appraisal.problem
    rows = []
    for number, label in enumerate(problem.labels):
        name, _, side = label.partition(".")
        known = QUANTITIES[name]
        value, low, high = (
            float(array[number]) for array in (appraisal.x, problem.lower, problem.upper)
        )
        frozen = not math.isnan(problem.frozen[number])
        free = bool(problem.active[number])
        if not (free or frozen):
            continue
        near = 1e-6 * max(abs(high - low), 1e-30)
        at = "lower" if value - low <= near else "upper" if high - value <= near else ""
        rows.append(
            {
                "variable": name,
                "set": side,
                "value": value,
                "unit": known.unit,
                "low": low,
                "high": high,
                "standing": "free" if free else "frozen",
                "at_bound": at if free else "",
                "of": WING if name in WING_VARIABLES else NEITHER,
                "meaning": known.meaning,
            }
        )
    return pd.DataFrame(rows)


def masses_table(appraisal: Appraisal) -> pd.DataFrame:
    """Mass lines of the aircraft [kg], largest first, and their total.

    Lines of the wings hold both wings; ``one_wing`` is half of them, NaN for shared lines.
    """
    basic, growth = (appraisal.values[name] for name in ("mass_lines", "mass_growth"))  # noqa: PD011
    shared = np.arange(basic.size) >= basic.size - SHARED_LINES
    total = basic + growth
    frame = pd.DataFrame(
        {
            "line": list(MASS_LINES),
            "growth_class": list(MASS_LINES.values()),
            "of": np.where(shared, "aircraft, shared", "aircraft, both wings"),
            "one_wing": np.where(shared, np.nan, total / WINGS),
            "basic": basic,
            "growth": growth,
            "total": total,
        }
    )
    frame = frame.sort_values("total", ascending=False, kind="stable", ignore_index=True)
    total_line = {
        "line": "total", "growth_class": "", "of": AIRCRAFT, "one_wing": np.nan,
        "basic": basic.sum(), "growth": growth.sum(), "total": total.sum(),
    }  # fmt: skip
    return pd.concat([frame, pd.DataFrame([total_line])], ignore_index=True)


def compliance_table(appraisal: Appraisal) -> pd.DataFrame:
    """Every requirement in physical units at its worst angle; see :class:`RequirementLine`."""
    return pd.DataFrame(requirement_lines(appraisal), columns=list(RequirementLine._fields))


def active_table(appraisal: Appraisal) -> pd.DataFrame:
    """Rows at their limit, dearest first; multipliers in kg of the aircraft per unit of row."""
    rows = [
        (
            row.text,
            row.label.group,
            row.value,
            row.multiplier,
            row.label.requirement.scale.unit,
        )
        for row in appraisal.active
    ]
    return pd.DataFrame(rows, columns=["requirement", "group", "row", "multiplier", "unit_of_row"])


def power_table(appraisal: Appraisal) -> pd.DataFrame:
    """Electrical results: value, unit and whose they are."""
    supply = appraisal.study.supply
    values: Mapping[str, Any] = appraisal.values  # noqa: PD011
    rows = [
        (name, float(values[name]), QUANTITIES[name].unit, of, QUANTITIES[name].meaning)
        for name, of in POWER_LINES.items()
    ]
    available = QUANTITIES["power_available"]
    rows.insert(1, (available.name, supply.power_available, "W", AIRCRAFT, available.meaning))
    return pd.DataFrame(rows, columns=["quantity", "value", "unit", "of", "meaning"])


def inputs_table(appraisal: Appraisal) -> pd.DataFrame:
    """Every resolved input: number in SI or words, unit, origin, range, provenance."""
    rows = []
    for one in appraisal.study.inputs:
        number = isinstance(one.value, int | float) and not isinstance(one.value, bool)
        words = "none" if one.value is None else str(one.value)
        rows.append(
            {
                "path": one.path,
                "value": float(one.value) if number else math.nan,  # type: ignore[arg-type]
                "words": "" if number else words.lower() if isinstance(one.value, bool) else words,
                "unit": one.unit if number else "",
                "origin": str(one.origin),
                "low": math.nan if one.low is None else one.low,
                "high": math.nan if one.high is None else one.high,
                "provenance": one.provenance,
                "meaning": one.text,
            }
        )
    return pd.DataFrame(rows)


def alloy_table(appraisal: Appraisal) -> pd.DataFrame:
    """Alloy card: value, range, source and standing of every field; judged ones are marked."""
    rows = [
        {
            "field": field.name,
            "value": field.value,
            "unit": QUANTITIES[field.name].unit,
            "low": math.nan if field.low is None else field.low,
            "high": math.nan if field.high is None else field.high,
            "judged": field.judged,
            "provenance": field.provenance,
            "source": field.source,
            "meaning": QUANTITIES[field.name].meaning,
        }
        for field in appraisal.problem.assembled.card.fields.values()
    ]
    return pd.DataFrame(rows)


def cautions_table(appraisal: Appraisal) -> pd.DataFrame:
    """Cautions: id, severity, text, what to do."""
    from mdo.defend.cautions.collect import Caution, evaluate_cautions

    return pd.DataFrame(evaluate_cautions(appraisal), columns=list(Caution._fields))


def limits_table(appraisal: Appraisal) -> pd.DataFrame:
    """Distance to the physical limits."""
    from mdo.defend.physical_limits import LimitLine, evaluate_limits

    return pd.DataFrame(evaluate_limits(appraisal), columns=list(LimitLine._fields))


def window_table(appraisal: Appraisal) -> pd.DataFrame:
    """Window of transformation temperatures [K] that the cases demand, and those of the card."""
    from mdo.defend.alloy_window import WindowLine, transformation_window

    frame = pd.DataFrame(transformation_window(appraisal), columns=list(WindowLine._fields))
    return frame.astype({"at_least": float, "at_most": float, "card": float})


def attempts_table(appraisal: Appraisal) -> pd.DataFrame:
    """Where each start of the optimiser ended; mass of the aircraft [kg]."""
    columns = ["start", "system_mass", "violation", "iterations", "converged", "message"]
    attempts = () if appraisal.optimum is None else appraisal.optimum.attempts
    rows = [
        (number, one.mass, one.violation, one.iterations, one.converged, one.message)
        for number, one in enumerate(attempts, 1)
    ]
    return pd.DataFrame(rows, columns=columns)
