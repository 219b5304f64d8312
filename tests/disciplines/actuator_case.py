"""A small actuator of two sets for tests: design, legs, loads; all inputs by name, one compile."""

import inspect

import jax
import jax.numpy as jnp
import numpy as np

from mdo.alloys import load_card
from mdo.disciplines.records import Choices, Legs
from mdo.disciplines.tube.uniform import uniform_answer, uniform_demand
from mdo.model.requirements import REQUIREMENTS
from mdo.model.rows import row_of

from .given import record

LOAD_RETURN, SPRING_RETURN, OPPOSED = 0.0, 1.0, 2.0
ALLOY = load_card("ref1").record()
# up and back down; down and back up; a hold by the down set
ANGLES = np.array(
    [
        [0.0, 0.3, 0.7, 1.1, 1.5],
        [1.5, 1.1, 0.7, 0.3, 0.0],
        [0.6, 0.3, 0.0, -0.3, -0.6],
        [-0.6, -0.3, 0.0, 0.3, 0.6],
        [-0.6, -0.6, -0.6, -0.6, -0.6],
    ]
)
SHAPE = ANGLES.shape
UNCERTAINTY = 0.2  # band over the required moment


LEGS = record(
    Legs,
    direction=np.array([1.0, -1.0, -1.0, 1.0, 0.0]),
    moves=np.array([1.0, 1.0, 1.0, 1.0, 0.0]),
    holds=np.array([0.0, 0.0, 0.0, 0.0, 1.0]),
    is_return=np.array([0.0, 1.0, 0.0, 1.0, 0.0]),
    **dict.fromkeys(("other_cold", "other_warmed", "wound_cold"), np.zeros(5)),
    torque_margin_required=np.array([0.25, 0.25, 0.3, 0.1, 0.25]),
)
CHOICES = record(
    Choices, configuration=OPPOSED, drive_side=1.0, set_present=np.ones(2), return_mode=0.0
)
BASE = {
    "tube_outer_radius": 0.006,
    "wall_ratio": 0.4,
    "tube_length": 0.4,
    "tube_count": np.array([6.0, 9.0]),
    "operating_stress": np.array([9e7, 1e8]),
    "gear_ratio": 1.1,
    "pre_twist": np.array([2.9, 2.8]),
    "hot_temperature": 420.0,
    "spring_moment": 40.0,
    "spring_rate": 6.0,
    "fold_angle": ANGLES,
    "travel_low": -0.7,
    "travel_high": 1.6,
    "required_moment": np.array([40.0, 25.0, 80.0, 30.0, 60.0])[:, None] + 10.0 * np.sin(ANGLES),
    "pushes_up": np.array([1.0, 0.0, 0.0, 1.0, 0.0]),
    "heated": np.ones(5),
    "returned_by_load": np.zeros(5),
    "transmission_efficiency": 0.85,
    "drag_efficiency": 0.85,
    "path_strain": np.zeros((5, ANGLES.shape[-1])),
    "path_drag_factor": np.ones((5, ANGLES.shape[-1])),
    "legs": LEGS,
    "choices": CHOICES,
    "alloy": ALLOY,
}
# one set that drives up; the way down is left to load or spring, the hold has no driver
ONE_SET = {
    "choices": CHOICES._replace(configuration=LOAD_RETURN, set_present=np.array([1.0, 0.0])),
    "heated": np.array([1.0, 0.0, 0.0, 1.0, 0.0]),
    "returned_by_load": np.array([0.0, 1.0, 1.0, 0.0, 0.0]),
    "required_moment": np.array([40.0, -50.0, -70.0, 30.0, 60.0])[:, None] + 10.0 * np.sin(ANGLES),
}


ROWS = ("drive_stress", "drive_strain", "failed_stress_row", "failed_strain_row", "load_return")


def only(function, given):
    return {name: given[name] for name in inspect.signature(function).parameters}


@jax.jit
def _run(given):
    drive = uniform_demand(**only(uniform_demand, given))._asdict()
    known = given | drive
    exact = uniform_answer(**only(uniform_answer, known))._asdict()
    rows = {name: row_of(REQUIREMENTS[name], known) for name in ROWS}
    return drive | exact | rows


def inputs(**changes):
    given = BASE | changes
    given.setdefault("moment_band", UNCERTAINTY * np.asarray(given["required_moment"]))
    return jax.tree.map(lambda v: jnp.asarray(v, dtype=float), given)


def run(**changes):
    """Drive, margins and torque rows of the case with changes, as numpy arrays."""
    return {name: np.asarray(value) for name, value in _run(inputs(**changes)).items()}
