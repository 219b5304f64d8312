"""Growth allowance on top of the basic mass, per class of line and maturity.

The table is that of S-120A (2015) from memory, not verified. A study names one maturity; its row
becomes the growth fields of MassAssumptions, and the same row applies to the baselines. Growth is
applied to each line once and never to the sum again.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import smooth_step

# Fractions by maturity: E1 estimated, E2 layout, C3 preliminary, C4 released, A5 existing, A6
# weighed.
GROWTH_TABLE: dict[str, dict[str, float]] = {
    maturity: dict(
        zip(
            (
                "growth_electronics_small",
                "growth_electronics_medium",
                "growth_electronics_large",
                "growth_structure",
                "growth_brackets",
                "growth_battery",
                "growth_thermal",
                "growth_mechanisms",
                "growth_harness",
                "growth_instrumentation",
            ),
            row,
            strict=True,
        )
    )
    for maturity, row in {
        "E1": (0.30, 0.25, 0.20, 0.25, 0.30, 0.25, 0.25, 0.25, 0.55, 0.55),
        "E2": (0.25, 0.20, 0.15, 0.15, 0.20, 0.15, 0.20, 0.15, 0.30, 0.30),
        "C3": (0.20, 0.15, 0.10, 0.10, 0.15, 0.10, 0.15, 0.10, 0.25, 0.25),
        "C4": (0.10, 0.05, 0.05, 0.05, 0.06, 0.05, 0.05, 0.05, 0.10, 0.10),
        "A5": (0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.02, 0.03, 0.05, 0.05),
        "A6": (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    }.items()
}


class MassClasses(NamedTuple):
    """Basic mass by growth class [kg]; any shape, all of one basis (wing or aircraft)."""

    structure: ArrayLike
    brackets: ArrayLike
    battery: ArrayLike
    thermal: ArrayLike
    mechanisms: ArrayLike
    harness: ArrayLike
    instrumentation: ArrayLike
    electronics: ArrayLike


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
    >>> row = SimpleNamespace(**GROWTH_TABLE["E1"])
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
    """Growth fraction of lines by their class [1], shape (lines,).

    Parameters
    ----------
    classes : of each line, a field of MassClasses
    electronics_mass : basic mass of all electronics [kg]
    mass : assumptions
    """
    return jnp.stack(
        [
            electronics_growth(electronics_mass, mass)
            if name == "electronics"
            else jnp.asarray(getattr(mass, f"growth_{name}"), dtype=float)
            for name in classes
        ]
    )


def growth_mass(lines: MassClasses, mass: MassAssumptions) -> Array:
    r"""Growth allowance on the basic masses, each line once.

    .. math:: \sum_i g_i m_i

    Parameters
    ----------
    lines
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
    >>> parts = MassClasses(structure=0.0, brackets=0.0, battery=0.0, thermal=0.3, mechanisms=2.8,
    ...     harness=0.5, instrumentation=0.0, electronics=0.9)
    >>> float(growth_mass(parts, SimpleNamespace(**GROWTH_TABLE["E1"])))
    1.32

    References
    ----------
    S-120A 2015 (from memory).
    """
    return jnp.asarray(
        mass.growth_structure * jnp.asarray(lines.structure)
        + mass.growth_brackets * jnp.asarray(lines.brackets)
        + mass.growth_battery * jnp.asarray(lines.battery)
        + mass.growth_thermal * jnp.asarray(lines.thermal)
        + mass.growth_mechanisms * jnp.asarray(lines.mechanisms)
        + mass.growth_harness * jnp.asarray(lines.harness)
        + mass.growth_instrumentation * jnp.asarray(lines.instrumentation)
        + electronics_growth(lines.electronics, mass) * jnp.asarray(lines.electronics)
    )
