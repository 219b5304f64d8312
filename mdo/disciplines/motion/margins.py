r"""Loops of the controller made linear about a state of the wing, and their margins.

The plant is the step of the simulation itself, made linear by exact derivatives; sensors, observer
of the heater and sampling are the exact difference equations of the controller.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.flatten_util import ravel_pytree

from mdo.arrays import Floats
from mdo.disciplines.motion.control import OBSERVER_TIMES
from mdo.disciplines.motion.records import Drive, MotionPlant, MotionState
from mdo.disciplines.motion.step import advance

LOWEST = 1e-5  # [rad/s]
COUNT = 500  # frequencies up to half of the sampling
BESIDE = 1e-3  # [1/s] growth that a hold of minutes does not feel; keeps off the integrators


class Linear(NamedTuple):
    """One step made linear: next state, angle and temperature by state; next state by power.

    matrix (n, n), power (n,), angle, kelvin (n,): rows that give fold angle and outermost cell of
    the driving group.
    """

    matrix: Array
    power: Array
    angle: Array
    kelvin: Array


class LoopNumbers(NamedTuple):
    """Numbers of the controller at a state.

    heat, latent [J/rad], capacity and heater_capacity [J/K], heater_conductance and loss_slope
    [W/K], times of the loops, sensor_lag and sample [s].
    """

    heat: float
    latent: float
    capacity: float
    heater_capacity: float
    heater_conductance: float
    loss_slope: float
    temperature_time: float
    position_time: float
    sensor_lag: float
    sample: float


def linear_step(
    state: MotionState, drive: Drive, plant: MotionPlant, step: Array, group: int
) -> Linear:
    """Make one step linear about a state.

    Parameters
    ----------
    state, drive, plant
        Records.
    step
        Length of the step [s].
    group
        Number of the group that drives [1].

    Returns
    -------
    Linear
        Matrices of the difference equation [1], in the units of the fields of a state.

    References
    ----------
    Derived (exact derivatives of :func:`mdo.disciplines.motion.step.advance`).
    """
    flat, unflatten = ravel_pytree(state)

    def after(vector: Array, watts: Array) -> Array:
        power = drive.power.at[group].add(watts)
        moved, _, _ = advance(unflatten(vector), drive._replace(power=power), plant, step)
        return ravel_pytree(moved)[0]

    matrix, power = jax.jacfwd(after, argnums=(0, 1))(flat, jnp.zeros(()))
    marked = jax.tree.map(jnp.zeros_like, state)
    angle = ravel_pytree(marked._replace(angle=jnp.ones(())))[0]
    kelvin = ravel_pytree(marked._replace(cells=marked.cells.at[group, -1].set(1.0)))[0]
    return Linear(matrix, power, angle, kelvin)


def frequencies(sample: float) -> Floats:
    """Angular frequencies of a sampled loop, just outside of the circle of stability [rad/s].

    Parameters
    ----------
    sample
        Sample time [s].

    Returns
    -------
    Array
        Complex frequencies up to half of the sampling [rad/s].

    Examples
    --------
    Five samples a second (hand: pi/0.2):

    >>> float(frequencies(0.2)[-1].real)
    15.708

    References
    ----------
    Derived.
    """
    return np.asarray(np.geomspace(LOWEST, np.pi / sample, COUNT) - 1j * BESIDE)


def responses(linear: Linear, omega: Floats, sample: float) -> tuple[Floats, Floats]:
    r"""Fold angle and temperature per watt, :math:`c (zI - A)^{-1} b`.

    Parameters
    ----------
    linear
        Difference equation of one step.
    omega
        Angular frequencies [rad/s], (N,).
    sample
        Step, which is the sample too [s].

    Returns
    -------
    tuple
        Complex responses [rad/W] and [K/W], (N,).

    References
    ----------
    Any text on digital control (Franklin, Powell, Workman, from memory).
    """
    turn = np.exp(1j * omega * sample)
    values, vectors = np.linalg.eig(np.asarray(linear.matrix))
    source = np.linalg.lstsq(vectors, np.asarray(linear.power).astype(complex), rcond=None)[0]
    if np.linalg.cond(vectors) < WORST:
        shared = source / (turn[:, None] - values)
        state = shared @ vectors.T
    else:  # states that others follow at once make the matrix defective
        size = len(values)
        whole = turn[:, None, None] * np.eye(size) - np.asarray(linear.matrix)
        given = np.asarray(linear.power).astype(complex)[:, None]
        right = np.broadcast_to(given, (omega.size, size, 1))
        state = np.linalg.solve(whole, right)[..., 0]
    return state @ np.asarray(linear.angle), state @ np.asarray(linear.kelvin)


WORST = 1e8  # condition of the eigenvectors, beyond which the equations are solved as they are


def margins(omega: Floats, loop: Floats) -> tuple[float, float]:
    r"""Gain and phase margin of an open loop: distance of its crossings from -1.

    .. math:: GM = |20\log_{10}|L(\omega_{180})||, \quad PM = |\arg(-L(\omega_1))|

    Parameters
    ----------
    omega
        Angular frequencies [rad/s], rising, (N,).
    loop
        Open loop, complex [1], (N,).

    Returns
    -------
    tuple
        Gain margin in decibel and phase margin in degrees [1], the smallest over all crossings.

    Examples
    --------
    Integrator with delay, k = 1/s, 0.5 s (closed form: pi/(2 k T) = 9.943 dB, 90 - 28.648 deg):

    >>> w = np.geomspace(0.01, 5.0, 4000)
    >>> [float(one) for one in margins(w, np.exp(-0.5j * w) / (1j * w))]
    [9.943, 61.352]

    References
    ----------
    Any text on control (Franklin, Powell, Emami-Naeini, from memory).
    """
    size, log = np.log(np.abs(loop)), np.log(np.real(omega))
    phase = np.unwrap(np.angle(-loop))
    phases = [abs(_wrapped(np.interp(at, log, phase))) for at in _crossings(size, log)]
    gains = [
        abs(20.0 / np.log(10.0) * np.interp(at, log, size))
        for turns in range(-2, 3)
        for at in _crossings(phase - 2.0 * np.pi * turns, log)
    ]
    return min(gains, default=np.inf), float(np.degrees(min(phases, default=np.inf)))


def is_stable(loop: Floats, unstable: int) -> bool:
    r"""Whether a closed loop is stable, by the encirclements of its open loop.

    .. math:: \Delta\arg(1 + L) = \pi (P - Z)

    Parameters
    ----------
    loop
        Open loop at the frequencies of :func:`frequencies`, complex [1], (N,).
    unstable
        Number of its poles outside of the circle, P [1].

    Returns
    -------
    bool
        Whether no pole of the closed loop, Z [1], is outside.

    References
    ----------
    Nyquist 1932; any text on digital control (Franklin, Powell, Workman, from memory).
    """
    turned = np.unwrap(np.angle(1.0 + loop))
    return round(float(turned[-1] - turned[0]) / np.pi) == unstable


def unstable_poles(linear: Linear, sample: float) -> int:
    """Number of poles of a step outside of the circle of :func:`frequencies`.

    Parameters
    ----------
    linear
        Difference equation of one step.
    sample
        Step [s].

    Returns
    -------
    int
        Number [1]: not 0 where the wing runs away by itself.

    References
    ----------
    Derived.
    """
    poles = np.linalg.eigvals(np.asarray(linear.matrix))
    return int(np.sum(np.abs(poles) > np.exp(BESIDE * sample)))


def _wrapped(angle: float) -> float:
    return float((angle + np.pi) % (2.0 * np.pi) - np.pi)


def _crossings(values: Floats, at: Floats) -> list[float]:
    """Places where values go through zero, either way."""
    through = np.flatnonzero(values[:-1] * values[1:] < 0.0)
    share = values[through] / (values[through] - values[through + 1])
    return [float(one) for one in at[through] + share * (at[through + 1] - at[through])]


def position_loop(angle: Floats, kelvin: Floats, omega: Floats, numbers: LoopNumbers) -> Floats:
    """Open position loop, broken at the power.

    Parameters
    ----------
    angle, kelvin
        Responses of the plant [rad/W], [K/W], (N,).
    omega
        Angular frequencies [rad/s], (N,).
    numbers
        Of the controller.

    Returns
    -------
    Array
        Open loop, complex [1].

    References
    ----------
    :func:`mdo.disciplines.motion.control.decide`, made linear.
    """
    turn = np.exp(1j * omega * numbers.sample)
    whole = numbers.capacity + numbers.heater_capacity
    heat = numbers.latent * angle + whole * _sensor(turn, numbers) * kelvin
    wanted = numbers.heat / numbers.position_time * angle
    return _broken(wanted, heat, kelvin, turn, numbers.position_time, numbers)


def temperature_loop(kelvin: Floats, omega: Floats, numbers: LoopNumbers) -> Floats:
    """Open temperature loop, broken at the power; arguments of :func:`position_loop`.

    Parameters
    ----------
    kelvin
        Response of the plant [K/W], (N,).
    omega
        Angular frequencies [rad/s], (N,).
    numbers
        Of the controller.

    Returns
    -------
    Array
        Open loop, complex [1].

    References
    ----------
    :func:`mdo.disciplines.motion.control.decide`, made linear.
    """
    turn = np.exp(1j * omega * numbers.sample)
    warmed = _sensor(turn, numbers) * kelvin
    heat = (numbers.capacity + numbers.heater_capacity) * warmed
    wanted = numbers.capacity / numbers.temperature_time * warmed
    return _broken(wanted, heat, kelvin, turn, numbers.temperature_time, numbers)


def _sensor(turn: Floats, numbers: LoopNumbers) -> Floats:
    kept = np.exp(-numbers.sample / numbers.sensor_lag)
    return np.asarray((1.0 - kept) * turn / (turn - kept))


def _broken(
    wanted: Floats, heat: Floats, kelvin: Floats, turn: Floats, time: float, numbers: LoopNumbers
) -> Floats:
    """Loop of what is wanted, less the loss that is made up for, over both observers."""
    lag = numbers.heater_capacity / numbers.heater_conductance
    kept = np.exp(-numbers.sample / lag)
    above = (1.0 - kept) / (turn - kept)
    share = -np.expm1(-numbers.sample / (OBSERVER_TIMES * numbers.position_time))
    later = turn - 1.0
    found = (
        share**2 * turn / (later**2 + 2.0 * share * later + share**2)
    )  # of the loss that is missing
    loss = numbers.loss_slope * (1.0 - found) * _sensor(turn, numbers) * kelvin
    missing = found * later / numbers.sample * heat
    made_up, held = 1.0 + lag / time, lag / time
    return np.asarray(
        (wanted + made_up * (missing - loss)) / (1.0 + (held - made_up * found) * above)
    )
