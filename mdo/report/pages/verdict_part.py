"""Part 1 of the report: the verdict, what conflicts where there is no design, the key numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pandas as pd

from mdo.defend.open_items import open_item_texts
from mdo.defend.tables.legs import DrivingPoint, driving_point
from mdo.defend.tables.requirements import RequirementLine
from mdo.defend.verdict import INFEASIBLE, OPEN_ITEMS, PASSES, judge
from mdo.optimise.appraisal import Appraisal
from mdo.report.figures.design import AT_LIMIT
from mdo.report.templates.pieces import (
    DASH,
    bullets,
    definition,
    escaped,
    folded,
    given_number,
    known,
    number,
    paragraph,
    prose,
    section,
    signed,
    table,
    two,
)
from mdo.report.words import definitions
from mdo.report.words.summary import place_text, reached_starts, violated_lines
from mdo.study.number_text import figure, percent

Tables = Mapping[str, pd.DataFrame]
NO_BREAK = "\N{NO-BREAK SPACE}"
ABSOLUTE = 150.0  # [K] from here on a temperature, below it a difference
MARKS = {INFEASIBLE: "is-bad", OPEN_ITEMS: "is-warn", PASSES: "is-good"}
SHARES = frozenset({"angle_range", "torque_margin", "low_voltage_ratio", "moment_scale"})
LONG_ITEM = 150  # letters from which an open item is cut at its first stop
MOST_RELAXATIONS = 6
MOST_VIOLATED = 4
UNMET = "of a design that does not meet its requirements"
UNMET_TEXT = f"All of it {UNMET}."


def verdict_section(appraisal: Appraisal, tables: Tables) -> str:
    """Verdict with its reason and open items, the conflicts of an infeasible one, key numbers."""
    verdict = judge(appraisal)
    broken = verdict.level == INFEASIBLE
    lead = _broken_lead(appraisal) if broken else _fine_lead(appraisal)
    found = tables.get("sensitivity")
    ranked = () if found is None else tuple(found["input"])
    items = [_short(item) for item in open_item_texts(appraisal, ranked)]
    left = f'<strong class="level">{escaped(verdict.level.capitalize())}</strong>\n' + paragraph(
        lead
    )
    if broken:
        left += _together(tables)
    listed = f"<strong>Open items</strong>\n{bullets(items)}" if items and not broken else ""
    content = (
        f'<div class="verdict {MARKS[verdict.level]}">\n<div>{left}'
        f"{definition(definitions.VERDICT, title='What the three verdicts mean')}</div>\n"
        + (f'<div class="items">{listed}</div>\n' if listed else "")
        + "</div>\n"
    )
    if broken:
        content += _relaxations(tables) + violations(appraisal)
    content += _tiles(appraisal, tables, broken=broken)
    if broken and items:
        content += folded(f"{len(items)} open items besides", bullets(items))
    return section("verdict", "Verdict", content)


def _short(item: str) -> str:
    """Return an open item that fits two lines; what is cut stands among what is not modelled."""
    first, _, rest = item.partition("; ")
    cut = rest and len(item) > LONG_ITEM and "not measured" not in first
    return f"{first} (see 'What is not modelled')" if cut else item


def _fine_lead(appraisal: Appraisal) -> str:
    """Why a design passes, in one or two sentences."""
    if appraisal.optimum is None:
        return f"The design meets every requirement; evaluated, not optimised: {appraisal.origin}."
    starts = len(appraisal.optimum.attempts)
    return (
        "The lightest design that the optimiser found meets every requirement of every case; "
        f"{reached_starts(appraisal)} of {starts} independent starts ended at it."
    )


def _broken_lead(appraisal: Appraisal) -> str:
    """Why there is no design, in one or two sentences."""
    if appraisal.optimum is None:
        return f"The design misses requirements; evaluated, not optimised: {appraisal.origin}."
    starts, blocked = len(appraisal.optimum.attempts), appraisal.optimum.blocked.size
    text = (
        f"No design that meets all requirements was found, from {starts} independent starts. The "
        "numbers below are of the one that misses them least; it shows where they collide and is "
        "not for building."
    )
    return f"{text} {blocked} requirements fail whatever the design." if blocked else text


def _together(tables: Tables) -> str:
    """What cannot hold together."""
    if "conflict_core" not in tables or not len(tables["conflict_core"]):
        return ""
    core = list(tables["conflict_core"]["requirement"])
    return paragraph("These cannot hold together:") + bullets(map(prose, core))


def _relaxations(tables: Tables) -> str:
    """What to relax, and by how much, each answer verified by solving the study there."""
    if "conflicts" not in tables:
        return paragraph(
            "What to relax, and by how much: run the study with --analysis defence, which searches "
            "the smallest changes with which a design exists.",
            kind="soft",
        )
    found = tables["conflicts"]
    enough = found[found["suffices"].astype(bool)]
    if not len(enough):
        none = "No change of one or two requirements within their ranges is enough."
        return f"<h4>What to relax</h4>\n{paragraph(none)}"
    answers = list(enough.groupby("answer", sort=False))
    rows = [
        row
        for place, (_, lines) in enumerate(answers[:MOST_RELAXATIONS], 1)
        for row in _answer(place, lines)
    ]
    head = ("answer", "change", "from", "to", "then the design weighs")
    text = "Any one answer is enough; each is the smallest change with which a design exists."
    return (
        '<h4 id="relax">What to relax, and by how much</h4>\n'
        + paragraph(text)
        + table(head, rows, right=(2, 3, 4), kind="lead")
    )


def _answer(place: int, lines: pd.DataFrame) -> list[Sequence[str]]:
    """Rows of one answer: a change alone, or two together."""
    rows: list[Sequence[str]] = []
    for at, one in enumerate(lines.itertuples()):
        lead = f"{place}" if at == 0 else "together with"
        rows.append(
            (lead, one.requirement, value_text(one.present, one.unit, one.knob),
             value_text(one.value, one.unit, one.knob),
             number(one.system_mass, "kg") if at == 0 else "")
        )  # fmt: skip
    return rows


def conflicts_section(tables: Tables) -> str:
    """How the answers were found, and what does not suffice by itself."""
    found = tables["conflicts"]
    rest = found[~found["suffices"].astype(bool)]
    rows = [
        (one.requirement, value_text(one.present, one.unit, one.knob),
         DASH if math.isnan(one.least_at) else value_text(one.least_at, one.unit, one.knob),
         DASH if math.isnan(one.least_violation) else figure(one.least_violation, 2),
         prose(str(one.failing)), one.note)
        for one in rest.itertuples()
    ]  # fmt: skip
    head = (
        "requirement",
        "now",
        "least violation at",
        "violation left",
        "what still fails",
        "note",
    )
    content = paragraph(definitions.CONFLICTS)
    listed = table(head, rows, right=(1, 2, 3), kind="lead")
    content += folded(f"What does not suffice by itself ({len(rows)})", listed) if rows else ""
    return section("conflicts", "How the conflicts were found", content)


def value_text(value: float, unit: str, name: str = "") -> str:
    """Value of a number that can be turned; small kelvins are differences, some are shares."""
    if name in SHARES:
        return f"{100.0 * value:.0f} %" if math.isfinite(value) else DASH
    return number(value, unit, difference=unit == "K" and abs(value) < ABSOLUTE)


def violations(appraisal: Appraisal) -> str:
    """Where the design misses, worst first; what is near the worst is folded away."""
    rows = []
    for line, count in violated_lines(appraisal):
        note = prose(line.note) or (f"{count} such" if count > 1 else "")
        rows.append((line.requirement, prose(place_text(line)) or DASH, *numbers(line), note))
    head = ("requirement", "where", "value", "sense", "limit", "margin", "of", "note")

    def lines(part: Sequence[Sequence[str]]) -> str:
        return table(head, part, right=(2, 4, 5), marks=["miss"] * len(part), kind="lead")

    content = "<h4>Where this design misses, worst first</h4>\n"
    if appraisal.optimum is not None:
        content += paragraph(
            "The optimiser spreads the violation, so the list is longer than the conflict: start "
            "with what to relax.",
            kind="soft",
        )
    content += lines(rows[:MOST_VIOLATED])
    if len(rows) > MOST_VIOLATED:
        rest = rows[MOST_VIOLATED:]
        content += folded(f"{len(rest)} more kinds of requirement that fail less", lines(rest))
    return content


def numbers(line: RequirementLine) -> tuple[str, str, str, str, str]:
    """Value, sense, limit, margin of a requirement and whose it is; margin 0 at the limit."""
    at_limit = abs(line.margin) <= AT_LIMIT * abs(line.limit)
    return (
        number(line.value, line.unit),
        line.sense.replace(" ", NO_BREAK),
        number(line.limit, line.unit),
        "0" if at_limit else number(line.margin, line.unit, digits=2, difference=True),
        line.of.replace(" ", NO_BREAK),
    )


def _tiles(appraisal: Appraisal, tables: Tables, *, broken: bool) -> str:
    """Key numbers as tiles; those of an infeasible design are marked."""
    tiles = [*_mass_tiles(appraisal, tables), *_time_tiles(tables)]
    point = driving_point(appraisal)
    if point is not None:
        needed = percent(point.torque_margin_required)
        text = f"least torque margin, {needed} needed: {point.leg} at {degrees(point)}"
        tiles.append((margin_words(point.torque_margin), text))
    cells = "".join(
        f'<div class="tile"><b>{escaped(value)}</b><span>{escaped(text)}</span></div>\n'
        for value, text in tiles
    )
    if not broken:
        return f'<div class="tiles">\n{cells}</div>\n'
    head = f'<h4 class="unmet">Key numbers {escaped(UNMET)}</h4>\n'
    return f'{head}<div class="tiles unmet">\n{cells}</div>\n'


def _mass_tiles(appraisal: Appraisal, tables: Tables) -> list[tuple[str, str]]:
    """Mass and power with their intervals, mass in whole tubes, ratio to the geared hinge."""
    power = tables["power"].set_index("quantity")["value"]
    spread = _spread(tables)
    low, high = spread.get("system_mass", (math.nan, math.nan))
    text = "mass of the aircraft's fold actuation, growth included"
    if not math.isnan(low):
        least = known(low, low, high, "kg").partition(" ")[0]
        text += f"; {least} to {known(high, low, high, 'kg')} (5 to 95 %)"
    if "rounding_order" in tables:
        bought = float(tables["rounding"]["system_mass"].iloc[-1])
        text += f"; as bought {number(bought, 'kg')}"
    ends = spread.get("peak_power", (math.nan, math.nan))
    granted = number(power["power_available"], "W")
    tiles = [
        (known(appraisal.mass, low, high, "kg"), text),
        (known(power["peak_power"], *ends, "W"),
         f"peak power of the aircraft, {granted} available"),
    ]  # fmt: skip
    versus = tables.get("versus")
    if versus is not None:
        rival = versus[(versus["measure"] == "mass") & versus["ratio"].notna()].iloc[0]
        ends_text = f"{two(rival['ratio_low'], '1')} to {two(rival['ratio_high'], '1')}"
        text = f"the mass of the {rival['concept']} for the same job ({ends_text})"
        tiles.append((f"{two(rival['ratio'], '1')} ×", text))
    return tiles


def _spread(tables: Tables) -> dict[str, tuple[float, float]]:
    """Interval of each figure of the design as drawn, 5 to 95 %."""
    if "intervals" not in tables:
        return {}
    drawn = tables["intervals"]
    drawn = drawn[(drawn["basis"] == "as drawn") & (drawn["over"].fillna("") == "")]
    return {one.figure: (float(one.low), float(one.high)) for one in drawn.itertuples()}


def _time_tiles(tables: Tables) -> list[tuple[str, str]]:
    times, tiles = tables["times"], []
    for what, words in (("fold time", "tightest fold"), ("return time", "tightest return")):
        part = times[times["what"] == what]
        if part["time"].notna().any():
            worst = part.loc[(part["time"] / part["time_limit"]).idxmax()]
            limit = given_number(float(worst["time_limit"]), "s")
            tiles.append(
                (number(float(worst["time"]), "s"), f"{words}, {limit} allowed: {worst['leg']}")
            )
    return tiles


def margin_words(margin: float) -> str:
    """Torque margin as it is printed on a page; none where nothing is available."""
    return "none" if margin <= -1.0 else signed(percent(margin))


def unmet(tables: Tables) -> str:
    """Sentence that marks the numbers of an infeasible design, nothing for another."""
    return f" {UNMET_TEXT}" if tables["verdict"]["text"].iloc[0] == INFEASIBLE else ""


def degrees(point: DrivingPoint) -> str:
    """Fold angle of a point."""
    return f"{math.degrees(point.fold_angle):.0f}°".replace("-", "−")
