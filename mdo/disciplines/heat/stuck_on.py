"""A heater that stays on: how long its tube takes to the limits of alloy, heater and structure."""

from __future__ import annotations

from collections.abc import Callable

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.hardware import TubeHardware
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.heat.stage import Bay

STEPS = 200  # of the integral over the temperature: its error is below 1e-4 of the time
HALVINGS = 60  # of the bracket in temperature: to round-off


def runaway_time(
    temperature: Array, *, hot_temperature: Array, power: Array, hardware: TubeHardware, bay: Bay
) -> Array:
    r"""Time of a heated tube from its hot temperature to a higher one.

    .. math:: t = \int_{T_{hot}}^{T} \frac{C\,dT}{P - UA(T)\,(T - T_e)}

    Parameters
    ----------
    temperature
        Temperature T that is reached [K], shape (legs, sets).
    hot_temperature
        Temperature at the start [K].
    power
        Heater power P of one tube of each set [W], shape (sets,).
    hardware
        One tube of each set; nothing leaves by its ends.
    bay
        Bay of each leg; the hot one counts.

    Returns
    -------
    Array
        Time [s], shape (legs, sets); infinite where the loss reaches the power on the way, 0 below
        the hot temperature.

    References
    ----------
    Derived (lumped balance of one tube).
    """
    share = jnp.linspace(0.0, 1.0, STEPS + 1)[:, None, None]
    course = hot_temperature + share * (temperature - hot_temperature)
    spare = power - _loss(course, hardware, bay)[0] * (course - bay.hot)
    safe = jnp.where(spare > 0.0, spare, 1.0)
    slowness = jnp.broadcast_to(hardware.capacity_heating / safe, course.shape)
    time = jnp.trapezoid(slowness, course, axis=0)
    time = jnp.where(jnp.min(spare, axis=0) > 0.0, time, jnp.inf)
    return jnp.where(temperature > hot_temperature, time, 0.0)


def temperature_for_structure(
    structure: Callable[[Array], Array],
    limit: Array,
    *,
    low: Array,
    high: Array,
    hardware: TubeHardware,
    bay: Bay,
) -> Array:
    """Tube temperature at which the steady structure beside it reaches a limit.

    Parameters
    ----------
    structure
        Temperature of the structure [K] for that of the outer surface of the tubes [K].
    limit
        Temperature that the structure may reach [K].
    low, high
        Bracket of the tube temperature [K], shape (legs, sets).
    hardware, bay
        As in :func:`runaway_time`.

    Returns
    -------
    Array
        Upper end of the last bracket of a bisection [K], shape (legs, sets); infinite where even
        ``high`` leaves the structure below its limit.

    References
    ----------
    Derived (bisection of :func:`mdo.disciplines.heat.surroundings.adjacent_temperature`).
    """

    def over(temperature: Array) -> Array:
        return structure(_loss(temperature, hardware, bay)[1]) > limit

    def halve(_: int, ends: tuple[Array, Array]) -> tuple[Array, Array]:
        below, above = ends
        middle = (below + above) / 2.0
        beyond = over(middle)
        return jnp.where(beyond, below, middle), jnp.where(beyond, middle, above)

    below = jnp.broadcast_to(low, high.shape)
    found = jax.lax.fori_loop(0, HALVINGS, halve, (below, high))[1]
    return jnp.where(over(high), found, jnp.inf)


def _loss(temperature: Array, hardware: TubeHardware, bay: Bay) -> tuple[Array, Array]:
    """Loss [W/K] and outer surface [K] of a tube in the hot bay; nothing leaves by the ends."""
    surface = hardware.surface._replace(spacer_conductance=jnp.asarray(0.0))
    lost = tube_loss(
        tube_temperature=temperature,
        air_temperature=bay.hot,
        pressure=bay.pressure,
        speed=None,
        surface=surface,
    )
    return lost.conductance, lost.surface_temperature
