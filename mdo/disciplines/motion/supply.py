"""What the bus gives the heaters of a wing: voltage and its sag, shares, groups in turn."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.records import MotionPlant


def power_limit(voltage: Array, plant: MotionPlant) -> Array:
    r"""Largest power of a tube of each group [W], (K,).

    .. math:: P_n (V/V_n)^2 s^2,\quad s = \frac{1}{1 + R\,P_n/V_n^2}; \qquad
        P\le\frac{V^2}{4R}\ \text{(regulated)}

    Parameters
    ----------
    voltage
        Of the bus without load, over nominal [1].
    plant
        Record.

    Returns
    -------
    Array
        Power [W].

    Notes
    -----
    The sag is that of the groups of one side at full power, both wings alike: its largest. Duty of
    a heater is adjusted until it takes the power that is asked for, so below its largest power the
    sag makes no difference.

    Examples
    --------
    0.5 ohm at 28 V, heaters of 392 W there (2 ohm): 22.4 V are left, by hand.

    >>> from types import SimpleNamespace
    >>> plant = SimpleNamespace(heater_power=[392.0], heater_factor=[1.0], count=[1.0], side=[1.0],
    ...                         voltage_power=2.0, sag=0.5 / 28.0**2)
    >>> [round(float(one), 3) for one in power_limit(jnp.asarray(1.0), plant)]
    [250.88]

    References
    ----------
    Ohm and Joule (1841); largest power of a source with a resistance: Jacobi, from memory.
    Reference thermal-power-mass, section 2.11.
    """
    side, count = jnp.asarray(plant.side), jnp.asarray(plant.count)
    rated = jnp.asarray(plant.heater_power) * jnp.asarray(plant.heater_factor)
    together = (side[:, None] == side) @ (count * rated)
    loaded = plant.sag * together  # R P/V_n**2
    most = voltage**2 / jnp.maximum(4.0 * loaded, 1e-12)
    regulated = jnp.asarray(plant.voltage_power) < 0.5
    left = jnp.where(regulated, jnp.minimum(1.0, most), (1.0 + loaded) ** -2)
    limit: Array = rated * voltage**plant.voltage_power * left
    return limit


def shared_power(power: Array, limit: Array, plant: MotionPlant) -> Array:
    """Powers of a tube of each group that the supply gives of those asked for [W], (K,).

    Parameters
    ----------
    power, limit
        Asked for, and the largest of a tube of each group [W], (K,).
    plant
        Record.

    Returns
    -------
    Array
        Power [W]: in proportion where the supply is short of it; or the first group what it asks
        for, the next one what is left.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> plant = SimpleNamespace(count=[1.0, 1.0], power_available=150.0, at_once=2.0, in_order=0.0)
    >>> asked = jnp.array([100.0, 100.0])
    >>> shared_power(asked, asked, plant).tolist()
    [75.0, 75.0]
    >>> plant.in_order = 1.0
    >>> shared_power(asked, asked, plant).tolist()
    [100.0, 50.0]
    >>> plant.at_once = 1.0
    >>> shared_power(asked, asked, plant).tolist()
    [100.0, 0.0]

    References
    ----------
    Derived; reference thermal-power-mass, section 3.4.
    """
    count = jnp.asarray(plant.count)
    asked = count * power
    whole = jnp.minimum(plant.power_available, plant.at_once * jnp.max(count * limit))
    before = jnp.cumsum(asked) - asked
    ordered = jnp.clip(whole - before, 0.0, asked) / jnp.maximum(count, 1e-9)
    even = power * jnp.minimum(1.0, whole / jnp.maximum(jnp.sum(asked), 1e-9))
    given: Array = jnp.where(jnp.asarray(plant.in_order) > 0.5, ordered, even)
    return given
