"""Level `radial` of the tubes: points through the wall, total form at turning points.

What differs from one uniform stress: the outer fibre of a thick wall is the most loaded and the
last to transform, so a hot wall that is partly transformed gives less torque at the end of a
stroke; and a cold wall resists with the mean of what its points do. The rows keep their meaning:
strains are those at the effective radius, stresses are means of the section.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import blended_min
from mdo.disciplines.tube import phases, sma, torsion
from mdo.disciplines.tube.entries import level_by
from mdo.disciplines.tube.radial_twist import cold_twist_under, hot_twist_under
from mdo.disciplines.tube.radial_wall import hot_wall_stress, mean_stress, wall_points
from mdo.disciplines.tube.record import TubeStates
from mdo.disciplines.tube.section_law import SectionLaw

CORNER = 5e6  # [Pa] rounding of the end of the detwinning plateau, as at `uniform`


def radial_law(section: torsion.Section, wall_ratio: Array, alloy: Alloy) -> SectionLaw:
    """Law of a section that is resolved over the radius.

    Parameters
    ----------
    section
        Radii and effective radius [m].
    wall_ratio
        Wall over outer radius [1].
    alloy
        Card.

    Returns
    -------
    SectionLaw
        Stresses [Pa], strains at r_w [1].

    Notes
    -----
    The outer-fibre stress of a hot wall is that of the total form; what a path leaves in the wall
    is a factor of the legs, and :data:`mdo.disciplines.tube.torsion.OUTER_STRESS_FACTOR` of a
    blocked one.

    References
    ----------
    Reference sma-tubes, section 1.2; the factor is judgement.
    """
    wall = wall_points(wall_ratio)
    modulus = alloy.martensite_shear_modulus

    def cold_wall(strain: Array, retwist: Array) -> Array:
        return sma.martensite_stress(
            strain[..., None] * wall.ratio, alloy, jnp.asarray(retwist)[..., None]
        )

    def drag(strain: Array) -> Array:
        plateau = jnp.asarray(alloy.detwinning_finish_stress) / phases.ROOT3
        return mean_stress(
            blended_min(modulus * strain[..., None] * wall.ratio, plateau, CORNER), wall
        )

    def cold_lock(strain: Array, retwist: Array) -> Array:
        return strain[..., None] * wall.ratio - cold_wall(strain, retwist) / modulus

    def cold_under(stress: Array) -> tuple[Array, Array]:
        cold = cold_twist_under(stress, wall, alloy)
        return cold.strain, cold.strain[..., None] * wall.ratio - cold.stress / modulus

    def hot_under(stress: Array, temperature: Array, locked: Array) -> tuple[Array, Array]:
        hot = hot_twist_under(stress, temperature, locked, wall, alloy)
        return hot.strain, hot.stress[..., -1]

    def hot_wall(strain: Array, temperature: Array, locked: Array) -> Array:
        return hot_wall_stress(strain, temperature, locked, wall, alloy)

    def stall(
        strain: Array, temperature: Array, locked: Array, pushes_up: Array
    ) -> tuple[Array, Array]:
        blocked = hot_wall_stress(strain, temperature, locked, wall, alloy)
        both = jnp.stack([mean_stress(blocked, wall), blocked[..., -1]])
        own = jnp.stack([pushes_up, ~pushes_up])[:, None]
        worst = jnp.max(jnp.where(own, both, 0.0), axis=-1)
        return worst[:, 0], torsion.OUTER_STRESS_FACTOR * worst[:, 1]

    return SectionLaw(
        radius=wall.ratio * section.effective_radius,
        drag=drag,
        cold_stress=lambda strain, retwist: mean_stress(cold_wall(strain, retwist), wall),
        cold_lock=cold_lock,
        cold_under=cold_under,
        hot_under=hot_under,
        hot_wall=hot_wall,
        mean=lambda wall_stress: mean_stress(wall_stress, wall),
        stall=stall,
    )


def radial_states(
    *, operating_stress: Array, hot_temperature: Array, wall_ratio: Array, alloy: Alloy
) -> TubeStates:
    """Transformation temperatures of each set over its wall at its operating stress.

    Parameters
    ----------
    operating_stress
        Mean stress of each set [Pa], shape (2,).
    hot_temperature
        Temperature at the end of heating [K].
    wall_ratio
        Wall over outer radius [1].
    alloy
        Card.

    Returns
    -------
    TubeStates
        As' where the wall starts, at its inner fibre; Af' where it ends and Ms' where it must be
        held, at the outer fibre [K]; fraction that is heated [1].

    Notes
    -----
    The stress is that of an elastic hot wall, proportional to the radius. Where a wall is partly
    transformed its stress levels out towards the mean one: the fraction is taken there, which
    leaves no more martensite, and asks for no less heat, than the wall does.

    Examples
    --------
    A thin wall is that of one stress (hand, 100 MPa: As' 384.744, Af' 404.744 K):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(martensite_start=340.0, martensite_finish=320.0,
    ...     austenite_start=360.0, austenite_finish=380.0, martensite_slope=7e6,
    ...     austenite_slope=7e6, slope_factor=1.0)
    >>> state = radial_states(operating_stress=jnp.array([100e6, 0.0]), hot_temperature=394.744,
    ...     wall_ratio=1e-6, alloy=card)
    >>> float(state.heating_start[0]), float(state.heating_finish[0])
    (384.744, 404.744)

    References
    ----------
    Derived; reference sma-tubes, section 1.1 (hottest at the outer fibre), check case C14.
    """
    wall = wall_points(wall_ratio)
    outer = wall.ratio[-1] / mean_stress(wall.ratio, wall)
    at_inner = phases.phase_temperatures(operating_stress * outer * (1.0 - wall_ratio), alloy)
    at_outer = phases.phase_temperatures(operating_stress * outer, alloy)
    xi = phases.martensite_fraction_heating(hot_temperature, operating_stress, alloy)
    return TubeStates(
        heating_start=at_inner.austenite_start,
        heating_finish=at_outer.austenite_finish,
        holding_start=at_outer.martensite_start,
        heated_fraction=1.0 - xi,
    )


LEVEL = level_by(radial_states, radial_law)
_, radial_demand, radial_answer = LEVEL
