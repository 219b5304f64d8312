"""Caution rules on heater, times, power, stall, wind, life and the range of the models."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from mdo.defend.cautions.base import (
    NOTE,
    STOP,
    WARN,
    Finding,
    celsius,
    leg_names,
    listed,
    on_deck,
    violated_rows,
)
from mdo.study.assemble import alloy_card

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

HEATER_GAP = (20e-6, 75e-6)  # m, radial, catalogue heaters in a nominal bore, reference 2.10
SINGLE_PHASE = 500.0  # VA, MIL-STD-704F: above it three-phase
CORONA_ALTITUDE, CORONA_VOLTAGE = 15e3, 250.0  # m, V: reference section 2.11, from memory
SHOCK_VOLTAGE = 60.0  # V, extra-low voltage of direct current, IEC 61140 (from memory)
GROUND_GUST = 65 * 1852 / 3600  # m/s: 65 kt, special conditions for folding wing tips
RAYLEIGH_MAX = 1e12  # Churchill and Chu
PECLET_MIN = 0.2  # Churchill and Bernstein
WALL_DIFFERENCE = 3.0  # K, or a tenth of Af - As: reference section 2.13, g_wall


def heater_load(appraisal: Appraisal) -> Finding | None:
    """W11: heater flux and temperature at high line; fit of a cartridge."""
    values, given = appraisal.values, appraisal.problem.assembled.parameters
    if rows := violated_rows(appraisal, "heater_watt_density", "heater_sheath"):
        side = rows[0].label.side
        return Finding(
            STOP,
            f"Heater overloaded at high line: {values['heater_flux'][side] / 1e4:.1f} W/cm2 of "
            f"{values['heater_flux_limit'][side] / 1e4:.1f}, heater at "
            f"{celsius(values['sheath_temperature'][side])} of "
            f"{celsius(float(values['sheath_temperature_limit']))}",
            "Lower the heater power, lengthen the tubes, or take more of them",
        )
    gap = float(given["thermal_assumptions"].heater_gap)
    if appraisal.study.actuator.heater == "cartridge" and not HEATER_GAP[0] <= gap <= HEATER_GAP[1]:
        return Finding(
            WARN,
            f"Radial gap of the cartridges {gap * 1e6:.0f} um, range of catalogue fits "
            f"{HEATER_GAP[0] * 1e6:.0f} to {HEATER_GAP[1] * 1e6:.0f} um",
            "Ream the bore to fit, or show the heater temperature by test",
        )
    return None


def only_at_nominal_voltage(appraisal: Appraisal) -> Finding | None:
    """W12: fold time met at nominal voltage and not at the lowest."""
    rows = violated_rows(appraisal, "fold_time_row")
    if not rows:
        return None
    problem = appraisal.problem
    given = dict(problem.assembled.parameters)
    given["supply"] = given["supply"]._replace(low_voltage_ratio=1.0)
    theta = problem.chain.pack(given)
    values = problem.chain.values(appraisal.x, theta, problem.chain.prelude(theta))
    nominal = np.asarray(values["fold_time_row"])
    if any(nominal[row.label.leg] < 0.0 for row in rows):
        return None
    supply = appraisal.study.supply
    late = float(np.exp(-rows[0].value))
    return Finding(
        WARN,
        f"Fold time of {leg_names(appraisal, rows)} met only at nominal voltage: {late:.2f} of "
        f"the limit at {supply.low_voltage_ratio * supply.nominal_voltage:.0f} V",
        "Add heater power, or regulate it against the voltage",
    )


def return_too_slow(appraisal: Appraisal) -> Finding | None:
    """W13: return or turnaround longer than required."""
    rows = violated_rows(appraisal, "return_time_row", "return_heat_row")
    if not rows:
        return None
    worst = rows[0]
    limit = appraisal.problem.assembled.legs[worst.label.leg].time_limit
    return Finding(
        STOP,
        f"Return takes {limit * np.exp(-worst.value):.0f} s in {leg_names(appraisal, rows)}, limit "
        f"{limit:.0f} s",
        "Thinner walls, a black finish, a blower, a higher Mf, or more time",
    )


def bus_overload(appraisal: Appraisal) -> Finding | None:
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
    if not facts:
        return None
    return Finding(STOP, f"Bus of the aircraft: {'; '.join(facts)}", "; ".join(actions))


def stall_with_heat(appraisal: Appraisal) -> Finding | None:
    """W16: stress of blocked tubes that are heated all the same."""
    design, given = appraisal.design, appraisal.problem.assembled.parameters
    present = np.asarray(given["choices"].set_present) > 0.5
    rated = float(np.asarray(design["operating_stress"])[present].min())
    stall = float(appraisal.values["stall_stress"])
    if stall <= rated:
        return None
    outer = float(appraisal.values["stall_outer_stress"])
    allowed = float(given["alloy"].allowable_shear_stress)
    return Finding(
        WARN,
        f"Jam with heat on: blocked tubes reach up to {stall / rated:.2f} of their rated moment; "
        f"outer fibre up to {outer / 1e6:.0f} MPa, allowable {allowed / 1e6:.0f} MPa",
        "Cut the heat when the angle stops following, and size gears, fittings and stops for the "
        "stall moment",
    )


def corona(appraisal: Appraisal) -> Finding | None:
    """W17: high direct voltage in thin air."""
    highest = max(case.altitude for case in appraisal.study.cases)
    voltage = appraisal.study.supply.nominal_voltage
    if voltage < CORONA_VOLTAGE or highest <= CORONA_ALTITUDE:
        return None
    return Finding(
        WARN,
        f"{voltage:.0f} V at {highest / 1e3:.1f} km, above {CORONA_ALTITUDE / 1e3:.0f} km: corona",
        "Check spacing and insulation of heaters, leads and connectors at that pressure",
    )


def outside_validated_range(appraisal: Appraisal) -> Finding | None:
    """W19: correlations and levels used beyond what they were checked for."""
    facts = _range_facts(appraisal)
    if not facts:
        return None
    return Finding(
        NOTE,
        f"Beyond the checked range: {'; '.join(facts)}",
        "Confirm with the higher fidelity or by test",
    )


def electric_shock(appraisal: Appraisal) -> Finding | None:
    """W20: voltage that is dangerous to touch."""
    supply = appraisal.study.supply
    if supply.nominal_voltage <= SHOCK_VOLTAGE:
        return None
    return Finding(
        WARN,
        f"Heaters at {supply.bus} ({supply.nominal_voltage:.0f} V), dangerous to touch above "
        f"{SHOCK_VOLTAGE:.0f} V",
        "Cover live parts, bond the tubes, lock out and discharge during maintenance",
    )


def wind_while_folded(appraisal: Appraisal) -> Finding | None:
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
    if strongest < 0.999 * GROUND_GUST:
        return Finding(
            WARN,
            f"No case holds the folded wing in {GROUND_GUST:.1f} m/s (65 kt) of wind from any "
            f"side; the strongest is {strongest:.1f} m/s",
            "Add a hold on deck at the folded angle with that wind, and check tie-down loads",
        )
    return Finding(
        NOTE,
        f"The lock is sized for {strongest:.1f} m/s of wind in '{winds[strongest]}'; tie-down and "
        "gust-lock loads of the vehicle are not in it",
        "Check tie-down and gust-lock loads of the folded vehicle",
    )


def life_exceeded(appraisal: Appraisal) -> Finding | None:
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
    facts += _declared_beyond_card(appraisal)
    if not facts:
        return None
    return Finding(
        WARN,
        f"Life of the tubes: {'; '.join(facts)}",
        "Lower the stress, take more tubes, or show the life by test",
    )


def _declared_beyond_card(appraisal: Appraisal) -> list[str]:
    """Find declared lives of the study above the range that its card judges."""
    card = alloy_card(appraisal.study)
    facts = []
    for name in ("declared_life_stress", "declared_life_strain", "declared_life_cycles"):
        declared, field = getattr(appraisal.study.actuator, name), card.fields.get(name)
        if declared is None or field is None or field.high is None or card.has_life_law:
            continue
        if declared > field.high:
            words = name.replace("_", " ")
            facts.append(f"{words} {declared:g} above the card's range, at most {field.high:g}")
    return facts


def _range_facts(appraisal: Appraisal) -> list[str]:
    """Say what lies beyond the range of a correlation or of a level."""
    values, problem = appraisal.values, appraisal.problem
    given, legs = problem.assembled.parameters, problem.assembled.legs
    facts = []
    rayleigh = values["rayleigh_number"].max()
    if rayleigh > RAYLEIGH_MAX:
        facts.append(f"Rayleigh number {rayleigh:.1e}, at most {RAYLEIGH_MAX:.0e}")
    peclet = values["peclet_number"].min()
    if peclet < PECLET_MIN:
        facts.append(f"Reynolds times Prandtl number {peclet:.2g}, at least {PECLET_MIN}")
    present = np.asarray(given["choices"].set_present) > 0.5
    wall = float(values["wall_temperature_difference"][present].max())
    alloy = given["alloy"]
    allowed = max(3.0, 0.1 * float(alloy.austenite_finish - alloy.austenite_start))
    if wall > allowed:
        facts.append(
            f"{wall:.1f} K across the wall of a tube taken as one body, at most {allowed:.1f}"
        )
    transonic = [
        leg.case for leg, flag in zip(legs, values["transonic"], strict=True) if flag > 0.0
    ]
    if transonic:
        facts.append(f"transonic loads, blended, in {listed(transonic)}")
    return facts
