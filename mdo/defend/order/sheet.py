"""Order sheet of the tubes: what to buy, with the tolerances that the design assumed.

It describes the design in whole tubes where that is the answer. Otherwise the counts of the design
are rounded up and the result is evaluated anew, which says whether it still meets its requirements.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from mdo.data_files import toml_beside
from mdo.defend.alloy_window import WindowLine, transformation_window
from mdo.defend.order.tubes import (
    TEMPERATURES,
    OrderItem,
    borne_shifts,
    counted,
    deviations,
    lot_ends,
    number,
    of_sets,
    overall_length,
    present_sets,
    said,
    whole_count,
)
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.frame import of_records
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import AIRCRAFT
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.study.number_text import percent

BASIS, TUBE, COUNTS, WINDOW, STATE, TESTS, CAUTIONS = (
    "basis", "tube", "counts", "transformation temperatures, no stress", "material and surface",
    "acceptance tests", "cautions",
)  # fmt: skip
CAUTION_TEXTS = (
    "Concept study: not released for manufacture. Sizes are computed, nothing was measured.",
    "Drawings, tolerances and release are the work of licensed practice: have them checked there.",
    "Numbers that are only judged (the alloy card marks them) are to be measured before ordering.",
)
OPTIMUM = "the analysis 'optimum'"
WHOLE_TUBES = "whole tubes and stock sizes, the rest optimised again"
BORNE = "shift of a lot that the design bears"
PRE_TWISTED = (
    "from the load-free austenitic zero, no tolerance assumed; hand: heating turns the panel of "
    "the right wing {}, the left wing is its mirror"
)
SHOWN = 3  # requirements named where more fail


COLUMNS = "item value unit band_low=low band_high=high words of note"


def order_sheet_table(appraisal: Appraisal) -> pd.DataFrame:
    """Order sheet of a design as a table, SI.

    NaN where there is no number, band empty where none is assumed.
    """
    basis, words = ordered_design(appraisal)
    facts = Facts(basis)
    sections = {
        BASIS: _basis(appraisal, basis, words),
        TUBE: _tube(facts),
        COUNTS: _counts(facts),
        WINDOW: _window(facts),
        STATE: _state(facts),
        TESTS: acceptance_tests(basis),
        CAUTIONS: (said(str(n), text) for n, text in enumerate(CAUTION_TEXTS, 1)),
    }
    lines = [(section, item) for section, items in sections.items() for item in items]
    table = of_records([item for _, item in lines], COLUMNS)
    table.insert(0, "section", [section for section, _ in lines])
    return table


def ordered_design(appraisal: Appraisal) -> tuple[Appraisal, str]:
    """Design that would be ordered, evaluated, and where it comes from in words."""
    if appraisal.problem.fixed is not None:
        return appraisal, WHOLE_TUBES
    x = rounded_up(appraisal)
    words = (
        "counts of the design rounded up, each tube keeps its heater power, nothing "
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
    if basis.violated and not appraisal.violated:
        words += f" {OPTIMUM.capitalize()} looks for a design in whole tubes that does."
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


def _basis(appraisal: Appraisal, basis: Appraisal, words: str) -> Iterator[OrderItem]:
    study = appraisal.study
    title = f"{study.name}: {study.title}" if study.title else study.name
    yield said("study", title, f"analysis {appraisal.kind}; {appraisal.origin}")
    yield said("design", words)
    advice = (
        "NOT FOR ORDERING: already the design itself does not meet its requirements"
        if appraisal.violated
        else f"NOT FOR ORDERING: {OPTIMUM} looks for one in whole tubes that does"
    )
    standing = standing_words(basis.violated)
    yield said("requirements", standing, advice if basis.violated else "")
    note = "of this design, growth included"
    yield number("mass of the fold actuation", basis.mass, "kg", AIRCRAFT, note)


def _tube(facts: Facts) -> Iterator[OrderItem]:
    effects = {
        name: f"nominal, the design assumed no tolerance; {effect}"
        for name, effect in deviations(facts.appraisal).items()
    }
    outer, length = 2.0 * float(facts.d["tube_outer_radius"]), float(facts.d["tube_length"])
    yield number("outer diameter", outer, "m", note=effects["outer diameter"])
    yield number("wall", facts.v["wall_thickness"], "m", note=effects["wall"])
    note = "of the two above; for reference"
    if facts.appraisal.study.actuator.heater == "cartridge":
        gap = float(facts.parameters["thermal_assumptions"].heater_gap)
        note += f"; the heater is taken {1e6 * gap:.0f} um of radial gap smaller"
    yield number("bore diameter", 2.0 * facts.v["bore_radius"], "m", note=note)
    yield number("active length", length, "m", note=effects["active length"])
    overall = overall_length(facts)
    yield overall._replace(note=f"{overall.note}; for detailed design")
    slender = (math.nan, float(facts.wanted.length_to_diameter_max))
    note = "straightness: no number assumed, only this limit on slenderness"
    yield number("length over diameter", length / outer, "1", note=note, band=slender)
    for side in present_sets(facts):
        name, twist = SET_NAMES[side], facts.d["pre_twist"][side]
        yield number(f"pre-twist, {name} set", twist, "rad", note=PRE_TWISTED.format(name))


def _counts(facts: Facts) -> Iterator[OrderItem]:
    *sets, total = counted(facts)
    yield from sets
    yield total._replace(note="half of them for the left wing, pre-twisted to the other hand")


def _window(facts: Facts) -> Iterator[OrderItem]:
    basis, lot = facts.appraisal, float(facts.wanted.lot_tolerance)
    demanded = {line.temperature: line for line in transformation_window(basis)}
    for name in TEMPERATURES:
        symbol = f"{name[0].upper()}{name.partition('_')[2][0]}"
        value = float(getattr(facts.alloy, name))
        low, high, note = _band(value, lot, demanded.get(symbol))
        yield number(symbol, value, "K", note=note, band=(low, high))
    note = (
        "to either side of nominal, taken off the gates; times and torque are those of the nominal "
        "temperatures"
    )
    yield number("lot tolerance", lot, "K", note=note)
    down, up = borne_shifts(basis, lot)
    words = f"{-down:.1f} K lower to {up:.1f} K higher"
    borne = said(BORNE, words, _borne_note(down, up, lot))
    yield borne._replace(unit="K", low=down, high=up)
    for item, words in lot_ends(basis, lot):
        yield said(item, words)


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


def _state(facts: Facts) -> Iterator[OrderItem]:
    card = facts.appraisal.problem.assembled.card
    judged = f"{len(card.judged_fields)} of {len(card.fields)} numbers of the card are only judged"
    yield said("alloy", f"{card.name}: {card.title}", judged)
    yield said("outer face", facts.appraisal.study.actuator.finish)
    note = "heating and cooling were computed with it"
    yield number("emissivity of the outer face", facts.choices.emissivity, "1", note=note)
    two_way, recoverable = (
        float(strain) for strain in (facts.alloy.strain_min, facts.alloy.recoverable_strain)
    )
    if two_way > 0.0:
        trained = f"trained until {percent(two_way)} two-way strain (tension) is stable"
    else:
        trained = "no two-way training assumed (the card has no two-way strain)"
    yield said("training", trained)
    most = float(facts.v["outer_strain_max"][facts.present].max())
    yield said(
        "stabilisation",
        "cycled thermally under the operating torque until the strain no longer drifts",
        f"the model has no drift; outer shear strain up to {percent(most)}, recoverable strain of "
        f"the card {percent(recoverable)} in tension",
    )
    stress, note = facts.v["outer_stress_operating"], "outer fibre, for stabilisation and tests"
    yield from of_sets(facts, "operating shear stress, {} set", stress, "Pa", note=note)
    note = "of the card; no later process may exceed it"
    yield number("temperature, largest", facts.alloy.temperature_max, "K", note=note)


def acceptance_tests(basis: Appraisal) -> Iterator[OrderItem]:
    """Tests that a lot of tubes is accepted by: standard, what it is asked for, what to mind.

    That of chemistry depends on the alloy.
    """
    content = toml_beside(__file__, "acceptance")
    card = basis.problem.assembled.card
    marks = f"{content['third_element']}|{content['nickel_rich']}"
    kind = "other" if re.search(marks, f"{card.name} {card.title}") else "binary"
    for test in content["test"]:
        if test.get("alloys", kind) == kind:
            note = test["note"].format(from_memory=content["from_memory"])
            yield said(test["standard"], test["what"], note)
