"""Sections of the report on what came out: verdict, torque, mass, margins, times."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from mdo.explore.appraisal import Appraisal
from mdo.explore.leg_tables import DrivingPoint, driving_point
from mdo.explore.order import OrderItem
from mdo.explore.requirement_lines import RequirementLine
from mdo.explore.summary import (
    margin_text,
    open_item_texts,
    optimiser_text,
    place_text,
    violated_lines,
)
from mdo.explore.verdict import INFEASIBLE, OPEN_ITEMS, judge
from mdo.explore.wording import figure, percent
from mdo.report import definitions, figures
from mdo.report.html import (
    bullets,
    drawn,
    escaped,
    folded,
    number,
    paragraph,
    pretty,
    prose,
    section,
    table,
)

Tables = Mapping[str, pd.DataFrame]
NO_BREAK = "\N{NO-BREAK SPACE}"
MARKS = {INFEASIBLE: "is-bad", OPEN_ITEMS: "is-warn"}
KEY = (
    '<div class="key">'
    f'<span><i style="border-color:{figures.BLUE}"></i>available</span>'
    f'<span><i style="border-color:{figures.RUST}"></i>required</span>'
    f'<span><i style="border-color:{figures.RUST};border-top-style:dotted"></i>'
    "required, load model at its upper band</span>"
    f'<span><i class="band" style="background:{figures.BAND}"></i>'
    "envelope of air load and gravity, against the driver</span>"
    f'<span><i class="diamond" style="border-color:{figures.AMBER}"></i>driving point</span>'
    "</div>\n"
)


CONTINUOUS = "The continuous design with counts rounded up (see 'As bought' for what works)"


def verdict_section(appraisal: Appraisal, tables: Tables) -> str:
    """Verdict with causes and open items, key numbers, the bundle as it would be ordered."""
    verdict = judge(appraisal)
    items = open_item_texts(appraisal)
    said = optimiser_text(appraisal)
    content = (
        f'<div class="verdict {MARKS.get(verdict.level, "is-good")}">'
        f"<strong>{escaped(verdict.level.capitalize())}</strong>\n"
        + paragraph(f"{said[:1].upper()}{said[1:]}.")
        + (paragraph("Open items:") + bullets(items) if items else "")
        + "</div>\n"
        + paragraph(definitions.VERDICT, kind="definition")
    )
    if verdict.level == INFEASIBLE:
        content += "<h3>What does not hold, worst of each kind</h3>\n" + _violated(appraisal)
    content += _tiles(appraisal, tables)
    plain = _order(appraisal, tables["order"])
    if "rounding_order" in tables:
        return section("verdict", "Verdict and design", content + folded(CONTINUOUS, plain))
    content += plain
    return section("verdict", "Verdict and design", content)


def _violated(appraisal: Appraisal) -> str:
    rows = []
    for line, count in violated_lines(appraisal):
        where = place_text(line) or "–"
        note = line.note or (f"{count} such" if count > 1 else "")
        rows.append((line.requirement, where, *_numbers(line), _of(line.of), note))
    head = ("requirement", "where", "value", "", "limit", "margin", "of", "")
    text = (
        "The design shown is the one with the least violation that the optimiser found, not a "
        "design to build: read it as where the requirements collide."
    )
    return paragraph(text) + table(
        head, rows, right=(2, 4, 5), marks=["miss"] * len(rows), kind="lead"
    )


def _of(whose: str) -> str:
    """Whose a number is, kept on one line."""
    return whose.replace(" ", NO_BREAK)


def _numbers(line: RequirementLine) -> tuple[str, str, str, str]:
    """Value, sense, limit and margin of a requirement as they are printed; 0 at the limit."""
    at_limit = abs(line.margin) <= figures.AT_LIMIT * abs(line.limit)
    return (
        number(line.value, line.unit),
        line.sense.replace(" ", NO_BREAK),
        number(line.limit, line.unit),
        "0" if at_limit else number(line.margin, line.unit, digits=3, difference=True),
    )


def _tiles(appraisal: Appraisal, tables: Tables) -> str:
    times, power = tables["times"], tables["power"].set_index("quantity")["value"]
    point = driving_point(appraisal)
    granted = number(power["power_available"], "W")
    tiles = [
        (number(appraisal.mass, "kg"), "system mass of the aircraft, growth included"),
        (number(power["peak_power"], "W"), f"peak power of the aircraft, {granted} available"),
    ]
    for what, words in (("fold time", "tightest fold"), ("return time", "tightest return")):
        part = times[times["what"] == what]
        if part["time"].notna().any():
            worst = part.loc[(part["time"] / part["time_limit"]).idxmax()]
            limit = number(float(worst["time_limit"]), "s")
            tiles.append(
                (number(float(worst["time"]), "s"), f"{words}: {worst['leg']}, limit {limit}")
            )
    if point is not None:
        where, needed = f"{point.leg} at {_degrees(point)}", percent(point.torque_margin_required)
        text = f"least torque margin: {where}, {needed} needed"
        tiles.append((margin_text(point.torque_margin), text))
    cells = "".join(
        f'<div class="tile"><b>{escaped(value)}</b><span>{escaped(text)}</span></div>\n'
        for value, text in tiles
    )
    return f'<div class="tiles">\n{cells}</div>\n'


def _degrees(point: DrivingPoint) -> str:
    return f"{math.degrees(point.fold_angle):.0f}°".replace("-", "−")


def _order(appraisal: Appraisal, order: pd.DataFrame) -> str:
    rows = []
    for line in order.itertuples(index=False):
        item = OrderItem(*line)
        whole = item.unit == "1" and float(item.value).is_integer()
        value = f"{item.value:.0f}" if whole else item.words or number(item.value, item.unit)
        rows.append((item.item, value, _of(item.of), prose(item.note)))
    if appraisal.violated:
        title = "The bundle of this design (infeasible: not for ordering)"
    else:
        title = "The bundle as it would be ordered"
    text = "Counts are rounded up; the rest is the continuous design, not optimised again."
    return f"<h3>{title}</h3>\n" + paragraph(text, kind="soft") + table(("", "", "of", ""), rows)


def torque_section(appraisal: Appraisal, tables: Tables) -> str:
    """Required against available moment over the fold angle, one figure per leg."""
    torque = tables["torque"]
    point = driving_point(appraisal)
    plots = []
    for place, (leg, part) in enumerate(torque.groupby("leg", sort=False)):
        angle = point.fold_angle if point is not None and point.leg == leg else None
        plot = drawn(
            figures.torque_figure(torque, str(leg), driving_angle=angle), f"torque-{place}"
        )
        text = paragraph(_leg_text(part), kind="soft")
        plots.append(f"<div><h3>{escaped(leg)}</h3>\n{text}{plot}</div>\n")
    wanted = appraisal.study.requirements
    text = definitions.TORQUE.format(friction_factor=wanted.friction_factor)
    over = definitions.OVERRUN.format(overrun_factor=wanted.overrun_factor)
    content = paragraph(f"{text} {over} One wing.", kind="definition")
    if point is not None:
        content += paragraph(
            f"Driving point: {point.leg} at {_degrees(point)}, {point.driver}: required "
            f"{number(point.required_moment, 'N*m')}, available "
            f"{number(point.available_moment, 'N*m')}, margin {margin_text(point.torque_margin)} "
            f"({margin_text(point.torque_margin_upper_band)} with the load model at its upper "
            "band)."
        )
    content += KEY + paragraph("Each figure has its own scale of moment.", kind="soft")
    content += f'<div class="legs">\n{"".join(plots)}</div>\n'
    return section("torque", "Required and available torque", content)


def _leg_text(part: pd.DataFrame) -> str:
    """Line under the name of a leg: driver, way, least margin."""
    ends = part["fold_angle"].iloc[[0, -1]]
    way = " → ".join(f"{math.degrees(end):.0f}°".replace("-", "−") for end in ends)
    if ends.iloc[0] == ends.iloc[1]:
        way = f"holds at {way.split(' ')[0]}"
    least = float(part["torque_margin"].min())
    margin = "load assists" if math.isnan(least) else f"least margin {margin_text(least)}"
    if part["available_moment"].isna().all():
        margin = "no heated set drives"
    return f"{part['driver'].iloc[0]}, {way}, {margin}"


def mass_section(tables: Tables) -> str:
    """Mass lines with growth."""
    masses = tables["masses"]
    total = masses.iloc[-1]
    rows = [
        (
            line.line,
            *(figure(value, 3) for value in (line.basic, line.growth, line.total)),
            line.of,
            line.growth_class,
        )
        for line in masses.itertuples()
        if line.total > 0.0
    ]
    text = (
        f"{number(total['total'], 'kg')} for the aircraft: {number(total['basic'], 'kg')} basic "
        f"and {number(total['growth'], 'kg')} growth."
    )
    head = ("line", "basic [kg]", "growth [kg]", "total [kg]", "of", "growth class")
    lines = table(head, rows, right=(1, 2, 3), marks=[""] * (len(rows) - 1) + ["sum"])
    content = (
        paragraph(f"{definitions.MASS} {definitions.WING_AND_AIRCRAFT}", kind="definition")
        + paragraph(text)
        + drawn(figures.mass_figure(masses), "mass")
        + folded("Mass lines as a table", lines)
    )
    return section("mass", "Mass", content)


def margins_section(appraisal: Appraisal, tables: Tables) -> str:
    """Worst margin of every kind of requirement, and every line in physical units."""
    compliance = tables["compliance"]
    content = paragraph(f"{definitions.MARGINS} {definitions.GATES}", kind="definition")
    content += drawn(figures.margins_figure(compliance), "margins")
    worst = figures.worst_per_group(compliance)
    content += "<h3>Worst of each kind</h3>\n" + compliance_rows(worst)
    every = compliance_rows(compliance)
    content += folded(f"All {len(compliance)} requirements by leg, case and set", every)
    if appraisal.optimum is not None and appraisal.optimum.feasible:
        content += _active(tables["active"])
    return section("margins", "Margins of all requirements", content)


def compliance_rows(lines: pd.DataFrame) -> str:
    """Table of requirement lines."""
    rows, marks = [], []
    for values in lines[list(RequirementLine._fields)].itertuples(index=False):
        line = RequirementLine(*values)
        reported = line.standing != "required"
        holds = "yes" if line.holds else "no"
        note = ", ".join(part for part in (line.standing if reported else "", line.note) if part)
        rows.append(
            (line.requirement, place_text(line), *_numbers(line), _of(line.of), holds, note)
        )
        marks.append("dim" if reported else "" if line.holds else "bad")
    head = ("requirement", "where", "value", "", "limit", "margin", "of", "holds", "")
    return table(head, rows, right=(2, 4, 5), marks=marks, kind="lead")


def _active(active: pd.DataFrame) -> str:
    rows = [
        (figure(line.multiplier, 3), f"kg per {line.unit_of_row}", line.requirement)
        for line in active.itertuples()
        if line.multiplier > 0.0
    ]
    rest = int((active["multiplier"] <= 0.0).sum())
    text = f"{definitions.COSTS} {rest} more stand at their limit without a cost of their own."
    head = ("cost", "aircraft", "requirement at its limit")
    return (
        "<h3>What the requirements at their limit cost</h3>\n"
        + paragraph(text, kind="definition")
        + table(head, rows, right=(0,))
    )


def times_section(tables: Tables) -> str:
    """Times, temperatures, power, energy and life of each leg."""
    content = paragraph(definitions.TIMES, kind="definition")
    content += drawn(figures.times_figure(tables["times"]), "times")
    content += "<h3>Power and energy</h3>\n" + _power(tables["power"])
    content += "<h3>Sets, one wing</h3>\n" + _sets(tables["sets"])
    content += folded("Temperatures of each leg", _temperatures(tables["temperatures"]))
    content += folded("Energy of each leg", _energy(tables["energy"]))
    life = paragraph(definitions.LIFE, kind="definition") + _life(tables["life"])
    content += folded("Life use of each leg", life)
    return section("times", "Times, temperatures, power and life", content)


def _power(power: pd.DataFrame) -> str:
    rows = [
        (line.meaning, number(line.value, line.unit), line.of)
        for line in power.itertuples()
        if line.value != 0.0
    ]
    return table(("", "", "of"), rows, right=(1,))


SET_LINES = (
    ("tube_count", "tubes (continuous count)", "1"),
    ("operating_stress", "operating stress, uniform", "Pa"),
    ("outer_stress_operating", "outer-fibre stress", "Pa"),
    ("pre_twist", "pre-twist", "rad"),
    ("heater_power", "heater power, nominal", "W"),
    ("heater_flux", "heater flux at high line", "W/m**2"),
    ("sheath_temperature", "heater temperature at high line", "K"),
    ("heating_start", "As' at operating stress", "K"),
    ("heating_finish", "Af' at operating stress", "K"),
    ("hold_temperature", "hold temperature", "K"),
    ("cooling_start", "Ms' at the smallest return stress", "K"),
    ("cooling_finish", "Mf' at the smallest return stress", "K"),
    ("life_use", "life used (Miner's sum, 1 is all)", "1"),
)


def _sets(sets: pd.DataFrame) -> str:
    rows = [
        (words, *(number(float(value), unit) for value in sets[name]))
        for name, words, unit in SET_LINES
    ]
    head = ("", *(f"{name} set" for name in sets["set"]))
    return table(head, rows, right=tuple(range(1, len(head))))


def _temperatures(temperatures: pd.DataFrame) -> str:
    columns = [name for name in temperatures.columns if name != "leg"]
    rows = [
        (line["leg"], *(number(float(line[name]), "K") for name in columns))
        for _, line in temperatures.iterrows()
    ]
    head = (
        "leg or case",
        *(name.replace("_", " ").replace(" temperature", "") for name in columns),
    )
    return table(head, rows, right=tuple(range(1, len(head))))


def _energy(energy: pd.DataFrame) -> str:
    rows = [
        (line.leg, line.driver, number(line.fold_energy, "J"), number(line.held_power, "W"),
         number(line.actuator_work, "J", digits=3))
        for line in energy.itertuples()
    ]  # fmt: skip
    head = (
        "leg", "driver", "from the source, aircraft", "while it holds, aircraft",
        "work of the tubes, one wing",
    )  # fmt: skip
    return table(head, rows, right=(2, 3, 4))


def _life(life: pd.DataFrame) -> str:
    rows = [
        (line.leg, line.driver, f"{line.folds_per_life:g}", number(line.leg_outer_stress, "Pa"),
         figure(line.stroke_strain, 3), pretty(percent(line.leg_life_use)), line.basis)
        for line in life.itertuples()
    ]  # fmt: skip
    head = ("leg", "driver", "folds", "outer stress", "strain of the stroke", "life used", "basis")
    return table(head, rows, right=(2, 3, 4, 5))
