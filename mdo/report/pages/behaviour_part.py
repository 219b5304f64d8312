"""Part 3 of the report: how it works, in torque, heat and time."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from mdo.defend.alloy_window import WindowLine
from mdo.defend.tables.legs import driving_point
from mdo.report.drawings import heat_figures
from mdo.report.drawings.alloy_diagram import alloy_diagram, alloy_points
from mdo.report.drawings.front_view import front_view
from mdo.report.drawings.heat import heat_course
from mdo.report.figures import design as figures
from mdo.report.figures.style import AT_LIMIT
from mdo.report.pages.parts import drawn
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import (
    DASH,
    degrees,
    margin_words,
    number,
    pretty,
    signed,
)
from mdo.report.words.table import Columns, Table, table_of
from mdo.study.number_text import percent

AMPLE = 3.0  # torque margin from which its number says nothing more


def front(source: Source) -> Facts:
    """Front view of the folding wing with a slider over its travel."""
    return front_view(source.appraisal)


def torque(source: Source) -> Facts:
    """Required against available moment over the fold angle, one figure per leg."""
    table = source.table("torque")
    point = driving_point(source.appraisal)
    legs = []
    for place, (leg, part) in enumerate(table.groupby("leg", sort=False)):
        angle = point.fold_angle if point is not None and point.leg == leg else None
        said = _leg_text(part)
        plot = figures.torque_figure(table, str(leg), driving_angle=angle)
        text = f"Required and available moment of {leg} over the fold angle: {said}"
        legs.append({"name": leg, "said": said, "plot": drawn(plot, f"torque-{place}", text)})

    def margin(value: float) -> str:
        return DASH if math.isnan(value) else margin_words(value)

    columns: Columns = {
        "leg": "leg",
        "fold angle": "fold_angle",
        "required": "required_moment",
        "available": "available_moment",
        "margin": ("torque_margin", margin),
        "upper band": ("torque_margin_upper_band", margin),
    }
    return {
        "legs": legs,
        "angles": table_of(table, columns),
        "required": source.appraisal.study.requirements,
    }


def _leg_text(part: pd.DataFrame) -> str:
    """Line under the name of a leg: driver, way, least margin."""
    first, last = part["fold_angle"].iloc[0], part["fold_angle"].iloc[-1]
    way = f"{degrees(first)} → {degrees(last)}"
    if first == last:
        way = f"holds at {degrees(first)}"
    least = float(part["torque_margin"].min())
    if part["available_moment"].isna().all():
        margin = "no heated set drives"
    elif math.isnan(least):
        margin = "load assists"
    elif least <= -1.0:
        margin = "nothing left at one end (available below zero)"
    elif least > AMPLE:
        margin = f"margin over {100.0 * AMPLE:.0f} %"
    else:
        margin = f"least margin {margin_words(least)}"
    return f"{part['driver'].iloc[0]}, {way}, {margin}"


def heat(source: Source) -> Facts:
    """Temperature over time of the tightest fold and its return, and where its heat goes."""
    course = heat_course(source.appraisal)
    ledger, said = None, ""
    if course is not None:
        parts = heat_figures.ledger_rows(course)
        shares, whole = heat_figures.rounded([joules for _, joules in parts])
        rows = [
            (words, f"{signed(share)} kJ", percent(joules / course.given))
            for (words, joules), share in zip(parts, shares, strict=True)
        ]
        rows.append(("given by the heaters of the set", f"{whole} kJ", "100 %"))
        ledger = Table(("part", "heat, one set of one wing", "share"), rows, right=(1, 2))
        largest = max(parts, key=lambda part: part[1])
        said = f"Largest part: {largest[0]}, {percent(largest[1] / course.given)}."
    energy: Columns = {
        "leg": "leg",
        "driver": "driver",
        "from the source, aircraft": ("fold_energy", _joules),
        "while it holds, aircraft": "held_power",
        "work of the tubes, one wing": ("actuator_work", _joules),
    }
    return {
        "course": drawn(
            heat_figures.temperature_time_figure(course),
            "temperature-time",
            "Temperature of a tube over time while it folds and while it returns.",
        ),
        "temperatures": _temperatures(source.table("temperatures")),
        "balance": drawn(
            heat_figures.ledger_figure(course), "ledger", f"Energy ledger of that fold. {said}"
        ),
        "ledger": ledger,
        "said": said,
        "energy": table_of(source.table("energy"), energy),
    }


def _temperatures(table: pd.DataFrame) -> Table:
    names = [name for name in table.columns if name not in {"leg", "stuck_on_temperature"}]
    titles = {name.replace("_", " ").replace(" temperature", ""): name for name in names}
    return table_of(table, {"leg or case": "leg", **titles})


def _joules(energy: float) -> str:
    """Energy of a leg; below a joule it is nothing."""
    return "0 kJ" if abs(energy) < 1.0 else number(energy, "J")


def alloy_window(source: Source) -> Facts:
    """Transformation lines, operating points, and the window that the cases demand."""
    table = source.table("window")
    columns: Columns = {
        "temperature": "temperature",
        "at least": "at_least",
        "at most": "at_most",
        "this alloy": "card",
        "set by": "set_by",
    }
    lines = table.astype({"at_least": object, "at_most": object}).replace({np.nan: None})
    window = [WindowLine(**line) for line in lines[list(WindowLine._fields)].to_dict("records")]
    return {
        "plot": drawn(
            alloy_diagram(alloy_points(source.appraisal), window),
            "transformation",
            "Transformation lines of the alloy over temperature and shear stress, operating points "
            "of each set, and the window that the cases demand.",
        ),
        "window": table_of(table, columns),
        "sets": _sets(source.table("sets")),
    }


SET_LINES = (
    ("tube_count", "tubes (continuous count)", "1"),
    ("operating_stress", "operating stress, uniform", "Pa"),
    ("outer_stress_operating", "outer-fibre stress", "Pa"),
    ("pre_twist", "pre-twist", "rad"),
    ("heater_power", "heater power, nominal", "W"),
    ("heater_flux", "heater flux at high line", "W/m**2"),
    ("sheath_temperature", "heater temperature at high line", "K"),
    ("heating_start", "As′ (austenite start) at operating stress", "K"),
    ("heating_finish", "Af′ (austenite finish) at operating stress", "K"),
    ("hold_temperature", "hold temperature", "K"),
    ("cooling_start", "Ms′ (martensite start) at the smallest return stress", "K"),
    ("cooling_finish", "Mf′ (martensite finish) at the smallest return stress", "K"),
    ("life_use", "life used (Miner's sum, 1 is all)", "1"),
)


def _sets(sets: pd.DataFrame) -> Table:
    rows = [
        (words, *(number(float(value), unit) for value in sets[name]))
        for name, words, unit in SET_LINES
    ]
    head = ("of one wing", *(f"{name} set" for name in sets["set"]))
    return Table(head, rows, right=range(1, len(head)))


def times(source: Source) -> Facts:
    """Fold and return times against their limits, and the power that they take."""
    table, power = source.table("times"), source.table("power")
    moving = table[table["time"].notna()]
    late = int((table["time"] > table["time_limit"] * (1.0 + AT_LIMIT)).sum())
    said = f"{late} of {len(moving)} motions are late."
    if not late:
        said = f"All {len(moving)} motions keep their time."
    columns: Columns = {
        "leg": "leg",
        "what": "what",
        "time": "time",
        "limit": "time_limit",
        "heating": "heat_time",
        "cooling": "cool_time",
    }
    powers: Columns = {"quantity": "meaning", "value": "value", "of": "of"}
    plot = figures.times_figure(table)
    return {
        "said": said,
        "plot": drawn(plot, "times", f"Bar chart of fold and return times. {said}"),
        "times": table_of(moving, columns),
        "power": table_of(power[power["value"] != 0.0], powers),
    }


def life(source: Source) -> Facts:
    """Life use of each case."""
    table = source.table("life")
    columns: Columns = {
        "leg": "leg",
        "driver": "driver",
        "folds": ("folds_per_life", lambda value: f"{value:g}"),
        "outer stress": "leg_outer_stress",
        "strain of the stroke": ("stroke_strain", lambda value: f"{100.0 * value:.2f} %"),
        "life used": ("leg_life_use", lambda value: pretty(percent(value))),
        "basis": "basis",
    }
    return {"life": table_of(table, columns), "used": float(table["leg_life_use"].sum())}
