"""Growth allowance on top of the basic mass, per class of line and maturity.

The fractions are those of one maturity in S-120A (2015), from memory, not verified; the same ones
apply to the baselines. Growth is applied to each line once and never to the sum again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import smooth_step


def electronics_growth(electronics_mass: ArrayLike, mass: MassAssumptions) -> Array:
    """Growth fraction on electronics, by the mass of the units: to 5 kg, to 15 kg, above.

    Parameters
    ----------
    electronics_mass
        Basic mass [kg], not negative, any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Fraction [1].

    Notes
    -----
    The two steps are cosine blends over 4 to 6 kg and 14 to 16 kg, exact outside.

    Examples
    --------
    Maturity E1 at 1, 10 and 20 kg, from the table, and in the middle of the first step:

    >>> from types import SimpleNamespace
    >>> row = SimpleNamespace(growth_electronics_small=0.30, growth_electronics_medium=0.25,
    ...     growth_electronics_large=0.20)
    >>> [float(share) for share in electronics_growth(jnp.array([1.0, 5.0, 10.0, 20.0]), row)]
    [0.30, 0.275, 0.25, 0.20]

    References
    ----------
    S-120A 2015 (from memory).
    """
    kilograms = jnp.asarray(electronics_mass)
    small, medium = mass.growth_electronics_small, mass.growth_electronics_medium
    first = (jnp.asarray(medium) - small) * smooth_step((kilograms - 4.0) / 2.0)
    second = (jnp.asarray(mass.growth_electronics_large) - medium) * smooth_step(
        (kilograms - 14.0) / 2.0
    )
    return jnp.asarray(small + first + second)


def growth_rates(
    classes: Iterable[str], electronics_mass: ArrayLike, mass: MassAssumptions
) -> Array:
    """Growth fraction of lines by their class.

    Parameters
    ----------
    classes
        Of each line: structure, brackets, battery, thermal, mechanisms, harness, instrumentation or
        electronics (any unit).
    electronics_mass
        Basic mass of all electronics [kg].
    mass
        Assumptions.

    Returns
    -------
    Array
        Fractions [1], shape (lines,).

    References
    ----------
    S-120A 2015 (from memory).
    """
    return jnp.stack(
        [
            electronics_growth(electronics_mass, mass)
            if name == "electronics"
            else jnp.asarray(getattr(mass, f"growth_{name}"), dtype=float)
            for name in classes
        ]
    )


def growth_mass(masses: Mapping[str, ArrayLike], mass: MassAssumptions) -> Array:
    r"""Growth allowance on the basic masses, each line once.

    .. math:: \sum_i g_i m_i

    Parameters
    ----------
    masses
        Basic masses by class [kg].
    mass
        Assumptions with the growth fractions.

    Returns
    -------
    Array
        Growth [kg].

    Examples
    --------
    Tubes 2.0, fittings 0.8, heaters 0.3 at 25 %, harness 0.5 at 55 %, electronics 0.9 at 30 %
    (hand: 1.32 on 4.50 kg):

    >>> from types import SimpleNamespace
    >>> rates = SimpleNamespace(growth_thermal=0.25, growth_mechanisms=0.25, growth_harness=0.55,
    ...     growth_electronics_small=0.3, growth_electronics_medium=0.25,
    ...     growth_electronics_large=0.2)
    >>> parts = {"thermal": 0.3, "mechanisms": 2.8, "harness": 0.5, "electronics": 0.9}
    >>> float(growth_mass(parts, rates))
    1.32

    References
    ----------
    S-120A 2015 (from memory).
    """
    lines = jnp.stack(jnp.broadcast_arrays(*map(jnp.asarray, masses.values())))
    return jnp.sum(lines * growth_rates(masses, masses.get("electronics", 0.0), mass), axis=0)
