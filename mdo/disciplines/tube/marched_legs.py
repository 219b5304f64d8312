"""Level `incremental` of the tubes: the torque path of every leg of a known design.

In each leg the set that drives was wound before, by the other set, by load or by a spring, and
winds the other set itself. Both walls are marched along these paths, cold or cooling in step with
the panel; what the drive must overcome is the moment that the other wall then has.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.driven_march import march_driven
from mdo.disciplines.tube.incremental import (
    March,
    State,
    austenite,
    march_under,
    next_strain,
    next_stress,
    step_at,
)
from mdo.disciplines.tube.radial_twist import Twisted, twist_under
from mdo.disciplines.tube.radial_wall import Wall, mean_stress, wall_points
from mdo.disciplines.tube.record import MarchedLeg
from mdo.disciplines.tube.sma import martensite_stress

STEPS = 6  # of a march between two fold angles of the model
ABOVE, BELOW = 40.0, 1.0  # [K] above M_s and below M_f: ends of a cooling under one stress
COOLING_STEPS = 60
CORRECTIONS = 2  # of the strain asked for; each gains a factor of some 40
STUCK = 0.5e6  # [Pa] over what a load gives, from which it winds no further; judgement
COLD = -1e9  # [Pa] no stress is held: the set stays cold
OVER_ANGLES = ("driver_strain", "other_strain", "wound_stress", "load_moment", "factored_moment")


class LegPath(NamedTuple):
    """What the two sets of one leg, or of each of many, are marched along; A fold angles.

    Of many legs every array has them in front, (legs,) and (legs, A).

    Strains at r_w [1]: driver_strain (A,) falls, other_strain (A,) rises. wound_stress (A,) [Pa]:
    mean stress of the load or spring that wound the driver, as driver_strain reversed. driver_arm,
    other_arm [m3]: hinge moment over mean stress of all tubes of each set. load_moment (A,)
    and factored_moment (A,) [N*m]: unfactored moments beside the other set, and the required one
    with its margin. cold_temperature, hot_temperature [K]. Flags, 1 or 0: other_present,
    other_cold, wound_cold, wound_by_load.
    """

    driver_strain: Array
    other_strain: Array
    wound_stress: Array
    driver_arm: Array
    other_arm: Array
    load_moment: Array
    factored_moment: Array
    cold_temperature: Array
    hot_temperature: Array
    other_present: Array
    other_cold: Array
    wound_cold: Array
    wound_by_load: Array


def _over_steps(values: Array) -> Array:
    """Values at fold angles, first axis, at the steps of a march: linear between angles."""
    angles = values.shape[0]
    places = np.linspace(0.0, angles - 1.0, (angles - 1) * STEPS + 1)
    before = np.minimum(places.astype(int), angles - 2)
    share = (places - before).reshape(-1, *[1] * (values.ndim - 1))
    fine: Array = values[before] + share * (values[before + 1] - values[before])
    return fine


def cooling_stress(strain: Array, wall: Wall, alloy: Alloy) -> Array:
    """Least constant mean stress under which cooling from austenite gives a strain [Pa].

    Parameters
    ----------
    strain
        Strain at the effective radius once cold [1], any shape.
    wall, alloy
        Points; card.

    Returns
    -------
    Array
        Mean stress [Pa], shape of the strain.

    Notes
    -----
    That of the total form, for a strain corrected by how far its march falls short.

    References
    ----------
    Derived.
    """
    course = jnp.linspace(
        alloy.martensite_start + ABOVE, alloy.martensite_finish - BELOW, COOLING_STEPS
    )

    def total(asked: Array) -> Array:
        return mean_stress(martensite_stress(asked[..., None] * wall.ratio, alloy, 0.0), wall)

    def closer(_: int, asked: Array) -> Array:
        stress = jnp.broadcast_to(total(asked), course.shape + asked.shape)
        return asked * strain / march_under(stress, course, austenite(wall), wall, alloy).strain[-1]

    return total(jax.lax.fori_loop(0, CORRECTIONS, closer, jnp.asarray(strain, float)))


def _outer(march: March) -> Array:
    return jnp.max(jnp.abs(march.states.stress[..., -1]), axis=0)


def _inside(march: March, low: Array, high: Array) -> Array:
    """Largest miss of the steps whose temperature was free to meet their stress."""
    free = (march.temperature > low + 1e-3) & (march.temperature < high - 1e-3)
    return jnp.max(jnp.where(free, march.residual, 0.0), axis=0)


def _wound_share(march: March, wanted: Array, low: Array) -> Array:
    """Share of a twist to which a load winds a wall; the rest has more stress cold than the load.

    march, wanted [Pa]: courses that begin at the least twist, steps first; low: coldest [K].
    """
    cold = march.temperature <= low + 1e-3
    stuck = cold & (march.mean_stress - wanted > STUCK)
    first, last = march.strain[0], march.strain[-1]
    reached = jnp.min(jnp.where(stuck, march.strain, last), axis=0)
    share: Array = (reached - first) / jnp.where(last > first, last - first, 1.0)
    return jnp.where(last > first, share, 1.0)


def march_legs(path: LegPath, wall_ratio: Array, alloy: Alloy) -> MarchedLeg:
    r"""March both sets of one leg, or of many: the driver wound from hot to cold, and then driving.

    .. math:: n\,\eta\,N\,T_{drive} = R + M_{other} + M_{spring}

    Parameters
    ----------
    path
        What the sets are marched along.
    wall_ratio
        Wall over outer radius [1].
    alloy
        Card.

    Returns
    -------
    MarchedLeg
        Stresses [Pa], moments [N*m], strains [1], residual [1].

    Notes
    -----
    Who is just heated or warmed cools under a constant stress, the least that winds it fully; the
    driver holds that much beside its load. Who is cold was cooled where its twist is least, and is
    detwinned. The temperature of the driver is the one at which it carries the moments. Hot torque
    and strain are those of the wall brought to the hot temperature from each point of that path.
    A second cycle changes outer stresses by 0.2 % or less: one is marched.

    References
    ----------
    Derived; reference sma-tubes, sections 1.2 and 1.4.
    """
    wall = wall_points(wall_ratio)
    low, high = path.cold_temperature, path.hot_temperature
    # a course has its steps (or angles) first and the legs behind
    by_angle = {name: jnp.moveaxis(getattr(path, name), -1, 0) for name in OVER_ANGLES}
    strain, other_strain = (
        _over_steps(by_angle[name]) for name in ("driver_strain", "other_strain")
    )
    asked = cooling_stress(jnp.stack([other_strain[-1], strain[0]]), wall, alloy)
    held = jnp.where(jnp.stack([path.other_cold, path.wound_cold]) > 0.5, COLD, asked)
    by_load = _over_steps(by_angle["wound_stress"])
    by = jnp.where(path.wound_by_load > 0.5, by_load, held[1])
    both = march_driven(
        jnp.stack([other_strain, strain[::-1]], axis=1),
        jnp.stack([jnp.broadcast_to(held[0], by.shape), by], axis=1),
        austenite(wall), wall, alloy, (low, high),
    )  # fmt: skip
    other, wound = (jax.tree.map(lambda values, at=at: values[:, at], both) for at in (0, 1))
    resisting = path.other_arm * path.other_present * jnp.maximum(other.mean_stress, 0.0)
    wanted = (_over_steps(by_angle["load_moment"]) + resisting) / path.driver_arm

    end = jax.tree.map(lambda values: values[-1], wound.states)
    cold = step_at(strain[0], low, end, wall, alloy)
    driving = march_driven(strain, wanted, cold, wall, alloy, (low, high))
    at_angles = jax.tree.map(lambda values: values[::STEPS], driving.states)
    heated = step_at(by_angle["driver_strain"], high, at_angles, wall, alloy)
    needed = (by_angle["factored_moment"] + resisting[::STEPS]) / path.driver_arm
    required = _hot_strain(needed, at_angles, high, wall, alloy)
    return MarchedLeg(
        driven_outer_stress=_outer(driving),
        wound_outer_stress=_outer(wound),
        other_outer_stress=_outer(other) * path.other_present,
        cold_moment=jnp.moveaxis(resisting[::STEPS], 0, -1),
        hot_stress=jnp.moveaxis(mean_stress(heated.stress, wall), 0, -1),
        required_strain=jnp.moveaxis(required.strain, 0, -1),
        wound_share=jnp.where(path.wound_by_load > 0.5, _wound_share(wound, by, low), 1.0),
        residual=jnp.maximum(
            jnp.max(required.residual, axis=0),
            jnp.maximum(_inside(driving, low, high), _inside(wound, low, high)),
        ),
    )


def _hot_strain(
    mean: Array, before: State, temperature: Array, wall: Wall, alloy: Alloy
) -> Twisted:
    """Twist at which walls, heated from a state, carry a mean stress."""
    return twist_under(
        mean,
        wall,
        (temperature[..., None], before, alloy),
        lambda tau, given: next_strain(tau, *given),
        lambda gamma, given: next_stress(gamma, *given),
    )
