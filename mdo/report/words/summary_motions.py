"""Blocks of the summary that say what the design does: moment, times, temperatures, power."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import driving_point
from mdo.optimise.appraisal import Appraisal
from mdo.quantities import QUANTITIES
from mdo.report.words.summary_defence import Tables
from mdo.report.words.table import terminal_lines
from mdo.study.number_text import aligned, percent, quantity, wrapped

Lines = list[str]
TEMPERATURES = (
    "hot_temperature", "heating_start", "heating_finish", "cooling_start", "cooling_finish",
    "sheath_temperature", "tube_temperature_max", "bay_hot_temperature",
    "structure_temperature_hot",
)  # fmt: skip
POWERS = ("peak_power", "power_available", "held_power", "fold_energy", "sortie_energy")


def driving_lines(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    """Return the leg and angle that drive the torque, with their margins."""
    point = driving_point(appraisal)
    if point is None:
        return ["DRIVING CASE: none, the load assists everywhere"]
    required, available = (
        quantity(value, "N*m", units) for value in (point.required_moment, point.available_moment)
    )
    angle = f"{math.degrees(point.fold_angle):.0f} deg"
    needed = percent(point.torque_margin_required)
    nominal, upper = map(margin_text, (point.torque_margin, point.torque_margin_upper_band))
    torque = tables["torque"]
    worst = torque.loc[torque["torque_margin_upper_band"].idxmin()]
    least = f"{worst['leg']}, {math.degrees(worst['fold_angle']):.0f} deg"
    return [
        f"DRIVING CASE for the torque: {point.leg}, fold angle {angle}, {point.driver}",
        f"  required {required}, available {available} (one wing, limit load)",
        f"  margin {nominal} nominal, {upper} with the loads at their upper band; needed {needed}",
        f"  least at the upper band: {margin_text(worst['torque_margin_upper_band'])} ({least})",
    ]


def margin_text(margin: float) -> str:
    """Return a torque margin; where nothing is available (A < 0) the ratio says little."""
    return percent(margin) if margin > -1.0 or math.isnan(margin) else "none, A < 0"


def times_lines(tables: Tables, units: str) -> Lines:
    """Return how long every motion takes, and why it cannot be run where it cannot."""
    status = tables["times"]["status"]
    reasons = dict.fromkeys(reason for words in status for reason in words.split("; "))
    return [
        "TIMES (fold: cold start, low line; return: hottest bay; from rest: warm-up of the",
        "other set, then heating or cooling under the drive, the longer)",
        *terminal_lines("times", tables["times"], units),
        *(line for why in reasons if why for line in wrapped(why, indent="  ", hanging="    ")),
    ]


def other_set_lines(tables: Tables, units: str) -> Lines:
    """Return the state of the set that does not drive, of this design and optimised again."""
    if tables["other_set"].empty:
        return []
    head = "STATE OF THE OTHER SET in every motion: this design as it is"
    lines = [head, *terminal_lines("other_set", tables["other_set"], units)]
    if "other_set_optimum" in tables:
        again = terminal_lines("other_set_optimum", tables["other_set_optimum"], units)
        return [*lines, "  optimised again:", *again]
    return lines


def temperatures_lines(appraisal: Appraisal, units: str) -> Lines:
    """Return the temperatures of the sets and of what is around them."""
    facts = Facts(appraisal)
    present = np.asarray(facts.choices.set_present) > 0.5
    pairs = " / ".join(name for name, there in zip(("up", "down"), present, strict=True) if there)
    rows = []
    for name in TEMPERATURES:
        values = np.atleast_1d(facts.v[name] if name in facts.v else facts.d[name])
        values = values[present] if values.shape == present.shape else values.max(keepdims=True)
        shown = dict.fromkeys(quantity(float(value), "K", units) for value in values)
        rows.append((QUANTITIES[name].title, QUANTITIES[name].symbol, " / ".join(shown)))
    return [f"TEMPERATURES (sets {pairs} where two are given)", *aligned(rows)]


def power_lines(appraisal: Appraisal, units: str) -> Lines:
    """Return what the aircraft's supply gives and what the fold takes of it."""
    supply = appraisal.study.supply
    values: dict[str, Any] = {"power_available": supply.power_available, **appraisal.values}
    rows = [
        (quantity(float(np.max(values[name])), known.unit, units), known.meaning)
        for name, known in ((name, QUANTITIES[name]) for name in POWERS)
    ]
    return [
        "POWER of the aircraft, both wings moving together, largest of all legs",
        *aligned(rows, right=(0,)),
    ]
