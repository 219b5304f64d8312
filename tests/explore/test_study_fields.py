"""Lines of a study that a point of a map is written back as."""

import math
from pathlib import Path

import pytest

import mdo
from mdo.explore.exploration import built_table, choices_of, fields_table
from mdo.optimise.axes import axes_of
from mdo.optimise.problem import make_problem
from mdo.report.pages.trade_page import head_and_key
from mdo.study import load_study

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
AXES = {
    "fold_time": ("60 s", "180 s"), "torque_margin": ("10 %", "40 %"),
    "bay_hot": ("40 degC", "58 degC"), "flight_load_factor": (0.9, 1.2),
    "lot_tolerance": ("5 K", "15 K"), "requirements.envelope_height": ("20 mm", "40 mm"),
}  # fmt: skip


@pytest.fixture(scope="module")
def problem():
    return make_problem(load_study(STUDY))


@pytest.fixture(scope="module")
def axes(problem):
    return axes_of(problem, AXES, "axes")


def test_lines_at_both_ends_give_the_study_what_the_axis_does(problem, axes):
    table = fields_table(problem.study, axes)
    assert table.set_index("field").loc["requirements.bay_hot", "unit"] == "degC"
    assert table.set_index("field").loc["requirements.lot_tolerance", "unit"] == "K"
    for axis in axes:
        own = table[table["axis"] == axis.name]
        assert len(own) == len(axis.knob.moves)
        for end, value in (("low", axis.low), ("high", axis.high)):
            lines = {
                line.field: getattr(line, end)
                if line.unit == "1" else f"{getattr(line, end)} {line.unit}"
                for line in own.itertuples()
            }  # fmt: skip
            study = problem.study.with_values(lines)
            found = {one.path: one.value for one in study.inputs}
            left_open = math.isnan(axis.knob.value)
            for move in axis.knob.moves:
                wanted = value if left_open else move.field(value, axis.knob.value)
                assert found[move.path] == pytest.approx(wanted, rel=1e-12)


def test_choice_has_the_lines_in_which_it_differs(problem):
    choices = choices_of(problem, {"cooling": ["passive", "blower"], "topology": ["geared"]}, print)
    built = built_table(problem.study, choices).set_index("choice")
    assert built.loc["cooling passive, topology geared", "lines"] == ""
    assert built.loc["cooling blower, topology geared", "lines"] == 'cooling = "blower"'
    assert set(built["topology"]) == {"geared"}
    assert (built["gear_lanes"] == problem.study.actuator.gear_lanes).all()


@pytest.mark.parametrize(
    ("path", "head", "key"),
    [
        ("requirements.fold_time", "[requirements]", "fold_time"),
        ("assumptions.aero.moment_scale", "[assumptions.aero]", "moment_scale"),
        ("case.stow_wind.load_factor", '[[case]]\nid = "stow_wind"', "load_factor"),
        ("case.stow_wind.return.hold_time", '[[case]]\nid = "stow_wind"', "return.hold_time"),
    ],
)
def test_a_field_stands_under_the_head_of_its_table(path, head, key):
    assert head_and_key(path) == (head, key)
