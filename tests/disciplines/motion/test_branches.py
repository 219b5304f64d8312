"""Inverse hysteresis of a wing: check case C12, with friction, losses and compliance between."""

import jax
import numpy as np
import pytest

from mdo.disciplines.motion.branches import cold_start, inverse_hysteresis, just_heated
from tests.disciplines.motion_plants import REF1, SECTION, TORQUE, tube_plant

# sma-tubes, C12: twist [deg] at a temperature [K] of the tube under 100 N*m; not 385 K, where the
# branch turns a corner between two angles of the table (found 1.2 K above it)
COOLING = {360: 27.50, 355: 76.66, 350: 130.88, 345: 154.19}
HEATING = {390: 130.49, 395: 76.42, 400: 27.44}
ENDS, RANGE = np.radians([-157.69, -14.0]), np.array([290.0, 430.0])  # cold at 340 K: 157.69 deg
BRANCHES = jax.jit(lambda plant, shift: inverse_hysteresis(plant, ENDS - shift, RANGE, 0.0))
NEAR = 0.15  # [K], an angle of the table is 0.27 K; the most at 345 K, where a branch curves
COMPLIANCE = 4e-10  # [rad/Pa]
STRESS = TORQUE / float(SECTION.area * SECTION.effective_radius)  # mean of the wall [Pa]


def stood(table, found, twists, given_way=0.0):
    """Temperature [K] of a table at hinge angles that leave the tube these twists [deg]."""
    order = np.argsort(found.angle)
    at = -(np.radians(list(twists)) + given_way)
    return np.interp(at, found.angle[order], table[0][order])


def test_both_branches_are_those_of_c12():
    found = jax.tree.map(np.asarray, BRANCHES(tube_plant(), 0.0))
    assert stood(found.heating, found, HEATING.values()) == pytest.approx(list(HEATING), abs=NEAR)
    assert stood(found.cooling, found, COOLING.values()) == pytest.approx(list(COOLING), abs=NEAR)
    assert np.all(np.diff(found.fraction[0]) < 1e-9)  # up: untwisted, as martensite goes
    assert found.missed.max() < 1e-3


def test_friction_losses_and_compliance_leave_the_tube_its_100_newton_metres():
    # a tube that drives gets (load + friction)/0.9, one that is wound (load - friction)/1.2: where
    # either is 100 N*m, its branch is that of C12, at an angle further by what gives way
    angles = np.array([-4.0, 0.0, 4.0])
    friction = 20.0 + 5.0 * angles  # grows along the travel
    given = {"drive_loss": 0.1, "drag_loss": 0.2, "compliance": COMPLIANCE, "friction": friction}
    drives = tube_plant(load_steady=-(0.9 * TORQUE - friction), **given)
    dragged = tube_plant(load_steady=-(1.2 * TORQUE + friction), **given)
    lost = COMPLIANCE * STRESS
    found = jax.tree.map(np.asarray, BRANCHES(drives, lost))
    at = stood(found.heating, found, HEATING.values(), lost)
    assert at == pytest.approx(list(HEATING), abs=NEAR)
    found = jax.tree.map(np.asarray, BRANCHES(dragged, lost))
    at = stood(found.cooling, found, COOLING.values(), lost)
    assert at == pytest.approx(list(COOLING), abs=NEAR)


def test_a_cold_wing_has_one_temperature_and_is_wound_by_what_its_structure_leaves():
    # definition: pre-twist less the turn, less what gives way under the stress of the tubes
    plant, angle = tube_plant(compliance=COMPLIANCE, start_angle=np.array([0.2])), -1.0
    state = cold_start(plant, angle, 300.0, 1.0)
    assert np.all(np.asarray(state.cells) == 300.0)
    assert np.all(np.asarray(state.heater) == 300.0)
    mean = np.sum(np.asarray(plant.wall_share) * state.stress, axis=-1)
    turned = plant.side * plant.gear_ratio * (angle - plant.start_angle)
    wound = plant.strain_per_twist * (plant.pre_twist - turned - COMPLIANCE * mean)
    assert np.all(mean > 1e7)
    np.testing.assert_allclose(state.twist_strain, wound, rtol=1e-6)


def test_a_set_that_has_just_been_heated_is_elastic_austenite_at_its_twist():
    # far above A_f nothing of the winding is left: stress is G_A times the strain, by hand
    plant, hot = tube_plant(pre_twist=np.array([0.3])), 450.0
    cold = cold_start(plant, 0.2, 300.0, 1.0)
    state = just_heated(plant, cold, np.ones(1), hot, 1.0)
    wall = np.asarray(cold.twist_strain)[:, None] * np.asarray(plant.wall_ratio)
    assert np.all(wall > 5e-4)
    np.testing.assert_allclose(state.stress, REF1.austenite_shear_modulus * wall, rtol=1e-6)
    assert np.all(np.asarray(state.cells) == hot)
    assert np.all(np.asarray(state.heater) == hot)
    assert np.abs(np.asarray(state.fraction)).max() < 1e-9
    left = just_heated(plant, cold, np.zeros(1), hot, 1.0)
    assert np.all(np.asarray(left.cells) == 300.0)
    np.testing.assert_array_equal(left.stress, cold.stress)
