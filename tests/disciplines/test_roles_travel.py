"""Who drives a leg, how far the actuator travels, how much each set is twisted."""

import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.records import Choices, Legs, Requirements, Vehicle
from mdo.disciplines.tube.roles import roles
from mdo.disciplines.tube.travel import set_twist, spring_moment_over_travel, travel

from .given import record

LOAD_RETURN, SPRING_RETURN, OPPOSED = 0.0, 1.0, 2.0
UP, DOWN, BOTH = np.array([1.0, 0.0]), np.array([0.0, 1.0]), np.ones(2)


# up, down, a hold under an upward load, a hold under a downward one
LEGS = record(
    Legs,
    direction=np.array([1.0, -1.0, 0.0, 0.0]),
    moves=np.array([1.0, 1.0, 0.0, 0.0]),
    holds=np.array([0.0, 0.0, 1.0, 1.0]),
    airborne=np.zeros(4),
    load_factor=np.ones(4),
    mass_fraction=np.ones(4),
)
MEAN = np.array([5.0, 5.0, 30.0, -30.0])  # [N*m] mean of the envelope of each leg


def who(configuration, present, legs=LEGS, arm=0.0):
    shape = (4, 3)
    low, high = MEAN - 20.0, MEAN + 20.0
    got = roles(
        lift_moment_arm=jnp.full(shape, arm),
        steady_moment_low=jnp.broadcast_to(jnp.asarray(low)[:, None], shape),
        steady_moment_high=jnp.broadcast_to(jnp.asarray(high)[:, None], shape),
        legs=legs,
        vehicle=record(Vehicle, mass_without_actuator=100.0),
        choices=record(Choices, configuration=configuration, set_present=present),
    )
    return {name: np.asarray(value).tolist() for name, value in got._asdict().items()}


def test_each_set_of_a_pair_drives_its_own_way_and_holds_against_the_load():
    assert who(OPPOSED, BOTH) == {
        "pushes_up": [1, 0, 0, 1],
        "heated": [1, 1, 1, 1],
        "returned_by_load": [0, 0, 0, 0],
        "driver_missing": [0, 0, 0, 0],
    }


@pytest.mark.parametrize("configuration", [LOAD_RETURN, SPRING_RETURN])
def test_one_set_up_leaves_the_way_down_to_load_or_spring(configuration):
    got = who(configuration, UP)
    assert got["heated"] == [1, 0, 0, 1]
    assert got["returned_by_load"] == [0, 1, 0, 0]
    assert got["driver_missing"] == [0, 0, 1, 0]  # no set pushes down against the upward load


def test_one_set_down_leaves_the_way_up_to_the_load():
    got = who(LOAD_RETURN, DOWN)
    assert got["heated"] == [0, 1, 1, 0]
    assert got["returned_by_load"] == [1, 0, 0, 0]
    assert got["driver_missing"] == [0, 0, 0, 1]


def test_lift_turns_the_side_of_a_hold():
    # mean of the steady load -30 N*m; lift 100 kg g 1.5 x 0.8 through 0.05 m adds +58.8 N*m,
    # through 0.02 m +23.5 N*m
    legs = LEGS._replace(airborne=np.ones(4), load_factor=np.full(4, 1.5), mass_fraction=0.8)
    assert who(OPPOSED, BOTH)["pushes_up"][3] == 1
    assert who(OPPOSED, BOTH, legs=legs, arm=0.05)["pushes_up"][3] == 0
    assert who(OPPOSED, BOTH, legs=legs, arm=0.02)["pushes_up"][3] == 1


def test_travel_is_the_union_of_what_the_actuator_moves_and_holds_plus_trim():
    legs = record(
        Legs,
        moves=np.array([1.0, 0.0, 0.0]),
        holds=np.array([0.0, 1.0, 0.0]),
        angle_from=np.array([1.0, -0.5, 3.0]),  # the last leg is neither moved nor held
        angle_to=np.array([0.2, -0.5, 3.0]),
    )
    got = travel(legs=legs, requirements=record(Requirements, trim_fraction=0.1))
    assert [float(x) for x in got] == pytest.approx([-0.65, 1.15], rel=1e-15)


def twist(angle, up):
    return np.asarray(
        set_twist(
            fold_angle=jnp.asarray(angle),
            pushes_up=jnp.asarray(up),
            pre_twist=jnp.array([5.0, 4.0]),
            gear_ratio=2.0,
            travel_low=-0.5,
            travel_high=1.5,
        )
    )


def test_each_set_has_its_pre_twist_where_it_starts_to_drive_and_unwinds_by_the_gear_ratio():
    angles = np.array([[-0.5, 0.0, 1.5]])
    assert twist(angles, [[True]])[0] == pytest.approx([5.0, 4.0, 1.0], rel=1e-15)
    assert twist(angles, [[False]])[0] == pytest.approx([0.0, 1.0, 4.0], abs=1e-15)
    # what one set unwinds the other winds: their sum does not change
    assert (twist(angles, [[True]]) + twist(angles, [[False]])).ravel() == pytest.approx([5.0] * 3)


@pytest.mark.parametrize(("side", "wound"), [(1.0, [0.0, 0.5, 2.0]), (-1.0, [2.0, 1.5, 0.0])])
def test_spring_is_wound_from_the_end_where_the_driven_motion_starts(side, wound):
    def moment(configuration):
        return np.asarray(
            spring_moment_over_travel(
                fold_angle=jnp.array([[-0.5, 0.0, 1.5]]),
                choices=record(Choices, configuration=configuration, drive_side=side),
                spring_moment=30.0,
                spring_rate=8.0,
                travel_low=-0.5,
                travel_high=1.5,
            )
        )[0]

    assert moment(SPRING_RETURN) == pytest.approx(30.0 + 8.0 * np.array(wound), rel=1e-15)
    assert moment(LOAD_RETURN).tolist() == moment(OPPOSED).tolist() == [0.0, 0.0, 0.0]
