"""A wing replayed: its course under a heater power that was logged, by inputs that a fit turns.

A plain function of numbers to courses, differentiable forward. Steps are even; the power of a step
is the mean of the log over it, so that no energy is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.motion.branches import cold_start
from mdo.disciplines.motion.records import MotionPlant
from mdo.disciplines.motion.simulate import replay

SIZES = (250, 500, 1000, 2000, 4000)  # steps; replays of one size share compiled code
STEP_MIN = 0.05  # [s]
WIDTH_MIN = 1.0  # [K] between start and finish of a transformation
PLANT = ("gap_factor", "film_factor", "friction_factor", "load_factor", "outside_temperature")
ALLOY = (
    "martensite_start", "martensite_finish", "austenite_start", "austenite_finish",
    "martensite_slope", "austenite_slope", "strain_min", "strain_saturation",
    "strain_rate_constant", "strain_threshold_stress", "detwinning_start_stress",
    "detwinning_finish_stress", "austenite_shear_modulus", "martensite_shear_modulus",
    "strain_factor", "slope_factor", "latent_heat", "specific_heat",
)  # fmt: skip
TURNED = (*ALLOY, *PLANT)


class Inputs(NamedTuple):
    """What drives a replay: plant, power of each step [W] (steps, K), step [s], and the start."""

    plant: MotionPlant
    power: Floats
    step: Any
    angle: Any
    temperature: Any


def replay_inputs(
    plant: MotionPlant, time: Floats, power: Floats, angle: float, temperature: float
) -> tuple[Inputs, Floats]:
    """Inputs of a replay, and the times of its courses [s], (steps + 1,), the start among them.

    Parameters
    ----------
    plant : of the wing
    time, power : samples [s], (N,), from 0, and the power of each group there [W], (N, K)
    angle, temperature : of the wing at rest and of its tubes, which cooled under load, when the log
        begins [rad], [K]
    """
    step, means = stepped(time, power)
    times: Floats = step * np.arange(len(means) + 1.0)
    inputs = Inputs(plant, means, step, angle, temperature)
    whole: Inputs = jax.tree.map(lambda part: np.asarray(part, dtype=float), inputs)
    return whole, times


def replay_function(names: Sequence[str]) -> Callable[[Any, Inputs], dict[str, Any]]:
    """Function of the values of some inputs (P,), and of what drives a replay, to its courses.

    Parameters
    ----------
    names : inputs, of :data:`TURNED`

    Returns
    -------
    Function
        To fold angle [rad] and torque [N*m], (steps + 1,), and to the mean temperatures of the
        tubes of each group [K], (steps + 1, K).
    """

    def courses(values: Any, inputs: Inputs) -> dict[str, Any]:
        turned = turned_plant(inputs.plant, dict(zip(names, values, strict=True)))
        start = cold_start(turned, inputs.angle, inputs.temperature, 0.0)
        history = replay(turned, jnp.asarray(inputs.power), start, time_step=inputs.step)
        torque, kelvin = -history.load_moment, history.tube_temperature
        same = jnp.broadcast_to(inputs.temperature, kelvin[:1].shape)
        return {
            "measured_angle": jnp.append(inputs.angle, history.fold_angle),
            "torque": jnp.append(torque[0], torque),
            "tube_temperature": jnp.concatenate([same, kelvin]),
        }

    return courses


def stepped(samples: Floats, power: Floats) -> tuple[float, Floats]:
    """Step [s], and mean power over each step [W], (steps, K); none after the log."""
    end = float(samples[-1])
    wanted = end / max(float(np.median(np.diff(samples))), STEP_MIN)
    steps = next((size for size in SIZES if size >= wanted), SIZES[-1])
    edges = np.linspace(0.0, end, steps + 1)
    time = np.union1d(samples, edges)
    means = []
    for column in power.T:
        course = np.interp(time, samples, column)
        energy = np.concatenate([[0.0], np.cumsum(np.diff(time) * (course[1:] + course[:-1]) / 2)])
        means.append(np.diff(np.interp(edges, time, energy)) / (end / steps))
    return end / steps, np.stack(means, axis=1)


def turned_plant(plant: MotionPlant, inputs: dict[str, Any]) -> MotionPlant:
    """Plant with some inputs at other values; heat that goes with the card goes along."""
    given: Any = plant.alloy
    alloy = given._replace(**{n: v for n, v in inputs.items() if n in ALLOY})
    apart = {
        "martensite_start": jnp.maximum(
            alloy.martensite_start, jnp.asarray(alloy.martensite_finish) + WIDTH_MIN
        ),
        "austenite_finish": jnp.maximum(
            alloy.austenite_finish, jnp.asarray(alloy.austenite_start) + WIDTH_MIN
        ),
    }
    alloy = alloy._replace(**apart)
    latent = jnp.asarray(alloy.latent_heat) / given.latent_heat
    heat = jnp.asarray(alloy.specific_heat) / given.specific_heat
    own = {name: value for name, value in inputs.items() if name in PLANT}
    return plant._replace(
        alloy=alloy,
        cell_latent=latent * plant.cell_latent,
        cell_capacity=heat * plant.cell_capacity,
        **own,
    )
