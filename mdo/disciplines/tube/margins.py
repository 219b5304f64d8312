"""Exact torque margins of a design, for the report: the stress is solved, not bounded.

``A(phi) = n eff sum T_hot - (moment of the cold set and spring)``, margin ``A/R - 1``.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.tube import sma, torsion
from mdo.disciplines.tube.travel import pick
from mdo.disciplines.tube.uniform import levers

NO_RESISTANCE = 1e6  # margin printed as 'load assists': there is nothing to overcome
ROUND_OFF = 1e-6  # share of R by which A may be short of it and still count as equal
STALLED = -1.0  # margin where the load assists and the hinge does not move all the same


class Margins(NamedTuple):
    """Available moments [N*m] and margins of one wing, shape (legs, angles); stall stress [Pa]."""

    hot_stress: Array
    available_moment: Array
    torque_margin: Array
    torque_margin_upper_band: Array
    torque_margin_failed: Array
    stall_stress: Array


def margins(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    gear_ratio: Array,
    hot_temperature: Array,
    tube_strain: Array,
    locked_strain: Array,
    internal_moment: Array,
    pushes_up: Array,
    failed_stress: Array,
    required_moment: Array,
    load_uncertainty: Array,
    transmission_efficiency: Array,
    choices: Choices,
    alloy: Alloy,
) -> Margins:
    """Available moment over the fold angle and its margin, for the heated set of each leg.

    Parameters
    ----------
    tube_outer_radius, tube_length [m], wall_ratio, tube_count (2,), gear_ratio : the design
    hot_temperature : [K]
    tube_strain : strain at r_w of the driving set, (legs, angles)
    locked_strain : transformation strain locked in at the start of the leg, (legs,)
    internal_moment : moment of the cold set and spring at the hinge [N*m], (legs, angles)
    pushes_up : 1 where the up set drives, (legs,)
    failed_stress : [Pa] with one tube lost, as :func:`actuator_uniform` gives it, (legs, angles)
    required_moment : R [N*m], (legs, angles)
    load_uncertainty : relative uncertainty of the load model, (legs,)
    transmission_efficiency : tube torque to hinge
    choices, alloy : records

    Notes
    -----
    The hot stress is capped where the outer fibre reaches the allowable stress. With one tube of
    the driving set failed, N - 1 tubes drive and the failed one drags as :func:`actuator_uniform`
    has it. The margin at the upper band divides by ``R (1 + u)``; it is printed, not required.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    lever = levers(
        section=section,
        tube_length=tube_length,
        gear_ratio=gear_ratio,
        efficiency=transmission_efficiency,
    )
    up = pushes_up[:, None] > 0.5
    count = jnp.maximum(pick(jnp.asarray(choices.set_present) * tube_count, up), 1e-3)
    cap = alloy.allowable_shear_stress / torsion.outer_stress(1.0, section)
    stress = jnp.minimum(
        sma.hot_stress(tube_strain, hot_temperature, locked_strain[:, None], alloy), cap
    )
    available = lever.drive * count * stress - internal_moment
    resists = required_moment > 0.0
    needed = jnp.where(resists, required_moment, 1.0)
    # where the load assists, the cold set and the spring may still stall the motion: A < R <= 0
    # to round-off: an optimum may stand at A = R
    enough = required_moment - ROUND_OFF * (1.0 + jnp.abs(required_moment))
    free = jnp.where(available >= enough, NO_RESISTANCE, STALLED)
    margin = jnp.where(resists, available / needed - 1.0, free)
    band = (1.0 + margin) / (1.0 + load_uncertainty[:, None]) - 1.0
    drag = failed_stress * lever.drive * jnp.maximum(count - 1.0, 1e-3) - required_moment
    lame = lever.drive * (count - 1.0) * stress - drag
    slope = jnp.asarray(alloy.austenite_slope) * alloy.slope_factor / sma.ROOT3
    return Margins(
        hot_stress=stress,
        available_moment=available,
        torque_margin=margin,
        torque_margin_upper_band=jnp.where(resists, band, free),
        torque_margin_failed=jnp.where(
            resists,
            lame / needed - 1.0,
            jnp.where(lame >= enough, NO_RESISTANCE, STALLED),
        ),
        stall_stress=slope * (hot_temperature - alloy.austenite_start),
    )
