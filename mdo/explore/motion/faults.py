"""Faults of a moving wing, one at a time: what it does, whether that passes, what to heed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from mdo.explore.motion.commands import Command
from mdo.explore.motion.metrics import WITHIN, stage_figures
from mdo.explore.motion.wing import Wing
from mdo.model.motion_run import Course, Lane, with_spare_tube

WATCHED = 2.0  # of the time of the first command: what is late is told from what never comes
MID = 0.5  # share of the fold time of the healthy wing at which a fault happens that comes later
ASYMMETRY = np.radians(10.0)  # left against right, most that passes: judged, no source
BIAS = np.radians(2.0)  # of the angle sensor
LESS = 2.0 / 3.0  # of its half of the bus that a wing is left with
HOTTER = 30.0  # [K] over the cut-off that a heater may reach while it trips


Change = Callable[[Any, Any, float], tuple[Any, Any, str]]  # of plant, controller, line voltage


def _less_of_the_bus(plant: Any, controller: Any, _: float) -> tuple[Any, Any, str]:
    less = {"power_available": plant.power_available * LESS, "sag": plant.sag / LESS}
    return plant._replace(**less), controller, ""


class Fault(NamedTuple):
    """One fault: its name, what it changes in plant, controller and lane, and its caution."""

    name: str
    change: Change
    caution: str
    both: bool = False  # of both wings alike
    apart: bool = False  # of a wing that has another one


def _spare(values: Any, value: float) -> Any:
    changed = np.array(values, float)
    changed[-1] = value
    return changed


def _all(values: Any, value: float) -> Any:
    return np.full_like(np.asarray(values, float), value)


def _plant(name: str, value: float, *, all_groups: bool = False) -> Change:
    """Change of one field of the plant, of the spare tube unless of all groups."""

    def change(plant: Any, controller: Any, _: float) -> tuple[Any, Any, str]:
        set_to = _all if all_groups else _spare
        return plant._replace(**{name: set_to(getattr(plant, name), value)}), controller, ""

    return change


def _from_middle(name: str) -> Change:
    return lambda plant, controller, middle: (
        plant._replace(**{name: np.asarray(middle)}), controller, "",
    )  # fmt: skip


def _controller(name: str, value: float, *, all_groups: bool = False) -> Change:
    def change(plant: Any, controller: Any, _: float) -> tuple[Any, Any, str]:
        new = _all(getattr(controller, name), value) if all_groups else np.asarray(value)
        return plant, controller._replace(**{name: new}), ""

    return change


def _line(end: str) -> Change:
    return lambda plant, controller, _: (plant, controller, end)


def _no_cut_off(plant: Any, controller: Any, _: float) -> tuple[Any, Any, str]:
    plant = plant._replace(stuck_on=_all(plant.stuck_on, 1.0))
    return plant, controller._replace(cut_off_present=np.asarray(0.0)), ""


FAULTS = (
    Fault("none", _line(""), ""),
    Fault(
        "one heater open", _plant("heater_factor", 0.0),
        "The cold tube drags: the torque margin with one tube failed must cover it.",
    ),
    Fault(
        "one tube broken", _plant("torque_count", 0.0),
        "Debris of the end fitting: keep it out of gears and lock.",
    ),
    Fault(
        "one heater stuck on", _plant("stuck_on", 1.0),
        "The cut-off needs a sensor and a switch of its own, not the failed one.",
    ),
    Fault(
        "all heaters stuck on, no cut-off", _no_cut_off,
        "Without an independent cut-off a stuck switch overheats tube and heater: stop.",
    ),
    Fault(
        "temperature sensors read the bay", _controller("kelvin_gain", 0.0, all_groups=True),
        "An open sensor must read as hot, or be checked against the power of the heater.",
    ),
    Fault(
        "angle sensor off by 2 deg", _controller("angle_bias", BIAS),
        "Compare left and right, and the end switches.",
    ),
    Fault(
        "angle sensor dead", _controller("angle_gain", 0.0),
        "A dead sensor must stop the heat; end switches must not rely on it.",
    ),
    Fault("bus at its lowest voltage", _line("low"), "Heating grows as 1/V squared.", both=True),
    Fault(
        "other wing takes two thirds of the bus", _less_of_the_bus,
        "Wings that are not alike fold apart: compare their angles, hold the faster one.",
        apart=True,
    ),
    Fault("bus at its highest voltage", _line("high"), "Heater flux and sheath at high line.",
          both=True),
    Fault(
        "supply lost in mid-travel", _from_middle("dead_from"),
        "Without a lock or brake the wing moves as the tubes cool: uncommanded motion.", both=True,
    ),
    Fault(
        "panel jams in mid-travel", _from_middle("jammed_from"),
        "Torque of a blocked tube rises with its temperature: limit it, stop the heat.",
    ),
)  # fmt: skip


def _longer(course: Course, end: float) -> Course:
    """Course of the first command, watched for longer: it stays as it is, loads go on as before."""
    steps = round(end / course.step)
    place = np.arange(round(WATCHED * end / course.step))
    stays, goes_on = np.minimum(place, steps - 1), place % steps
    asked = {name: getattr(course, name)[stays] for name in ("angle", "rate", "way", "rests")}
    given = {name: getattr(course, name)[goes_on] for name in ("air", "mass", "voltage")}
    return course._replace(**asked, **given)


def run_faults(wing: Wing, command: Command, healthy_time: float) -> list[dict[str, Any]]:
    """One row for every fault, over the first stage of a command."""
    model = with_spare_tube(wing.moving)
    controller, supply = wing.controller(model), wing.problem.assembled.parameters["supply"]
    stage = command.stages[0]
    watched = stage._replace(end=WATCHED * stage.end)
    course = _longer(command.course, stage.end)
    middle = MID * (healthy_time if np.isfinite(healthy_time) else stage.end)
    lines = {"low": float(supply.low_voltage_ratio), "high": float(supply.high_voltage_ratio)}
    parameters = wing.problem.assembled.parameters
    alone = float(parameters["choices"].assemblies) < 2.0  # on a bench: nothing to be apart from
    faults = [fault for fault in FAULTS if not (alone and fault.apart)]
    lanes = []
    for fault in faults:
        plant, changed, line = fault.change(model.plant, controller, middle)
        lanes.append(Lane(plant, changed, lines.get(line, 1.0)))
    courses = wing.run(lanes, course, [model] * len(lanes))
    healthy = courses.seen["fold_angle"][0]
    limit = float(parameters["alloy"].temperature_max)
    rows = []
    for place, fault in enumerate(faults):
        seen = {name: values[place] for name, values in courses.seen.items()}
        figures = stage_figures(
            watched, seen["time"], seen["fold_angle"], seen["heater_power"].sum(axis=-1),
            seen["tube_temperature"].max(axis=-1), seen["heater_temperature"].max(axis=-1),
        )  # fmt: skip
        apart = 0.0 if fault.both else float(np.max(np.abs(seen["fold_angle"] - healthy)))
        apart = np.nan if alone else apart
        hot = figures["tube_temperature_peak"] > limit
        over = figures["heater_temperature_peak"] > wing.settings.cut_off + HOTTER
        last = float(seen["fold_angle"][-1])
        arrived = abs(last - stage.target) <= WITHIN
        late = arrived and figures["settling_time"] > stage.end - stage.begin
        reasons = [
            *(["tube hotter than its alloy bears"] if hot else []),
            *(["heater beyond its cut-off"] if over else []),
            *(["wings more than 10 deg apart"] if apart > ASYMMETRY else []),
            *(["does not arrive"] if not arrived else []),
            *([f"late, after {figures['settling_time']:.0f} s"] if late else []),
        ]
        rows.append(
            {
                "fault": fault.name,
                "outcome": f"{'arrives' if arrived else 'ends'} at {np.degrees(last):.1f} deg",
                "verdict": "pass" if not reasons else "fail",
                "reason": "; ".join(reasons),
                "fold_angle_end": last,
                "asymmetry": apart,
                "tube_temperature_peak": figures["tube_temperature_peak"],
                "heater_temperature_peak": figures["heater_temperature_peak"],
                "outer_stress_peak": float(seen["outer_stress"].max()),
                "cut_off_acted": float(seen["tripped"].max()),
                "settling_time": figures["settling_time"],
                "caution": fault.caution,
            }
        )
    return rows
