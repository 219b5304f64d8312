"""Part 1 of the report: the verdict, what conflicts where there is no design, the key numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pandas as pd

from mdo.defend.conflicts.answers import HOW_TRIED, MISSION_KEPT
from mdo.defend.discrepancy import largest
from mdo.defend.tables.legs import TIE, driving_point
from mdo.defend.tables.never import NEVER
from mdo.defend.tables.requirements import RequirementLine
from mdo.defend.verdict import INFEASIBLE, judge, open_item_texts
from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.drawings.side_view import bundle_side_view
from mdo.report.pages.parts import MARK_OF_VERDICT, Facts, Source
from mdo.report.words.printed import (
    degrees,
    given_number,
    margin_words,
    number,
    prose,
    signed,
    two,
    upper_first,
)
from mdo.report.words.summary import lost_on_path, reached_starts, violated_lines
from mdo.report.words.summary_defence import relaxations
from mdo.report.words.table import Table
from mdo.study.number_text import percent

LONG_ITEM = 150  # letters from which an open item is cut at its first stop
MOST_RELAXATIONS = 6
MOST_VIOLATED = 4
MOST_MOMENTS = 8  # legs on the first screen; the part on torque has them all
UPPER = "torque_margin_upper_band"
FOREVER = 1e6  # [s] a time beyond is none


def verdict(source: Source) -> Facts:
    """Verdict with its reason and open items, the conflicts of an infeasible one, key numbers."""
    appraisal = source.appraisal
    level, _, open_items = judge(appraisal)
    ranked = source.table("sensitivity")["input"] if source.has("sensitivity") else ()
    solved, conflicts = source.tables.get("answers"), source.tables.get("conflicts")
    lines = [(*line, count) for line, count in violated_lines(appraisal)]  # worst first
    misses = pd.DataFrame(lines, columns=[*RequirementLine._fields, "such"])
    answers = None if conflicts is None else relaxations(conflicts, MOST_RELAXATIONS)
    return {
        "level": level,
        "mark": MARK_OF_VERDICT[level],
        "broken": level == INFEASIBLE,
        "optimum": appraisal.continuous.optimum,
        "bound": appraisal.bound,
        "origin": appraisal.origin,
        "starts_reached": reached_starts(appraisal),
        "lost_on_path": upper_first(lost_on_path(appraisal)),
        "count": len(open_items),
        "items": [_short(item) for item in open_item_texts(appraisal, tuple(ranked))],
        "core": source.said("conflict_core", "requirement"),
        "answers": answers,
        "solved": solved,
        "how_tried": HOW_TRIED,
        "mission_kept": MISSION_KEPT,
        "works": None if solved is None else solved[solved["feasible"].astype(bool)],
        "misses": misses[:MOST_VIOLATED],
        "more_misses": misses[MOST_VIOLATED:],
        "tiles": [*_mass_tiles(source), *_margin_tile(source), *_discrepancy_tile(source)],
        "tracks": [*_tracks(source)],
        "moments": source.shown("moments", least_margins(source)[:MOST_MOMENTS]),
        "side_view": bundle_side_view(appraisal),
    }


def _short(item: str) -> str:
    """Return an open item that fits two lines; what is cut stands among what is not modelled."""
    first, _, rest = item.partition("; ")
    cut = rest and len(item) > LONG_ITEM and "not measured" not in first
    return f"{first} (see 'What is not modelled')" if cut else item


Tile = tuple[str, str]


def _mass_tiles(source: Source) -> list[Tile]:
    """Mass and power with their intervals, mass in whole tubes, ratio to the geared hinge."""
    power = source.table("power").set_index("quantity")["value"]
    text = "mass of the aircraft's fold actuation, growth included"
    if source.has("intervals"):
        intervals = source.table("intervals").fillna({"over": ""})
        own = "basis == 'as drawn' and over == '' and figure == 'system_mass'"
        for line in intervals.query(own).dropna(subset="low").itertuples():
            low, high = two(line.low, "kg").partition(" ")[0], two(line.high, "kg")
            text += f"; {low} to {high} (5 to 95 %)"
    if source.appraisal.bound is not None:
        bound = number(source.appraisal.bound.mass, "kg")
        text = f"{text}, in whole tubes; bound, counts and sizes free: {bound}"
    granted = number(power["power_available"], "W")
    tiles = [
        (number(source.appraisal.mass, "kg"), text),
        (number(power["peak_power"], "W"), f"peak power of the aircraft, {granted} available"),
    ]
    if source.has("versus"):
        versus = source.table("versus")
        rival = versus[(versus["measure"] == "mass") & versus["ratio"].notna()].iloc[0]
        ends_text = f"{two(rival['ratio_low'], '1')} to {two(rival['ratio_high'], '1')}"
        text = f"the mass of the {rival['concept']} for the same job ({ends_text})"
        tiles.append((f"{two(rival['ratio'], '1')} ×", text))
    return tiles


def _tracks(source: Source) -> Iterator[Facts]:
    """Heating of one set and cooling of the other in the motion that is nearest to its limit."""
    times = source.table("times")
    for what, words in (("fold time", "Longest fold"), ("return time", "Longest return")):
        part = times[(times["what"] == what) & times["time"].notna()]
        if part.empty:
            continue
        worst = part.loc[(part["time"] / part["time_limit"]).idxmax()]
        cooled = "the set that drove" if "return" in what else "other set"
        strokes = {f"heating, {str(worst['driver']).partition(',')[0]}": worst["heat_time"],
                   f"cooling, {cooled}": worst["cool_time"]}  # fmt: skip
        known = {one: float(time) for one, time in strokes.items() if not math.isnan(time)}
        longest = max(known.values(), default=1.0)
        tracks = [
            {
                "words": f"{one} (governs)" if time == longest and len(known) > 1 else one,
                "time": number(time, "s") if time < FOREVER else NEVER,
                "share": min(time / longest, 1.0),
                "governs": time == longest,
            }
            for one, time in known.items()
        ]
        limit = given_number(float(worst["time_limit"]), "s")
        yield {"title": f"{words} time (limit {limit}): {worst['leg']}", "tracks": tracks}


def least_margins(source: Source) -> pd.DataFrame:
    """Point of least margin of each leg that a heated set drives, least margin first.

    Of margins that are one to round-off the one counts that is least with the loads at their upper
    band.
    """
    table = source.table("torque")
    loaded = table[table["torque_margin"].notna()]
    of_leg = loaded.groupby("leg")["torque_margin"].transform("min")
    tied = loaded[loaded["torque_margin"] <= of_leg + TIE].sort_values(UPPER, kind="stable")
    least = tied.drop_duplicates("leg")
    return least.loc[least["torque_margin"].round(4).sort_values(kind="stable").index]


def _margin_tile(source: Source) -> list[Tile]:
    """Least torque margin, nominal and with the loads at their upper band."""
    point = driving_point(source.appraisal)
    if point is None:
        return []
    needed, angle = percent(point.torque_margin_required), degrees(point.fold_angle)
    torque = source.table("torque")
    worst = torque.loc[torque[UPPER].idxmin()]
    both = f"{margin_words(point.torque_margin)} | {margin_words(worst[UPPER])}"
    stalls = "; it would stall" if worst[UPPER] <= -1.0 else ""
    text = (
        f"torque margin nominal ({point.leg} at {angle}; {needed} needed) | least with loads at "
        f"the upper band ({worst['leg']} at {degrees(worst['fold_angle'])}{stalls})"
    )
    return [(both, text)]


def _discrepancy_tile(source: Source) -> list[Tile]:
    """Largest discrepancy between levels of fidelity."""
    table = source.table("discrepancy")
    said = largest(table)
    if not said:
        return []
    first = table.iloc[0]
    change = signed(f"{first['mass_change']:+.2g}")
    value = f"{two(first['ratio'], '1')} ×" if math.isnan(first["mass_change"]) else f"{change} kg"
    return [(value, prose(said.partition(", first order")[0]))]


KEY_ITEMS = (
    "alloy", "tubes, up set", "tubes, down set", "tube outer diameter", "tube wall",
    "active length", "topology", "gear ratio", "heater", "cooling", "bundle length",
    "bundle width", "bundle height",
)  # fmt: skip


def design(source: Source) -> Facts:
    """Bundle to scale with its key dimensions, then every item of it."""
    appraisal, order, sets = source.appraisal, source.table("order"), source.table("sets")
    values = [number(value, "Pa").partition(" ")[0] for value in sets["operating_stress"]]
    items = source.shown("order", order[order["item"].isin(KEY_ITEMS)])
    key = [row[:2] for row in items.rows]
    key.insert(8, ("hot temperature", number(float(appraisal.design["hot_temperature"]), "K")))
    key.insert(6, (f"shear stress, {' / '.join(sets['set'])}", f"{' / '.join(values)} MPa"))
    return {
        "key": Table(("item", "of one wing"), key),
        "end_view": bundle_end_view(appraisal),
        "violated": appraisal.violated,
        "as_ordered": _as_ordered(source),
        "whole": appraisal.problem.fixed is not None,
    }


def _as_ordered(source: Source) -> list[str]:
    """Say whether the design as it would be ordered meets every requirement."""
    if not source.has("order_sheet"):
        return []
    lines = source.table("order_sheet").query("section == 'basis' and item == 'requirements'")
    texts = (f"{line.words.rstrip('.')}. {line.note}".rstrip(". ") for line in lines.itertuples())
    return [f"{prose(upper_first(text))}." for text in texts]


def rounding(source: Source) -> Facts:
    """What each step from the bound to whole tubes and stock sizes costs."""
    return {
        "bound": source.appraisal.continuous.mass,
        "last": source.table("rounding").iloc[-1],
        "found": not source.appraisal.violated,
        "sure": [upper_first(text) for text in source.said("rounding_words")],
    }
