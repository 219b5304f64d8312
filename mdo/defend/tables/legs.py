"""Tables over the legs and sets of an appraisal: torque, times, temperatures, energy, life."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.never import status_words, stroke_status
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal

TIE = 1e-5  # torque margins closer than this are one margin
TORQUE_GROUPS = ("drive_stress", "drive_strain")
# Columns that are results of the model by their name there.
OF_TUBES = ("hot_stress", "tube_strain", "required_stress", "required_strain")
OF_AIR = ("air_temperature", "recovery_temperature", "bay_cold_temperature", "bay_hot_temperature")
OF_HEATING = ("heating_start", "heating_finish")
OF_SURFACES = ("surface_temperature_hot", "structure_temperature_hot")
OF_LIFE = ("leg_outer_stress", "stroke_strain", "leg_work_density", "leg_life_use")
OF_SETS = (
    "tube_count", "operating_stress", "pre_twist", "heater_power", "heated_fraction",
    "heating_start", "heating_finish", "holding_start", "hold_temperature", "cooling_start",
    "cooling_finish", "smallest_return_stress", "outer_stress_operating", "outer_strain_max",
    "heater_flux", "heater_flux_limit", "sheath_temperature", "wall_temperature_difference",
    "fitting_mass_per_tube", "folds_total", "life_use",
)  # fmt: skip


def drivers(facts: Facts) -> list[str]:
    """Words for what drives each leg: a heated set, load or spring, nothing."""
    sets = np.where(facts.up, *(f"{name} set, heated" for name in SET_NAMES))
    others = np.where(facts.loaded, "load or spring", "none")
    return [str(words) for words in np.where(facts.heated, sets, others)]


def by_leg(facts: Facts, **columns: Any) -> pd.DataFrame:
    """Table of one line a leg: its name and driver, then columns of shape (legs,)."""
    return pd.DataFrame({"leg": facts.leg_names, "driver": drivers(facts), **columns})


def torque_table(facts: Facts) -> pd.DataFrame:
    """Tabulate required and available moment over the fold angle of each leg, one wing.

    ``load_low`` and ``load_high`` are the envelope of aerodynamic and gravity moment in the sense
    of the required moment: positive against the driver of the leg. ``required_moment_upper_band``
    is the required moment with the load model at the upper end of its uncertainty,
    ``overrun_moment_upper_band`` the aiding load then. Margins are NaN
    where the load assists, and everything available is NaN where no heated set drives.
    """
    legs, angles = facts.fold_angle.shape
    sense = np.where(facts.up, 1.0, -1.0)[:, None]
    resisting = [-sense * facts.v[f"moment_{end}"] for end in ("low", "high")]
    needed = facts.v["required_moment"]

    def driven(name: str) -> Floats:
        return np.where(facts.heated[:, None], facts.v[name], np.nan)

    columns = {
        "leg": np.array(facts.leg_names)[:, None],
        "driver": np.array(drivers(facts))[:, None],
        "angle_number": np.arange(angles),
        "fold_angle": facts.fold_angle,
        "required_moment": needed,
        "available_moment": driven("available_moment"),
        "torque_margin": facts.margins("torque_margin"),
        "torque_margin_required": np.reshape(facts.legs.torque_margin_required, (-1, 1)),
        "torque_margin_upper_band": facts.margins("torque_margin_upper_band"),
        "torque_margin_failed": facts.margins("torque_margin_failed"),
        "required_moment_upper_band": needed + facts.v["moment_band"],
        "load_low": np.minimum(*resisting),
        "load_high": np.maximum(*resisting),
        "overrun_moment": facts.v["overrun_moment"],
        "overrun_moment_upper_band": facts.v["overrun_moment"] - facts.v["moment_band"],
        "internal_moment": facts.v["internal_moment"],
        **{name: driven(name) for name in OF_TUBES},
    }
    return pd.DataFrame(
        {name: np.broadcast_to(values, (legs, angles)).ravel() for name, values in columns.items()}
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
    line = table.iloc[place]
    known = {name: line[name] for name in DrivingPoint._fields if name in line}
    return DrivingPoint(**known, multiplier=float(cost.ravel()[place]))


def times_table(facts: Facts) -> pd.DataFrame:
    """Tabulate times of each leg [s]: fold or return time, its limit, and what they are made of.

    ``cool_time`` is of the set that cools under the drive: on a return, and where it was warmed.
    ``from_rest_time`` counts from the first command, with the warm-up of the other set before it.
    ``status`` names strokes that never end, and why; their times are finite all the same.
    """
    moves = facts.moves
    heat = np.where(facts.heated, facts.of_driver("heat_time"), np.nan)
    cools = moves & (facts.returns | facts.loaded)
    time = np.where(cools, facts.return_time(), np.where(moves, heat, np.nan))
    limit = np.where(moves, np.asarray(facts.legs.time_limit), np.nan)
    paired = facts.heated & facts.present.all()
    warmed = paired & (np.asarray(facts.legs.other_warmed) > 0.5)
    cold = paired & (np.asarray(facts.legs.other_cold) > 0.5)
    hot = np.where(paired, "just heated", "")
    return by_leg(
        facts,
        other_set=np.where(warmed, "warmed", np.where(cold, "cold", hot)),
        angle_from=np.asarray(facts.legs.angle_from),
        angle_to=np.asarray(facts.legs.angle_to),
        what=np.where(cools, "return time", np.where(moves, "fold time", "hold")),
        time=time,
        time_limit=limit,
        margin=limit - time,
        heat_time=heat,
        cool_time=np.where(cools | warmed, facts.of_cooled("cool_time"), np.nan),
        warm_up_time=np.where(warmed, facts.of_cooled("heat_time"), np.nan),
        from_rest_time=np.where(moves, facts.v["from_rest_time"], np.nan),
        motion_time=np.where(facts.driven, facts.v["motion_time"], np.nan),
        dead_time=float(facts.wanted.dead_time),
        status=[status_words(stroke_status(facts, leg)) for leg in range(len(moves))],
    )


TIMES = ("fold_time", "return_time", "from_rest_time", "peak_power")


def times_and_power(appraisal: Appraisal) -> dict[str, float]:
    """Longest fold, return and time from rest of all legs [s], nan for none, and peak power [W]."""
    facts = Facts(appraisal)
    table = times_table(facts)
    longest = {
        what.replace(" ", "_"): table.loc[table["what"] == what, "time"].max()
        for what in ("fold time", "return time")
    }
    longest |= {"from_rest_time": table["from_rest_time"].max()}
    return {**longest, "peak_power": float(np.max(facts.v["peak_power"]))}


def temperatures_table(facts: Facts) -> pd.DataFrame:
    """Temperatures of each leg [K]; the static cases have only their hottest bay."""
    cooled = np.where(facts.returns, facts.of_cooled("cooling_finish"), np.nan)
    columns: dict[str, Any] = {name: facts.v[name] for name in (*OF_AIR, *OF_SURFACES)}
    columns |= {name: facts.of_heated(name) for name in (*OF_HEATING, "stuck_on_temperature")}
    columns |= {"leg": facts.leg_names, "cooling_finish_other_set": cooled}
    order = ["leg", *OF_AIR, *OF_HEATING, "cooling_finish_other_set", *OF_SURFACES,
             "stuck_on_temperature"]  # fmt: skip
    frame = pd.DataFrame(columns)[order]
    if not facts.static_names:
        return frame
    hottest = facts.v["static_bay_hot"][: len(facts.static_names)]
    static = pd.DataFrame({"leg": facts.static_names, "bay_hot_temperature": hottest})
    return pd.concat([frame, static], ignore_index=True)


def sets_table(facts: Facts) -> pd.DataFrame:
    """One line per set that the configuration has, one wing: design, temperatures, heater, life."""
    columns = {name: {**facts.v, **facts.d}[name][facts.present] for name in OF_SETS}
    return pd.DataFrame({"set": np.array(SET_NAMES)[facts.present].tolist(), **columns})


def energy_table(facts: Facts) -> pd.DataFrame:
    """Energy of each leg [J] and power while it holds [W], aircraft; tube work of one wing [J]."""
    columns = {name: facts.v[name] for name in ("fold_energy", "held_power", "actuator_work")}
    return by_leg(facts, **columns, power_balance=facts.of_heated("power_balance"))


def life_table(facts: Facts) -> pd.DataFrame:
    """Life use of each leg that a heated set drives; folds of the life, unfactored stresses."""
    law = float(facts.alloy.life_law) > 0.5
    frame = by_leg(
        facts,
        folds_per_life=np.broadcast_to(facts.legs.folds_per_life, facts.up.shape),
        **{name: facts.v[name] for name in OF_LIFE},
        basis="life law of the card" if law else "declared life",
    )
    return frame[facts.driven].reset_index(drop=True)
