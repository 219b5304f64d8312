r"""Loops of the controller made linear about a state, and their margins.

The wall is the chain of its nodes with the latent heat that turns per kelvin; the sensor, the
filtered lead and the delay of sampling are exact. Frequency responses come from the matrices.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats

FREQUENCIES = np.geomspace(1e-5, 50.0, 4000)  # [rad/s]
DELAY = 1.5  # samples: one to compute, half of one that the power is held


class Margins(NamedTuple):
    """Gain margin [dB] and phase margin [deg]; infinite where no crossing is found."""

    gain: float
    phase: float


class ChainModel(NamedTuple):
    """One tube made linear: capacity of heater and cells [J/K], what conducts, losses [W/K].

    capacity (C+1,), links (C,), loss (C+1,) to the bay; share (C,) of the cells in the mean.
    """

    capacity: Floats
    links: Floats
    loss: Floats
    share: Floats


class LoopSettings(NamedTuple):
    """Gain [W/K], times [s] of both loops, lead, filter, sensor and sample."""

    gain: float
    temperature_time: float
    position_time: float
    lead_time: float
    filter_time: float
    sensor_lag: float
    sample: float


def chain_response(model: ChainModel, omega: Floats) -> tuple[Floats, Floats]:
    """Temperature of the outermost cell and mean of the wall per watt at the heater.

    Parameters
    ----------
    model
        Tube.
    omega
        Angular frequencies [rad/s], (N,).

    Returns
    -------
    tuple
        Complex responses [K/W], (N,).

    References
    ----------
    Derived: ``(s C + G) T = P``.
    """
    nodes = model.capacity.size
    conduct = np.diag(model.loss.astype(float))
    for place, link in enumerate(model.links):
        conduct[place, place] += link
        conduct[place + 1, place + 1] += link
        conduct[place, place + 1] -= link
        conduct[place + 1, place] -= link
    matrix = 1j * omega[:, None, None] * np.diag(model.capacity) + conduct
    power = np.zeros((omega.size, nodes, 1), dtype=complex)
    power[:, 0, 0] = 1.0
    kelvin = np.linalg.solve(matrix, power)[..., 0]
    return kelvin[:, -1], kelvin[:, 1:] @ model.share


def margins(omega: Floats, loop: Floats) -> Margins:
    r"""Gain and phase margin of an open loop.

    .. math:: GM = -20\log_{10}|L(\omega_{180})|, \quad PM = 180 + \arg L(\omega_1)

    Parameters
    ----------
    omega
        Angular frequencies [rad/s], rising, (N,).
    loop
        Open loop, complex [1], (N,).

    Returns
    -------
    Margins
        The smallest over all crossings.

    Examples
    --------
    Integrator with delay, k = 1/s, 0.5 s (closed form: pi/(2 k T) = 9.943 dB, 90 - 28.648 deg):

    >>> w = np.geomspace(0.01, 30.0, 4000)
    >>> found = margins(w, np.exp(-0.5j * w) / (1j * w))
    >>> float(found.gain), float(found.phase)
    (9.943, 61.352)

    References
    ----------
    Any text on control (Franklin, Powell, Emami-Naeini, from memory).
    """
    size, phase = np.log(np.abs(loop)), np.unwrap(np.angle(loop))
    turn = 2.0 * np.pi * np.round((phase[0] + np.pi / 2.0) / (2.0 * np.pi))
    phase, log = phase - turn, np.log(omega)
    at_one = _crossings(size, log)
    phases = [180.0 + np.degrees(np.interp(at, log, phase)) for at in at_one]
    backwards = _crossings(phase + np.pi, log)
    gains = [-20.0 / np.log(10.0) * np.interp(at, log, size) for at in backwards]
    return Margins(min(gains, default=np.inf), min(phases, default=np.inf))


def _crossings(values: Floats, at: Floats) -> list[float]:
    """Places where values go through zero from above."""
    down = np.flatnonzero((values[:-1] > 0.0) & (values[1:] <= 0.0))
    share = values[down] / (values[down] - values[down + 1])
    return [float(one) for one in at[down] + share * (at[down + 1] - at[down])]


def loop_margins(
    model: ChainModel, settings: LoopSettings, *, slope_ratio: float = 1.0
) -> tuple[Margins, Margins]:
    """Margins of the temperature loop and of the position loop around it.

    Parameters
    ----------
    model
        Tube, made linear.
    settings
        Controller.
    slope_ratio
        Slope of the branch over that which the controller reckons with [1]; 0 within a minor loop,
        where the angle does not follow and there is no position loop.

    Returns
    -------
    tuple
        Both margins.

    References
    ----------
    Reference thermal-power-mass, section 3.2.
    """
    s = 1j * FREQUENCIES
    outer, mean = chain_response(model, FREQUENCIES)
    lead = 1.0 + settings.lead_time * s / (1.0 + settings.filter_time * s)
    delay = np.exp(-s * DELAY * settings.sample)
    sensor = 1.0 / (1.0 + settings.sensor_lag * s)
    inner = settings.gain * lead * sensor * delay * outer
    temperature = margins(FREQUENCIES, inner)
    if slope_ratio == 0.0:
        return temperature, Margins(np.inf, np.inf)
    steady = settings.gain + model.loss.sum()
    closed = steady * mean * delay / (1.0 + inner)
    integral = (settings.temperature_time + 1.0 / s) / settings.position_time
    return temperature, margins(FREQUENCIES, slope_ratio * integral * closed)
