"""One stroke of one tube as a march: times at the ends of its stretches, peak of the bay."""

from __future__ import annotations

from functools import partial
from itertools import accumulate
from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.network_march import march
from mdo.disciplines.heat.network_nodes import TubeNetwork, enthalpy

Rungs = tuple[tuple[float, ...], ...]


class Lane(NamedTuple):
    """One stroke of one tube in one leg.

    network; start of each node [K]; corners, the temperatures at the ends of the stretches [K];
    event, one for the node that ends them; wanted, shares of what is asked of the stroke [1].
    """

    network: TubeNetwork
    start: Array
    corners: Array
    event: Array
    wanted: Array


class Stroke(NamedTuple):
    """Times [s] at temperatures of a ladder [K], bay [K], nodes at the end [K], residual [1]."""

    time: Array
    ladder: Array
    bay: Array
    end: Array
    residual: Array


def run_stroke(lane: Lane, direction: float, rungs: Rungs) -> Stroke:
    """March one stroke.

    Parameters
    ----------
    lane
        The stroke.
    direction
        Plus one for heating, minus one for cooling [1].
    rungs
        Places of the steps in each stretch [1].

    Returns
    -------
    Stroke
        Times [s], temperatures [K], ledger [1].

    References
    ----------
    :func:`mdo.disciplines.heat.network_march.march`.
    """
    network, corners = lane.network, lane.corners
    stretches = [
        corners[place] + (corners[place + 1] - corners[place]) * jnp.asarray(shares)
        for place, shares in enumerate(rungs)
    ]
    ladder = jnp.concatenate([corners[:1], *stretches])
    course = march(
        start=lane.start, ladder=ladder, event=lane.event, direction=direction, network=network
    )
    end = course.end.temperature
    given = network.power * course.end.time
    stored = jnp.sum(enthalpy(end, network) - enthalpy(lane.start, network))
    scale = jnp.maximum(jnp.abs(given), jnp.abs(stored)) + 1e-9
    residual = (given - stored - course.end.lost) / scale
    return Stroke(course.time, ladder, course.bay, end, residual)


@partial(jax.custom_jvp, nondiff_argnums=(1, 2))
def stroke_figures(lane: Lane, direction: float, rungs: Rungs) -> tuple[Array, Array]:
    """What is wanted of a stroke, and the residual of its ledger.

    Parameters
    ----------
    lane
        The stroke.
    direction
        Plus one for heating, minus one for cooling [1].
    rungs
        Places of the steps in each stretch [1].

    Returns
    -------
    tuple
        Times [s] and peak [K] as wanted; residual [1].

    Notes
    -----
    The derivative is taken backwards, once for each figure and not for each direction of the
    design: a stroke has many inputs and few figures.

    References
    ----------
    :func:`run_stroke`.
    """
    stroke = run_stroke(lane, direction, rungs)
    ends = list(accumulate(len(shares) for shares in rungs))
    figures = jnp.append(stroke.time[jnp.asarray(ends)], jnp.max(stroke.bay))
    return lane.wanted @ figures, stroke.residual


@stroke_figures.defjvp
def _slopes_of_figures(
    direction: float, rungs: Rungs, at: tuple[Lane], turned: tuple[Lane]
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    def figures(lane: Lane) -> tuple[Array, Array]:
        return stroke_figures.fun(lane, direction, rungs)

    values, pull, residual = jax.vjp(figures, at[0], has_aux=True)
    (rows,) = jax.vmap(pull)(jnp.eye(values.size))
    parts = jax.tree.map(
        lambda row, along: jnp.sum(row * along, axis=tuple(range(1, row.ndim))), rows, turned[0]
    )
    slopes = jax.tree.reduce(jnp.add, parts)
    return (values, residual), (slopes, jnp.zeros_like(residual))
