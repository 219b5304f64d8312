"""Rules of the cautions on temperatures: gates, fuel, touch, structure, heaters stuck on.

Gates are read off the rows of the model, so that a caution and a gate cannot disagree.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from mdo.defend.cautions.base import (
    DESTROYED,
    ZERO_CELSIUS,
    Words,
    celsius,
    leg_names,
    listed,
    on_deck,
    reached,
    static_names,
    violated_rows,
)
from mdo.defend.cautions.physics import stuck_structure_temperature, stuck_tube_temperature
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


def bay_too_hot_to_return(appraisal: Appraisal) -> Words | None:
    """W01: return gate."""
    rows = violated_rows(appraisal, "return_temperature")
    if not rows:
        return None
    wanted = appraisal.study.requirements
    bay = float(appraisal.values["bay_hot_temperature"][rows[0].label.leg])
    limit = bay + appraisal.reading(rows[0].label).margin
    return {
        "bay": celsius(bay),
        "legs": leg_names(appraisal, rows),
        "limit": celsius(limit),
        "finish": celsius(limit + wanted.lot_tolerance + wanted.return_gate),
        "lot": f"{wanted.lot_tolerance:.0f} K",
        "gate": f"{wanted.return_gate:.0f} K",
    }


def bay_starts_a_fold(appraisal: Appraisal) -> Words | None:
    """W02: self-start gate of legs and locked states."""
    rows, held = violated_rows(appraisal, "self_start"), _static_rows(appraisal, soaks=False)
    if not rows and not held:
        return None
    worst = min(appraisal.reading(row.label).margin for row in rows + held)
    legs = appraisal.problem.assembled.legs
    names = [legs[row.label.leg].label for row in rows] + static_names(appraisal, held)
    limit, words = _self_start_limit(appraisal)
    return {"bay": celsius(limit - worst), "legs": listed(names), **words}


def soak_starts_a_fold(appraisal: Appraisal) -> Words | None:
    """W03: self-start gate of the soaks."""
    rows = _static_rows(appraisal, soaks=True)
    if not rows:
        return None
    limit, words = _self_start_limit(appraisal)
    names = listed(static_names(appraisal, rows))
    soak = celsius(limit - appraisal.reading(rows[0].label).margin)
    return {"soak": soak, "legs": names, **words}


def soak_below_the_usual(appraisal: Appraisal) -> Words | None:
    """W03: a warning where the study soaks less than is usual."""
    limit, words = _self_start_limit(appraisal)
    soaks = [leg for leg in appraisal.problem.assembled.statics if leg.kind == "soak"]
    hottest = max((leg.state.soak_temperature or 0.0 for leg in soaks), default=0.0)
    if hottest >= SOAK_DEFAULT or limit >= SOAK_DEFAULT:
        return None
    said = f"soaks {celsius(hottest)}" if soaks else "has no soak"
    return {"usual": celsius(SOAK_DEFAULT), "soaks": said, **words}


def hot_surface_near_fuel(appraisal: Appraisal) -> Words | None:
    """W04: surfaces near fuel or vapour, a heater stuck on included."""
    normal = float(appraisal.values["surface_temperature_hot"].max())
    stuck = stuck_tube_temperature(appraisal)
    if not appraisal.study.vehicle.fuel_near_bay or max(normal, stuck) <= FUEL_SURFACE:
        return None
    alloy = float(appraisal.problem.assembled.parameters["alloy"].temperature_max)
    return {
        "normal": celsius(normal),
        "stuck": reached(stuck, alloy, DESTROYED),
        "limit": celsius(FUEL_SURFACE),
    }


def stuck_heater_over_a_limit(appraisal: Appraisal) -> Words | None:
    """W05: a heater stuck on takes the tube or the structure beyond a limit."""
    words = stuck_heater(appraisal)
    return words if words["over"] else None


def stuck_heater(appraisal: Appraisal) -> Words:
    """W05: where a heater stuck on ends."""
    given = appraisal.problem.assembled.parameters
    tube, beside = stuck_tube_temperature(appraisal), stuck_structure_temperature(appraisal)
    alloy = float(given["alloy"].temperature_max)
    structure = float(given["vehicle"].adjacent_temperature_limit)
    limits = {
        "alloy": (tube, alloy),
        "heater": (tube, float(appraisal.values["sheath_temperature_limit"])),
        "structure": (beside, structure),
    }
    over = [
        f"{name} limit {celsius(limit)}" for name, (value, limit) in limits.items() if value > limit
    ]
    return {
        "tube": reached(tube, alloy, DESTROYED),
        "structure": reached(beside, structure, "destroyed"),
        "over": ", ".join(over),
    }


def touch_temperature(appraisal: Appraisal) -> Words | None:
    """W06: structure beside the tubes that a person on deck can touch."""
    legs = on_deck(appraisal) or list(range(len(appraisal.problem.assembled.legs)))
    hottest = float(appraisal.values["structure_temperature_hot"][legs].max())
    if hottest <= TOUCH:
        return None
    time = next(text for bound, text in BURNS if hottest - ZERO_CELSIUS >= bound)
    return {"hottest": celsius(hottest), "limit": celsius(TOUCH), "time": time}


def hot_structure(appraisal: Appraisal) -> Words | None:
    """W14: structure beside the tubes above its limit, the study's or that of practice."""
    vehicle = appraisal.study.vehicle
    practice = {**STRUCTURES, "aluminium": ALUMINIUM_LIMIT}[vehicle.structure]
    limit = min(practice, vehicle.adjacent_temperature_limit)
    heated = appraisal.values["heated"] > 0.5
    hottest = float(appraisal.values["structure_temperature_hot"][heated].max(initial=0.0))
    if hottest <= limit:
        return None
    words = {"hottest": celsius(hottest), "limit": celsius(limit)}
    return {"structure": vehicle.structure, **words}


def _static_rows(appraisal: Appraisal, *, soaks: bool) -> list[RowResult]:
    """Rows of static cases that break the self-start gate: of soaks, or of the others."""
    statics = appraisal.problem.assembled.statics
    rows = violated_rows(appraisal, "static_self_start")
    return [row for row in rows if (statics[row.label.leg].kind == "soak") == soaks]


def _self_start_limit(appraisal: Appraisal) -> tuple[float, Words]:
    """Hottest bay that the self-start gate allows [K], and how it comes about."""
    wanted = appraisal.study.requirements
    start = float(appraisal.problem.assembled.parameters["alloy"].austenite_start)
    limit = start - wanted.lot_tolerance - wanted.self_start_gate
    return limit, {
        "limit": celsius(limit),
        "start": celsius(start),
        "lot": f"{wanted.lot_tolerance:.0f} K",
        "gate": f"{wanted.self_start_gate:.0f} K",
    }
