"""Rules of the cautions on power, times, stall, life, wind and safety of people.

A rule gives the words of its caution where it holds, else None. Rules on installation and safety
need the user's confirmation; a study has no field for it yet, so they are always shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mdo.defend.cautions.base import (
    Words,
    celsius,
    leg_names,
    listed,
    on_deck,
    present_sets,
    violated_rows,
)
from mdo.defend.cautions.physics import air_numbers, outer_stall_stress
from mdo.study.assemble import alloy_card

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

SAME_ANGLE = 1e-3  # rad; ends of the travel this close to a locked angle count as locked
HEATER_GAP = (20e-6, 75e-6)  # m, radial, catalogue heaters in a nominal bore, reference 2.10
SINGLE_PHASE = 500.0  # VA, MIL-STD-704F: above it three-phase
CORONA_ALTITUDE, CORONA_VOLTAGE = 15e3, 250.0  # m, V: reference section 2.11, from memory
SHOCK_VOLTAGE = 60.0  # V, extra-low voltage of direct current, IEC 61140 (from memory)
GROUND_GUST = 65 * 1852 / 3600  # m/s: 65 kt, special conditions for folding wing tips
RAYLEIGH_MAX = 1e12  # Churchill and Chu
PECLET_MIN = 0.2  # Churchill and Bernstein
# Difference across the wall: K, and share of Af - As, the larger one; reference section 2.13.
WALL_DIFFERENCE, WALL_SHARE = 3.0, 0.1


def always(_: Appraisal) -> Words:
    """W18, W24: on every report."""
    return {}


def ground_fold(appraisal: Appraisal) -> Words:
    """W07: people near the wing while it folds."""
    legs = appraisal.problem.assembled.legs
    moves = [legs[n].case for n in on_deck(appraisal) if legs[n].kind == "fold"]
    if moves:
        return {"where": f"in {listed(moves)}"}
    return {"where": "in maintenance (no case of this study folds on deck)"}


def positive_lock(appraisal: Appraisal) -> Words:
    """W08: a lock at both ends, and no hold that relies on power."""
    assembled = appraisal.problem.assembled
    powered = [leg.case for leg in assembled.legs if leg.kind == "hold"]
    moving = [leg.state for leg in assembled.legs if leg.kind == "fold"]
    locked = [leg.state.fold_from for leg in assembled.statics if leg.kind != "soak"]
    ends = sorted({state.fold_from for state in moving} | {state.fold_to for state in moving})
    free = [
        f"{np.degrees(end):.0f} deg"
        for end in ends[:1] + ends[1:][-1:]
        if not any(abs(end - angle) < SAME_ANGLE for angle in locked)
    ]
    facts = []
    if powered:
        facts.append(f"{listed(powered)} is held by heat alone, so power loss moves the wing")
    if free:
        facts.append(f"no case holds the lock at the end of travel {' and '.join(free)}")
    return {"facts": f" ({'; '.join(facts)})" if facts else ""}


def single_failure(appraisal: Appraisal) -> Words:
    """W09: no single failure folds or unfolds the wing in flight."""
    airborne = [
        leg.case
        for leg in appraisal.problem.assembled.legs
        if leg.kind == "fold" and leg.state.location == "air"
    ]
    if airborne:
        return {"where": f"it is meant to move in {listed(airborne)}"}
    return {"where": "it never moves in flight"}


def asymmetric_fold(appraisal: Appraisal) -> Words:
    """W10: one wing folded, the other not."""
    jams = [
        f"{leg.case} at {np.degrees(leg.state.fold_from):.0f} deg"
        for leg in appraisal.problem.assembled.statics
        if leg.kind == "jam"
    ]
    if jams:
        return {"jams": f"jam on one side in {listed(jams)}"}
    return {"jams": "no case of this study jams one side"}


def heater_overload(appraisal: Appraisal) -> Words | None:
    """W11: heater flux and temperature at high line."""
    values = appraisal.values
    rows = violated_rows(appraisal, "heater_watt_density", "heater_sheath")
    if not rows:
        return None
    side = rows[0].label.side
    return {
        "flux": values["heater_flux"][side] / 1e4,
        "flux_limit": values["heater_flux_limit"][side] / 1e4,
        "sheath": celsius(values["sheath_temperature"][side]),
        "limit": celsius(float(values["sheath_temperature_limit"])),
    }


def loose_cartridge(appraisal: Appraisal) -> Words | None:
    """W11: fit of a cartridge."""
    gap = float(appraisal.problem.assembled.parameters["thermal_assumptions"].heater_gap)
    if appraisal.study.actuator.heater != "cartridge" or HEATER_GAP[0] <= gap <= HEATER_GAP[1]:
        return None
    return {"gap": gap * 1e6, "least": HEATER_GAP[0] * 1e6, "most": HEATER_GAP[1] * 1e6}


def only_at_nominal_voltage(appraisal: Appraisal) -> Words | None:
    """W12: fold time met at nominal voltage and not at the lowest."""
    rows = violated_rows(appraisal, "fold_time_row")
    if not rows:
        return None
    problem = appraisal.problem
    given = dict(problem.assembled.parameters)
    given["supply"] = given["supply"]._replace(low_voltage_ratio=1.0)
    at_nominal = problem.with_theta(problem.chain.pack(given))
    nominal = at_nominal.values(appraisal.x, "fold_time_row")["fold_time_row"]
    if any(nominal[row.label.leg] < 0.0 for row in rows):
        return None
    supply = appraisal.study.supply
    return {
        "legs": leg_names(appraisal, rows),
        "late": float(np.exp(-rows[0].value)),
        "volts": supply.low_voltage_ratio * supply.nominal_voltage,
    }


def return_too_slow(appraisal: Appraisal) -> Words | None:
    """W13: return or turnaround longer than required."""
    rows = violated_rows(appraisal, "return_time_row", "return_heat_row")
    if not rows:
        return None
    limit = appraisal.problem.assembled.legs[rows[0].label.leg].time_limit
    late = float(np.exp(-rows[0].value))
    return {"time": limit * late, "legs": leg_names(appraisal, rows), "limit": limit}


def bus_overload(appraisal: Appraisal) -> Words | None:
    """W15: peak power over the allotment; single-phase alternating current above 0.5 kVA."""
    peak, supply = float(appraisal.values["peak_power"]), appraisal.study.supply
    facts, actions = [], []
    if violated_rows(appraisal, "bus_power"):
        facts.append(f"peak power {peak:.0f} W, allotted {supply.power_available:.0f} W")
        actions.append("Fold more slowly, heat the wings in turn, or ask for more power")
    if supply.bus.endswith(" ac") and peak > SINGLE_PHASE:
        facts.append(
            f"{peak:.0f} VA of alternating current, single phase allows {SINGLE_PHASE:.0f}"
        )
        actions.append("Confirm a balanced three-phase load")
    return {"facts": "; ".join(facts), "actions": "; ".join(actions)} if facts else None


def stall_with_heat(appraisal: Appraisal) -> Words | None:
    """W16: stress of blocked tubes that are heated all the same."""
    rated = float(appraisal.design["operating_stress"][present_sets(appraisal)].min())
    stall = float(appraisal.values["stall_stress"])
    if stall <= rated:
        return None
    allowed = float(appraisal.problem.assembled.parameters["alloy"].allowable_shear_stress)
    outer = outer_stall_stress(appraisal)
    return {"ratio": stall / rated, "outer": outer / 1e6, "allowed": allowed / 1e6}


def corona(appraisal: Appraisal) -> Words | None:
    """W17: high direct voltage in thin air."""
    highest = max(case.altitude for case in appraisal.study.cases)
    volts = appraisal.study.supply.nominal_voltage
    if volts < CORONA_VOLTAGE or highest <= CORONA_ALTITUDE:
        return None
    return {"volts": volts, "altitude": highest / 1e3, "limit": CORONA_ALTITUDE / 1e3}


def outside_validated_range(appraisal: Appraisal) -> Words | None:
    """W19: correlations and levels used beyond what they were checked for."""
    values, problem = appraisal.values, appraisal.problem
    alloy = problem.assembled.parameters["alloy"]
    facts = []
    rayleigh, peclet = air_numbers(appraisal)
    if rayleigh > RAYLEIGH_MAX:
        facts.append(f"Rayleigh number {rayleigh:.1e}, at most {RAYLEIGH_MAX:.0e}")
    if peclet < PECLET_MIN:
        facts.append(f"Reynolds times Prandtl number {peclet:.2g}, at least {PECLET_MIN}")
    wall = float(values["wall_temperature_difference"][present_sets(appraisal)].max())
    width = float(alloy.austenite_finish - alloy.austenite_start)
    allowed = max(WALL_DIFFERENCE, WALL_SHARE * width)
    if wall > allowed:
        facts.append(
            f"{wall:.1f} K across the wall of a tube taken as one body, at most {allowed:.1f}"
        )
    legs = zip(problem.assembled.legs, values["transonic"], strict=True)
    transonic = [leg.case for leg, flag in legs if flag > 0.0]
    if transonic:
        facts.append(f"transonic loads, blended, in {listed(transonic)}")
    return {"facts": "; ".join(facts)} if facts else None


def electric_shock(appraisal: Appraisal) -> Words | None:
    """W20: voltage that is dangerous to touch."""
    supply = appraisal.study.supply
    if supply.nominal_voltage <= SHOCK_VOLTAGE:
        return None
    return {"bus": supply.bus, "volts": supply.nominal_voltage, "limit": SHOCK_VOLTAGE}


def no_strong_wind_while_folded(appraisal: Appraisal) -> Words | None:
    """W21: no case with strong ground wind on the folded wing."""
    words = wind_while_folded(appraisal)
    strong = words is None or words["strongest"] >= 0.999 * GROUND_GUST
    return None if strong else words


def wind_while_folded(appraisal: Appraisal) -> Words | None:
    """W21: ground wind on the folded wing."""
    assembled = appraisal.problem.assembled
    if not any(assembled.legs[number].kind == "fold" for number in on_deck(appraisal)):
        return None
    winds = {
        leg.state.wind_speed: leg.case
        for leg in assembled.statics
        if leg.kind == "hold" and leg.state.location == "deck" and leg.state.fold_from != 0.0
    }
    strongest = max(winds, default=0.0)
    return {"strongest": strongest, "case": winds.get(strongest, ""), "wanted": GROUND_GUST}


def life_exceeded(appraisal: Appraisal) -> Words | None:
    """W22: folds over the life, or a declared life beyond the range of the card."""
    facts = []
    if rows := violated_rows(appraisal, "life"):
        side = rows[0].label.side
        facts.append(
            f"{appraisal.values['folds_total'][side]:.0f} folds of a set use "
            f"{appraisal.values['life_use'][side]:.2f} of its life, scatter factor "
            f"{appraisal.study.requirements.life_factor:.0f} included"
        )
    if rows := violated_rows(appraisal, "declared_stress", "declared_strain"):
        facts.append(f"stress or strain above the declared ones in {leg_names(appraisal, rows)}")
    card = alloy_card(appraisal.study)
    for name in ("declared_life_stress", "declared_life_strain", "declared_life_cycles"):
        declared, field = getattr(appraisal.study.actuator, name), card.fields.get(name)
        if declared is None or field is None or field.high is None or card.has_life_law:
            continue
        if declared > field.high:
            words = name.replace("_", " ")
            facts.append(f"{words} {declared:g} above the card's range, at most {field.high:g}")
    return {"facts": "; ".join(facts)} if facts else None
