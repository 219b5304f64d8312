"""Static cases: the same loads as a leg in that state, lock by hand."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.environment import environment
from mdo.disciplines.levels import LEVELS, Levels, level_functions
from mdo.disciplines.loads.assembly import assemble_rows
from mdo.disciplines.loads.lattice import lattice_loads_of_rows
from mdo.disciplines.loads.panel_inertia import inertial_envelope
from mdo.disciplines.loads.statics import lock, static_environment
from mdo.disciplines.loads.strip import strip_aerodynamics, strip_loads
from mdo.disciplines.loads.table import table_loads
from mdo.disciplines.records import Legs, Statics

from . import panel_case as case

LEGS = case.LEGS
COUNT = np.asarray(LEGS.mach).size
ANGLES = np.linspace(-0.5, 1.2, 4) + np.zeros((COUNT, 1))
# the same states, held at one angle each
STATICS = Statics(LEGS._replace(angle_from=np.linspace(-0.4, 1.0, COUNT)))
HELD = np.asarray(STATICS.state.angle_from)[:, None] + np.zeros((1, 4))
RECORDS = {"planform": case.PLANFORM, "vehicle": case.VEHICLE, "aero": case.AERO}


def alone(legs, angles):
    air = environment(legs=legs)
    panel = strip_aerodynamics(**RECORDS, mach=legs.mach, airborne=legs.airborne, fold_angle=angles)
    return assemble_rows(
        panel, legs, *RECORDS.values(), air_density=air.air_density,
        true_airspeed=air.true_airspeed, fold_angle=angles,
    )  # fmt: skip


def test_statics_and_legs_have_the_loads_of_their_states():
    together = jax.jit(
        lambda angles: strip_loads(legs=LEGS, statics=STATICS, fold_angle=angles, **RECORDS)
    )(jnp.asarray(ANGLES))
    moving, held = (jax.jit(alone)(LEGS, jnp.asarray(a)) for a in (ANGLES, HELD))
    for name, value in moving._asdict().items():
        assert np.asarray(getattr(together, name)) == pytest.approx(np.asarray(value), rel=1e-12)
    pairs = {
        "static_lift_arm": held.lift_moment_arm,
        "static_moment_low": held.steady_moment_low,
        "static_moment_high": held.steady_moment_high,
    }
    for name, value in pairs.items():
        assert np.asarray(getattr(together, name)) == pytest.approx(
            np.asarray(value)[:, 0], rel=1e-12
        )


def test_table_moments_reach_legs_and_statics_apart():
    rng = np.random.default_rng(3)
    low, high = np.sort(rng.uniform(-50.0, 50.0, (2, COUNT, 4)), axis=0)
    static_low, static_high = np.sort(rng.uniform(-50.0, 50.0, (2, COUNT)), axis=0)
    strip = jax.jit(alone)(LEGS, jnp.asarray(HELD))
    arguments = {
        "legs": LEGS,
        "statics": STATICS,
        "fold_angle": jnp.asarray(ANGLES),
        "table_moment_low": low,
        "table_moment_high": high,
        "static_table_low": static_low,
        "static_table_high": static_high,
    }
    got = jax.jit(lambda given: table_loads(**given, **RECORDS))(arguments)
    band = jax.jit(inertial_envelope)
    moved = band(LEGS, case.PLANFORM, case.VEHICLE, jnp.asarray(ANGLES))
    held = band(LEGS, case.PLANFORM, case.VEHICLE, jnp.asarray(HELD))
    assert np.asarray(got.steady_moment_low) == pytest.approx(np.asarray(moved.low) + low)
    assert np.asarray(got.steady_moment_high) == pytest.approx(np.asarray(moved.high) + high)
    low_end, high_end = np.asarray(held.low)[:, 0], np.asarray(held.high)[:, 0]
    assert np.asarray(got.static_moment_low) == pytest.approx(low_end + static_low)
    assert np.asarray(got.static_moment_high) == pytest.approx(high_end + static_high)
    assert np.asarray(got.static_lift_arm).tolist() == [0.0] * COUNT
    assert np.abs(np.asarray(strip.lift_moment_arm)).max() > 0.0


def test_every_level_of_the_loads_is_reached():
    functions = {"strip": strip_loads, "lattice": lattice_loads_of_rows, "table": table_loads}
    assert set(LEVELS["hinge_moment"]) == set(functions)
    for name, function in functions.items():
        assert level_functions(Levels(hinge_moment=name)).hinge_moment.loads is function


def states(**given):
    values = {"airborne": [1.0, 0.0, 1.0], "load_factor": [3.0, 1.0, -1.0],
              "mass_fraction": [0.9, 1.0, 0.9], "locked": [1.0, 1.0, 0.0],
              "safety_factor": [1.5, 1.4, 1.5]}  # fmt: skip
    blank = dict.fromkeys(Legs._fields, np.zeros(3))
    return Statics(Legs(**blank | {k: np.array(v) for k, v in (values | given).items()}))


def test_lock_carries_the_ultimate_of_the_larger_end_of_the_envelope():
    arm = np.array([0.02, 0.02, 0.01])
    low, high = np.array([-30.0, -80.0, -5.0]), np.array([40.0, 60.0, 15.0])
    got = lock(
        vehicle_mass=1000.0,
        static_lift_arm=arm,
        static_moment_low=low,
        static_moment_high=high,
        statics=states(),
    )
    lift = 9.80665 * 1000.0 * np.array([2.7, 0.0, -0.9])
    held = np.maximum(np.abs(arm * lift + low), np.abs(arm * lift + high))
    assert np.asarray(got.static_held_moment) == pytest.approx(held, rel=1e-4)
    assert np.all(np.asarray(got.static_held_moment) >= held)
    by_hand = held * np.array([1.5, 1.4, 0.0])
    assert np.asarray(got.lock_moment) == pytest.approx(by_hand, rel=1e-4)


def test_heavier_vehicle_loads_only_the_locks_in_the_air():
    def moments(mass):
        got = lock(
            vehicle_mass=mass,
            static_lift_arm=jnp.full(3, 0.02),
            static_moment_low=jnp.zeros(3),
            static_moment_high=jnp.zeros(3),
            statics=states(),
        )
        return got.lock_moment

    slope = np.asarray(jax.jacfwd(moments)(1000.0))
    assert slope == pytest.approx([1.5 * 0.02 * 9.80665 * 2.7, 0.0, 0.0], rel=1e-4, abs=1e-12)


def test_soak_temperature_is_the_hot_bay_of_a_soak():
    got = static_environment(
        statics=states(
            soak=[1.0, 0.0, 0.0],
            soak_temperature=[344.0, 0.0, 0.0],
            bay_prescribed=[1.0, 1.0, 1.0],
            bay_hot=[300.0, 323.0, 310.0],
        )
    )
    assert np.asarray(got.static_bay_hot) == pytest.approx([344.0, 323.0, 310.0], rel=1e-12)
