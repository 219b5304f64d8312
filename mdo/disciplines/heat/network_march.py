"""March of a network of nodes in time: each step aims at the next temperature of one node.

The node whose temperature ends the stroke is led along a given ladder of temperatures: the time of
a step is what the whole tube needs for it at its present heat balance. What a step misses goes into
the next one, and every time on the ladder is put right by the same rule, so the time of the end is
smooth in every input, and no horizon must be guessed.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.energy_balance import REACH
from mdo.disciplines.heat.network_nodes import (
    TubeNetwork,
    apparent_capacity,
    enthalpy,
    exchange_matrix,
    supplied_heat,
)
from mdo.disciplines.smooth import blended_max

DIAGONAL = 1.0 - 0.5**0.5  # [1] of TR-BDF2, the share of a step at its last stage
WEIGHT = 0.5**0.5 / 2.0  # [1] of its first two stages
ROUNDS = 3  # of Newton in a stage: a step turns a small part of a window, so they converge fast


def solve_definite(matrix: Array, right: Array) -> Array:
    """Solve a small system with a symmetric, diagonally dominant matrix by plain elimination.

    Parameters
    ----------
    matrix
        In any unit [1], shape (n, n).
    right
        Right side in any unit [1], shape (n,).

    Returns
    -------
    Array
        Solution in any unit [1], shape (n,).

    Examples
    --------
    >>> solve_definite(jnp.array([[2.0, -1.0], [-1.0, 2.0]]), jnp.array([0.0, 3.0])).tolist()
    [1.0, 2.0]

    References
    ----------
    Derived (elimination by Gauss; a dominant diagonal needs no pivot).
    """
    size = right.shape[0]
    rows = jnp.concatenate([matrix, right[:, None]], axis=1)
    pivots = []
    for _ in range(size - 1):
        pivots.append(rows[0])
        rows = rows[1:, 1:] - rows[1:, :1] * (rows[0, 1:] / rows[0, 0])
    solution = [rows[0, 1] / rows[0, 0]]
    for pivot in reversed(pivots):
        known = jnp.stack(solution)
        solution.insert(0, (pivot[-1] - jnp.sum(pivot[1:-1] * known)) / pivot[0])
    return jnp.stack(solution)


class NodeState(NamedTuple):
    """Temperatures [K] and heat [J] of the nodes, time [s], last change [K], heat lost [J]."""

    temperature: Array
    heat: Array
    time: Array
    change: Array
    lost: Array


def start_state(temperature: Array, network: TubeNetwork) -> NodeState:
    """State at rest.

    Parameters
    ----------
    temperature
        Of each node [K].
    network
        The tube in its bay.

    Returns
    -------
    NodeState
        Time and loss zero [s], [J].

    References
    ----------
    Derived.
    """
    zero = jnp.zeros(())
    heat = enthalpy(temperature, network)
    return NodeState(temperature, heat, zero, jnp.zeros_like(temperature), zero)


def _stage(start: Array, right: Array, matrix: Array, network: TubeNetwork) -> Array:
    """Temperatures with H(T) + M T = right, by Newton."""

    def better(temperature: Array, _: None) -> tuple[Array, None]:
        residual = enthalpy(temperature, network) + matrix @ temperature - right
        slope = jnp.diag(apparent_capacity(temperature, network)) + matrix
        return temperature - solve_definite(slope, residual), None

    return jax.lax.scan(better, start, length=ROUNDS)[0]


def take_step(state: NodeState, step: Array, matrix: Array, network: TubeNetwork) -> NodeState:
    r"""One step of TR-BDF2 in the heat of the nodes.

    .. math:: H_1 = H_0 + \Delta t\,[w (F_0 + F_\gamma) + d F_1], \quad F = q - K T

    Parameters
    ----------
    state
        At the start.
    step
        Length of the step [s].
    matrix
        Exchange matrix K [W/K], that of the middle of the step.
    network
        The tube in its bay.

    Returns
    -------
    NodeState
        At the end [K], [J], [s].

    Notes
    -----
    Second order and damped as strongly as backward Euler, however fast the heater node is.

    References
    ----------
    Bank et al. 1985, IEEE Trans. Electron Devices 32, 1992 (from memory).
    """
    supplied = supplied_heat(network)
    share = DIAGONAL * step
    implicit = share * matrix

    def flow(temperature: Array) -> Array:
        return supplied - matrix @ temperature

    def leaves(temperature: Array) -> Array:
        return network.outside * (temperature[-1] - network.outside_temperature)

    first = flow(state.temperature)
    right = state.heat + share * (first + supplied)
    middle = _stage(state.temperature, right, implicit, network)
    carried = state.heat + WEIGHT * step * (first + flow(middle))
    end = _stage(middle, carried + share * supplied, implicit, network)
    early = leaves(state.temperature) + leaves(middle)
    return NodeState(
        temperature=end,
        heat=carried + share * flow(end),
        time=state.time + step,
        change=end - state.temperature,
        lost=state.lost + step * (WEIGHT * early + DIAGONAL * leaves(end)),
    )


class Course(NamedTuple):
    """What a march gives: time [s] at each temperature of the ladder, bay [K], state at the end."""

    time: Array
    bay: Array
    end: NodeState


def march(
    *, start: Array, ladder: Array, event: Array, direction: float, network: TubeNetwork
) -> Course:
    r"""Lead one node of a network along a ladder of temperatures.

    .. math:: \Delta t = \frac{C\,(T_{k+1}-T) + L\,[a(T_{k+1})-a(T)]}{|P - \sum G\Delta T|}

    Parameters
    ----------
    start
        Of each node [K].
    ladder
        Temperatures of the node that ends the stroke [K], the first that of the start.
    event
        One for that node, zero for the others [1].
    direction
        Plus one for heating, minus one for cooling [1].
    network
        The tube in its bay.

    Returns
    -------
    Course
        Time at each temperature of the ladder [s], the bay at each step [K], the state at the end.

    Notes
    -----
    Where the heat balance is less than what half a kelvin of distance would give, it counts as
    that: a temperature that cannot be reached has a time that is large, finite, and grows with
    every kelvin missing.

    References
    ----------
    Derived; half a kelvin as in :func:`mdo.disciplines.heat.energy_balance.segment_time`.
    """
    supplied = supplied_heat(network)
    tube = jnp.arange(start.shape[0]) < start.shape[0] - 2
    shape = jnp.asarray(event)

    def lumped(temperature: Array) -> Array:
        return jnp.sum(jnp.where(tube, enthalpy(temperature + 0.0 * start, network), 0.0))

    def look(state: NodeState) -> tuple[Array, Array, Array]:
        """Exchange matrix, lumped heat of the tube, and how fast that changes."""
        matrix = exchange_matrix(state.temperature + state.change / 2.0, network)
        gained = supplied - matrix @ state.temperature
        net = direction * jnp.sum(jnp.where(tube, gained, 0.0))
        outwards = -jnp.sum(jnp.where(tube, jnp.sum(matrix[:, -2:], axis=1), 0.0))
        least = outwards * REACH
        return matrix, lumped(jnp.sum(shape * state.temperature)), blended_max(net, least, least)

    def advance(state: NodeState, rungs: tuple[Array, Array]) -> tuple[NodeState, Array]:
        here, aim = rungs
        matrix, heat, speed = look(state)
        missing = direction * (lumped(here) - heat) / speed
        step = direction * (lumped(aim) - heat) / speed
        reached = jnp.stack([state.time + missing, state.temperature[-1]])
        return take_step(state, step, matrix, network), reached

    end, passed = jax.lax.scan(advance, start_state(start, network), (ladder[:-1], ladder[1:]))
    _, heat, speed = look(end)
    last = end.time + direction * (lumped(ladder[-1]) - heat) / speed
    return Course(
        time=jnp.append(passed[:, 0], last),
        bay=jnp.append(passed[:, 1], end.temperature[-1]),
        end=end,
    )
