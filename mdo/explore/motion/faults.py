"""Faults of a moving wing, one at a time: what it does, whether that passes, what to heed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.data_files import toml_beside
from mdo.explore.motion.commands import WITHIN, Command, lane_figures
from mdo.explore.motion.wing import Wing
from mdo.model.motion_run import Course, Lane, with_spare_tube

WATCHED = 2.0  # of the time of the first command: what is late is told from what never comes
MID = 0.5  # share of the fold time of the healthy wing at which a fault happens that comes later
ASYMMETRY = np.radians(10.0)  # left against right, most that passes: judged, no source
HOTTER = 30.0  # [K] over the cut-off that a heater may reach while it trips


class Fault(NamedTuple):
    """One fault and its caution.

    What it sets: fields of the plant, of one tube by itself (tube), of the wing (wing), times what
    they were (times), or to the time in mid-travel (begins); fields of the controller (control);
    end of the bus voltage (line). both: of both wings alike; apart: of a wing that has another.
    """

    name: str
    caution: str = ""
    tube: Mapping[str, float] = {}
    wing: Mapping[str, float] = {}
    times: Mapping[str, float] = {}
    begins: str = ""
    control: Mapping[str, float] = {}
    line: str = ""
    both: bool = False
    apart: bool = False

    def applied(self, plant: Any, controller: Any, middle: float) -> tuple[Any, Any]:
        """Plant, whose last group is the tube by itself, and controller with the fault."""
        begins = {self.begins: middle} if self.begins else {}
        scaled = {name: getattr(plant, name) * by for name, by in self.times.items()}
        one = {name: _set(plant, name, value, -1) for name, value in self.tube.items()}
        whole = {
            name: _set(plant, name, value, ...) for name, value in {**self.wing, **begins}.items()
        }
        control = {n: _set(controller, n, value, ...) for n, value in self.control.items()}
        return plant._replace(**one, **whole, **scaled), controller._replace(**control)


def _set(record: Any, name: str, value: float, at: Any) -> Floats:
    changed = np.array(getattr(record, name), float)
    changed[at] = value
    return changed


FAULTS = tuple(Fault(**entry) for entry in toml_beside(__file__)["fault"])


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
        changed = fault.applied(model.plant, controller, middle)
        lanes.append(Lane(*changed, lines.get(fault.line, 1.0)))
    courses = wing.run(lanes, course, [model] * len(lanes))
    healthy = courses.seen["fold_angle"][0]
    limit = float(parameters["alloy"].temperature_max)
    rows = []
    for place, fault in enumerate(faults):
        seen = {name: values[place] for name, values in courses.seen.items()}
        figures = lane_figures(watched, courses.seen, place)
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
