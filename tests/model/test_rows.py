"""Which rows count: by legs, holds, configuration, topology and requirements."""

from types import SimpleNamespace

import numpy as np
import pytest

from mdo.disciplines.records import Alloy, Choices, Legs, Planform, Requirements, Statics
from mdo.model.requirements import REQUIREMENTS
from mdo.model.rows import index_rows, row_of
from mdo.model.scales import log_ratio
from mdo.model.situation import situation

FOLD, RETURN, HOLD = 0, 1, 2
ANGLE_COUNT = 4


def record(cls, **given):
    return cls(**dict.fromkeys(cls._fields, 0.0) | given)


LEGS = record(
    Legs,
    moves=np.array([1.0, 1.0, 0.0]),
    holds=np.array([0.0, 0.0, 1.0]),
    is_return=np.array([0.0, 1.0, 0.0]),
    filler=np.zeros(3),
)
STATE = LEGS._replace(
    locked=np.array([1.0, 0.0, 0.0]), soak=np.array([0.0, 1.0, 0.0]), moves=0.0, holds=0.0
)
OPPOSED = {
    "configuration": 2.0, "set_present": np.ones(2), "topology": 2.0, "tubes_failed": 0.0,
    "brake": 0.0, "return_mode": 0.0, "assemblies": 2.0,
}  # fmt: skip


def counted(
    heated=(1, 1, 1), by_load=(0, 0, 0), *, life_law=0.0, envelope=1e6, legs=LEGS, state=STATE,
    **choices,
):  # fmt: skip
    """Labels of the rows that count."""
    parameters = {
        "legs": legs,
        "statics": Statics(state),
        "choices": record(Choices, **(OPPOSED | choices)),
        "alloy": record(Alloy, life_law=life_law),
        "requirements": record(Requirements, envelope_height=envelope, envelope_length=1e6),
    }
    where = situation(parameters, np.array(heated, float), np.array(by_load, float))
    index = index_rows(tuple(REQUIREMENTS), where, leg_count=3, angle_count=ANGLE_COUNT)
    assert len(index.labels) == index.counts.size
    chosen = [label for label, use in zip(index.labels, index.counts, strict=True) if use]
    return {name: [one for one in chosen if one.group == name] for name in tuple(REQUIREMENTS)}


def legs_of(labels):
    return sorted({label.leg for label in labels})


def test_pair_is_driven_in_every_leg_and_angle():
    got = counted()
    places = {(label.leg, label.angle) for label in got["drive_strain"]}
    moving = {(leg, angle) for leg in (FOLD, RETURN) for angle in range(ANGLE_COUNT)}
    assert places == moving | {(HOLD, 0)}  # copies of the one angle of a hold do not count
    assert got["load_return"] == got["failed_strain_row"] == []
    assert legs_of(got["overrun"]) == [FOLD, RETURN]
    assert legs_of(got["fold_time_row"]) == [FOLD]
    assert legs_of(got["return_time_row"]) == legs_of(got["return_heat_row"]) == [RETURN]
    assert legs_of(got["return_temperature"]) == [RETURN]
    assert legs_of(got["self_start"]) == [FOLD, RETURN, HOLD]
    assert legs_of(got["power_reserve"]) == [FOLD, RETURN, HOLD]
    assert [label.side for label in got["strength"]] == [0, 1]


def test_one_set_that_drives_down_is_checked_on_its_own_legs_and_its_return_on_the_load():
    got = counted(heated=(1, 0, 1), by_load=(0, 1, 0), configuration=0.0,
                  set_present=np.array([0.0, 1.0]))  # fmt: skip
    assert legs_of(got["drive_strain"]) == [FOLD, HOLD]
    assert legs_of(got["load_return"]) == legs_of(got["return_time_row"]) == [RETURN]
    assert got["return_heat_row"] == []
    assert [label.side for label in got["strength"]] == [1]
    assert legs_of(got["driver"]) == [FOLD, RETURN, HOLD]


def test_retwist_mode_adds_its_times_in_one_row():
    assert counted(return_mode=1.0)["return_heat_row"] == []
    assert counted(return_mode=0.0)["return_heat_row"] != []


@pytest.mark.parametrize(("choice", "row"), [
    ({"tubes_failed": 1.0}, "failed_strain_row"),
    ({"tubes_failed": 1.0}, "failed_stress_row"),
    ({"topology": 3.0}, "plated_gate"),
    ({"topology": 1.0}, "nested_gate"),
    ({"envelope": 0.2}, "envelope_height_row"),
])  # fmt: skip
def test_choice_switches_its_row_on(choice, row):
    assert counted()[row] == []
    assert counted(**choice)[row] != []


def test_brake_holds_what_runs_over_and_a_life_law_replaces_the_declared_life():
    assert counted(brake=1.0)["overrun"] == []
    assert counted()["declared_stress"] != []
    law = counted(life_law=1.0)
    assert law["declared_stress"] == law["declared_strain"] == []
    assert len(law["life"]) == 2


def test_static_cases_count_where_they_are_locked_or_soaked():
    assert legs_of(counted()["static_self_start"]) == [0, 1]


# ---- The rows themselves, by hand.


def rows_of(*names, **values):
    """Rows of some requirements, of what they read."""
    return {name: np.asarray(row_of(REQUIREMENTS[name], values)) for name in names}


def rows_of_legs(**changes):
    """Leg 0 folds up, leg 1 returns down (the up set cools), leg 2 holds."""
    given = {
        "pushes_up": np.array([1.0, 0.0, 1.0]),
        "driver_missing": np.array([0.0, 0.0, 1.0]),
        "heat_time": np.array([[40.0, 50.0], [42.0, 55.0], [44.0, 60.0]]),
        "cool_time": np.array([[300.0, 400.0], [310.0, 410.0], [320.0, 420.0]]),
        "power_balance": np.array([[0.1, 0.2], [0.3, 0.4], [0.5, 0.6]]),
        "heater_power": np.array([2000.0, 3000.0]),
        "cooling_finish": np.array([350.0, 360.0]),
        "bay_hot_temperature": np.array([320.0, 322.0, 300.0]),
        "legs": SimpleNamespace(time_limit=np.array([60.0, 600.0, 1.0])),
        "choices": record(Choices, **OPPOSED),
        "requirements": record(
            Requirements, lot_tolerance=10.0, return_gate=10.0, self_start_gate=15.0
        ),
        "alloy": record(Alloy, austenite_start=380.0),
    }
    names = ("fold_time_row", "return_time_row", "return_heat_row", "power_reserve",
             "return_temperature", "self_start", "driver")  # fmt: skip
    return rows_of(*names, **(given | changes))


def test_times_are_those_of_the_set_that_drives_and_of_the_one_that_cools():
    got = rows_of_legs()
    assert got["fold_time_row"][FOLD] == pytest.approx(np.log(60.0 / 40.0))
    assert got["return_time_row"][RETURN] == pytest.approx(np.log(600.0 / 310.0))
    assert got["return_heat_row"][RETURN] == pytest.approx(np.log(600.0 / 55.0))
    assert got["power_reserve"] == pytest.approx([0.1, 0.4, 0.5], rel=1e-15)


def test_times_add_when_a_cold_set_is_twisted_back():
    got = rows_of_legs(choices=record(Choices, **(OPPOSED | {"return_mode": 1.0})))
    assert got["return_time_row"][RETURN] == pytest.approx(np.log(600.0 / 365.0))
    one_set = record(Choices, **(OPPOSED | {"return_mode": 1.0, "configuration": 0.0}))
    assert rows_of_legs(choices=one_set)["return_time_row"][RETURN] == (
        pytest.approx(np.log(600.0 / 310.0))
    )


def test_gates_are_temperatures_over_ten_kelvin():
    got = rows_of_legs()
    # return: Mf' 350 of the up set - lot 10 >= bay 322 + 10; start: As 380 - lot 10 >= bay + 15
    assert got["return_temperature"][RETURN] == pytest.approx((350.0 - 10 - 322 - 10) / 10)
    assert got["self_start"] == pytest.approx([3.5, 3.3, 5.5])
    assert got["driver"].tolist() == [1.0, 1.0, -1.0]
    gate = record(Requirements, lot_tolerance=10.0, self_start_gate=15.0)
    soak = rows_of("static_self_start", static_bay_hot=np.array([360.0]), requirements=gate,
                   alloy=record(Alloy, austenite_start=380.0))  # fmt: skip
    assert soak["static_self_start"] == pytest.approx([-0.5])


def test_logarithm_of_a_ratio_stays_finite():
    assert float(log_ratio(2.0, 1.0)) == pytest.approx(np.log(2.0))
    assert np.isfinite(float(log_ratio(0.0, 0.0)))
    assert float(log_ratio(-1.0, 1.0)) < -20.0


def test_geometry_rows_are_zero_at_their_limits():
    a = SimpleNamespace(
        length_to_diameter_min=5.0, wall_min=0.001, bore_radius_min=0.002,
        bundle_chord_fraction_max=0.6,
    )  # fmt: skip
    needs = record(
        Requirements, length_to_diameter_max=40.0, envelope_height=0.08, envelope_length=0.5
    )
    zero = ("slenderness", "wall", "bore", "bundle_room", "bundle_chord", "envelope_height_row",
            "plated_gate", "nested_gate")  # fmt: skip
    got = rows_of(
        *zero, "stubbiness", "envelope_length_row",
        tube_slenderness=0.24 / 0.006,
        wall_thickness=0.001,
        bore_radius=0.002,
        bundle_length=0.6,
        bundle_height=0.08,
        height_available=0.08,
        parasitic_strain_ratio=1.0,
        nested_bore_radius=0.002,
        planform=record(Planform, fold_chord=1.0, fold_thickness=0.12),
        requirements=needs,
        bundle_assumptions=a,
    )  # fmt: skip
    assert [float(got[name]) for name in zero] == pytest.approx([0.0] * 8, abs=1e-12)
    assert float(got["stubbiness"]) == pytest.approx(np.log(8.0))
    assert float(got["envelope_length_row"]) == pytest.approx(-0.2)


def test_buckling_is_relieved_above_its_wall_ratio_and_nowhere_else():
    a = SimpleNamespace(buckling_wall_ratio=0.1)
    thin, thick = (
        rows_of("buckling", operating_stress=2e8, buckling_stress=1e8, wall_ratio=ratio,
                bundle_assumptions=a)["buckling"] for ratio in (0.1, 0.13)
    )  # fmt: skip
    assert float(thin) == pytest.approx(np.log(0.5))
    assert float(thick) == pytest.approx(np.log(0.5) + 9.0)


def overrun(load, inertia, held=0.0):
    """Row of a load [N*m] on the panel, positive against the motion, that decelerates too."""
    shape = np.broadcast_shapes(np.shape(load), np.shape(inertia))
    full = np.broadcast_to(np.asarray(load, float), shape)[None]
    return rows_of(
        "overrun",
        holding_moment=np.full_like(full, held),
        overrun_moment=full - inertia,
        inertia_moment=np.broadcast_to(inertia, full.shape),
        required_moment=np.full_like(full, 9.0),
        requirements=record(Requirements, overrun_factor=1.25),
    )["overrun"][0]  # fmt: skip


def test_what_runs_over_is_held_with_its_factor_and_its_deceleration():
    # 1.25 (4 + 1) N*m per mean moment 9 + 1
    assert overrun([-4.0], 1.0) == pytest.approx([-0.625])
    assert overrun([-4.0], 1.0, held=6.25) == pytest.approx([0.0], abs=1e-15)


def test_nothing_must_be_held_where_the_load_vanishes_or_resists():
    # a panel lifted upright: its weight has no arm left, its tubes stop it
    assert overrun([0.0, 0.5, 3.0], 1.0) == pytest.approx([0.0, 0.0, 0.25], abs=1e-15)
    # the demand starts from nothing as the load turns, without a jump
    assert overrun([-1e-9, -0.5, -1.0], 1.0) == pytest.approx([0.0, -0.125, -0.25], abs=1e-9)


def test_legs_and_static_cases_that_only_fill_the_arrays_have_no_rows():
    last = np.array([0.0, 0.0, 1.0])
    whole = counted()
    without = counted(
        legs=LEGS._replace(filler=last), state=STATE._replace(filler=1.0 - last, soak=last)
    )
    assert legs_of(whole["drive_stress"]) == legs_of(whole["self_start"]) == [FOLD, RETURN, HOLD]
    assert legs_of(without["static_self_start"]) == [2]
    for name in without.keys() - {"static_self_start"}:
        assert without[name] == [label for label in whole[name] if label.leg != HOLD], name
