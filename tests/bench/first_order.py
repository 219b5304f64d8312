"""A tube of one heat capacity that folds as it warms: every course in closed form.

``C dT/dt = P - G (T - T_b)`` with power on between two times has exponential courses; the angle
follows the temperature between A_s and A_f. Hand-derived (lumped capacity, any text on heat).
"""

from __future__ import annotations

from typing import Any

import jax.numpy as jnp
import numpy as np

from mdo.bench.log import Log
from mdo.bench.made_log import Faults, made_log
from mdo.bench.replay import Parameter, Replay

ON, OFF, POWER, CAPACITY = 10.0, 160.0, 200.0, 60.0
PARAMETERS = (
    Parameter("film", 1.0, 0.7, 1.4, "W/K", "loss to the bay per kelvin"),
    Parameter("bay", 293.15, 283.15, 303.15, "K", "temperature of the bay"),
    Parameter("austenite_start", 340.0, 325.0, 350.0, "K"),
    Parameter("austenite_finish", 372.0, 360.0, 390.0, "K"),
    Parameter("stroke", 1.5, 1.2, 1.8, "rad"),
)
TRUE = np.array([1.08, 290.0, 336.0, 376.0, 1.55])


def courses(time: Any, values: Any, power: float = POWER) -> dict[str, Any]:
    film, bay, start, finish, stroke = values
    tau = CAPACITY / film

    def since(begin: float) -> Any:
        return 1.0 - jnp.exp(-jnp.maximum(time - begin, 0.0) / tau)

    kelvin = bay + power / film * (since(ON) - since(OFF))
    x = jnp.clip((kelvin - start) / (finish - start), 0.0, 1.0)
    return {
        "tube_temperature": kelvin[:, None],
        "measured_angle": stroke * (1.0 - jnp.cos(jnp.pi * x)) / 2.0,
    }


def log_of(values: Any, faults: Faults, seed: int, samples: int = 600, end: float = 300.0) -> Log:
    time = np.linspace(0.0, end, samples)
    made = {name: np.asarray(course) for name, course in courses(time, values).items()}
    made["heater_power"] = np.where((time > ON) & (time < OFF), POWER, 0.0)[:, None]
    return made_log(time, made, faults, seed=seed)


def replay_of(log: Log, parameters: tuple[Parameter, ...] = PARAMETERS) -> Replay:
    return Replay(log, parameters, lambda values: courses(log.time, values), "first order")
