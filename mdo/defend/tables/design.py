"""Tables of a result: SI units; columns are named as in :mod:`mdo.quantities` where they can be."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from mdo.defend.alloy_window import WindowLine, transformation_window
from mdo.defend.cautions.rules import Caution, evaluate_cautions
from mdo.defend.defence import defence_tables
from mdo.defend.discrepancy import discrepancy_table, verification_table
from mdo.defend.failures.states import FailureLine, failure_states
from mdo.defend.order.sheet import order_sheet_table
from mdo.defend.order.tubes import COLUMNS, order_items, rounding_tables
from mdo.defend.physical_limits import LimitLine, evaluate_limits
from mdo.defend.tables import legs
from mdo.defend.tables.benefit import benefit_table
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.frame import of_lines, of_records
from mdo.defend.tables.other_set import other_set_table
from mdo.defend.tables.requirements import RequirementLine, requirement_lines
from mdo.defend.validation import validation_table
from mdo.defend.verdict import judge
from mdo.defend.waterfall import loss_waterfall
from mdo.disciplines.records import MASS_LINES
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.model.rows import RowLabel, limit_slope
from mdo.model.scales import STRAIN as OF_STRAIN
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.verify import DRAG, FACTOR, STRAIN
from mdo.quantities import QUANTITIES

SHARED_LINES = 4  # the last mass lines belong to the aircraft, the others are twice those of a wing

# Electrical results and the mass of what supplies them: whose each is.
POWER_LINES = dict.fromkeys(
    (
        "peak_power", "power_available", "sortie_energy", "feeder_current", "wire_drop",
        "wire_area", "wire_loss", "blower_power", "wire_mass", "converter_mass", "controller_mass",
        "battery_energy_mass", "battery_power_mass", "battery_mass", "generator_mass",
    ),
    AIRCRAFT,
)  # fmt: skip
POWER_LINES |= dict.fromkeys(("feeder_current", "wire_drop", "wire_area", "blower_power"), WING)
WING_VARIABLES = ("tube_count", "heater_power", "spring_moment", "spring_rate")


def result_tables(appraisal: Appraisal) -> dict[str, pd.DataFrame]:
    """Every table of an appraisal by name, in SI units.

    Tables that do not apply (attempts of an evaluation) are there without lines.
    """
    facts = Facts(appraisal)
    return {
        "verdict": verdict_table(appraisal),
        "design": design_table(appraisal),
        "order": order_table(appraisal),
        "order_sheet": order_sheet_table(appraisal),
        "masses": masses_table(appraisal),
        "compliance": compliance_table(appraisal),
        "failures": of_lines(FailureLine, failure_states(facts)),
        "waterfall": loss_waterfall(facts),
        "active": active_table(appraisal),
        "torque": legs.torque_table(facts),
        "times": legs.times_table(facts),
        "other_set": other_set_table(appraisal),
        "temperatures": legs.temperatures_table(facts),
        "sets": legs.sets_table(facts),
        "power": power_table(appraisal),
        "energy": legs.energy_table(facts),
        "life": legs.life_table(facts),
        "limits": of_lines(LimitLine, evaluate_limits(appraisal)),
        "window": window_table(appraisal),
        "cautions": of_lines(Caution, evaluate_cautions(appraisal)),
        "inputs": inputs_table(appraisal),
        "alloy": alloy_table(appraisal),
        "benefit": benefit_table(appraisal),
        "discrepancy": discrepancy_table(appraisal),
        "verification": verification_table(appraisal),
        "validation": validation_table(bench=appraisal.study.bench is not None),
        "attempts": attempts_table(appraisal),
        **corrections_tables(appraisal.continuous),
        **rounding_tables(appraisal.rounded),
        **defence_tables(appraisal),
    }


def order_table(appraisal: Appraisal) -> pd.DataFrame:
    """Lines of the order."""
    return pd.DataFrame(order_items(appraisal)).iloc[:, : len(COLUMNS)]


def verdict_table(appraisal: Appraisal) -> pd.DataFrame:
    """Verdict, its causes and open items, and where the design comes from."""
    verdict = judge(appraisal)
    rows = [("verdict", verdict.level), ("origin", appraisal.origin)]
    rows += [("cause", text) for text in verdict.causes]
    rows += [("open item", text) for text in verdict.open_items]
    return pd.DataFrame(rows, columns=["kind", "text"])


def design_table(appraisal: Appraisal) -> pd.DataFrame:
    """Design variables with bounds, who decided them, and whether they stand at a bound."""
    problem, rows = appraisal.problem, []
    variables = (
        problem.labels, appraisal.x, problem.lower, problem.upper, problem.active,
        ~np.isnan(problem.frozen),
    )  # fmt: skip
    for label, value, low, high, free, frozen in zip(*variables, strict=True):
        if not (free or frozen):
            continue
        name, _, side = label.partition(".")
        known, near = QUANTITIES[name], 1e-6 * max(abs(high - low), 1e-30)
        at = "lower" if value - low <= near else "upper" if high - value <= near else ""
        whole = problem.fixed is not None and label in problem.fixed.sizes
        standing = "free" if free else "whole or stock" if whole else "frozen"
        of = WING if name in WING_VARIABLES else NEITHER
        rows.append((name, side, value, known.unit, low, high, standing, at if free else "", of,
                     known.meaning))  # fmt: skip
    columns = ["variable", "set", "value", "unit", "low", "high", "standing", "at_bound", "of",
               "meaning"]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def masses_table(appraisal: Appraisal) -> pd.DataFrame:
    """Mass lines of the aircraft [kg], largest first, and their total.

    Lines of the wings hold both wings; ``one_wing`` is half of them, NaN for shared lines.
    """
    basic, growth = (appraisal.values[name] for name in ("mass_lines", "mass_growth"))  # noqa: PD011
    wings = Facts(appraisal).wings
    shared = np.arange(basic.size) >= basic.size - SHARED_LINES
    total = basic + growth
    frame = pd.DataFrame(
        {
            "line": list(MASS_LINES),
            "growth_class": list(MASS_LINES.values()),
            "of": np.where(shared, "aircraft, shared", "aircraft, both wings"),
            "one_wing": np.where(shared, np.nan, total / wings),
            "basic": basic,
            "growth": growth,
            "total": total,
        }
    )
    frame = frame.sort_values("total", ascending=False, kind="stable", ignore_index=True)
    sums = (part.sum() for part in (basic, growth, total))
    frame.loc[len(frame)] = ["total", "", AIRCRAFT, np.nan, *sums]
    return frame


def compliance_table(appraisal: Appraisal) -> pd.DataFrame:
    """Every requirement in physical units at its worst angle; see :class:`RequirementLine`."""
    return of_lines(RequirementLine, requirement_lines(appraisal))


def active_table(appraisal: Appraisal) -> pd.DataFrame:
    """Rows at their limit, dearest first; multipliers in kg of the aircraft per unit of row.

    Of the bound, where the design is in whole tubes: with counts fixed they would say less.
    ``cost`` is that of the limit ``per`` step of a programme, to first order [kg].
    """
    columns = (
        "requirement=text group=label.group row=value multiplier "
        "unit_of_row=label.requirement.scale.unit"
    )
    bound = appraisal.continuous
    table = of_records(bound.active, columns)
    steps = [_programme_step(row.label, bound) for row in bound.active]
    table["cost"] = [
        row.multiplier * limit_slope(row.label, bound.known) * step
        for row, (step, _) in zip(bound.active, steps, strict=True)
    ]
    table["per"] = [words for _, words in steps]
    return table.sort_values("cost", ascending=False, kind="stable", ignore_index=True)


PROGRAMME = {
    "s": (10.0, "10 s"), "K": (10.0, "10 K"), "m": (1e-3, "mm"), "N*m": (10.0, "10 N*m"),
    "Pa": (1e7, "10 MPa"), "W": (100.0, "100 W"), "kg": (1.0, "kg"),
}  # fmt: skip


def _programme_step(label: RowLabel, design: Appraisal) -> tuple[float, str]:
    """Step of a limit for which its cost is quoted (SI), and its words."""
    entry = label.requirement
    if entry.scale is OF_STRAIN:
        return 1e-3, "0.1 % strain"
    return PROGRAMME.get(entry.unit) or (
        0.1 * abs(design.reading(label).limit),
        "10 % of the limit",
    )


def life_stress_price(appraisal: Appraisal) -> float:
    """Mass of the aircraft that each megapascal of declared life stress saves, first order [kg].

    By the multipliers of the optimum; 0 where no row on it is at its limit, or nothing was
    optimised. The row is 1 - stress/limit: its slope in the limit is (1 - row)/limit.
    """
    rows = [row for row in appraisal.continuous.active if row.label.group == "declared_stress"]
    limit = float(appraisal.problem.assembled.parameters["alloy"].declared_life_stress)
    return 1e6 * sum(row.multiplier * (1.0 - row.value) for row in rows) / limit if rows else 0.0


def power_table(appraisal: Appraisal) -> pd.DataFrame:
    """Electrical results: value, unit and whose they are."""
    known = appraisal.known | {"power_available": appraisal.study.supply.power_available}
    rows = [
        (name, float(known[name]), QUANTITIES[name].unit, of, QUANTITIES[name].meaning)
        for name, of in POWER_LINES.items()
    ]
    return pd.DataFrame(rows, columns=["quantity", "value", "unit", "of", "meaning"])


def inputs_table(appraisal: Appraisal) -> pd.DataFrame:
    """Every resolved input: number in SI or words, unit, origin, range, provenance."""
    rows = []
    for entry in appraisal.study.inputs:
        value: Any = entry.value
        number = isinstance(value, int | float) and not isinstance(value, bool)
        words = "none" if value is None else str(value)
        name = entry.path.rpartition(".")[2]
        by_path = entry.origin == "file" and name in {FACTOR, DRAG, STRAIN}
        marched = by_path and name not in appraisal.study.text  # nobody wrote it
        if marched and not number:  # by fold angle
            ends = [float(one) for one in words.split(", ")]
            words = f"{min(ends):.3g} to {max(ends):.3g}"
        rows.append(
            {
                "path": entry.path,
                "value": float(value) if number else math.nan,
                "words": "" if number else words.lower() if isinstance(value, bool) else words,
                "unit": entry.unit if number else "",
                "origin": "march" if marched else str(entry.origin),
                "low": _number(entry.low),
                "high": _number(entry.high),
                "provenance": entry.provenance,
                "meaning": entry.text,
            }
        )
    return pd.DataFrame(rows)


def alloy_table(appraisal: Appraisal) -> pd.DataFrame:
    """Alloy card: value, range, source and standing of every field; judged ones are marked."""
    fields = appraisal.problem.assembled.card.fields.values()
    table = of_records(fields, "field=name value low high judged provenance source")
    known = [QUANTITIES[name] for name in table["field"]]
    table.insert(2, "unit", [quantity.unit for quantity in known])
    ends = {"low": float, "high": float}  # no end: NaN
    return table.astype(ends).assign(meaning=[quantity.meaning for quantity in known])


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def window_table(appraisal: Appraisal) -> pd.DataFrame:
    """Window of transformation temperatures [K] that the cases demand, and those of the card."""
    frame = of_lines(WindowLine, transformation_window(appraisal))
    return frame.astype({"at_least": float, "at_most": float, "card": float})


def attempts_table(appraisal: Appraisal) -> pd.DataFrame:
    """Where each start of the optimiser ended; mass of the aircraft [kg]."""
    optimum = appraisal.continuous.optimum
    attempts = () if optimum is None else optimum.attempts
    columns = "system_mass=mass violation iterations converged message"
    table = of_records(attempts, columns)
    table.insert(0, "start", range(1, len(table) + 1))
    return table


CORRECTION_COLUMNS = (
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
    table = of_records(ended.steps, CORRECTION_COLUMNS)
    labels = [appraisal.problem.counting_labels[step.worst] for step in ended.steps]
    table["most_moved"] = [
        appraisal.problem.describe(label) if step.worst >= 0 else ""
        for step, label in zip(ended.steps, labels, strict=True)
    ]
    table["way"] = np.where(table.index == len(table) - 1, ended.way, "")
    return {"corrections": table}
