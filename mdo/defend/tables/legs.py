"""Tables over the legs and sets of an appraisal: torque, times, temperatures, energy, life."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.tables.requirements import Facts
from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal

Floats = NDArray[np.float64]
TIE = 1e-5  # torque margins closer than this are one margin
TORQUE_GROUPS = ("drive_stress", "drive_strain")


def drivers(facts: Facts) -> list[str]:
    """Words for what drives each leg: a heated set, load or spring, nothing."""
    names = []
    for heated, loaded, up in zip(
        facts.v["heated"], facts.v["returned_by_load"], facts.up, strict=True
    ):
        if heated > 0.5:
            names.append(f"{SET_NAMES[0] if up else SET_NAMES[1]} set, heated")
        else:
            names.append("load or spring" if loaded > 0.5 else "none")
    return names


def leg_ends(facts: Facts) -> dict[str, Floats]:
    """Columns of the fold angles at both ends of each leg [rad]."""
    return {
        "angle_from": np.asarray(facts.legs.angle_from),
        "angle_to": np.asarray(facts.legs.angle_to),
    }


def torque_table(facts: Facts) -> pd.DataFrame:
    """Tabulate required and available moment over the fold angle of each leg, one wing.

    ``load_low`` and ``load_high`` are the envelope of aerodynamic and gravity moment in the sense
    of the required moment: positive against the driver of the leg. ``required_moment_upper_band``
    is the required moment with the load model at the upper end of its uncertainty,
    ``overrun_moment_upper_band`` what runs over then. Margins are NaN
    where the load assists, and everything available is NaN where no heated set drives.
    """
    legs, angles = facts.fold_angle.shape
    sense = np.where(facts.up, 1.0, -1.0)[:, None]
    resisting = np.stack([-sense * facts.v["moment_low"], -sense * facts.v["moment_high"]])
    heated = (facts.v["heated"] > 0.5)[:, None]
    needed = facts.v["required_moment"]

    def driven(values: Floats) -> Floats:
        return np.where(heated, values, np.nan).ravel()

    def margin(name: str) -> Floats:
        values = facts.v[name]
        return driven(np.where(values >= 0.5 * NO_RESISTANCE, np.nan, values))

    return pd.DataFrame(
        {
            "leg": np.repeat(facts.leg_names, angles),
            "driver": np.repeat(drivers(facts), angles),
            "angle_number": np.tile(np.arange(angles), legs),
            "fold_angle": facts.fold_angle.ravel(),
            "required_moment": needed.ravel(),
            "available_moment": driven(facts.v["available_moment"]),
            "torque_margin": margin("torque_margin"),
            "torque_margin_required": np.repeat(
                np.broadcast_to(facts.legs.torque_margin_required, legs), angles
            ),
            "torque_margin_upper_band": margin("torque_margin_upper_band"),
            "torque_margin_failed": margin("torque_margin_failed"),
            "required_moment_upper_band": (needed + facts.v["moment_band"]).ravel(),
            "load_low": resisting.min(axis=0).ravel(),
            "load_high": resisting.max(axis=0).ravel(),
            "overrun_moment": facts.v["overrun_moment"].ravel(),
            "overrun_moment_upper_band": (
                facts.v["overrun_moment"] - facts.v["moment_band"]
            ).ravel(),
            "internal_moment": facts.v["internal_moment"].ravel(),
            "hot_stress": driven(facts.v["hot_stress"]),
            "tube_strain": driven(facts.v["tube_strain"]),
            "required_stress": driven(facts.v["required_stress"]),
            "required_strain": driven(facts.v["required_strain"]),
        }
    )


class DrivingPoint(NamedTuple):
    """Leg and fold angle [rad] that size the tubes; moments of one wing [N*m]."""

    leg: str
    fold_angle: float
    required_moment: float
    available_moment: float
    torque_margin: float
    torque_margin_required: float
    torque_margin_upper_band: float
    driver: str
    multiplier: float


def driving_point(appraisal: Appraisal) -> DrivingPoint | None:
    """Leg and angle with the least torque margin over the one that it needs.

    Where a design gives nothing at the hinge (A < 0) the ratio says little: there the largest
    shortfall in moment counts. Among margins that are equal (several rows at their limit) the one
    that costs most counts, by the multiplier of its torque rows. None where the load
    assists everywhere.
    """
    facts = Facts(appraisal)
    table = torque_table(facts)
    spare = (table["torque_margin"] - table["torque_margin_required"]).to_numpy()
    if not np.isfinite(spare).any():
        return None
    lacking = (table["required_moment"] - table["available_moment"]).to_numpy()
    beaten = (table["torque_margin"] <= -1.0).to_numpy()
    if beaten.any():
        spare = np.where(beaten, -lacking, np.nan)
    cost = np.zeros(facts.fold_angle.shape)
    for row in appraisal.rows:
        if row.label.group in TORQUE_GROUPS:
            cost[row.label.leg, row.label.angle] += row.multiplier
    near = np.flatnonzero(spare <= np.nanmin(spare) + TIE)
    place = near[np.argmax(cost.ravel()[near])]
    one = table.iloc[place]
    return DrivingPoint(
        **{name: one[name] for name in DrivingPoint._fields if name != "multiplier"},
        multiplier=float(cost.ravel()[place]),
    )


def times_table(facts: Facts) -> pd.DataFrame:
    """Tabulate times of each leg [s]: fold or return time, its limit, and what they are made of."""
    moves = np.asarray(facts.legs.moves) > 0.5
    back = np.asarray(facts.legs.is_return) > 0.5
    heated = facts.v["heated"] > 0.5
    loaded = facts.v["returned_by_load"] > 0.5
    heat = np.where(heated, facts.of_driver("heat_time"), np.nan)
    cools = moves & (back | loaded)
    whole = np.where(cools, facts.return_time(), np.where(moves, heat, np.nan))
    limit = np.where(moves, np.asarray(facts.legs.time_limit), np.nan)
    return pd.DataFrame(
        {
            "leg": facts.leg_names,
            "driver": drivers(facts),
            **leg_ends(facts),
            "what": np.where(cools, "return time", np.where(moves, "fold time", "hold")),
            "time": whole,
            "time_limit": limit,
            "margin": limit - whole,
            "heat_time": heat,
            "cool_time": np.where(cools, facts.of_cooled("cool_time"), np.nan),
            "motion_time": np.where(moves & heated, facts.v["motion_time"], np.nan),
            "dead_time": np.full(moves.size, float(facts.wanted.dead_time)),
        }
    )


def temperatures_table(facts: Facts) -> pd.DataFrame:
    """Temperatures of each leg [K]; the static cases have only their hottest bay."""
    heated = facts.v["heated"] > 0.5
    frame = pd.DataFrame(
        {
            "leg": facts.leg_names,
            "air_temperature": facts.v["air_temperature"],
            "recovery_temperature": facts.v["recovery_temperature"],
            "bay_cold_temperature": facts.v["bay_cold_temperature"],
            "bay_hot_temperature": facts.v["bay_hot_temperature"],
            "heating_start": np.where(heated, facts.of_driver("heating_start"), np.nan),
            "heating_finish": np.where(heated, facts.of_driver("heating_finish"), np.nan),
            "cooling_finish_other_set": np.where(
                np.asarray(facts.legs.is_return) > 0.5, facts.of_cooled("cooling_finish"), np.nan
            ),
            "surface_temperature_hot": facts.v["surface_temperature_hot"],
            "structure_temperature_hot": facts.v["structure_temperature_hot"],
            "stuck_on_temperature": np.where(
                heated, facts.of_driver("stuck_on_temperature"), np.nan
            ),
        }
    )
    static = pd.DataFrame(
        {
            "leg": facts.static_names,
            "bay_hot_temperature": facts.v["static_bay_hot"][: len(facts.static_names)],
        }
    )
    return pd.concat([frame, static], ignore_index=True) if len(static) else frame


def sets_table(facts: Facts) -> pd.DataFrame:
    """One line per set that the configuration has, one wing: design, temperatures, heater, life."""
    present = np.asarray(facts.choices.set_present) > 0.5
    design = ("tube_count", "operating_stress", "pre_twist", "heater_power")
    computed = (
        "heated_fraction", "heating_start", "heating_finish", "holding_start", "hold_temperature",
        "cooling_start", "cooling_finish", "smallest_return_stress", "outer_stress_operating",
        "outer_strain_max", "heater_flux", "heater_flux_limit", "sheath_temperature",
        "wall_temperature_difference", "fitting_mass_per_tube", "folds_total", "life_use",
    )  # fmt: skip
    columns = {name: facts.d[name][present] for name in design}
    columns |= {name: facts.v[name][present] for name in computed}
    names = [name for name, there in zip(SET_NAMES, present, strict=True) if there]
    return pd.DataFrame({"set": names, **columns})


def energy_table(facts: Facts) -> pd.DataFrame:
    """Energy of each leg [J] and power while it holds [W], aircraft; tube work of one wing [J]."""
    return pd.DataFrame(
        {
            "leg": facts.leg_names,
            "driver": drivers(facts),
            "fold_energy": facts.v["fold_energy"],
            "held_power": facts.v["held_power"],
            "actuator_work": facts.v["actuator_work"],
            "power_balance": np.where(
                facts.v["heated"] > 0.5, facts.of_driver("power_balance"), np.nan
            ),
        }
    )


def life_table(facts: Facts) -> pd.DataFrame:
    """Life use of each leg that a heated set drives; folds of the life, unfactored stresses."""
    moving = (facts.v["heated"] > 0.5) & (np.asarray(facts.legs.moves) > 0.5)
    law = float(facts.alloy.life_law) > 0.5
    frame = pd.DataFrame(
        {
            "leg": facts.leg_names,
            "driver": drivers(facts),
            "folds_per_life": np.broadcast_to(facts.legs.folds_per_life, moving.shape),
            "leg_outer_stress": facts.v["leg_outer_stress"],
            "stroke_strain": facts.v["stroke_strain"],
            "leg_work_density": facts.v["leg_work_density"],
            "leg_life_use": facts.v["leg_life_use"],
            "basis": "life law of the card" if law else "declared life",
        }
    )
    return frame[moving].reset_index(drop=True)
