"""Discipline entry `fittings`: end fittings of the tubes, which also soak heat."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.tubes import end_fitting_mass, mid_support_mass
from mdo.disciplines.tube import torsion


class Fittings(NamedTuple):
    """Fittings of one tube of each set [kg]: both ends, and the mid support of a slender tube."""

    fitting_mass_per_tube: Array
    support_mass_per_tube: Array


def fittings(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    operating_stress: Array,
    mass_assumptions: MassAssumptions,
) -> Fittings:
    """Mass of the splined fittings at both ends of one tube and of its mid support.

    Parameters
    ----------
    tube_outer_radius, tube_length
        Outer radius and active length of the tube [m].
    wall_ratio
        Wall over outer radius [1].
    operating_stress
        Uniform shear stress of each set [Pa], shape (2,).
    mass_assumptions
        Record: bearing of splines, density, mid support beyond L/OD 60.

    Returns
    -------
    Fittings
        Masses [kg], shape (2,), sized for the operating torque of each set.

    References
    ----------
    :func:`mdo.disciplines.mass.tubes.end_fitting_mass`,
    :func:`mdo.disciplines.mass.tubes.mid_support_mass`.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    one_end = end_fitting_mass(
        torsion.torque(operating_stress, section),
        outer_diameter=2.0 * section.outer_radius,
        inner_diameter=2.0 * section.inner_radius,
        mass=mass_assumptions,
    )
    slenderness = tube_length / (2.0 * section.outer_radius)
    return Fittings(
        fitting_mass_per_tube=2.0 * one_end,
        support_mass_per_tube=mid_support_mass(
            one_end, length_to_diameter=slenderness, mass=mass_assumptions
        ),
    )
