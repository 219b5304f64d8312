"""The cautions that a design deserves; rules on power, times, stall, life, wind, safety of people.

A rule gives the words of its caution where it holds, else None. Rules on installation and safety
need the user's confirmation; a study has no field for it yet, so they are always shown.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.data_files import toml_beside
from mdo.defend.cautions import temperatures
from mdo.defend.cautions.base import (
    NOTE,
    STOP,
    WARN,
    Caution,
    Reviewed,
    Rule,
    Words,
    celsius,
    degrees,
    listed,
)
from mdo.defend.uncertain import DECLARED
from mdo.optimise.appraisal import Appraisal
from mdo.study.assemble import alloy_card

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


def always(_: Reviewed) -> Words:
    """W18, W24: on every report."""
    return {}


def ground_fold(design: Reviewed) -> Words:
    """W07: people near the wing while it folds."""
    folds = [design.motions[n].case for n in design.deck if design.motions[n].kind == "fold"]
    none = "in maintenance (no case of this study folds on deck)"
    return {"where": f"in {listed(folds)}" if folds else none}


def positive_lock(design: Reviewed) -> Words:
    """W08: a lock at both ends, and no hold that relies on power."""
    powered = [leg.case for leg in design.motions if leg.kind == "hold"]
    moving = [leg.state for leg in design.motions if leg.kind == "fold"]
    locked = [leg.state.fold_from for leg in design.holds if leg.kind != "soak"]
    angles = {angle for state in moving for angle in (state.fold_from, state.fold_to)}
    ends = sorted({min(angles), max(angles)}) if angles else []
    free = [
        degrees(end) for end in ends if not any(abs(end - angle) < SAME_ANGLE for angle in locked)
    ]
    facts = []
    if powered:
        facts.append(f"{listed(powered)} is held by heat alone, so power loss moves the wing")
    if free:
        facts.append(f"no case holds the lock at the end of travel {' and '.join(free)}")
    return {"facts": f" ({'; '.join(facts)})" if facts else ""}


def single_failure(design: Reviewed) -> Words | None:
    """W09: no single failure folds or unfolds the wing in flight."""
    if design.study.bench:
        return None
    folds = [leg for leg in design.motions if leg.kind == "fold"]
    airborne = [leg.case for leg in folds if leg.state.location == "air"]
    moves = f"it is meant to move in {listed(airborne)}"
    return {"where": moves if airborne else "it never moves in flight"}


def asymmetric_fold(design: Reviewed) -> Words | None:
    """W10: one wing folded, the other not."""
    if design.study.bench:
        return None
    jammed = [leg for leg in design.holds if leg.kind == "jam"]
    jams = [f"{leg.case} at {degrees(leg.state.fold_from)}" for leg in jammed]
    none = "no case of this study jams one side"
    return {"jams": f"jam on one side in {listed(jams)}" if jams else none}


def heater_overload(design: Reviewed) -> Words | None:
    """W11: heater flux and temperature at high line."""
    rows = design.broken("heater_watt_density", "heater_sheath")
    if not rows:
        return None
    side = rows[0].label.side
    return {
        "flux": design.v["heater_flux"][side] / 1e4,
        "flux_limit": design.v["heater_flux_limit"][side] / 1e4,
        "sheath": celsius(design.v["sheath_temperature"][side]),
        "limit": celsius(float(design.v["sheath_temperature_limit"])),
    }


def loose_cartridge(design: Reviewed) -> Words | None:
    """W11: fit of a cartridge."""
    gap, (least, most) = float(design.parameters["thermal_assumptions"].heater_gap), HEATER_GAP
    if design.study.actuator.heater != "cartridge" or least <= gap <= most:
        return None
    return {"gap": gap * 1e6, "least": least * 1e6, "most": most * 1e6}


def only_at_nominal_voltage(design: Reviewed) -> Words | None:
    """W12: fold time met at nominal voltage and not at the lowest."""
    rows, problem = design.broken("fold_time_row"), design.appraisal.problem
    if not rows:
        return None
    supply = design.parameters["supply"]._replace(low_voltage_ratio=1.0)
    at_nominal = problem.with_theta(problem.chain.pack({**design.parameters, "supply": supply}))
    nominal = at_nominal.values(design.appraisal.x, "fold_time_row")["fold_time_row"]
    if any(nominal[row.label.leg] < 0.0 for row in rows):
        return None
    voltage = design.study.supply.low_voltage_ratio * design.study.supply.nominal_voltage
    late = float(np.exp(-rows[0].value))
    return {"legs": design.legs_of(rows), "late": late, "volts": voltage}


def return_too_slow(design: Reviewed) -> Words | None:
    """W13: return or turnaround longer than required."""
    rows = design.broken("return_time_row", "return_heat_row")
    if not rows:
        return None
    limit = design.motions[rows[0].label.leg].time_limit
    time = limit * float(np.exp(-rows[0].value))
    return {"time": time, "legs": design.legs_of(rows), "limit": limit}


def bus_overload(design: Reviewed) -> Words | None:
    """W15: peak power over the allotment; single-phase alternating current above 0.5 kVA."""
    peak, supply = float(design.v["peak_power"]), design.study.supply
    facts = {}
    if design.broken("bus_power"):
        text = f"peak power {peak:.0f} W, allotted {supply.power_available:.0f} W"
        facts[text] = "Fold more slowly, heat the wings in turn, or ask for more power"
    if supply.bus.endswith(" ac") and peak > SINGLE_PHASE:
        text = f"{peak:.0f} VA of alternating current, single phase allows {SINGLE_PHASE:.0f}"
        facts[text] = "Confirm a balanced three-phase load"
    return {"facts": "; ".join(facts), "actions": "; ".join(facts.values())} if facts else None


def stall_with_heat(design: Reviewed) -> Words | None:
    """W16: stress of blocked tubes that are heated all the same."""
    rated = float(design.d["operating_stress"][design.present].min())
    stall, outer = float(design.v["stall_stress"]), float(design.v["stall_outer_stress"])
    if stall <= rated:
        return None
    allowed = float(design.alloy.allowable_shear_stress)
    return {"ratio": stall / rated, "outer": outer / 1e6, "allowed": allowed / 1e6}


def corona(design: Reviewed) -> Words | None:
    """W17: high direct voltage in thin air."""
    highest = max(case.altitude for case in design.study.cases)
    volts = design.study.supply.nominal_voltage
    if volts < CORONA_VOLTAGE or highest <= CORONA_ALTITUDE:
        return None
    return {"volts": volts, "altitude": highest / 1e3, "limit": CORONA_ALTITUDE / 1e3}


def outside_validated_range(design: Reviewed) -> Words | None:
    """W19: correlations and levels used beyond what they were checked for."""
    facts = []
    rayleigh = float(design.v["rayleigh_number"].max())
    peclet = float(design.v["peclet_number"].min())  # infinite where nothing blows
    if rayleigh > RAYLEIGH_MAX:
        facts.append(f"Rayleigh number {rayleigh:.1e}, at most {RAYLEIGH_MAX:.0e}")
    if peclet < PECLET_MIN:
        facts.append(f"Reynolds times Prandtl number {peclet:.2g}, at least {PECLET_MIN}")
    wall = design.most("wall_temperature_difference")
    width = float(design.alloy.austenite_finish - design.alloy.austenite_start)
    allowed = max(WALL_DIFFERENCE, WALL_SHARE * width)
    if wall > allowed:
        facts.append(f"{wall:.1f} K across a wall of lumped temperature, at most {allowed:.1f}")
    legs = zip(design.motions, design.v["transonic"], strict=True)
    if transonic := [leg.case for leg, flag in legs if flag > 0.0]:
        facts.append(f"transonic loads, blended, in {listed(transonic)}")
    return {"facts": "; ".join(facts)} if facts else None


def electric_shock(design: Reviewed) -> Words | None:
    """W20: voltage that is dangerous to touch."""
    supply = design.study.supply
    words = {"bus": supply.bus, "volts": supply.nominal_voltage, "limit": SHOCK_VOLTAGE}
    return words if supply.nominal_voltage > SHOCK_VOLTAGE else None


def no_strong_wind_while_folded(design: Reviewed) -> Words | None:
    """W21: no case with strong ground wind on the folded wing."""
    words = wind_while_folded(design)
    strong = words is None or words["strongest"] >= 0.999 * GROUND_GUST
    return None if strong else words


def wind_while_folded(design: Reviewed) -> Words | None:
    """W21: ground wind on the folded wing."""
    folds = [number for number in design.deck if design.motions[number].kind == "fold"]
    if design.study.bench or not folds:
        return None
    held = [leg for leg in design.holds if leg.kind == "hold" and leg.state.location == "deck"]
    winds = {leg.state.wind_speed: leg.case for leg in held if leg.state.fold_from != 0.0}
    strongest = max(winds, default=0.0)
    words = f"the strongest is {strongest:.1f} m/s" if strongest else "it is held in none"
    return {
        "strongest": strongest, "case": winds.get(strongest, ""), "wanted": GROUND_GUST,
        "held": words,
    }  # fmt: skip


def life_exceeded(design: Reviewed) -> Words | None:
    """W22: folds over the life, or a declared life beyond the range of the card."""
    facts = []
    if rows := design.broken("life"):
        side = rows[0].label.side
        facts.append(
            f"{design.v['folds_total'][side]:.0f} folds of a set use "
            f"{design.v['life_use'][side]:.2f} of its life, scatter factor "
            f"{design.study.requirements.life_factor:.0f} included"
        )
    if rows := design.broken("declared_stress", "declared_strain"):
        facts.append(f"stress or strain above the declared ones in {design.legs_of(rows)}")
    card = alloy_card(design.study)
    for name in () if card.has_life_law else DECLARED:
        declared, field = getattr(design.study.actuator, name), card.fields.get(name)
        high = None if field is None else field.high
        if declared is not None and high is not None and declared > high:
            words = name.replace("_", " ")
            facts.append(f"{words} {declared:g} above the card's range, at most {high:g}")
    return {"facts": "; ".join(facts)} if facts else None


__all__ = ["NOTE", "RULES", "STOP", "WARN", "Caution", "evaluate_cautions"]

SEVERITIES = (STOP, WARN, NOTE)


class CautionRule(NamedTuple):
    """A line of the table: id, rule, severity, words with places to fill, action."""

    id: str
    rule: str
    severity: str
    text: str
    action: str

    @property
    def check(self) -> Rule:
        """The function of the rule."""
        check: Rule = {**vars(temperatures), **globals()}[self.rule]
        return check


RULES = tuple(CautionRule(**entry) for entry in toml_beside(__file__, "cautions")["caution"])


def evaluate_cautions(appraisal: Appraisal) -> tuple[Caution, ...]:
    """Cautions that hold for a design: those that stop first, then warnings, then notes."""
    reviewed = Reviewed(appraisal)
    cautions: dict[str, Caution] = {}
    for rule in RULES:
        words = None if rule.id in cautions else rule.check(reviewed)
        if words is not None:
            text, action = (line.format_map(words) for line in (rule.text, rule.action))
            cautions[rule.id] = Caution(rule.id, rule.severity, text, action)
    return tuple(sorted(cautions.values(), key=lambda each: SEVERITIES.index(each.severity)))
