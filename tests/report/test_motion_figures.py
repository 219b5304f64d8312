"""Figures of a motion: every heater group is drawn, and units that are all alike make one bar."""

import numpy as np
import pandas as pd
import pytest

from mdo.report.pages.exploration_motion import (
    even_times,
    history_figure,
    sides_of,
    spread_figure,
)

GROUPS = ("up 1", "up 2")


@pytest.fixture(scope="module")
def course():
    count = 5
    columns = {name: np.arange(count, dtype=float) for name in ("time", "fold_angle")}
    columns |= {"commanded_angle": np.ones(count), "bay_temperature": np.full(count, 300.0)}
    for group in GROUPS:
        for name in ("tube_temperature", "heater_temperature", "heater_power"):
            columns[f"{name}.{group}"] = np.full(count, 350.0)
    return pd.DataFrame(columns)


def test_every_heater_group_is_drawn_by_its_name(course):
    stages = pd.DataFrame({"begin": [0.0], "end": [5.0]})
    drawn = {trace.name for trace in history_figure(course, stages).data}
    assert sides_of(course) == list(GROUPS)
    for what in ("tubes", "heaters", "power"):
        assert {f"{what}, up set, group 1", f"{what}, up set, group 2"} <= drawn


@pytest.mark.parametrize("values", [[0.0] * 9, [440.0] * 9, [0.1, 0.2, 0.9], [np.nan, 3.0]])
def test_bars_hold_all_units_and_are_narrow(values):
    figure = spread_figure(pd.DataFrame({"one": values}), [("one", "one (K)", 1.0, 273.15)])
    shown = np.array(values)[np.isfinite(values)] - 273.15
    bins, axis = figure.data[0].xbins, figure.layout.xaxis.range
    assert bins.start <= shown.min()
    assert shown.max() <= bins.end
    assert axis[0] <= bins.start
    assert bins.size <= (axis[1] - axis[0]) / 20.0


@pytest.mark.parametrize(
    ("end", "step"), [(1600.0, 20.0), (1643.0, 50.0), (75.0, 1.0), (0.9, 0.02)]
)
def test_ticks_of_the_slider_are_round(end, step):
    # by hand: the least of 1, 2, 5, ... that fills the course in 80 steps
    times = even_times(end)
    np.testing.assert_allclose(np.diff(times), step)
    assert times[0] == 0.0
    assert end - step < times[-1] <= end + 1e-9
    assert len(times) <= 81
