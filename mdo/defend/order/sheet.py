"""Order sheet of the tubes: what to buy, with the tolerances that the design assumed.

It describes the rounded design where the defence found one. Otherwise the counts of the design are
rounded up and the result is evaluated anew, which says whether it still meets its requirements.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.defend.alloy_window import WindowLine, transformation_window
from mdo.defend.defence import defence_of
from mdo.defend.order.acceptance import acceptance_tests
from mdo.defend.order.deviations import borne_shifts, deviations, lot_ends
from mdo.defend.order.tubes import present_sets, whole_count
from mdo.defend.tables.requirements import Facts
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import AIRCRAFT, NEITHER, WING
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.study.number_text import percent

WINGS = 2
BASIS, TUBE, COUNTS, WINDOW, STATE, TESTS, CAUTIONS = (
    "basis", "tube", "counts", "transformation temperatures, no stress", "material and surface",
    "acceptance tests", "cautions",
)  # fmt: skip
CAUTION_TEXTS = (
    "Concept study: not released for manufacture. Sizes are computed, nothing was measured.",
    "Drawings, tolerances and release are the work of licensed practice: have them checked there.",
    "Numbers that are only judged (the alloy card marks them) are to be measured before ordering.",
)
DEFEND = "the analysis 'defence'"
BORNE = "shift of a lot that the design bears"
SHOWN = 3  # requirements named where more fail


class SheetLine(NamedTuple):
    """One line of the sheet, SI; NaN where there is no number, band empty where none is assumed."""

    section: str
    item: str
    value: float
    unit: str
    band_low: float
    band_high: float
    words: str
    of: str
    note: str


def order_sheet_table(appraisal: Appraisal) -> pd.DataFrame:
    """Order sheet of a design as a table, SI."""
    return pd.DataFrame(order_sheet_lines(appraisal), columns=list(SheetLine._fields))


def order_sheet_lines(appraisal: Appraisal) -> tuple[SheetLine, ...]:
    """Lines of the order sheet of a design."""
    basis, words = ordered_design(appraisal)
    return (
        *_basis(appraisal, basis, words),
        *_tube(basis),
        *_counts(basis),
        *_window(basis),
        *_state(basis),
        *(_said(TESTS, one.standard, one.what, one.note) for one in acceptance_tests(basis)),
        *(_said(CAUTIONS, str(n), text) for n, text in enumerate(CAUTION_TEXTS, 1)),
    )


def ordered_design(appraisal: Appraisal) -> tuple[Appraisal, str]:
    """Design that would be ordered, evaluated, and where it comes from in words."""
    found = defence_of(appraisal)
    if found is not None and found.rounded is not None and found.rounded.feasible:
        rounded = found.rounded
        values = rounded.problem.values(rounded.design)
        words = "whole tubes and stock sizes, the rest optimised again"
        return Appraisal("evaluate", rounded.problem, rounded.design, values, None, words), words
    x = rounded_up(appraisal)
    words = (
        "counts of the continuous design rounded up, each tube keeps its heater power, nothing "
        "optimised again; sizes are not whole or stock sizes"
    )
    values = appraisal.problem.values(x)
    return replace(appraisal, x=x, values=values, optimum=None), words


def rounded_up(appraisal: Appraisal) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Design vector with whole counts, up; the heater of each tube keeps its power."""
    x, labels = np.array(appraisal.x), appraisal.problem.labels
    for side in present_sets(Facts(appraisal)):
        count = labels.index(f"tube_count.{SET_NAMES[side]}")
        power = labels.index(f"heater_power.{SET_NAMES[side]}")
        whole = whole_count(float(x[count]))
        x[power] *= whole / max(float(x[count]), 1e-3)
        x[count] = whole
    return x


def ordered_words(appraisal: Appraisal) -> str:
    """Whether the design with its counts rounded up meets every requirement, in words."""
    basis, _ = ordered_design(appraisal)
    words = standing_words(basis.violated)
    if basis.violated and not appraisal.violated and defence_of(appraisal) is None:
        words += f" {DEFEND.capitalize()} looks for a design in whole tubes that does."
    return words


def standing_words(violated: tuple[RowResult, ...]) -> str:
    """Whether a design meets every requirement, and which it does not."""
    if not violated:
        return "Evaluated as ordered, it meets every requirement."
    worst: dict[str, str] = {}
    for row in violated:
        worst.setdefault(row.label.group, row.text)
    named = "; ".join(list(worst.values())[:SHOWN])
    more = f"; and {len(worst) - SHOWN} other kinds" if len(worst) > SHOWN else ""
    return f"Evaluated as ordered, it does not meet every requirement: {named}{more}."


def _said(section: str, item: str, words: str, note: str = "", of: str = NEITHER) -> SheetLine:
    return SheetLine(section, item, math.nan, "", math.nan, math.nan, words, of, note)


def _number(
    section: str,
    item: str,
    value: float,
    unit: str,
    *,
    of: str = NEITHER,
    note: str = "",
    band: tuple[float, float] = (math.nan, math.nan),
) -> SheetLine:
    return SheetLine(section, item, float(value), unit, *band, "", of, note)


def _basis(appraisal: Appraisal, basis: Appraisal, words: str) -> Iterator[SheetLine]:
    study = appraisal.study
    yield _said(BASIS, "study", f"{study.name}: {study.title}" if study.title else study.name,
                f"analysis {appraisal.kind}; {appraisal.origin}")  # fmt: skip
    yield _said(BASIS, "design", words)
    standing = standing_words(basis.violated)
    yield _said(BASIS, "requirements", standing, _advice(appraisal, basis))
    yield _number(BASIS, "mass of the fold actuation", basis.mass, "kg", of=AIRCRAFT,
                  note="of this design, growth included")  # fmt: skip


def _advice(appraisal: Appraisal, basis: Appraisal) -> str:
    """What follows from whether the design as ordered meets its requirements."""
    found = defence_of(appraisal)
    if not basis.violated:
        return "" if found else f"{DEFEND} may find a lighter one"
    if appraisal.violated:
        return "NOT FOR ORDERING: already the design itself does not meet its requirements"
    if found is None:
        return f"NOT FOR ORDERING: {DEFEND} looks for one in whole tubes that does"
    if found.rounded is None:
        return "NOT FOR ORDERING: the defence was not asked for a design in whole tubes (rounding)"
    return "NOT FOR ORDERING: the defence found no design in whole tubes"


def _tube(basis: Appraisal) -> Iterator[SheetLine]:
    facts = Facts(basis)
    effects = deviations(basis)
    none = "nominal, the design assumed no tolerance"
    outer = 2.0 * float(facts.d["tube_outer_radius"])
    yield _number(TUBE, "outer diameter", outer, "m", note=f"{none}; {effects['outer diameter']}")
    yield _number(
        TUBE, "wall", float(facts.v["wall_thickness"]), "m", note=f"{none}; {effects['wall']}"
    )
    note = "of the two above; for reference"
    if basis.study.actuator.heater == "cartridge":
        gap = float(basis.problem.assembled.parameters["thermal_assumptions"].heater_gap)
        note += f"; the heater is taken {1e6 * gap:.0f} um of radial gap smaller"
    yield _number(TUBE, "bore diameter", 2.0 * float(facts.v["bore_radius"]), "m", note=note)
    length = float(facts.d["tube_length"])
    yield _number(TUBE, "active length", length, "m", note=f"{none}; {effects['active length']}")
    yield _number(TUBE, "overall length", float(facts.v["tube_length_overall"]), "m",
                  note="with gripped, cold and spline ends; for detailed design")  # fmt: skip
    slender = float(facts.wanted.length_to_diameter_max)
    yield _number(
        TUBE, "length over diameter", length / outer, "1", band=(math.nan, slender),
        note="straightness: no number assumed, only this limit on slenderness",
    )  # fmt: skip
    for side in present_sets(facts):
        yield _number(
            TUBE, f"pre-twist, {SET_NAMES[side]} set", float(facts.d["pre_twist"][side]), "rad",
            note="from the load-free austenitic zero, no tolerance assumed; hand: heating turns "
            f"the panel of the right wing {SET_NAMES[side]}, the left wing is its mirror",
        )  # fmt: skip


def _counts(basis: Appraisal) -> Iterator[SheetLine]:
    facts = Facts(basis)
    total = 0
    for side in present_sets(facts):
        count = round(float(facts.d["tube_count"][side]))
        total += count
        yield _number(COUNTS, f"tubes, {SET_NAMES[side]} set", count, "1", of=WING)
    yield _number(COUNTS, "tubes", WINGS * total, "1", of=AIRCRAFT,
                  note="half of them for the left wing, pre-twisted to the other hand")  # fmt: skip


def _window(basis: Appraisal) -> Iterator[SheetLine]:
    alloy = basis.problem.assembled.parameters["alloy"]
    lot = float(Facts(basis).wanted.lot_tolerance)
    demanded = {line.temperature: line for line in transformation_window(basis)}
    for symbol, name in (
        ("Ms", "martensite_start"),
        ("Mf", "martensite_finish"),
        ("As", "austenite_start"),
        ("Af", "austenite_finish"),
    ):
        value = float(getattr(alloy, name))
        low, high, note = _band(value, lot, demanded.get(symbol))
        yield _number(WINDOW, symbol, value, "K", band=(low, high), note=note)
    yield _number(WINDOW, "lot tolerance", lot, "K",
                  note="to either side of nominal, taken off the gates; times and torque are "
                  "those of the nominal temperatures")  # fmt: skip
    down, up = borne_shifts(basis, lot)
    yield SheetLine(WINDOW, BORNE, math.nan, "K", down, up,
                    f"{-down:.1f} K lower to {up:.1f} K higher", NEITHER,
                    _borne_note(down, up, lot))  # fmt: skip
    for item, words in lot_ends(basis, lot):
        yield _said(WINDOW, item, words)


def _borne_note(down: float, up: float, lot: float) -> str:
    """What the shift that a design bears means for the order."""
    what = "all four together, hot temperature as set: the requirements still hold"
    if -down >= lot and up >= lot:
        return f"{what} over the whole lot tolerance"
    return (
        f"{what} so far only; the lot tolerance is in the gates alone. Set the hot temperature for "
        "each lot as it was measured, or size with the alloy card at both ends"
    )


def _band(value: float, lot: float, line: WindowLine | None) -> tuple[float, float, str]:
    """Permitted band of a delivered lot, and what sets it."""
    low, high = value - lot, value + lot
    if line is None:
        return low, high, "nominal and lot tolerance; the cases set no bound of their own"
    note = f"set by {line.set_by}"
    if line.at_least is not None:
        low = max(low, line.at_least - lot)
        if value < line.at_least:
            note = f"nominal lies below what the cases demand; {note}"
    if line.at_most is not None:
        high = min(high, line.at_most)
        if value > line.at_most + 1e-9:
            note = f"nominal lies above what the cases allow; {note}"
        elif high < value + lot:
            note = f"upper side cut by the design; {note}"
    return low, high, note


def _state(basis: Appraisal) -> Iterator[SheetLine]:
    card, facts = basis.problem.assembled.card, Facts(basis)
    judged = len(card.judged_fields)
    yield _said(STATE, "alloy", f"{card.name}: {card.title}",
                f"{judged} of {len(card.fields)} numbers of the card are only judged")  # fmt: skip
    yield _said(STATE, "outer face", basis.study.actuator.finish)
    yield _number(STATE, "emissivity of the outer face", float(facts.choices.emissivity), "1",
                  note="heating and cooling were computed with it")  # fmt: skip
    two_way = float(facts.alloy.strain_min)
    if two_way > 0.0:
        trained = f"trained until {percent(two_way)} two-way strain (tension) is stable"
    else:
        trained = "no two-way training assumed (the card has no two-way strain)"
    yield _said(STATE, "training", trained)
    strains, recoverable = facts.v["outer_strain_max"], float(facts.alloy.recoverable_strain)
    most = max(float(strains[side]) for side in present_sets(facts))
    yield _said(
        STATE, "stabilisation",
        "cycled thermally under the operating torque until the strain no longer drifts",
        f"the model has no drift; outer shear strain up to {percent(most)}, recoverable strain of "
        f"the card {percent(recoverable)} in tension",
    )  # fmt: skip
    for side in present_sets(facts):
        yield _number(STATE, f"operating shear stress, {SET_NAMES[side]} set",
                      float(facts.v["outer_stress_operating"][side]), "Pa",
                      note="outer fibre, for stabilisation and tests")  # fmt: skip
    yield _number(STATE, "temperature, largest", float(facts.alloy.temperature_max), "K",
                  note="of the card; no later process may exceed it")  # fmt: skip
