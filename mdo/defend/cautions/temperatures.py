"""Caution rules on temperatures: the gates of bay and soak, fuel, touch, adjacent structure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from mdo.defend.cautions.base import (
    DESTROYED,
    STOP,
    WARN,
    ZERO_CELSIUS,
    Finding,
    celsius,
    leg_names,
    listed,
    on_deck,
    reached,
    violated_rows,
)
from mdo.defend.cautions.confirmations import stuck_tube_temperature
from mdo.study.choices import STRUCTURES

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal, RowResult

SOAK_DEFAULT = 71.0 + ZERO_CELSIUS  # K, induced hot storage, MIL-STD-810 method 501 (from memory)
FUEL_SURFACE = 204.0 + ZERO_CELSIUS  # K, AC 25.981-1: 50 F below the lowest auto-ignition
TOUCH = 49.0 + ZERO_CELSIUS  # K, controls, MIL-HDBK-454 guideline 1
# Contact with bare metal to a serious burn [degC]: reference section 6.2, a weak source.
BURNS = (
    (68.0, "1 s"), (66.0, "1.5 s"), (63.0, "3 s"), (60.0, "5 s"), (57.0, "10 s"), (55.0, "30 s"),
    (52.0, "2 min"), (49.0, "5 min"),
)  # fmt: skip
ALUMINIUM_LIMIT = 120.0 + ZERO_CELSIUS  # K, 2024-T3, prolonged; reference section 6.2


def bay_too_hot_to_return(appraisal: Appraisal) -> Finding | None:
    """W01: return gate."""
    rows = violated_rows(appraisal, "return_temperature")
    if not rows:
        return None
    worst, wanted = rows[0], appraisal.study.requirements
    bay = float(appraisal.values["bay_hot_temperature"][worst.label.leg])
    limit = bay + appraisal.reading(worst.label).margin
    finish = limit + wanted.lot_tolerance + wanted.return_gate
    return Finding(
        STOP,
        f"Tubes cannot cool to their return state: bay {celsius(bay)} in "
        f"{leg_names(appraisal, rows)}, limit {celsius(limit)} (Mf {celsius(finish)} at the "
        f"smallest return stress, less {wanted.lot_tolerance:.0f} K lot tolerance and "
        f"{wanted.return_gate:.0f} K gate)",
        "Take an alloy with a higher Mf, return under more load, or cool the bay",
    )


def bay_starts_a_fold(appraisal: Appraisal) -> Finding | None:
    """W02: self-start gate of legs and locked states."""
    rows = violated_rows(appraisal, "self_start")
    held = [
        row for row in violated_rows(appraisal, "static_self_start") if not _soaks(appraisal, row)
    ]
    if not rows and not held:
        return None
    names = [appraisal.problem.assembled.legs[row.label.leg].label for row in rows]
    names += [appraisal.problem.assembled.statics[row.label.leg].label for row in held]
    worst = min(appraisal.reading(row.label).margin for row in rows + held)
    limit = _start_limit(appraisal)
    return Finding(
        STOP,
        f"The bay alone may start a fold: {celsius(limit - worst)} in {listed(names)}, "
        f"limit {celsius(limit)} {_start_words(appraisal)}",
        "Take an alloy with a higher As, or inhibit the motion by a lock and cool the bay",
    )


def soak_starts_a_fold(appraisal: Appraisal) -> Finding | None:
    """W03: self-start gate of the soaks; a warning where the study soaks less than is usual."""
    limit = _start_limit(appraisal)
    soaks = [leg for leg in appraisal.problem.assembled.statics if leg.kind == "soak"]
    rows = [row for row in violated_rows(appraisal, "static_self_start") if _soaks(appraisal, row)]
    severity, soak = STOP, max((leg.state.soak_temperature or 0.0 for leg in soaks), default=0.0)
    if rows:
        names = [appraisal.problem.assembled.statics[row.label.leg].label for row in rows]
        where = f"{celsius(limit - appraisal.reading(rows[0].label).margin)} in {listed(names)}"
    elif soak >= SOAK_DEFAULT or limit >= SOAK_DEFAULT:
        return None
    elif soaks:
        severity = WARN
        where = f"a closed bay may reach {celsius(SOAK_DEFAULT)}, this study soaks {celsius(soak)}"
    else:
        where = f"a closed bay may reach {celsius(SOAK_DEFAULT)}, this study has no soak"
    return Finding(
        severity,
        f"Heat soak may move the wing on the ramp: {where}; limit {celsius(limit)} "
        f"{_start_words(appraisal)}",
        "Take an alloy with a higher As, ventilate the bay, or lock against the hot tubes",
    )


def hot_surface_near_fuel(appraisal: Appraisal) -> Finding | None:
    """W04: surfaces near fuel or vapour, a heater stuck on included."""
    if not appraisal.study.vehicle.fuel_near_bay:
        return None
    normal = float(appraisal.values["surface_temperature_hot"].max())
    stuck = stuck_tube_temperature(appraisal)
    alloy = float(appraisal.problem.assembled.parameters["alloy"].temperature_max)
    if max(normal, stuck) <= FUEL_SURFACE:
        return None
    return Finding(
        STOP,
        f"Surface near fuel or vapour at {celsius(normal)} when hot and "
        f"{reached(stuck, alloy, DESTROYED)} with a heater stuck on, limit {celsius(FUEL_SURFACE)}",
        "Seal the bay from fuel and vapour, or limit heater power and hot temperature",
    )


def touch_temperature(appraisal: Appraisal) -> Finding | None:
    """W06: structure beside the tubes that a person on deck can touch."""
    legs = on_deck(appraisal) or list(range(len(appraisal.problem.assembled.legs)))
    hottest = float(appraisal.values["structure_temperature_hot"][legs].max())
    if hottest <= TOUCH:
        return None
    time = next(text for bound, text in BURNS if hottest - ZERO_CELSIUS >= bound)
    return Finding(
        WARN,
        f"Structure beside hot tubes at {celsius(hottest)}, limit to touch {celsius(TOUCH)}: bare "
        f"metal as hot burns within about {time}",
        "Guard or insulate what can be touched, mark it, and wait before work on it",
    )


def hot_structure(appraisal: Appraisal) -> Finding | None:
    """W14: structure beside the tubes above its limit, the study's or that of practice."""
    vehicle = appraisal.study.vehicle
    practice = {**STRUCTURES, "aluminium": ALUMINIUM_LIMIT}[vehicle.structure]
    limit = min(practice, vehicle.adjacent_temperature_limit)
    heated = appraisal.values["heated"] > 0.5
    hottest = float(appraisal.values["structure_temperature_hot"][heated].max(initial=0.0))
    if hottest <= limit:
        return None
    return Finding(
        WARN,
        f"Structure ({vehicle.structure}) beside the tubes at {celsius(hottest)}, limit "
        f"{celsius(limit)}",
        "Widen the gap, insulate, put a heat shield between, or change the structure",
    )


def _soaks(appraisal: Appraisal, row: RowResult) -> bool:
    """Whether a row of a static case is of a soak."""
    return appraisal.problem.assembled.statics[row.label.leg].kind == "soak"


def _start_limit(appraisal: Appraisal) -> float:
    """Hottest bay that the self-start gate allows [K]."""
    wanted = appraisal.study.requirements
    start = float(appraisal.problem.assembled.parameters["alloy"].austenite_start)
    return start - wanted.lot_tolerance - wanted.self_start_gate


def _start_words(appraisal: Appraisal) -> str:
    """How the limit of the self-start gate comes about."""
    wanted = appraisal.study.requirements
    start = float(appraisal.problem.assembled.parameters["alloy"].austenite_start)
    return (
        f"(As {celsius(start)} without stress, less {wanted.lot_tolerance:.0f} K lot tolerance and "
        f"{wanted.self_start_gate:.0f} K gate)"
    )
