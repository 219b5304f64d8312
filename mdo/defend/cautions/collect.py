"""Cautions of a design: the rules W01 to W24 of the reference, each with what to do about it.

Temperature gates, times and limits are read off the constraint rows of the model, so a caution and
a gate cannot disagree. Rules on installation and safety need the user's confirmation; a study has
no field for it yet, so they are always shown. W23 (a mass ratio quoted from elsewhere used as
input) cannot arise: no field of a study takes a mass ratio.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from mdo.defend.cautions import checks, confirmations, temperatures
from mdo.defend.cautions.base import NOTE, STOP, WARN, Caution, Rule

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

__all__ = ["NOTE", "NOT_EVALUATED", "RULES", "STOP", "WARN", "Caution", "evaluate_cautions"]

SEVERITIES = (STOP, WARN, NOTE)

# Reference thermal-power-mass, section 6.3; gates by the definitions of the design page.
RULES: Mapping[str, Rule] = {
    "W01": temperatures.bay_too_hot_to_return,
    "W02": temperatures.bay_starts_a_fold,
    "W03": temperatures.soak_starts_a_fold,
    "W04": temperatures.hot_surface_near_fuel,
    "W05": confirmations.thermal_cut_off,
    "W06": temperatures.touch_temperature,
    "W07": confirmations.ground_fold,
    "W08": confirmations.positive_lock,
    "W09": confirmations.single_failure,
    "W10": confirmations.asymmetric_fold,
    "W11": checks.heater_load,
    "W12": checks.only_at_nominal_voltage,
    "W13": checks.return_too_slow,
    "W14": temperatures.hot_structure,
    "W15": checks.bus_overload,
    "W16": checks.stall_with_heat,
    "W17": checks.corona,
    "W18": confirmations.shared_cut_off,
    "W19": checks.outside_validated_range,
    "W20": checks.electric_shock,
    "W21": checks.wind_while_folded,
    "W22": checks.life_exceeded,
    "W24": confirmations.concept_only,
}

NOT_EVALUATED: Mapping[str, str] = {
    "W23": "no field of a study takes a mass ratio, so none can be quoted from elsewhere",
}


def evaluate_cautions(appraisal: Appraisal) -> tuple[Caution, ...]:
    """Cautions that hold for a design: those that stop first, then warnings, then notes."""
    found = [
        Caution(name, *finding)
        for name, rule in RULES.items()
        if (finding := rule(appraisal)) is not None
    ]
    return tuple(sorted(found, key=lambda caution: SEVERITIES.index(caution.severity)))
