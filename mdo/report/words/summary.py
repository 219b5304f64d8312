"""Summary of an appraisal: aligned text for a terminal, plain data for scripts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from mdo.defend.defence import defence_of
from mdo.defend.open_items import open_item_texts, ranked_inputs
from mdo.defend.order.sheet import ordered_words
from mdo.defend.order.tubes import item_text, order_items
from mdo.defend.tables.design import limits_table, masses_table, window_table
from mdo.defend.tables.legs import driving_point, times_table
from mdo.defend.tables.requirements import (
    REQUIRED,
    Facts,
    RequirementLine,
    requirement_lines,
)
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import WIDTH, aligned, figure, percent, quantity, wrapped

Lines = list[str]
MOST_FAILED = 5  # kinds of requirement that fail, with their numbers
REACHED = 1e-6  # relative difference of masses that count as the same optimum


def summary_text(appraisal: Appraisal, units: str = "si") -> str:
    """Return the summary as plain text of at most 100 columns.

    Parameters
    ----------
    appraisal : the design with everything computed about it
    units : ``si`` or ``us`` trade units
    """
    study = appraisal.study
    head = f"{study.name}: {study.title}" if study.title else study.name
    conflicting: Lines = []
    defended: list[Lines] = []
    if defence_of(appraisal) is not None:
        from mdo.report.words.summary_defence import defence_blocks

        found = defence_blocks(appraisal, units)
        conflicting, defended = (found[0], found[1:]) if found else ([], [])
    blocks = [
        [*wrapped(head), "=" * min(len(head), WIDTH)],
        [*_verdict(appraisal, units), f"Levels of fidelity: {study.fidelity}"],
        conflicting,
        _masses(appraisal, units),
        _order(appraisal, units) if not bought(appraisal) else [],
        _driving(appraisal, units),
        _times(appraisal),
        _temperatures(appraisal, units),
        _power(appraisal),
        *(defended or [_active(appraisal, units)]),
        _limits(appraisal, units),
        _window(appraisal, units),
        _cautions(appraisal),
    ]
    return "\n".join("\n".join(block) + "\n" for block in blocks if block)


def bought(appraisal: Appraisal) -> bool:
    """Whether there is a rounded design, which takes the place of the plain order."""
    found = defence_of(appraisal)
    return found is not None and found.rounded is not None and found.rounded.feasible


def violated_lines(appraisal: Appraisal) -> list[tuple[RequirementLine, int]]:
    """Worst line of each group of requirements that does not hold, and how many lines do not."""
    found: dict[str, list[RequirementLine]] = {}
    for line in requirement_lines(appraisal):
        if line.standing == REQUIRED and not line.holds:
            found.setdefault(line.group, []).append(line)
    worst = [(min(lines, key=_severity), len(lines)) for lines in found.values()]
    point = driving_point(appraisal)
    for line in found.get("torque_margin", []):
        if point is not None and line.leg == point.leg:
            worst[list(found).index("torque_margin")] = (line, len(found["torque_margin"]))
    return sorted(worst, key=lambda one: _severity(one[0]))


def _severity(line: RequirementLine) -> float:
    """Normalised row, or the margin of a line that is no row of its own."""
    return line.margin if math.isnan(line.row) else line.row


def place_text(line: RequirementLine) -> str:
    """Return where a requirement is at its worst: leg, fold angle, set."""
    parts = [line.leg] if line.leg else []
    if not math.isnan(line.fold_angle):
        parts.append(f"{math.degrees(line.fold_angle):.0f} deg")
    if line.side:
        parts.append(f"{line.side} set")
    return ", ".join(parts)


def requirement_text(line: RequirementLine, units: str) -> str:
    """Return a requirement with value and limit in words."""
    value = quantity(line.value, line.unit, units)
    limit = quantity(line.limit, line.unit, units)
    of = f" ({line.of})" if line.of else ""
    note = f"; {line.note}" if line.note else ""
    return f"{value}, {line.sense} {limit}{of}{note}"


def optimiser_text(appraisal: Appraisal) -> str:
    """Return how sure the optimum is: KKT residual and starts that reached it."""
    optimum = appraisal.optimum
    if optimum is None:
        return f"evaluated, not optimised: {appraisal.origin}"
    starts = len(optimum.attempts)
    if not optimum.feasible:
        text = f"no feasible design from {starts} starts; shown is the one with the least violation"
        if optimum.blocked.size:
            text += f"; {optimum.blocked.size} requirements fail whatever the design"
        return text
    return (
        f"optimum reached from {reached_starts(appraisal)} of {starts} starts, "
        f"KKT residual {optimum.kkt_residual:.1e}"
    )


def reached_starts(appraisal: Appraisal) -> int:
    """Count the starts that ended at the optimum."""
    optimum = appraisal.optimum
    if optimum is None:
        return 0
    return sum(
        abs(one.mass / optimum.mass - 1.0) < REACHED and one.violation < REACHED
        for one in optimum.attempts
    )


def _verdict(appraisal: Appraisal, units: str) -> Lines:
    verdict = judge(appraisal)
    lines = [f"VERDICT: {verdict.level.upper()}", *wrapped(optimiser_text(appraisal), indent="  ")]
    if verdict.level == INFEASIBLE:
        failed = violated_lines(appraisal)
        lines.append("  Where the design misses, worst of each kind first:")
        for line, count in failed[:MOST_FAILED]:
            place = place_text(line)
            more = f"; {count} such" if count > 1 else ""
            where = f" ({place}{more})" if place or more else ""
            text = f"- {line.requirement}{where}: {requirement_text(line, units)}"
            lines += wrapped(text, indent="  ", hanging="    ")
        if len(failed) > MOST_FAILED:
            names = ", ".join(line.requirement for line, _ in failed[MOST_FAILED:])
            lines += wrapped(f"- and less: {names}", indent="  ", hanging="    ")
    items = open_item_texts(appraisal, ranked_inputs(appraisal))
    if items:
        lines.append("  Open items:")
    for item in items:
        lines += wrapped(f"- {item}", indent="  ", hanging="    ")
    return lines


def _masses(appraisal: Appraisal, units: str) -> Lines:
    table = masses_table(appraisal)
    total = table.iloc[-1]
    name = quantity(1.0, "kg", units).split()[1]

    def kilograms(value: float) -> str:
        return quantity(value, "kg", units, digits=3).split()[0]

    rows = [("line (all of the aircraft, both wings)", "basic", "growth", "total", name)]
    rows += [
        (one.line, kilograms(one.basic), kilograms(one.growth), kilograms(one.total), "")
        for one in table[:-1].itertuples()
        if one.total > 1e-3 * total["total"]
    ]
    whole, basic, growth, alloy = (
        quantity(float(value), "kg", units)
        for value in (total.total, total.basic, total.growth, appraisal.values["alloy_mass"])
    )
    return [
        f"MASS of the aircraft's fold actuation: {whole} (basic {basic}, growth {growth})",
        *(["  of a design that does not meet its requirements"] if appraisal.violated else []),
        f"  alloy tubes without growth, aircraft: {alloy}",
        *aligned(rows, right=(1, 2, 3)),
    ]


def _order(appraisal: Appraisal, units: str) -> Lines:
    rows = [
        (one.item, item_text(one, units), ", ".join(part for part in (one.of, one.note) if part))
        for one in order_items(appraisal)
    ]
    standing = wrapped(ordered_words(appraisal), indent="  ", hanging="  ")
    return [order_heading(appraisal), *standing, *aligned(rows)]


def order_heading(appraisal: Appraisal) -> str:
    """Return the heading of the order; an infeasible design is not for ordering."""
    if appraisal.violated:
        return "BUNDLE of this design (infeasible: not for ordering; counts rounded up)"
    return "BUNDLE as it would be ordered (counts rounded up, not optimised again)"


def _driving(appraisal: Appraisal, units: str) -> Lines:
    point = driving_point(appraisal)
    if point is None:
        return ["DRIVING CASE: none, the load assists everywhere"]
    required, available = (
        quantity(value, "N*m", units) for value in (point.required_moment, point.available_moment)
    )
    angle = f"{math.degrees(point.fold_angle):.0f} deg"
    needed = percent(point.torque_margin_required)
    return [
        f"DRIVING CASE for the torque: {point.leg}, fold angle {angle}, {point.driver}",
        f"  required {required}, available {available} (one wing, limit load)",
        f"  margin {margin_text(point.torque_margin)}, needed {needed}",
        f"  with the load model at its upper band: {margin_text(point.torque_margin_upper_band)}",
    ]


def margin_text(margin: float) -> str:
    """Return a torque margin; where nothing is available (A < 0) the ratio says little."""
    return percent(margin) if margin > -1.0 or math.isnan(margin) else "none, A < 0"


def _times(appraisal: Appraisal) -> Lines:
    rows = [("leg", "what", "time", "limit", "heat", "cool", "s")]
    for one in times_table(Facts(appraisal)).itertuples():
        if one.what == "hold":
            continue
        numbers = (one.time, one.time_limit, one.heat_time, one.cool_time)
        rows.append((one.leg, one.what, *(figure(value) for value in numbers), ""))
    return ["TIMES (fold: cold start, low line; return: hottest bay; s)",
            *aligned([row[:-1] for row in rows], right=(2, 3, 4, 5))]  # fmt: skip


def _temperatures(appraisal: Appraisal, units: str) -> Lines:
    facts = Facts(appraisal)
    rows: list[Sequence[str]] = []

    def add(text: str, name: str, values: Any) -> None:
        numbers = np.atleast_1d(values)
        shown = dict.fromkeys(quantity(float(value), "K", units) for value in numbers)
        rows.append((text, name, " / ".join(shown)))

    present = np.asarray(facts.choices.set_present) > 0.5
    pairs = " / ".join(name for name, there in zip(("up", "down"), present, strict=True) if there)
    add("hot temperature", "T_hot", facts.d["hot_temperature"])
    for text, symbol, name in (
        ("austenite start under load", "As'", "heating_start"),
        ("austenite finish under load", "Af'", "heating_finish"),
        ("martensite start, smallest return stress", "Ms'", "cooling_start"),
        ("martensite finish, smallest return stress", "Mf'", "cooling_finish"),
        ("heater, high line", "T_heater", "sheath_temperature"),
    ):
        add(text, symbol, facts.v[name][present])
    add("hottest part of a tube", "T_max", facts.v["tube_temperature_max"])
    add("hottest bay of all legs", "T_bay", facts.v["bay_hot_temperature"].max())
    add("adjacent structure, hottest leg", "T_w", facts.v["structure_temperature_hot"].max())
    return [f"TEMPERATURES (sets {pairs} where two are given)", *aligned(rows)]


def _power(appraisal: Appraisal) -> Lines:
    values = appraisal.values
    held = float(values["held_power"].max())
    energy = float(values["fold_energy"].max())
    rows = [
        ("peak power, high line", quantity(float(values["peak_power"]), "W"), "aircraft",
         f"{quantity(appraisal.study.supply.power_available, 'W')} available"),
        ("largest power while holding", quantity(held, "W"), "aircraft", ""),
        ("largest energy of a leg", quantity(energy, "J"), "aircraft", ""),
        ("energy of a sortie", quantity(float(values["sortie_energy"]), "J"), "aircraft",
         f"{appraisal.study.supply.folds_per_sortie:g} folds with their returns"),
    ]  # fmt: skip
    return ["POWER of the aircraft, both wings moving together", *aligned(rows, right=(1,))]


def _active(appraisal: Appraisal, units: str) -> Lines:
    if appraisal.optimum is None or not appraisal.optimum.feasible:
        return []
    unit = quantity(1.0, "kg", units).split()[1]
    rows = [
        (quantity(row.multiplier, "kg", units, digits=3).split()[0],
         f"{unit} per {row.label.requirement.scale.unit}", row.text)
        for row in appraisal.active
        if row.multiplier > 0.0
    ]  # fmt: skip
    free = sum(row.multiplier <= 0.0 for row in appraisal.active)
    lines = [
        "ACTIVE REQUIREMENTS and what they cost (aircraft, per unit of the normalised row)",
        *aligned(rows, right=(0,)),
    ]
    if free:
        lines.append(f"  and {free} more at their limit without a cost of their own")
    return lines


def _limits(appraisal: Appraisal, units: str) -> Lines:
    rows = [
        (percent(one.ratio), *(
            quantity(value, one.unit, units, digits=3, difference=True)
            for value in (one.value, one.limit)
        ), one.name)
        for one in limits_table(appraisal).itertuples()
    ]  # fmt: skip
    head = ("used", "here", "limit", "")
    return ["DISTANCE TO PHYSICAL LIMITS", *aligned([head, *rows], right=(0, 1, 2))]


def _window(appraisal: Appraisal, units: str) -> Lines:
    rows = [
        (one.temperature, *(quantity(bound, "K", units) for bound in (one.at_least, one.at_most)),
         quantity(one.card, "K", units), one.set_by)
        for one in window_table(appraisal).itertuples(index=False)
    ]  # fmt: skip
    head = ("", "at least", "at most", "this alloy", "set by")
    return [
        "TRANSFORMATION WINDOW that the cases demand of any alloy (no stress)",
        *aligned([head, *rows], right=(1, 2, 3)),
    ]


def _cautions(appraisal: Appraisal) -> Lines:
    from mdo.defend.cautions.collect import evaluate_cautions

    lines = ["CAUTIONS"]
    for one in evaluate_cautions(appraisal):
        text = f"{one.id} {one.severity}: {one.text}" + (f" -> {one.action}" if one.action else "")
        lines += wrapped(text, indent="  ", hanging="      ")
    return lines


def summary_dict(appraisal: Appraisal) -> dict[str, Any]:
    """Return the summary as plain data in SI units; what does not exist is None."""
    study, optimum, verdict = appraisal.study, appraisal.optimum, judge(appraisal)
    point = driving_point(appraisal)
    masses = masses_table(appraisal)
    return {
        "study": study.name,
        "title": study.title,
        "study_hash": study.hash,
        "levels": study.fidelity._asdict(),
        "analysis": appraisal.kind,
        "origin": appraisal.origin,
        "verdict": verdict.level,
        "causes": list(verdict.causes),
        "open_items": list(verdict.open_items),
        "units": "SI; system_mass, masses and peak_power are of the aircraft, moments of one wing",
        "system_mass": appraisal.mass,
        "system_mass_basic": float(appraisal.values["system_mass_basic"]),
        "alloy_mass": float(appraisal.values["alloy_mass"]),
        "masses": masses.to_dict("records"),
        "design": {name: value.tolist() for name, value in appraisal.design.items()},
        "order": [item._asdict() for item in order_items(appraisal)],
        "driving_point": None if point is None else point._asdict(),
        "times": times_table(Facts(appraisal)).to_dict("records"),
        "peak_power": float(appraisal.values["peak_power"]),
        "sortie_energy": float(appraisal.values["sortie_energy"]),
        "active": [
            {
                "requirement": row.text,
                "multiplier": row.multiplier,
                "unit_of_row": row.label.requirement.scale.unit,
            }
            for row in appraisal.active
        ],
        "violated": [line._asdict() for line, _ in violated_lines(appraisal)],
        "kkt_residual": None if optimum is None or not optimum.feasible else optimum.kkt_residual,
        "starts": None if optimum is None else len(optimum.attempts),
        "starts_reached": None if optimum is None else reached_starts(appraisal),
        "limits": limits_table(appraisal).to_dict("records"),
        "window": window_table(appraisal).to_dict("records"),
        "cautions": _caution_records(appraisal),
        "defence": _defence_record(appraisal),
    }  # fmt: skip


def _caution_records(appraisal: Appraisal) -> list[dict[str, str]]:
    from mdo.defend.cautions.collect import evaluate_cautions

    return [one._asdict() for one in evaluate_cautions(appraisal)]


def _defence_record(appraisal: Appraisal) -> dict[str, Any] | None:
    if defence_of(appraisal) is None:
        return None
    from mdo.report.words.summary_defence import defence_dict

    return defence_dict(appraisal)
