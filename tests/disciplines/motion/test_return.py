"""A trained tube that cools where no load is comes back less far than the load of each angle says.

Its strain is laid down piece by piece, under the load of the angle that it has then.
"""

import jax
import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from mdo.disciplines.motion.simulate import replay
from tests.disciplines.motion_plants import CELLS, REF1, hot_state, tube_plant

RISE = 60.0  # [N*m/rad] of the load over the angle, none where the tube is hot
STEPS = 6000
TRAINED = 0.012  # strain that training alone gives, of tension
RUN = jax.jit(lambda plant, start: replay(
    plant, np.zeros((STEPS, 1)), start, time_step=0.25
))  # fmt: skip
ROOT3 = 3.0**0.5


@pytest.fixture(scope="module")
def plant():
    """Every cell at one radius, so that one stress holds for all of the wall."""
    return tube_plant(
        alloy=REF1._replace(strain_min=TRAINED), wall_ratio=np.ones(CELLS),
        load_steady=np.array([-4.0 * RISE, 0.0, 0.0]),
    )  # fmt: skip


def laid(stress, alloy):
    # Lagoudas et al. 2012 (from memory): H = H_min + (H_sat - H_min)(1 - exp(-k (s - s_c)))
    over = max(ROOT3 * stress - alloy.strain_threshold_stress, 0.0)
    span = alloy.strain_saturation - alloy.strain_min
    whole = alloy.strain_min + span * (1.0 - np.exp(-alloy.strain_rate_constant * over))
    return ROOT3 * alloy.strain_factor * whole


def stress_of(twist, plant):
    return RISE * twist / float(plant.torque_per_stress)


def test_it_turns_back_as_far_as_strain_laid_down_along_the_way_gives(plant):
    alloy, end = plant.alloy, float(plant.strain_per_twist)
    shear = alloy.martensite_shear_modulus, alloy.austenite_shear_modulus

    def twist_of(strain, fraction):
        soft = fraction / shear[0] + (1.0 - fraction) / shear[1]
        return strain / (end - soft * RISE / float(plant.torque_per_stress))

    found = solve_ivp(
        lambda xi, strain: [laid(stress_of(twist_of(strain[0], xi), plant), alloy)],
        (0.0, 1.0), [0.0], rtol=1e-8,
    )  # fmt: skip
    along = float(twist_of(found.y[0, -1], 1.0))
    at_once = brentq(
        lambda twist: twist - float(twist_of(laid(stress_of(twist, plant), alloy), 1.0)), 0.5, 4.0
    )
    history = RUN(plant, hot_state(plant, 430.0))
    turned = -float(history.fold_angle[-1])
    assert float(history.martensite[-1, 0]) == pytest.approx(1.0, abs=1e-6)
    assert turned == pytest.approx(along, rel=5e-3)  # steps of 1 s: 2 %
    assert along < 0.8 * at_once  # what the load of each angle would give of a tube cooled there
