"""Level `uniform` of the tubes: one shear stress in the whole wall, closed form."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import blended_min
from mdo.disciplines.tube import hot, phases, sma, torsion
from mdo.disciplines.tube.entries import level_by
from mdo.disciplines.tube.record import TubeStates
from mdo.disciplines.tube.section_law import SectionLaw


def dragging_stress(strain: Array, alloy: Alloy) -> Array:
    """Stress of a cold tube that the others unwind from where it stands.

    Elastic (G_M) up to the stress that finishes detwinning, then flat: the upper bound of what it
    can resist before its martensite is reoriented the other way. Corner rounded over 5 MPa.

    Parameters
    ----------
    strain
        By which it is unwound, at r_w [1].
    alloy
        Record.

    Returns
    -------
    Array
        [Pa], shape of `strain`.

    Examples
    --------
    Modulus 10 GPa, plateau 173.2 MPa in tension, 100 MPa in shear (hand):

    >>> from types import SimpleNamespace
    >>> alloy = SimpleNamespace(martensite_shear_modulus=10e9, detwinning_finish_stress=173.2e6)
    >>> [float(dragging_stress(strain, alloy)) / 1e6 for strain in (0.002, 0.05)]
    [20, 100]

    References
    ----------
    Judgement (flat beyond detwinning); :mod:`mdo.disciplines.tube.phases`.
    """
    plateau = jnp.asarray(alloy.detwinning_finish_stress) / phases.ROOT3
    return blended_min(alloy.martensite_shear_modulus * strain, plateau, 5e6)


def uniform_law(section: torsion.Section, wall_ratio: Array, alloy: Alloy) -> SectionLaw:
    """Law of a section under one uniform shear stress.

    Parameters
    ----------
    section
        Of a tube.
    wall_ratio
        Wall over outer radius [1]; all that counts here is the effective radius.
    alloy
        Record.

    Returns
    -------
    SectionLaw
        Stresses [Pa], strains [1]; the wall is one point.

    Notes
    -----
    Blocked and heated, the stress is that of the heating line at the hot temperature, whatever the
    twist: the bound of what a wall can reach.

    References
    ----------
    :mod:`mdo.disciplines.tube.sma`, :mod:`mdo.disciplines.tube.hot`.
    """
    del wall_ratio  # all that this level wants of the wall is its effective radius

    def cold_lock(strain: Array, retwist: Array) -> Array:
        stress = sma.martensite_stress(strain, alloy, retwist)
        return strain - stress / alloy.martensite_shear_modulus

    def cold_under(stress: Array) -> tuple[Array, Array]:
        strain = sma.martensite_strain(stress, alloy, 0.0)
        return strain, sma.transformation_strain_cooling(stress, alloy)

    def hot_under(stress: Array, temperature: Array, locked: Array) -> tuple[Array, Array]:
        strain = hot.hot_strain(stress, temperature, locked, alloy)
        return strain, torsion.outer_stress(stress, section) / torsion.OUTER_STRESS_FACTOR

    def hot_wall(strain: Array, temperature: Array, locked: Array) -> Array:
        return hot.hot_stress(strain, temperature, locked, alloy)[..., None]

    def stall(
        strain: Array, temperature: Array, locked: Array, pushes_up: Array
    ) -> tuple[Array, Array]:
        del strain, locked, pushes_up
        slope = jnp.asarray(alloy.austenite_slope) * alloy.slope_factor / phases.ROOT3
        stress = jnp.broadcast_to(slope * (temperature - alloy.austenite_start), (2,))
        return stress, torsion.outer_stress(stress, section)

    return SectionLaw(
        radius=section.effective_radius[None],
        drag=lambda strain: dragging_stress(strain, alloy),
        cold_stress=lambda strain, retwist: sma.martensite_stress(strain, alloy, retwist),
        cold_lock=cold_lock,
        cold_under=cold_under,
        hot_under=hot_under,
        hot_wall=hot_wall,
        mean=lambda wall_stress: wall_stress[..., 0],
        stall=stall,
    )


def uniform_states(
    *, operating_stress: Array, hot_temperature: Array, wall_ratio: Array, alloy: Alloy
) -> TubeStates:
    """Transformation temperatures of each set at its operating stress, shape (2,).

    Parameters
    ----------
    operating_stress
        Uniform shear stress of each set [Pa], shape (2,).
    hot_temperature
        Temperature at the end of heating [K].
    wall_ratio
        Wall over outer radius [1]; nothing here follows from it.
    alloy
        Record.

    Returns
    -------
    TubeStates
        Temperatures [K]; ``heated_fraction`` = 1 - xi on the heating envelope at the hot
        temperature [1].

    References
    ----------
    :func:`mdo.disciplines.tube.phases.phase_temperatures`.
    """
    del wall_ratio
    shifted = phases.phase_temperatures(operating_stress, alloy)
    return TubeStates(
        heating_start=shifted.austenite_start,
        heating_finish=shifted.austenite_finish,
        holding_start=shifted.martensite_start,
        heated_fraction=1.0
        - phases.martensite_fraction_heating(hot_temperature, operating_stress, alloy),
    )


LEVEL = level_by(uniform_states, uniform_law)
_, uniform_demand, uniform_answer = LEVEL
