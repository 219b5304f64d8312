"""Part 1 of the report: the verdict, what conflicts where there is no design, the key numbers."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from mdo.defend.open_items import open_item_texts
from mdo.defend.tables.legs import driving_point
from mdo.defend.tables.never import NEVER
from mdo.defend.tables.requirements import RequirementLine
from mdo.defend.verdict import INFEASIBLE, OPEN_ITEMS, PASSES, judge
from mdo.report.pages.source import Facts, Source
from mdo.report.words.printed import (
    degrees,
    given_number,
    known,
    margin_words,
    number,
    prose,
    two,
)
from mdo.report.words.summary import reached_starts, violated_lines
from mdo.report.words.summary_defence import relaxations
from mdo.study.number_text import percent

MARKS = {INFEASIBLE: "is-bad", OPEN_ITEMS: "is-warn", PASSES: "is-good"}
LONG_ITEM = 150  # letters from which an open item is cut at its first stop
MOST_RELAXATIONS = 6
MOST_VIOLATED = 4


def verdict(source: Source) -> Facts:
    """Verdict with its reason and open items, the conflicts of an infeasible one, key numbers."""
    appraisal = source.appraisal
    level = judge(appraisal).level
    ranked = source.table("sensitivity")["input"] if source.has("sensitivity") else ()
    misses = _misses(source)
    conflicts = source.table("conflicts") if source.has("conflicts") else None
    answers = None if conflicts is None else relaxations(conflicts, MOST_RELAXATIONS)
    return {
        "level": level,
        "mark": MARKS[level],
        "broken": level == INFEASIBLE,
        "optimum": appraisal.optimum,
        "origin": appraisal.origin,
        "starts_reached": reached_starts(appraisal),
        "items": [_short(item) for item in open_item_texts(appraisal, tuple(ranked))],
        "core": [prose(text) for text in source.table("conflict_core")["requirement"]]
        if source.has("conflict_core")
        else [],
        "answers": answers,
        "misses": misses[:MOST_VIOLATED],
        "more_misses": misses[MOST_VIOLATED:],
        "tiles": [*_mass_tiles(source), *_time_tiles(source), *_margin_tile(source)],
    }


def _short(item: str) -> str:
    """Return an open item that fits two lines; what is cut stands among what is not modelled."""
    first, _, rest = item.partition("; ")
    cut = rest and len(item) > LONG_ITEM and "not measured" not in first
    return f"{first} (see 'What is not modelled')" if cut else item


def _misses(source: Source) -> pd.DataFrame:
    """Worst line of each kind of requirement that the design misses, worst first."""
    lines = [(*line, count) for line, count in violated_lines(source.appraisal)]
    return pd.DataFrame(lines, columns=[*RequirementLine._fields, "such"])


Tile = tuple[str, str]


def _mass_tiles(source: Source) -> list[Tile]:
    """Mass and power with their intervals, mass in whole tubes, ratio to the geared hinge."""
    power = source.table("power").set_index("quantity")["value"]
    spread = _spread(source)
    low, high = spread.get("system_mass", (math.nan, math.nan))
    text = "mass of the aircraft's fold actuation, growth included"
    if not math.isnan(low):
        least = known(low, low, high, "kg").partition(" ")[0]
        text += f"; {least} to {known(high, low, high, 'kg')} (5 to 95 %)"
    if source.has("rounding_order"):
        bought = float(source.table("rounding")["system_mass"].iloc[-1])
        text += f"; as bought {number(bought, 'kg')}"
    ends = spread.get("peak_power", (math.nan, math.nan))
    granted = number(power["power_available"], "W")
    tiles = [
        (known(source.appraisal.mass, low, high, "kg"), text),
        (known(power["peak_power"], *ends, "W"),
         f"peak power of the aircraft, {granted} available"),
    ]  # fmt: skip
    if source.has("versus"):
        versus = source.table("versus")
        rival = versus[(versus["measure"] == "mass") & versus["ratio"].notna()].iloc[0]
        ends_text = f"{two(rival['ratio_low'], '1')} to {two(rival['ratio_high'], '1')}"
        text = f"the mass of the {rival['concept']} for the same job ({ends_text})"
        tiles.append((f"{two(rival['ratio'], '1')} ×", text))
    return tiles


def _spread(source: Source) -> dict[str, tuple[float, float]]:
    """Interval of each figure of the design as drawn, 5 to 95 %."""
    if not source.has("intervals"):
        return {}
    lines = (
        source.table("intervals").fillna({"over": ""}).query("basis == 'as drawn' and over == ''")
    )
    return {line.figure: (float(line.low), float(line.high)) for line in lines.itertuples()}


def _time_tiles(source: Source) -> list[Tile]:
    times, tiles = source.table("times"), []
    for what, words in (("fold time", "tightest fold"), ("return time", "tightest return")):
        part = times[times["what"] == what]
        if part["time"].notna().any():
            worst: Any = part.loc[(part["time"] / part["time_limit"]).idxmax()]
            limit = given_number(float(worst["time_limit"]), "s")
            text = f"{words}, {limit} allowed: {worst['leg']}"
            time = NEVER if worst["status"] else number(float(worst["time"]), "s")
            tiles.append((time, text))
    return tiles


def _margin_tile(source: Source) -> list[Tile]:
    point = driving_point(source.appraisal)
    if point is None:
        return []
    needed, angle = percent(point.torque_margin_required), degrees(point.fold_angle)
    text = f"least torque margin, {needed} needed: {point.leg} at {angle}"
    return [(margin_words(point.torque_margin), text)]
