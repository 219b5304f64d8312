"""Part 3 of the report: how it works, in torque, heat and time."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from mdo.defend.alloy_window import WindowLine
from mdo.defend.tables.legs import driving_point
from mdo.quantities import QUANTITIES
from mdo.report.drawings import heat_figures
from mdo.report.drawings.alloy_diagram import alloy_diagram
from mdo.report.drawings.front_view import front_view
from mdo.report.drawings.heat_figures import heat_course
from mdo.report.figures import design as figures
from mdo.report.figures.style import AT_LIMIT
from mdo.report.pages.parts import Facts, Source, drawn
from mdo.report.words.printed import degrees, margin_words, number, signed
from mdo.report.words.table import Table, shown_lines, table_of
from mdo.study.number_text import percent

OF_SETS = (
    "tube_count", "operating_stress", "outer_stress_operating", "pre_twist", "heater_power",
    "heater_flux", "sheath_temperature", "heating_start", "heating_finish", "hold_temperature",
    "cooling_start", "cooling_finish", "life_use",
)  # fmt: skip


def front(source: Source) -> Facts | None:
    """Front view of the folding wing with a slider over its travel; a bench has no wing."""
    return None if source.appraisal.study.bench else front_view(source.appraisal)


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
    return {"legs": legs, "required": source.appraisal.study.requirements}


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
    else:
        margin = f"least margin {margin_words(least)}"
    return f"{part['driver'].iloc[0]}, {way}, {margin}"


def heat(source: Source) -> Facts:
    """Temperature over time of the longest fold and its return, and where its heat goes."""
    course = heat_course(source.appraisal)
    temperatures = source.table("temperatures").drop(columns="stuck_on_temperature")
    titles = {name.replace("_", " ").replace(" temperature", ""): name
              for name in temperatures if name != "leg"}  # fmt: skip
    shown = table_of(temperatures, {"leg or case": "leg", **titles})
    if course is None:
        return {"course": None, "temperatures": shown}
    parts = heat_figures.ledger_rows(course)
    shares, whole = heat_figures.rounded([joules for _, joules in parts])
    rows = [
        (words, f"{signed(share)} kJ", percent(joules / course.given))
        for (words, joules), share in zip(parts, shares, strict=True)
    ]
    rows.append(("given by the heaters of the set", f"{whole} kJ", "100 %"))
    largest = max(parts, key=lambda part: part[1])
    said = f"Largest part: {largest[0]}, {percent(largest[1] / course.given)}."
    sketch = heat_figures.temperature_time_figure(course)
    balance = heat_figures.ledger_figure(course)
    words = "Temperature of a tube over time while it folds and while it returns."
    return {
        "course": drawn(sketch, "temperature-time", words), "temperatures": shown, "said": said,
        "balance": drawn(balance, "ledger", f"Energy ledger of that fold. {said}"),
        "ledger": Table(("part", "heat, one set of one wing", "share"), rows, right=(1, 2)),
    }  # fmt: skip


def window(source: Source) -> Facts:
    """Transformation lines, operating points, and the window that the cases demand."""
    lines = source.table("window").astype({"at_least": object, "at_most": object})
    lines = lines.replace({np.nan: None})[list(WindowLine._fields)]
    demanded = [WindowLine(**line) for line in lines.to_dict("records")]
    plot = alloy_diagram(source.appraisal, demanded)
    text = (
        "Transformation lines of the alloy over temperature and shear stress, operating points "
        "of each set, and the window that the cases demand."
    )
    sets = source.table("sets")
    rows = [
        (of.meaning, of.symbol, *(_of_set(value, of.unit) for value in sets[of.name]))
        for of in (QUANTITIES[name] for name in OF_SETS)
    ]
    head = ("of one wing", "symbol", *(f"{name} set" for name in sets["set"]))
    return {
        "plot": drawn(plot, "transformation", text),
        "sets": Table(head, rows, right=range(2, len(head))),
    }


def _of_set(value: float, unit: str) -> str:
    """Number of a set; a whole count without decimals."""
    return f"{value:.0f}" if unit == "1" and float(value).is_integer() else number(value, unit)


def times(source: Source) -> Facts:
    """Fold and return times against their limits, and the power that they take."""
    table = source.table("times")
    moving = shown_lines("times", table)
    late = int((moving["time"] > moving["time_limit"] * (1.0 + AT_LIMIT)).sum())
    said = f"{late} of {len(moving)} over the limit."
    if not late:
        whole = {1: "The only one is", 2: "Both"}.get(len(moving), f"All {len(moving)}")
        said = f"{whole} within limit."
    plot = drawn(
        figures.times_figure(table), "times", f"Bar chart of fold and return times. {said}"
    )
    return {"said": said, "plot": plot}


def other_set(source: Source) -> Facts | None:
    """What each state of the other set does to this design, and optimised again."""
    if not source.has("other_set") or not len(source.table("other_set")):
        return None
    optimised = "other_set_optimum"
    return {"optimised": source.shown(optimised) if source.has(optimised) else None}


def life(source: Source) -> Facts:
    """Life use of each case."""
    return {"used": float(source.table("life")["leg_life_use"].sum())}
