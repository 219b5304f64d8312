"""Rules of the cautions on temperatures: gates, fuel, touch, structure, heaters stuck on.

Gates are read off the rows of the model, so that a caution and a gate cannot disagree.
"""

from __future__ import annotations

from mdo.defend.cautions.base import (
    DESTROYED,
    ZERO_CELSIUS,
    Reviewed,
    Words,
    celsius,
    listed,
    reached,
)
from mdo.optimise.appraisal import RowResult
from mdo.study.choices import STRUCTURES

SOAK_DEFAULT = 71.0 + ZERO_CELSIUS  # K, induced hot storage, MIL-STD-810 method 501 (from memory)
FUEL_SURFACE = 204.0 + ZERO_CELSIUS  # K, AC 25.981-1: 50 F below the lowest auto-ignition
TOUCH = 49.0 + ZERO_CELSIUS  # K, controls, MIL-HDBK-454 guideline 1
# Contact with bare metal to a serious burn [degC]: reference section 6.2, a weak source.
BURNS = (
    (68.0, "1 s"), (66.0, "1.5 s"), (63.0, "3 s"), (60.0, "5 s"), (57.0, "10 s"), (55.0, "30 s"),
    (52.0, "2 min"), (49.0, "5 min"),
)  # fmt: skip
ALUMINIUM_LIMIT = 120.0 + ZERO_CELSIUS  # K, 2024-T3, prolonged; reference section 6.2


def bay_too_hot_to_return(design: Reviewed) -> Words | None:
    """W01: Mf margin."""
    rows, wanted = design.broken("return_temperature"), design.study.requirements
    if not rows:
        return None
    bay = float(design.v["bay_hot_temperature"][rows[0].label.leg])
    limit = bay + design.margin(rows[0])
    return {
        "bay": celsius(bay),
        "legs": design.legs_of(rows),
        "limit": celsius(limit),
        "finish": celsius(limit + wanted.lot_tolerance + wanted.return_gate),
        "lot": f"{wanted.lot_tolerance:.0f} K",
        "gate": f"{wanted.return_gate:.0f} K",
    }


def bay_starts_a_fold(design: Reviewed) -> Words | None:
    """W02: inadvertent-actuation margin of legs and locked states."""
    rows, held = design.broken("self_start"), _static_rows(design, soaks=False)
    if not rows and not held:
        return None
    worst = min(design.margin(row) for row in rows + held)
    names = [design.leg_of(row) for row in rows] + _static_names(design, held)
    limit, words = _self_start_limit(design)
    return {"bay": celsius(limit - worst), "legs": listed(names), **words}


def soak_starts_a_fold(design: Reviewed) -> Words | None:
    """W03: inadvertent-actuation margin of the soaks."""
    rows = _static_rows(design, soaks=True)
    if not rows:
        return None
    limit, words = _self_start_limit(design)
    soak = celsius(limit - design.margin(rows[0]))
    return {"soak": soak, "legs": listed(_static_names(design, rows)), **words}


def soak_below_the_usual(design: Reviewed) -> Words | None:
    """W03: a warning where the study soaks less than is usual."""
    limit, words = _self_start_limit(design)
    soaks = [leg.state.soak_temperature or 0.0 for leg in design.holds if leg.kind == "soak"]
    hottest = max(soaks, default=0.0)
    if max(hottest, limit) >= SOAK_DEFAULT:
        return None
    soak = f"soaks {celsius(hottest)}" if soaks else "has no soak"
    return {"usual": celsius(SOAK_DEFAULT), "soaks": soak, **words}


def hot_surface_near_fuel(design: Reviewed) -> Words | None:
    """W04: surfaces near fuel or vapour, a heater stuck on included."""
    normal = float(design.v["surface_temperature_hot"].max())
    stuck = design.most("stuck_on_temperature")
    if not design.study.vehicle.fuel_near_bay or max(normal, stuck) <= FUEL_SURFACE:
        return None
    beyond = reached(stuck, float(design.alloy.temperature_max), DESTROYED)
    return {"normal": celsius(normal), "stuck": beyond, "limit": celsius(FUEL_SURFACE)}


def stuck_heater_over_a_limit(design: Reviewed) -> Words | None:
    """W05: a heater stuck on takes the tube or the structure beyond a limit."""
    words = stuck_heater(design)
    return words if words["over"] else None


def stuck_heater(design: Reviewed) -> Words:
    """W05: where a heater stuck on ends."""
    tube = design.most("stuck_on_temperature")
    beside = design.most("stuck_on_structure_temperature")
    alloy = float(design.alloy.temperature_max)
    structure = float(design.vehicle.adjacent_temperature_limit)
    limits = {
        "alloy": (tube, alloy),
        "heater": (tube, float(design.v["sheath_temperature_limit"])),
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


def touch_temperature(design: Reviewed) -> Words | None:
    """W06: structure beside the tubes that a person on deck can touch."""
    legs = design.deck or list(range(len(design.motions)))
    hottest = float(design.v["structure_temperature_hot"][legs].max())
    if hottest <= TOUCH:
        return None
    time = next(text for bound, text in BURNS if hottest - ZERO_CELSIUS >= bound)
    return {"hottest": celsius(hottest), "limit": celsius(TOUCH), "time": time}


def hot_structure(design: Reviewed) -> Words | None:
    """W14: structure beside the tubes above its limit, the study's or that of practice."""
    vehicle = design.study.vehicle
    practice = {**STRUCTURES, "aluminium": ALUMINIUM_LIMIT}[vehicle.structure]
    limit = min(practice, vehicle.adjacent_temperature_limit)
    hottest = float(design.v["structure_temperature_hot"][design.heated].max(initial=0.0))
    words = {"hottest": celsius(hottest), "limit": celsius(limit), "structure": vehicle.structure}
    return words if hottest > limit else None


def _static_rows(design: Reviewed, *, soaks: bool) -> list[RowResult]:
    """Rows of static cases without their inadvertent-actuation margin: of soaks, or of others."""
    rows = design.broken("static_self_start")
    return [row for row in rows if (design.holds[row.label.leg].kind == "soak") == soaks]


def _static_names(design: Reviewed, rows: list[RowResult]) -> list[str]:
    return [design.static_names[row.label.leg] for row in rows]


def _self_start_limit(design: Reviewed) -> tuple[float, Words]:
    """Hottest bay that the inadvertent-actuation margin allows [K], and how it comes about."""
    wanted, start = design.study.requirements, float(design.alloy.austenite_start)
    limit = start - wanted.lot_tolerance - wanted.self_start_gate
    return limit, {
        "limit": celsius(limit),
        "start": celsius(start),
        "lot": f"{wanted.lot_tolerance:.0f} K",
        "gate": f"{wanted.self_start_gate:.0f} K",
    }
