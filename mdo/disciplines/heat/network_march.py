"""March of a network of nodes in time: each step aims at the next temperature of one node.

The node whose temperature ends the stroke is led along a given ladder of temperatures: the time of
a step is what the whole tube needs for it at its present heat balance. What a step misses goes into
the next one, and every time on the ladder is put right by the same rule, so the time of the end is
smooth in every input, and no horizon must be guessed.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.energy_balance import REACH
from mdo.disciplines.heat.network_nodes import (
    Exchange,
    TubeNetwork,
    apparent_capacity,
    enthalpy,
    exchange,
    heat_flows,
    leaving,
)
from mdo.disciplines.smooth import blended_max

DIAGONAL = 1.0 - 0.5**0.5  # [1] of TR-BDF2, the share of a step at its last stage
WEIGHT = 0.5**0.5 / 2.0  # [1] of its first two stages
MIDDLE = 2.0 * DIAGONAL  # [1] where the middle stage stands in a step
ROUNDS = 3  # of Newton in a stage; the ladder says beforehand where a step leads


def solve_chain(diagonal: Array, between: Exchange, outside: Array, right: Array) -> Array:
    """Solve for the change of every node, by elimination along the chain.

    Parameters
    ----------
    diagonal
        What each node takes by itself in any unit [1], shape (nodes,).
    between
        What couples the nodes, in that unit.
    outside
        What couples the bay to a fixed temperature, in that unit [1].
    right
        Right side in any unit [1], shape (nodes,).

    Returns
    -------
    Array
        Solution in any unit [1], shape (nodes,).

    Examples
    --------
    Two nodes of a chain, 1 and 3 (the matrix has 2, -1; -1, 2), the others alone:

    >>> alone = Exchange(jnp.ones(1), jnp.zeros(()), jnp.zeros(()), jnp.zeros(()))
    >>> solve_chain(jnp.ones(4), alone, 0.0, jnp.array([-1.0, 5.0, 7.0, 8.0])).tolist()
    [1.0, 3.0, 7.0, 8.0]

    References
    ----------
    Derived (elimination by Gauss; a dominant diagonal needs no pivot).
    """
    links = between.chain
    count = links.shape[0]
    pivot, known = [diagonal[0] + links[0]], [right[0]]
    for node in range(1, count + 1):
        share = links[node - 1] / pivot[-1]
        beyond = links[node] if node < count else between.to_bay + between.to_other
        pivot.append(diagonal[node] + links[node - 1] * (1.0 - share) + beyond)
        known.append(right[node] + share * known[-1])
    to_other, to_bay = between.to_other / pivot[-1], between.to_bay / pivot[-1]
    other = diagonal[-2] + between.to_other * (1.0 - to_other) + between.beside
    joined = between.beside + between.to_other * to_bay
    bay = diagonal[-1] + between.to_bay * (1.0 - to_bay) + between.beside + outside
    warmed_other = right[-2] + to_other * known[-1]
    share = joined / other
    end = (right[-1] + to_bay * known[-1] + share * warmed_other) / (bay - share * joined)
    beside = (warmed_other + joined * end) / other
    solution = [known[-1] / pivot[-1] + to_other * beside + to_bay * end]
    for node in reversed(range(count)):
        solution.append((known[node] + links[node] * solution[-1]) / pivot[node])
    return jnp.stack([*reversed(solution), beside, end])


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


def _stage(
    guess: Array, right: Array, share: Array, between: Exchange, network: TubeNetwork
) -> Array:
    """Temperatures with H(T) - share F(T) = right, by Newton.

    Rounds without derivative, then one on the solution: the derivative is that of the implicit
    function theorem.
    """

    def change(temperature: Array, fixed: tuple[Any, ...], moving: tuple[Any, ...]) -> Array:
        right, share, between, network = moving
        missing = right + share * heat_flows(temperature, between, network)
        missing -= enthalpy(temperature, network)
        _, share, between, network = fixed
        diagonal = apparent_capacity(temperature, network)
        implicit = jax.tree.map(lambda part: share * part, between)
        return solve_chain(diagonal, implicit, share * network.outside, missing)

    given = (right, share, between, network)
    guess, fixed = jax.lax.stop_gradient((guess, given))
    solution = jax.lax.fori_loop(0, ROUNDS, lambda _, t: t + change(t, fixed, fixed), guess)
    end: Array = solution + change(solution, fixed, given)
    return end


def take_step(
    state: NodeState, step: Array, change: Array, between: Exchange, network: TubeNetwork
) -> NodeState:
    r"""One step of TR-BDF2 in the heat of the nodes.

    .. math:: H_1 = H_0 + \Delta t\,[w (F_0 + F_\gamma) + d F_1], \quad F = q - K T

    Parameters
    ----------
    state
        At the start.
    step
        Length of the step [s].
    change
        Of each node, as far as it is known beforehand [K].
    between
        Conductances in the middle of the step.
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
    share = DIAGONAL * step

    def flow(temperature: Array) -> Array:
        return heat_flows(temperature, between, network)

    start = state.temperature
    first = flow(start)
    right = state.heat + share * first
    middle = _stage(start + MIDDLE * change, right, share, between, network)
    carried = state.heat + WEIGHT * step * (first + flow(middle))
    end = _stage(start + change, carried, share, between, network)
    early = leaving(start[-1], network) + leaving(middle[-1], network)
    late = leaving(end[-1], network)
    return NodeState(
        temperature=end,
        heat=carried + share * flow(end),
        time=state.time + step,
        change=end - start,
        lost=state.lost + step * (WEIGHT * early + DIAGONAL * late),
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
    tube = jnp.arange(start.shape[0]) < start.shape[0] - 2
    # what cools begins as hot as the other set; what heats leaves it behind
    alike = tube if direction > 0.0 else jnp.arange(start.shape[0]) < start.shape[0] - 1
    node = jnp.asarray(event)
    part = jnp.sum(node * network.capacity) / jnp.sum(tube * network.capacity)

    def of_node(values: Array) -> Array:
        return jnp.sum(node * values)

    def rise(aim: Array, state: NodeState) -> Array:
        """Heat that the tube takes when all of it goes from where the node is to the aim."""
        first = enthalpy(of_node(state.temperature) + 0.0 * start, network)
        return direction * jnp.sum(tube * (enthalpy(aim + 0.0 * start, network) - first))

    def least_flow(between: Exchange) -> Array:
        return (between.to_bay + between.to_other) * REACH

    def passing(state: NodeState, between: Exchange) -> Array:
        """Time, temperature of the node, its seconds per kelvin, the bay."""
        flow = heat_flows(state.temperature, between, network)
        capacity = apparent_capacity(state.temperature, network)
        least = least_flow(between) * part / of_node(capacity)
        slowness = direction / blended_max(direction * of_node(flow / capacity), least, least)
        return jnp.stack([state.time, of_node(state.temperature), slowness, state.temperature[-1]])

    def advance(state: NodeState, rung: tuple[Array, Array]) -> tuple[NodeState, Array]:
        aim, goes = rung
        change = jnp.where(alike, aim - of_node(state.temperature), state.change) * goes
        halfway = state.temperature + change / 2.0
        between = exchange(halfway, network)
        flow = heat_flows(halfway, between, network)
        taken = blended_max(
            direction * jnp.sum(tube * flow), least_flow(between), least_flow(between)
        )
        # past the aim already, as in a stretch narrower than what was missed: no way back in time
        step = goes * jnp.maximum(rise(aim, state), 0.0) / taken
        return take_step(state, step, change, between, network), passing(state, between)

    # the last rung twice, without a step: the state at the end is looked at as the others are
    rungs = (jnp.append(ladder[1:], ladder[-1]), jnp.append(jnp.ones_like(ladder[1:]), 0.0))
    begin = start_state(start, network)
    end, states = jax.lax.scan(jax.checkpoint(advance), begin, rungs)
    return Course(time=_times_at(ladder, states, direction), bay=states[:, 3], end=end)


def _times_at(ladder: Array, states: Array, direction: float) -> Array:
    """When the node passes each temperature: a cubic between two states, beyond them a line."""
    time, kelvin, slowness, _ = states.T
    place = jnp.arange(ladder.shape[0])
    short = direction * (ladder - kelvin) > 0.0
    before = jnp.clip(jnp.where(short, place, place - 1), 0, ladder.shape[0] - 2)
    span = kelvin[before + 1] - kelvin[before]
    stands = span == 0.0  # a stretch of no width: nothing left to heat beyond Af'
    share = jnp.where(stands, 0.0, (ladder - kelvin[before]) / jnp.where(stands, 1.0, span))
    first, last = time[before], time[before + 1]
    leaves, comes = slowness[before] * span, slowness[before + 1] * span
    inside = jnp.clip(share, 0.0, 1.0)
    left = 1.0 - inside
    between = first + (last - first) * inside**2 * (3.0 - 2.0 * inside)
    between += inside * left * (leaves * left - comes * inside)
    back = slowness[before] * (ladder - kelvin[before])  # passed before a narrow stretch began
    ahead = slowness[before + 1] * (ladder - kelvin[before + 1])
    outside = jnp.where(share > 1.0, ahead, jnp.where(stands | (share < 0.0), back, 0.0))
    passed: Array = between + outside
    return passed.at[0].set(0.0)
