"""Figures of a course by closed forms, commands and what is refused."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from mdo.explore.motion.commands import Motion, Stage, history, make_command, stage_figures
from mdo.explore.motion.motion import check
from mdo.optimise.problem import make_problem
from mdo.study import StudyError, study_from_dict

STUDIES = Path(__file__).parents[3] / "studies"
MOVED = Motion(0, 1, 0.0, np.radians(90.0), 100.0, 500.0, in_flight=False)


def study(**plan: Any) -> Any:
    content = tomllib.loads((STUDIES / "bench_500_45_45.toml").read_text(encoding="utf-8"))
    content["study"]["analyses"] = ["motion"]
    content["analysis"] = {"motion": plan}
    return study_from_dict(content, folder=STUDIES)


def figures(angle, time, target=1.0):
    stage = Stage("1", 0.0, target, 0.0, float(time[-1]), 1.0)
    flat = np.full(time.size, 300.0)
    return stage_figures(stage, time, angle, flat, flat, flat)


def test_figures_of_a_first_order_course_are_its_closed_form():
    # TM-27: 1/(lam s + 1), lam 10 s: 10 to 90 % in ln 9 lam = 21.97 s; within 1 deg of 1 rad after
    # lam ln(57.2958)
    time = np.arange(0.1, 300.0, 0.1)
    found = figures(1.0 - np.exp(-time / 10.0), time)
    assert found["rise_time"] == pytest.approx(21.97, rel=5e-3)
    assert found["settling_time"] == pytest.approx(10.0 * np.log(180.0 / np.pi), abs=0.2)
    assert found["arrival_time"] == found["settling_time"]
    assert found["overshoot"] == 0.0
    assert found["energy"] == pytest.approx(300.0 * time[-1], rel=1e-6)


def test_overshoot_of_a_second_order_course_is_its_closed_form():
    # damping 0.5: overshoot exp(-pi 0.5/sqrt(0.75)) = 16.3 % (any text, from memory)
    time = np.arange(0.01, 60.0, 0.01)
    fast = np.sqrt(0.75)
    angle = 1.0 - np.exp(-0.5 * time) * (np.cos(fast * time) + 0.5 / fast * np.sin(fast * time))
    found = figures(angle, time)
    assert found["overshoot"] == pytest.approx(np.exp(-np.pi * 0.5 / fast), rel=1e-3)
    assert found["arrival_time"] < found["settling_time"]


def test_a_course_that_never_arrives_has_no_times():
    time = np.arange(1.0, 100.0)
    found = figures(np.minimum(0.01 * time, 0.5), time)
    assert np.isnan(found["settling_time"])
    assert found["steady_error"] == pytest.approx(-0.5)
    assert found["stalled"] == 1.0


def test_commands_hold_turn_and_repeat():
    holds = make_command(study(command="hold", hold="50 s").analysis.motion, MOVED, 0)
    assert np.allclose([stage.target for stage in holds.stages], np.radians(np.arange(9, 99, 9)))
    cycles = make_command(study(command="cycles", cycles=2, hold="50 s").analysis.motion, MOVED, 0)
    assert [stage.way for stage in cycles.stages] == [1.0, -1.0, 1.0, -1.0]
    turned = make_command(
        study(command="reversal", ramp="20 s", hold="50 s").analysis.motion, MOVED, 0
    )
    assert turned.course.angle.max() == pytest.approx(np.radians(45.0), rel=0.01)
    assert turned.course.angle[-1] == 0.0
    # sizing allows 100 s for the fold: the wing could not be on its way after half of 20 s
    assert turned.course.rate.max() == pytest.approx(np.radians(45.0) / 100.0, rel=0.01)
    ramp = make_command(study(command="ramp", ramp="100 s", hold="50 s").analysis.motion, MOVED, 0)
    assert ramp.course.angle.size == pytest.approx(150.0 / 0.2, abs=1)


def test_histories_stay_within_their_half_width():
    time = np.arange(0.0, 300.0, 0.1)
    for kind in ("none", "limit", "sine", "pulse"):
        assert np.abs(history(kind, time)).max() <= 1.0 + 1e-12


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        ({"target": "80 deg"}, "analysis.motion.target: got 80 deg, expected an angle within"),
        ({"command": "schedule"}, "analysis.motion.schedule: missing"),
        (
            {"command": "schedule", "schedule": [["60 s", "10 deg"], ["60 s", "20 deg"]]},
            "must rise",
        ),
        ({"bus_share": 0.3}, "analysis.motion.bus_share: got 0.3, but a bench has one assembly"),
        ({"switching": "by_turns"}, "analysis.motion.heater_groups: got 1, expected 2 or more"),
        ({"case": "other"}, "analysis.motion.case: got 'other', expected one that folds"),
    ],
)
def test_a_plan_that_does_not_serve_is_refused(plan, said):
    problem = make_problem(study(**plan))
    with pytest.raises(StudyError, match=said):
        check(problem)


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        ({"sample": "0 s"}, "analysis.motion.sample"),
        ({"gust": "storm"}, "analysis.motion.gust"),
        ({"command": "jump"}, "analysis.motion.command"),
        ({"hold_by": "hope"}, "analysis.motion.hold_by"),
        ({"heater_groups": 0}, "analysis.motion.heater_groups"),
        ({"supply_resistance": "-1 ohm"}, "analysis.motion.supply_resistance"),
        ({"damper": "5"}, "analysis.motion.damper"),
    ],
)
def test_a_field_out_of_range_is_refused_with_its_path(plan, said):
    with pytest.raises(StudyError, match=said):
        study(**plan)
