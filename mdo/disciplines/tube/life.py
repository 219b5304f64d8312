"""Actuation life: work-based law with Miner's sum, or a declared allowable.

``log10 N = a + b log10 w`` with w = tau_outer gamma_act in MJ/m3 (b < 0): the energy form of
Calhoun, Wheeler, Baxevanis and Lagoudas 2015, Scripta Mater. 95, 58 (form from memory); constants
by the alloy card. Allowable is the work at ten times the folds: a factor ten on lives.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy, Choices, Legs, Requirements


def cycles_to_failure(work_density: ArrayLike, alloy: Alloy) -> Array:
    r"""Cycles to failure at a work density.

    .. math:: \log_{10} N = a + b\,\log_{10} w

    Parameters
    ----------
    work_density
        Outer shear stress times actuation shear strain :math:`w` [J/m**3], any shape; in the law it
        counts in MJ/m3 and not below 1 kJ/m3, where a life would overflow.
    alloy
        Card with life_intercept a and life_slope b, b below zero.

    Returns
    -------
    Array
        Cycles [1].

    Examples
    --------
    Screening law of a binary actuator alloy, N = 6.0e4 w^-2.51 (hand: fit of three rows of a limit
    table, Stoeckel, c. 1990, from memory): a hundred thousand cycles at 0.82 MJ/m3.

    >>> from types import SimpleNamespace
    >>> law = SimpleNamespace(life_intercept=4.78, life_slope=-2.51)
    >>> float(cycles_to_failure(0.82e6, law)) / 1e5
    1.0

    References
    ----------
    Calhoun, Wheeler, Baxevanis and Lagoudas 2015, Scripta Mater. 95, 58 (form from memory).
    """
    w = jnp.maximum(jnp.asarray(work_density), 1e3) / 1e6
    exponent = jnp.asarray(alloy.life_intercept) + jnp.asarray(alloy.life_slope) * jnp.log10(w)
    return jnp.power(10.0, exponent)


def allowable_work_density(cycles: ArrayLike, alloy: Alloy) -> Array:
    r"""Work density at which a number of cycles is reached; inverse of :func:`cycles_to_failure`.

    .. math:: w = 10^{(\log_{10} N - a)/b}

    Parameters
    ----------
    cycles
        Cycles :math:`N` [1], at least one, any shape.
    alloy
        Card with life_intercept a and life_slope b.

    Returns
    -------
    Array
        Work density [J/m**3].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> law = SimpleNamespace(life_intercept=4.78, life_slope=-2.51)
    >>> float(allowable_work_density(1e5, law)) / 1e6
    0.82

    References
    ----------
    Calhoun, Wheeler, Baxevanis and Lagoudas 2015, Scripta Mater. 95, 58 (form from memory).
    """
    n = jnp.maximum(jnp.asarray(cycles), 1.0)
    return 1e6 * 10.0 ** ((jnp.log10(n) - alloy.life_intercept) / alloy.life_slope)


class Life(NamedTuple):
    """Life use: leg_life_use [1] per leg, (legs,); life_use and folds_total [1] per set, (2,)."""

    leg_life_use: Array
    life_use: Array
    folds_total: Array


def life(
    *,
    leg_work_density: Array,
    pushes_up: Array,
    heated: Array,
    legs: Legs,
    choices: Choices,
    requirements: Requirements,
    alloy: Alloy,
) -> Life:
    r"""Miner's sum of each set at the unfactored operating moments (one wing).

    .. math:: D_s = \sum_{legs} \frac{f\,n}{N(\tau_o\gamma)}

    Parameters
    ----------
    leg_work_density
        Outer stress times strain of the driving set in each leg [J/m**3], shape (legs,).
    pushes_up, heated
        Who drives each leg: 1 the up set; 1 a heated set [1], shape (legs,).
    legs
        Record: folds_per_life n, moves.
    choices, requirements, alloy
        Records: set_present; life_factor f; life law or declared allowable.

    Returns
    -------
    Life
        life_use [1], (2,), must not exceed 1. With a declared allowable it is the declared share of
        cycles, and the stress and strain of each leg are compared with it elsewhere.

    References
    ----------
    Miner 1945, J. Appl. Mech. 12, 159 (from memory); life law see the module.
    """
    folds = jnp.asarray(legs.folds_per_life) * legs.moves * heated
    law = jnp.asarray(alloy.life_law) > 0.5
    cycles = jnp.where(law, cycles_to_failure(leg_work_density, alloy), alloy.declared_life_cycles)
    use = jnp.asarray(requirements.life_factor) * folds / cycles
    sides = jnp.stack([pushes_up, 1.0 - pushes_up]) * jnp.asarray(choices.set_present)[:, None]
    return Life(
        leg_life_use=use,
        life_use=jnp.sum(sides * use, axis=1),
        folds_total=jnp.sum(sides * folds, axis=1),
    )
