"""The analysis `motion`: the sized actuator folds the wing in time, also over units that differ."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from mdo.explore.exploration import Exploration, Say, refuse
from mdo.explore.motion.beside_sizing import beside_sizing
from mdo.explore.motion.commands import Command, Motion, lane_figures, make_command, motion_of
from mdo.explore.motion.faults import run_faults
from mdo.explore.motion.wing import Wing, drawn_units, make_wing, unit_of
from mdo.model.motion_run import Courses, Lane
from mdo.optimise.problem import DesignProblem

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

Sizing = Callable[[DesignProblem, Say], "Appraisal"]
POINTS = 1500  # of the courses that are kept, most
ALIKE = 0.5  # share of the bus of two wings that are alike


def run_motion(problem: DesignProblem, size: Sizing, say: Say) -> Exploration:
    """Size the actuator, fold its wing by the command of the plan, and judge what it does.

    Parameters
    ----------
    problem : the study
    size : gives its design in whole tubes, sized for this or before
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan of the study does not serve.
    """
    motion = check(problem)
    plan, seed = problem.study.analysis.motion, problem.study.seed
    appraisal = size(problem, say)
    design, known = dict(appraisal.design), dict(appraisal.values)
    feasible = appraisal.optimum is not None and appraisal.optimum.feasible
    say("Motion: controller by its rule")
    wing = make_wing(appraisal.problem, design, known, motion)
    command = make_command(plan, motion, seed)
    say("Motion: the nominal fold")
    courses = wing.run([Lane(wing.moving.plant, wing.controller())], command.course, [wing.moving])
    stages = _stages(command, courses)
    tables = {
        "motion_course": _course(courses, wing),
        "motion_stages": stages,
        "motion_branches": _branches(wing),
        "motion_loops": pd.DataFrame([state._asdict() for state in wing.rule.states]),
        "motion_facts": _facts(wing, courses, feasible),
    }
    say("Motion: beside sizing")
    tables["motion_sizing"] = pd.DataFrame(beside_sizing(wing))
    if plan.faults:
        say("Motion: faults")
        healthy = float(stages["settling_time"].iloc[0])
        tables["motion_faults"] = pd.DataFrame(run_faults(wing, command, healthy))
    if plan.scatter:
        say(f"Motion: {plan.scatter} folds over the scatter of units")
        tables["motion_units"], tables["motion_spread"] = run_scatter(wing, command, seed)
    return Exploration("motion", problem, tables, {"feasible" if feasible else "infeasible": 1},
                       facts=f"{appraisal.origin}, {appraisal.mass:.4g} kg")  # fmt: skip


def check(problem: DesignProblem) -> Motion:
    """Refuse a plan that does not serve.

    Raises
    ------
    StudyError
        With every problem of it.
    """
    plan, assembled = problem.study.analysis.motion, problem.assembled
    motion = motion_of(assembled.legs, assembled.parameters["legs"], plan.case)
    if motion is None:
        known = ", ".join(dict.fromkeys(leg.case for leg in assembled.legs))
        what = "no case is moved by the actuator" if plan.case is None else f"got {plan.case!r}"
        refuse(problem, "motion", [f"case: {what}, expected one that folds, of: {known}"])
        raise AssertionError
    legs = assembled.parameters["legs"]
    counts = np.asarray(legs.moves) + np.asarray(legs.holds) > 0.5
    ends = np.array([legs.angle_from, legs.angle_to], float)[:, counts]
    low, high = float(ends.min()), float(ends.max())
    trim = float(assembled.parameters["requirements"].trim_fraction) * (high - low)
    low, high = low - trim, high + trim
    asked = {"target": plan.target}
    asked |= {f"schedule[{n}]": angle for n, (_, angle) in enumerate(plan.schedule)}
    faults = [
        f"{name}: got {np.degrees(angle):.4g} deg, expected an angle within the travel, "
        f"{np.degrees(low):.4g} to {np.degrees(high):.4g} deg"
        for name, angle in asked.items()
        if angle is not None and not low - 1e-9 <= angle <= high + 1e-9
    ]
    if plan.command == "schedule" and not plan.schedule:
        faults.append('schedule: missing, expected times and angles for command = "schedule"')
    times = [time for time, _ in plan.schedule]
    if any(later <= earlier for earlier, later in pairwise(times)):
        faults.append("schedule: times must rise")
    if float(assembled.parameters["choices"].assemblies) < 2.0 and plan.bus_share != ALIKE:
        faults.append(
            f"bus_share: got {plan.bus_share:g}, but a bench has one assembly: leave it out"
        )
    if plan.switching != "together" and plan.heater_groups < 2:
        faults.append(f"heater_groups: got 1, expected 2 or more for {plan.switching!r}")
    refuse(problem, "motion", faults)
    return motion


def _stages(command: Command, courses: Courses) -> pd.DataFrame:
    return pd.DataFrame(
        {"stage": stage.name, "stage_from": stage.start, "stage_to": stage.target,
         "begin": stage.begin, "end": stage.end, **lane_figures(stage, courses.seen)}
        for stage in command.stages
    )  # fmt: skip


def _course(courses: Courses, wing: Wing) -> pd.DataFrame:
    """Course of the nominal fold, thinned for the page."""
    seen = {name: values[0] for name, values in courses.seen.items()}
    names = _names(wing)
    columns: dict[str, Any] = {"time": seen["time"], "commanded_angle": courses.commanded}
    for name, values in seen.items():
        if values.ndim == 1 and name not in columns:
            columns[name] = values
        elif values.ndim > 1:
            columns |= {f"{name}.{side}": values[:, k] for k, side in enumerate(names)}
    every = max(1, -(-len(seen["time"]) // POINTS))
    return pd.DataFrame(columns).iloc[every - 1 :: every].reset_index(drop=True)


def _names(wing: Wing) -> list[str]:
    """Names of the groups: of their set, and numbered where it has several."""
    sides = [
        {1.0: "up", -1.0: "down"}[side] for side in np.asarray(wing.moving.plant.side).tolist()
    ]
    if wing.plan.heater_groups == 1:
        return sides
    return [f"{side} {sides[: k + 1].count(side)}" for k, side in enumerate(sides)]


def _branches(wing: Wing) -> pd.DataFrame:
    tables = wing.moving.branches
    columns: dict[str, Any] = {"fold_angle": tables.angle}
    for k, side in enumerate(_names(wing)):
        columns |= {f"kelvin_heating.{side}": tables.heating[k],
                    f"kelvin_cooling.{side}": tables.cooling[k],
                    f"missed.{side}": tables.missed[k]}  # fmt: skip
    return pd.DataFrame(columns)


def _facts(wing: Wing, courses: Courses, feasible: bool) -> pd.DataFrame:
    rule, ledger = wing.rule, courses.ledger
    gains = [state.gain_margin for state in rule.states]
    phases = [state.phase_margin for state in rule.states]
    unstable = sum(g < 6.0 or p < 30.0 for g, p in zip(gains, phases, strict=True))
    facts = {
        "position_time": rule.times[1],
        "temperature_time": rule.times[0],
        "gain_margin": min(gains),
        "phase_margin": min(phases),
        "loop_states": float(len(gains)),
        "loop_states_short": float(unstable),
        "energy_given": float(ledger["given"][0]),
        "energy_lost": float(ledger["lost"][0]),
        "energy_stored": float(ledger["stored"][0]),
        "work_of_tubes": -float(ledger["work"][0]),
        "ledger_residual": float(ledger["residual"][0]),
        "step_residual": float(courses.seen["residual"].max()),
        "feasible": float(feasible),
        "cut_off": float(wing.settings.cut_off),
        "kelvin_max": float(wing.kelvin_max),
        "windup": float(wing.model.plant.compliance),
    }
    return pd.DataFrame({"fact": list(facts), "value": list(facts.values())})


SHOWN = (
    "arrival_time", "settling_time", "overshoot", "steady_error", "hold_power_mean", "energy",
    "tube_temperature_peak", "heater_temperature_peak",
)  # fmt: skip
QUANTILES = (0.0, 0.05, 0.5, 0.95, 1.0)


def run_scatter(wing: Wing, command: Command, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Figures of every unit and stage, and their quantiles over the units."""
    units = drawn_units(wing.plan.scatter, seed)
    models = [unit_of(wing.moving, unit) for unit in units.to_dict("records")]
    controller = wing.controller()
    lanes = [
        Lane(model.plant, controller, 1.0 + float(voltage))
        for model, voltage in zip(models, units["voltage"], strict=True)
    ]
    seen = wing.run(lanes, command.course, models).seen
    rows = []
    for place, unit in enumerate(units.to_dict("records")):
        for stage in command.stages:
            figures = lane_figures(stage, seen, place)
            rows.append({"unit": place, "stage": stage.name, **unit, **figures})
    units_table = pd.DataFrame(rows)
    spread = [
        {"stage": stage, "quantity": name, "missing": float(part[name].isna().mean()),
         **{f"quantile_{round(100 * q)}": float(part[name].quantile(q)) for q in QUANTILES}}
        for stage, part in units_table.groupby("stage", sort=False)
        for name in SHOWN
    ]  # fmt: skip
    return units_table, pd.DataFrame(spread)
