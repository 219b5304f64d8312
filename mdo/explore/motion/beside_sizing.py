"""What the motion gives beside what sizing said, at the corner that sizing takes."""

from __future__ import annotations

from typing import Any

import numpy as np

from mdo.arrays import Floats
from mdo.explore.motion.wing import Wing
from mdo.model.motion import MotionCase, MotionModel
from mdo.model.motion_run import Course, Lane

WAIT = 1.5  # of the fold time of sizing: how long the heat stays on
BACK = 1.6  # of the return time of sizing: how long the cooling is watched
FAR = 100.0  # [rad] error that keeps all of the heat on
UNITS = {"available_moment": "N*m", "peak_power": "W", "return_travel": "rad"}  # the rest: s
AGREE = 0.05  # share within which both agree


def beside_sizing(wing: Wing) -> list[dict[str, Any]]:
    """One row for each figure that both have: sized, moved, their ratio, and why they differ."""
    values, motion, parameters = wing.values, wing.motion, wing.problem.assembled.parameters
    group = 0 if motion.end > motion.start or len(np.asarray(wing.model.plant.side)) == 1 else 1
    at = int(np.flatnonzero(np.asarray(parameters["choices"].set_present) > 0.5)[group])
    leg = motion.leg
    sized = {
        "fold_time": float(values["heat_time"][leg][at])
        - float(parameters["requirements"].dead_time),
        "return_time": float(values["cool_time"][leg if motion.back is None else motion.back][at]),
        "available_moment": float(
            values["available_moment"][leg][0] + values["internal_moment"][leg][0]
        ),
        "peak_power": float(values["peak_power"]) / float(parameters["choices"].assemblies),
    }
    wait = WAIT * sized["fold_time"]
    slow, seen = _at_corner(wing, wait, wait + BACK * sized["return_time"])
    time, tube = seen["time"][0], seen["tube_temperature"][:, :, group]
    heats = np.flatnonzero(tube[0] >= wing.model.hot_temperature)
    finish = float(np.asarray(values["cooling_finish"])[at])
    off = time > wait
    cools = np.flatnonzero(off & (tube[1] <= finish))
    first = np.flatnonzero(tube[2] >= wing.model.hot_temperature)
    lost = 1.0 - float(wing.model.plant.drive_loss)
    moment = abs(seen["torque"][2, first[0], group]) * lost if first.size else np.nan
    moved = {
        "fold_time": time[heats[0]] if heats.size else np.nan,
        "return_time": time[cools[0]] - wait if cools.size else np.nan,
        "available_moment": float(moment),
        "peak_power": _peak(wing),
    }
    if np.size(wing.model.plant.side) == 1:  # nothing but the load or a spring turns it back
        sized["return_travel"] = abs(motion.end - motion.start)
        back = abs(motion.end - float(seen["fold_angle"][1, -1]))
        moved["return_travel"] = min(back, sized["return_travel"])
    reasons = REASONS | {"fold_time": _why_slower(wing, slow, at, group)}
    rows = []
    for name, one in sized.items():
        ratio = float(moved[name]) / one
        reason = "" if abs(ratio - 1.0) <= AGREE else reasons[name]
        rows.append({"quantity": name, "unit": UNITS.get(name, "s"), "sized": one,
                     "moved": float(moved[name]), "ratio": ratio, "reason": reason})  # fmt: skip
    return rows


def _at_corner(wing: Wing, wait: float, end: float) -> tuple[MotionModel, dict[str, Floats]]:
    """Heat until a time, cool until the end [s]: cold bay, hot bay, and clamped at the start."""
    parameters, motion = wing.problem.assembled.parameters, wing.motion
    heat, supply = parameters["thermal_assumptions"], parameters["supply"]
    cold, hot = (
        float(wing.values[f"bay_{end}_temperature"][motion.leg]) for end in ("cold", "hot")
    )
    weak = 1.0 - float(heat.heater_tolerance_low)
    friction = float(parameters["requirements"].friction_factor)
    slow = wing.model_at(MotionCase(motion.leg, cold, weak, friction))
    warm = wing.model_at(MotionCase(motion.leg, hot, weak))
    step = wing.settings.sample
    time: Floats = step * np.arange(float(int(end / step)))
    way = 1.0 if motion.end > motion.start else -1.0
    voltage = np.where(time < wait, float(supply.low_voltage_ratio), 0.0)
    still: Floats = np.zeros(time.size)
    course = Course(
        step, still + motion.end, still, still + way, still + 1.0, still, still, voltage, 0
    )
    blind = {
        "angle_gain": np.asarray(0.0), "locks": np.asarray(0.0), "brakes": np.asarray(0.0),
        "angle_bias": np.asarray(motion.end - way * FAR),
    }  # fmt: skip
    none = np.asarray(0.0)
    stuck = warm.plant._replace(jammed_from=np.asarray(-1.0), compliance=none, lash=none)
    models, lanes = [slow, warm, warm._replace(plant=stuck)], []
    for model, beyond in zip(models, (HASTE, OVER, OVER), strict=True):
        most = np.asarray(wing.model.hot_temperature + beyond)
        controller = wing.controller(model)._replace(**blind, kelvin_max=most)
        lanes.append(Lane(model.plant, controller, held=0.0))
    return slow, wing.run(lanes, course, models).seen


def _why_slower(wing: Wing, slow: MotionModel, at: int, group: int) -> str:
    """Why the heating of the motion takes longer, with the part that the latent heat has."""
    supply, plant = wing.problem.assembled.parameters["supply"], slow.plant
    share = float(np.asarray(wing.values["heated_fraction"])[at])
    latent = float(np.sum(plant.cell_latent)) * float(np.asarray(plant.count)[group])
    line = float(supply.low_voltage_ratio) ** float(plant.voltage_power)
    power = float(np.asarray(plant.heater_power * plant.count)[group]) * line
    more = latent * (1.0 - share) / power
    return (
        f"sizing turns {100 * share:.0f} % of the martensite, that of its operating stress; the "
        f"load of this course lets all of it turn, {more:.0f} s of the heat, and what the heater "
        "holds beyond its tube is counted"
    )


OVER, HASTE = 2.0, 200.0  # [K] over the hot temperature: kept to, and not slowed by
REASONS = {
    "return_travel": "sizing winds the cold tubes by the load of each angle; the motion lets them "
    "cool where the stroke ends: with hardly any load there they turn to martensite that has its "
    "two-way strain alone, and the load that grows on the way back winds only what forms later. A "
    "second set, a spring, or a load at that end brings it back",
    "return_time": "sizing lets all cool from one temperature with more of the fittings soaked and "
    "transforms all of the martensite at the smallest stress; the motion follows the load",
    "available_moment": "sizing locks in the strain of its smallest return stress, the motion what "
    "its tubes are wound to; sizing caps the stress",
    "peak_power": "the wing alone draws what its heaters take at high line; sizing adds the other "
    "set where that is warmed, the controller and the wiring",
}


def _peak(wing: Wing) -> float:
    """Largest power of one wing at high line with the tolerance of its heaters [W]."""
    parameters, plant = wing.problem.assembled.parameters, wing.model.plant
    high = float(parameters["supply"].high_voltage_ratio) ** float(plant.voltage_power)
    side = np.asarray(plant.side)
    per_side = [
        np.sum((np.asarray(plant.heater_power) * np.asarray(plant.count))[side == one])
        for one in np.unique(side)
    ]
    more = 1.0 + float(parameters["thermal_assumptions"].heater_tolerance_high)
    return float(min(max(per_side) * high * more, float(plant.power_available)))
