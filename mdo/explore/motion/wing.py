"""The wing of a design as it moves, with its controller; and how one unit differs from the next.

Units are drawn, or those at the corners of the scatter.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.explore.exploration import refuse
from mdo.explore.motion.commands import Motion
from mdo.model.motion import ALL_AT_ONCE, MotionCase, MotionModel, motion_model, start_of
from mdo.model.motion_control import Rule, Settings, make_controller, rule_times
from mdo.model.motion_run import Course, Courses, Lane, run_lanes
from mdo.optimise.problem import DesignProblem
from mdo.study.analyses import MotionPlan

# Two standard deviations of what differs from unit to unit, as a share but for the first [K]: all
# judged; transformation temperatures within a bar: reference of the trade, judgement.
SPREAD = {
    "transformation_shift": 5.0,
    "wall": 0.05,
    "gap_conductance": 0.30,
    "film": 0.20,
    "voltage": 0.04,
    "friction": 0.30,
}
IN_LOOPS = ("transformation_shift", "wall", "gap_conductance", "film")  # what a loop feels


def drawn_units(count: int, seed: int) -> pd.DataFrame:
    """Draws of units: normal, two standard deviations as in the table, cut off at three."""
    rng = np.random.default_rng(seed)
    drawn = np.clip(rng.standard_normal((count, len(SPREAD))), -3.0, 3.0) / 2.0
    return pd.DataFrame(drawn * np.array(list(SPREAD.values())), columns=list(SPREAD))


def unit_of(model: MotionModel, unit: Any) -> MotionModel:
    """Model of one unit that differs from the nominal one."""
    plant, wall = model.plant, 1.0 + unit["wall"]
    return model._replace(
        plant=plant._replace(
            transformation_shift=np.asarray(plant.transformation_shift)
            + unit["transformation_shift"],
            torque_per_stress=np.asarray(plant.torque_per_stress * wall),
            cell_capacity=np.asarray(plant.cell_capacity) * wall,
            cell_latent=np.asarray(plant.cell_latent) * wall,
            gap_factor=np.asarray(1.0 + unit["gap_conductance"]),
            film_factor=np.asarray(1.0 + unit["film"]),
            friction_factor=np.asarray(plant.friction_factor * (1.0 + unit["friction"])),
        )
    )


def corners_of(model: MotionModel) -> dict[str, MotionModel]:
    """Nominal model, and those of the units at two standard deviations of what a loop feels."""
    found = {"nominal": model}
    for signs in product((1.0, -1.0), repeat=len(IN_LOOPS)):
        unit = dict.fromkeys(SPREAD, 0.0) | {
            name: sign * SPREAD[name] for name, sign in zip(IN_LOOPS, signs, strict=True)
        }
        name = ", ".join(
            f"{part.replace('_', ' ')} {'+' if sign > 0.0 else '-'}"
            for part, sign in zip(IN_LOOPS, signs, strict=True)
        )
        found[name] = unit_of(model, unit)
    return found


ANGLE_NOISE, KELVIN_NOISE = np.radians(0.005), 0.1  # hinge resolver; thermocouple: judged
ANGLE_STEP, KELVIN_STEP = np.radians(0.002), 0.1  # of their converters: judged
SENSOR_LAG = 1.0  # [s] thermocouple strapped on (0.5 to 5 s, from memory of ASTM E230 practice)
OVER_HOT = 15.0  # [K] over the hot temperature that the controller may use
CUT_OFF_MARGIN = 20.0  # [K] below what the heater bears, or over what it comes to at high line


@dataclass(frozen=True)
class Wing:
    """A wing that moves: the sized design, its model, controller and the rule of its gains.

    model: each set as one group; moving: in its heater groups, the same where a set has one.
    """

    problem: DesignProblem
    design: dict[str, Any]
    values: dict[str, Floats]
    motion: Motion
    plan: MotionPlan
    model: MotionModel
    moving: MotionModel
    settings: Settings
    rule: Rule
    kelvin_max: float

    def controller(self, model: MotionModel | None = None) -> Any:
        """Controller of the wing; with tables for the groups of another model of it."""
        of = self.moving if model is None else model
        return make_controller(of, self.settings, self.rule.times, self.kelvin_max)

    def start(self, model: MotionModel) -> Any:
        """Cold wing at the start of its motion, in the bay of its plant."""
        return start_of(
            model, self.motion.start, float(np.asarray(model.plant.outside_temperature))
        )

    def model_at(self, case: MotionCase) -> MotionModel:
        """Model at another bay, heater power or friction."""
        parameters = self.problem.assembled.parameters
        model = motion_model(parameters, self.design, self.values, case)
        return model._replace(plant=_as_planned(model.plant, self.plan, parameters))

    def run(self, lanes: list[Lane], course: Course, models: list[MotionModel]) -> Courses:
        """Courses of lanes, each from its cold start."""
        return run_lanes(lanes, course, [self.start(model) for model in models])


def _as_planned(plant: Any, plan: MotionPlan, parameters: Any) -> Any:
    """Plant with lash and damper of a plan, and what its supply gives."""
    supply, alone = parameters["supply"], float(parameters["choices"].assemblies) < 2.0
    share = 1.0 if alone else plan.bus_share
    given = {
        "lash": plan.lash * float(plant.gear_ratio),
        "damping": float(plant.damping) + plan.damper,
        "power_available": share * float(supply.power_available),
        "sag": plan.supply_resistance / float(supply.nominal_voltage) ** 2 / share,
        "at_once": 1.0 if plan.switching != "together" else ALL_AT_ONCE,
        "in_order": float(plan.switching == "one_by_one"),
    }
    return plant._replace(**{name: np.asarray(value) for name, value in given.items()})


def _rise(model: MotionModel, parameters: Any) -> float:
    """What a heater is over its tube at full power and high line, and the margin over that [K]."""
    line = float(parameters["supply"].high_voltage_ratio) ** float(model.plant.voltage_power)
    more = 1.0 + float(parameters["thermal_assumptions"].heater_tolerance_high)
    power = float(np.max(np.asarray(model.plant.heater_power))) * line * more
    return float(power / np.asarray(model.plant.gap)[0]) + CUT_OFF_MARGIN


def make_wing(
    problem: DesignProblem, design: dict[str, Any], values: dict[str, Floats], motion: Motion
) -> Wing:
    """Wing of a design, with its controller by the rule."""
    plan, parameters = problem.study.analysis.motion, problem.assembled.parameters

    def in_parts(parts: int) -> MotionModel:
        found = motion_model(parameters, design, values, MotionCase(motion.leg, parts=parts))
        return found._replace(plant=_as_planned(found.plant, plan, parameters))

    model = in_parts(1)
    moving = model if plan.heater_groups == 1 else in_parts(plan.heater_groups)
    if np.min(np.asarray(moving.plant.count)) < 1.0 - 1e-6:
        least = round(plan.heater_groups * float(np.min(np.asarray(moving.plant.count))))
        what = f"heater_groups: got {plan.heater_groups}, expected at most {least}: tubes of a set"
        refuse(problem, "motion", [what])
    present = np.asarray(parameters["choices"].set_present) > 0.5
    borne = float(np.max(np.asarray(values["sheath_temperature_limit"]).ravel()[: present.size]))
    kelvin_max = min(model.hot_temperature + OVER_HOT, float(parameters["alloy"].temperature_max))
    own = "brake" if float(parameters["choices"].brake) > 0.5 else "heat"
    holds = own if plan.hold_by == "own" else plan.hold_by
    settings = Settings(
        sample=plan.sample, sensor_lag=SENSOR_LAG, angle_noise=ANGLE_NOISE, angle_step=ANGLE_STEP,
        kelvin_noise=KELVIN_NOISE, kelvin_step=KELVIN_STEP, caution=plan.caution,
        cut_off=min(borne - CUT_OFF_MARGIN, kelvin_max + _rise(model, parameters)),
        locks=1.0 if holds == "lock" else 0.0,
        brakes=1.0 if holds == "brake" else 0.0,
        lock_low=min(motion.start, motion.end), lock_high=max(motion.start, motion.end),
    )  # fmt: skip
    group = 0 if motion.end > motion.start or len(np.asarray(model.plant.side)) == 1 else 1
    rule = rule_times(corners_of(model), settings, kelvin_max, group)
    return Wing(problem, design, values, motion, plan, model, moving, settings, rule, kelvin_max)
