"""A wing replayed: its course under a heater power that was logged, by inputs that a fit turns.

A plain function of numbers to courses at the samples of a log, differentiable forward. Steps are
even; the power of a step is the mean of the log over it, so that no energy is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.motion.records import MotionPlant
from mdo.disciplines.motion.simulate import calm, replay
from mdo.model.motion import cold_start

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


class Given(NamedTuple):
    """What is known of a log before anything is predicted.

    Attributes
    ----------
    time
        Samples [s], (N,), from 0.
    power
        Power of each group at the samples [W], (N, K).
    angle, temperature
        Of the wing at rest and of its cold tubes when the log begins [rad], [K].
    """

    time: Floats
    power: Floats
    angle: float
    temperature: float


def replay_function(
    plant: MotionPlant, names: Sequence[str], given: Given
) -> Callable[[Any, Any, Any], dict[str, Any]]:
    """Function of the values of some inputs to courses at the samples of a log.

    Parameters
    ----------
    plant : of the design
    names : inputs, of :data:`TURNED`
    given : of the log

    Returns
    -------
    Function
        Of values (P,), power of each step [W] (steps, K) as of :func:`stepped`, and load over that
        of the study [1], to fold angle [rad], torque [N*m] (both (N,)), mean temperatures of the
        tubes of each group [K] (N, K).
    """
    step, power = stepped(given)
    whole = jax.tree.map(jnp.asarray, plant)
    ends = step * jnp.arange(1, len(power) + 1)
    nothing = calm(len(power))

    def courses(values: Any, watts: Any, load: Any) -> dict[str, Any]:
        turned = turned_plant(whole, dict(zip(names, values, strict=True)))
        turned = turned._replace(load_factor=load * turned.load_factor)
        wound = turned._replace(outside_temperature=whole.outside_temperature)
        start = cold_start(wound, given.angle, given.temperature)
        start = start._replace(bay=jnp.asarray(turned.outside_temperature, float))
        history = replay(turned, watts, nothing, start, time_step=step)
        time = jnp.concatenate([jnp.zeros(1), ends])

        def at_samples(course: Any, first: Any) -> Any:
            return jnp.interp(given.time, time, jnp.concatenate([jnp.reshape(first, 1), course]))

        groups = range(history.tube_temperature.shape[1])
        kelvin = [at_samples(history.tube_temperature[:, k], given.temperature) for k in groups]
        torque = -history.load_moment
        return {
            "measured_angle": at_samples(history.fold_angle, given.angle),
            "torque": at_samples(torque, torque[0]),
            "tube_temperature": jnp.stack(kelvin, axis=1),
        }

    return courses


def stepped(given: Given) -> tuple[float, Floats]:
    """Step [s], and mean power over each step [W], (steps, K); none after the log."""
    end = float(given.time[-1])
    wanted = end / max(float(np.median(np.diff(given.time))), STEP_MIN)
    steps = next((size for size in SIZES if size >= wanted), SIZES[-1])
    edges = np.linspace(0.0, end, steps + 1)
    time = np.union1d(given.time, edges)
    power = []
    for column in given.power.T:
        course = np.interp(time, given.time, column)
        energy = np.concatenate([[0.0], np.cumsum(np.diff(time) * (course[1:] + course[:-1]) / 2)])
        power.append(np.diff(np.interp(edges, time, energy)) / (end / steps))
    return end / steps, np.stack(power, axis=1)


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
