"""A wing that goes past its command says why, where the branch of the set that drives says it."""

import numpy as np
import pandas as pd
import pytest

from mdo.report.words.motion import _why_past

ANGLE = np.radians(np.arange(0.0, 91.0, 10.0))


def said(kelvin, set_, past=4.5, stage=(0.0, 90.0)):
    start, end = np.radians(stage)
    row = {"stage_from": start, "stage_to": end, "overshoot": np.radians(past)}
    branches = pd.DataFrame({"fold_angle": ANGLE, f"kelvin_heating.{set_}": kelvin})
    return list(_why_past(row, branches))


@pytest.mark.parametrize(("set_", "stage"), [("up", (0.0, 90.0)), ("up 1", (0.0, 90.0)),
                                             ("down", (90.0, 0.0))])  # fmt: skip
def test_a_branch_that_leans_back_is_named_with_its_fall(set_, stage):
    # 470 K at its top, 30 deg on the way, and 2 K less with every 10 deg after: 12 K at the end
    kelvin = 470.0 - 2.0 * np.maximum(np.arange(10.0) - 3.0, 0.0)
    kelvin -= np.maximum(3.0 - np.arange(10.0), 0.0)
    if set_ == "down":
        kelvin = kelvin[::-1]
    told = said(kelvin, set_, stage=stage)[0]
    assert "It goes 4.5 deg past" in told
    assert f"from {60 if set_ == 'down' else 30} deg on" in told
    assert "12.0 K colder" in told


def test_nothing_is_said_of_a_small_overshoot_or_a_branch_that_rises():
    assert said(470.0 - np.arange(10.0), "up", past=2.9) == []
    assert said(470.0 + np.arange(10.0), "up") == []
