"""Summary of an appraisal: aligned text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from mdo.defend.defence import defence_of, ranked_inputs
from mdo.defend.discrepancy import largest
from mdo.defend.order.sheet import ordered_words
from mdo.defend.tables.design import life_stress_price, result_tables
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import driving_point
from mdo.defend.tables.requirements import REQUIRED, RequirementLine, requirement_lines
from mdo.defend.verdict import INFEASIBLE, judge, open_item_texts
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.whole_tubes.rounding import counts_words
from mdo.quantities import QUANTITIES
from mdo.report.words.bench import bench_words
from mdo.report.words.cells import FORMS, met_by_nothing, place_text, terminal
from mdo.report.words.printed import corrections_words
from mdo.report.words.summary_defence import Tables, conflict_lines, defence_blocks
from mdo.report.words.table import terminal_lines
from mdo.study.number_text import WIDTH, aligned, bulleted, percent, quantity, wrapped

Lines = list[str]
TEMPERATURES = (
    "hot_temperature", "heating_start", "heating_finish", "cooling_start", "cooling_finish",
    "sheath_temperature", "tube_temperature_max", "bay_hot_temperature",
    "structure_temperature_hot",
)  # fmt: skip
POWERS = ("peak_power", "power_available", "held_power", "fold_energy", "sortie_energy")
CORRECTIONS = (
    "CORRECTIONS of the levels optimised with; mass, violation, KKT of the high-fidelity model"
)
WHOLE_TUBES = "WHOLE TUBES and stock sizes: what each step costs"
OTHER_SET = "STATE OF THE OTHER SET in every motion: this design as it is"
TIMES = (
    "TIMES (fold: cold start, low line; return: hottest bay; from rest: warm-up of the",
    "other set, then heating or cooling under the drive, the longer)",
)
MOST_FAILED = 5  # kinds of requirement that fail, with their numbers
REACHED = 1e-6  # relative difference of masses that count as the same optimum
LEAST_LINE = 1e-3  # share of the mass from which a line of it is listed
FIND_OUT = (
    "Find out more: fold-mdo run {file} --analysis defence. It leaves out each case in turn, then "
    "tries other choices, then requirements one by one, then two together."
)


def summary_text(appraisal: Appraisal, units: str = "si", tables: Tables | None = None) -> str:
    """Return the summary as plain text of at most 100 columns.

    Parameters
    ----------
    appraisal : the design with everything computed about it
    units : ``si`` or ``us`` trade units
    tables : of its result; made here if left out
    """
    study = appraisal.study
    head = f"{study.name}: {study.title}" if study.title else study.name
    tables = result_tables(appraisal) if tables is None else tables

    def shown(name: str) -> Lines:
        return terminal_lines(name, tables[name], units)

    blocks = [
        [*wrapped(head), "=" * min(len(head), WIDTH)],
        [*_verdict(appraisal, units), f"Levels of fidelity: {study.fidelity}"],
        [CORRECTIONS, f"  {corrections_words(tables['corrections'])}", *shown("corrections")]
        if "corrections" in tables
        else [],
        conflict_lines(tables, units),
        _masses(appraisal, tables, units),
        _order(appraisal, tables, units),
        [WHOLE_TUBES, *shown("rounding"), *bulleted(tables["rounding_words"]["text"])]
        if "rounding" in tables
        else [],
        _driving(appraisal, tables, units),
        [*TIMES, *shown("times"), *_reasons(tables["times"]["status"])],
        [OTHER_SET, *shown("other_set"), *_other_set_optimum(tables, units)]
        if len(tables["other_set"])
        else [],
        _temperatures(appraisal, units),
        _power(appraisal, units),
        *(
            [_active(appraisal, tables, units)]
            if defence_of(appraisal) is None
            else defence_blocks(appraisal, tables, units)
        ),
        ["DISTANCE TO PHYSICAL LIMITS", *shown("limits")],
        ["TRANSFORMATION WINDOW that the cases demand of any alloy (no stress)", *shown("window")],
        _cautions(tables),
    ]
    text = "\n".join("\n".join(block) + "\n" for block in blocks if block)
    return str(bench_words(study.content, text))


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


def requirement_text(line: RequirementLine, units: str) -> str:
    """Return a requirement with value and limit in words."""
    value = FORMS["timed"](line.value, line, terminal(units))
    if met_by_nothing(line):
        return f"{value}; {line.note}"
    limit = quantity(line.limit, line.unit, units)
    of = f" ({line.of})" if line.of else ""
    note = f"; {line.note}" if line.note else ""
    return f"{value}, {line.sense} {limit}{of}{note}"


def lost_on_path(appraisal: Appraisal) -> str:
    """Say of an infeasible study that it is so only along the path of its tubes; else nothing."""
    optimum = appraisal.continuous.optimum
    met = sum(one.violation < REACHED for one in optimum.attempts) if optimum else 0
    if not met or not appraisal.continuous.violated:
        return ""
    return (
        f"{met} of the starts meet every requirement at the levels of the study, none with the "
        "drag, stress and strain along the paths of its tubes"
    )


def optimiser_text(appraisal: Appraisal) -> str:
    """Return how the design was found and how sure that is: starts, KKT residual."""
    optimum, rounded = appraisal.continuous.optimum, appraisal.rounded
    if optimum is None:
        return f"evaluated, not optimised: {appraisal.origin}"
    starts = len(optimum.attempts)
    if not optimum.feasible:
        text = f"no feasible design from {starts} starts; shown is the one with the least violation"
        if optimum.blocked.size:
            text += f"; {optimum.blocked.size} requirements fail whatever the design"
        return "; ".join(part for part in (text, lost_on_path(appraisal)) if part)
    sure = (
        f"reached from {reached_starts(appraisal)} of {starts} starts, "
        f"KKT residual {optimum.kkt_residual:.1e}"
    )
    if rounded is None:
        return f"optimum {sure}"
    counts = f"{counts_words(rounded.optimum)} per wing"
    if rounded.feasible:
        return f"whole tubes, {counts}; its bound, counts and sizes free, {sure}"
    return (
        f"no design in whole tubes was found: the bound, counts and sizes free, is feasible "
        f"({sure}); shown is the nearest miss, {counts}"
    )


def reached_starts(appraisal: Appraisal) -> int:
    """Count the starts that ended at the continuous optimum."""
    optimum = appraisal.continuous.optimum
    if optimum is None:
        return 0
    # a verified optimum was optimised again from where its starts had ended
    least = min((one.mass for one in optimum.attempts if one.violation < REACHED), default=0.0)
    return sum(
        abs(one.mass - least) < REACHED * least and one.violation < REACHED
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
            more = f"; {count} places" if count > 1 else ""
            where = f" ({place}{more})" if place or more else ""
            lines += bulleted([f"{line.requirement}{where}: {requirement_text(line, units)}"])
        if len(failed) > MOST_FAILED:
            names = ", ".join(line.requirement for line, _ in failed[MOST_FAILED:])
            lines += bulleted([f"and less: {names}"])
        if appraisal.kind == "optimum":
            file = appraisal.study.path.name if appraisal.study.path else "STUDY"
            lines += wrapped(FIND_OUT.format(file=file), indent="  ", hanging="  ")
    items = open_item_texts(appraisal, ranked_inputs(appraisal))
    return [
        *lines,
        *([f"  Open items ({len(verdict.open_items)}):"] * bool(items)),
        *bulleted(items),
    ]


def _masses(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    table = tables["masses"]
    total = table.iloc[-1]
    whole, basic, growth, alloy = (
        quantity(float(value), "kg", units)
        for value in (total.total, total.basic, total.growth, appraisal.values["alloy_mass"])
    )
    large = table[:-1][table["total"][:-1] > LEAST_LINE * total["total"]]
    worst = largest(tables["discrepancy"])
    return [
        f"MASS of the aircraft's fold actuation: {whole} (basic {basic}, growth {growth})",
        *(["  of a design that does not meet its requirements"] if appraisal.violated else []),
        *([f"  {bound_text(appraisal, units)}"] if appraisal.bound else []),
        f"  alloy tubes without growth, aircraft: {alloy}",
        *(wrapped(f"  {worst}", indent="  ") if worst else []),
        *terminal_lines("masses", large, units),
    ]


def bound_text(appraisal: Appraisal, units: str) -> str:
    """Return the mass of the bound, and how far above it the design in whole tubes is."""
    bound = appraisal.continuous.mass
    text = f"bound, counts and sizes free: {quantity(bound, 'kg', units)}"
    more = appraisal.mass / bound - 1.0
    if appraisal.violated:
        return text
    if more < 0.0:
        return (
            f"{text}; whole tubes, with less stress along their path, weigh {percent(-more)} less"
        )
    return f"{text}; whole tubes weigh {percent(more)} more"


def _order(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    head = "BUNDLE in whole tubes, to order"
    if appraisal.violated:
        head = "BUNDLE of this design (infeasible: not for ordering)"
    elif appraisal.problem.fixed is None:
        head = "BUNDLE as it would be ordered (counts rounded up, not optimised again)"
    said = wrapped(ordered_words(appraisal), indent="  ", hanging="  ")
    return [head, *said, *terminal_lines("order", tables["order"], units)]


def _driving(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    """Leg and angle that drive the torque, with their margins."""
    point = driving_point(appraisal)
    if point is None:
        return ["DRIVING CASE: none, the load assists everywhere"]
    required, available = (
        quantity(value, "N*m", units) for value in (point.required_moment, point.available_moment)
    )
    angle = f"{math.degrees(point.fold_angle):.0f} deg"
    needed = percent(point.torque_margin_required)
    nominal, upper = map(_margin, (point.torque_margin, point.torque_margin_upper_band))
    torque = tables["torque"]
    worst = torque.loc[torque["torque_margin_upper_band"].idxmin()]
    least = f"{worst['leg']}, {math.degrees(worst['fold_angle']):.0f} deg"
    return [
        f"DRIVING CASE for the torque: {point.leg}, fold angle {angle}, {point.driver}",
        f"  required {required}, available {available} (one wing, limit load)",
        f"  margin {nominal} nominal, {upper} with the loads at their upper band; needed {needed}",
        f"  least at the upper band: {_margin(worst['torque_margin_upper_band'])} ({least})",
    ]


def _margin(margin: float) -> str:
    """Torque margin; where nothing is available (A < 0) the ratio says little."""
    return percent(margin) if margin > -1.0 or math.isnan(margin) else "none, A < 0"


def _reasons(status: Iterable[str]) -> Lines:
    """Why motions cannot be run, each reason once."""
    reasons = dict.fromkeys(reason for words in status for reason in words.split("; "))
    return [line for why in reasons if why for line in wrapped(why, indent="  ", hanging="    ")]


def _other_set_optimum(tables: Tables, units: str) -> Lines:
    if "other_set_optimum" not in tables:
        return []
    again = terminal_lines("other_set_optimum", tables["other_set_optimum"], units)
    return ["  optimised again:", *again]


def _temperatures(appraisal: Appraisal, units: str) -> Lines:
    """Temperatures of the sets and of what is around them."""
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


def _power(appraisal: Appraisal, units: str) -> Lines:
    """What the aircraft's supply gives and what the fold takes of it."""
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


def _active(appraisal: Appraisal, tables: Tables, units: str) -> Lines:
    optimum = appraisal.continuous.optimum
    if optimum is None or not optimum.feasible:
        return []
    active = tables["active"]
    free, price = int((active["multiplier"] <= 0.0).sum()), life_stress_price(appraisal)
    of = " of the bound" if appraisal.bound else ""
    return [
        f"ACTIVE REQUIREMENTS{of} and what they cost (aircraft)",
        *terminal_lines("active", active, units),
        *([f"  and {free} more at their limit without a cost of their own"] if free else []),
        *([f"  each MPa of declared life stress less: +{price:.3g} kg"] if price else []),
    ]


def _cautions(tables: Tables) -> Lines:
    lines = ["CAUTIONS"]
    for caution in tables["cautions"].itertuples():
        action = f" -> {caution.action}" if caution.action else ""
        text = f"{caution.id} {caution.severity}: {caution.text}{action}"
        lines += wrapped(text, indent="  ", hanging="      ")
    return lines
