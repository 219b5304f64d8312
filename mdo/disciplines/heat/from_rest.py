"""Discipline entry `from_rest`: how long a motion takes of which nothing has been prepared."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Choices, Legs
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.travel import pick


class FromRest(NamedTuple):
    """Time of each leg from rest [s], (legs,)."""

    from_rest_time: Array


def from_rest(
    *,
    heat_time: Array,
    cool_time: Array,
    pushes_up: Array,
    returned_by_load: Array,
    legs: Legs,
    choices: Choices,
) -> FromRest:
    r"""Time of a leg from the first command: warm-up, then heating or cooling, the longer.

    .. math:: t = t_{heat,other} + \max(t_{heat,driver},\, t_{cool,other})

    Parameters
    ----------
    heat_time, cool_time
        Strokes of each leg and set [s], shape (L, 2).
    pushes_up, returned_by_load
        Which way the leg goes; 1 where no set drives it but load or spring [1], shape (L,).
    legs, choices
        Records: other_warmed, other_cold, is_return; configuration, return_mode.

    Returns
    -------
    FromRest
        [s], shape (L,). The other set counts where it was warmed first, and where it cools under
        the drive; long cold, only the driver's heating counts. Cooled and then wound, times add.
        Left to load or spring a leg takes the time that its one set cools.

    Examples
    --------
    Up set drives, 300 s to heat; the other one is heated for 200 s and cools within 900 s:

    >>> from types import SimpleNamespace
    >>> pair = SimpleNamespace(configuration=2.0, return_mode=0.0)
    >>> leg = SimpleNamespace(other_warmed=jnp.ones(1), other_cold=jnp.zeros(1),
    ...     is_return=jnp.zeros(1))
    >>> float(from_rest(heat_time=jnp.array([[300.0, 200.0]]),
    ...     cool_time=jnp.array([[700.0, 900.0]]), pushes_up=jnp.ones(1),
    ...     returned_by_load=jnp.zeros(1), legs=leg, choices=pair).from_rest_time[0])
    1100.0

    References
    ----------
    Derived; design page, 'Definitions that bind' (state of the other set).
    """
    up = pushes_up > 0.5
    heating, warming = pick(heat_time.T, up), pick(heat_time.T, ~up)
    pair = jnp.asarray(choices.configuration) == OPPOSED
    warmed = jnp.where(pair, legs.other_warmed, 0.0)
    under_drive = jnp.maximum(warmed, legs.is_return * (1.0 - jnp.asarray(legs.other_cold)))
    cooling = jnp.where(pair, under_drive, 0.0) * pick(cool_time.T, ~up)
    retwist = jnp.where(pair & (jnp.asarray(choices.return_mode) > 0.5), legs.is_return, 0.0)
    both = jnp.where(retwist > 0.5, heating + cooling, jnp.maximum(heating, cooling))
    left = jnp.asarray(returned_by_load) > 0.5
    return FromRest(jnp.where(left, pick(cool_time.T, ~up), warmed * warming + both))
