"""Strokes that never end: times are finite for the optimiser, a reader is told 'never' and why."""

from __future__ import annotations

import numpy as np

from mdo.defend.tables.facts import Facts
from mdo.study.number_text import quantity

NEVER = "never"


def never_heats(facts: Facts, leg: int, side: int) -> str:
    """Why a set never gets hot or never transforms in a leg; empty where it does."""
    hot, start = float(facts.d["hot_temperature"]), float(facts.v["heating_start"][side])
    if hot <= start:
        return f"{_celsius(hot)} hot is not above As' {_celsius(start)}"
    doubt = float(facts.parameters["thermal_assumptions"].loss_uncertainty)
    loss = float(facts.v["loss_conductance_hot"][leg, side])
    lost = loss * (hot - float(facts.v["bay_cold_temperature"][leg]))
    power = float(np.asarray(facts.d["heater_power"])[side])
    spare = float(facts.v["power_balance"][leg, side]) * power + doubt * lost
    return "at low line the heater gives less than the tubes lose when hot" if spare <= 0.0 else ""


def never_cools(facts: Facts, leg: int, side: int) -> str:
    """Why a set never returns to martensite in a leg; empty where it does."""
    finish, bay = (
        float(value)
        for value in (facts.v["cooling_finish"][side], facts.v["bay_hot_temperature"][leg])
    )
    return f"Mf' {_celsius(finish)} is not above the bay {_celsius(bay)}" if finish <= bay else ""


def _celsius(kelvin: float) -> str:
    return quantity(kelvin, "K")


def stroke_status(facts: Facts, leg: int) -> dict[str, str]:
    """Strokes of a leg that never end: heating, cooling, warm-up, each with its reason."""
    if not (facts.driven[leg] or (facts.loaded[leg] and facts.moves[leg])):
        return {}
    driver = 0 if facts.up[leg] else 1
    other = 1 - driver
    pair = bool(facts.present.all())
    warmed = pair and float(facts.legs.other_warmed[leg]) > 0.5
    hot = pair and float(facts.legs.other_cold[leg]) < 0.5
    cools = other if pair else int(np.argmax(facts.present))
    strokes = {
        "heating": never_heats(facts, leg, driver) if facts.driven[leg] else "",
        "cooling": never_cools(facts, leg, cools)
        if facts.loaded[leg] or warmed or (hot and facts.returns[leg])
        else "",
        "warm-up": never_heats(facts, leg, other) if warmed else "",
    }
    return {stroke: reason for stroke, reason in strokes.items() if reason}


def status_words(strokes: dict[str, str]) -> str:
    """Status of a leg: ``heating never: why``, one after the other; empty where all end."""
    return "; ".join(f"{stroke} {NEVER}: {reason}" for stroke, reason in strokes.items())


STROKES = {  # stroke whose end a requirement on a time asks for
    "fold_time_row": "heating",
    "return_heat_row": "heating",
    "return_time_row": "cooling",
    "warmed_cooling": "cooling",
    "warm_up": "warm-up",
}


def row_status(facts: Facts, group: str, leg: int) -> str:
    """Status of the stroke that a requirement counts in a leg; empty where it ends."""
    stroke = STROKES.get(group, "")
    strokes = stroke_status(facts, leg) if stroke else {}
    return status_words({stroke: strokes[stroke]} if stroke in strokes else {})
