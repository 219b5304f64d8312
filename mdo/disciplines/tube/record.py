"""What every level of the tubes gives: all that anyone downstream may want of them."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

NO_RESISTANCE = 1e6  # margin printed as 'load assists': there is nothing to overcome
STALLED = -1.0  # margin where the load assists and the hinge does not move all the same


class TubeStates(NamedTuple):
    """As' and Af' at the operating stress, Ms' there (hot hold) [K], and the fraction heated; (2,).

    ``heated_fraction`` is 1 - xi on the heating envelope at the hot temperature [1].
    """

    heating_start: Array
    heating_finish: Array
    holding_start: Array
    heated_fraction: Array


class TubeDemand(NamedTuple):
    """Who drives each leg, against what, and what it needs. One wing; L legs, A angles, 2 sets.

    Stresses [Pa] are mean ones of the whole section, strains those at the effective radius [1],
    moments [N*m] at the hinge. (L, A): tube_strain (what is left of the twist at the end of the
    life), cold_moment (drag of the other set), internal_moment (with the spring), factored_moment
    (required, with its margin), required_stress, required_strain, failed_stress, failed_strain (one
    tube lost), return_stress, return_strain, return_needed_strain, holding_moment. (L,):
    locked_strain (levels with points through the wall add an axis), leg_stress, leg_outer_stress,
    leg_work_density [J/m3] (for the life), stroke_strain, actuator_work [J]. (2,):
    smallest_return_stress, cooling_start and cooling_finish [K] there, outer_stress_operating,
    outer_strain_max, rated_moment of one tube. stress_cap () is the stress at which the outer fibre
    reaches the allowable one.
    """

    tube_strain: Array
    cold_moment: Array
    internal_moment: Array
    factored_moment: Array
    required_stress: Array
    required_strain: Array
    failed_stress: Array
    failed_strain: Array
    return_stress: Array
    return_strain: Array
    return_needed_strain: Array
    holding_moment: Array
    locked_strain: Array
    smallest_return_stress: Array
    cooling_start: Array
    cooling_finish: Array
    leg_stress: Array
    leg_outer_stress: Array
    leg_work_density: Array
    stroke_strain: Array
    actuator_work: Array
    outer_stress_operating: Array
    outer_strain_max: Array
    rated_moment: Array
    stress_cap: Array


class TubeAnswer(NamedTuple):
    """What only a report asks of the tubes of one wing; L legs, A angles, P points of the wall.

    (L, A): hot_stress [Pa], available_moment and available_moment_failed (one tube cold and
    dragging) [N*m], torque_margin, torque_margin_upper_band, torque_margin_failed [1]. Blocked and
    heated: stall_stress, stall_outer_stress () [Pa], stall_moment of each set (2,) [N*m]. Through
    the wall: wall_radius (P,) [m], wall_stress (L, A, P) [Pa] of the hot driving set. Outer-fibre
    elastic stress over the mean one: elastic_stress_ratio () [1].
    travel_strain () [1] of the whole travel. Transformation lines for a figure: phase_line_stress
    (K,) [Pa] and phase_line_temperature (K, 4) [K], in the order Mf, Ms, As, Af.
    """

    hot_stress: Array
    available_moment: Array
    available_moment_failed: Array
    torque_margin: Array
    torque_margin_upper_band: Array
    torque_margin_failed: Array
    stall_stress: Array
    stall_outer_stress: Array
    stall_moment: Array
    wall_radius: Array
    wall_stress: Array
    elastic_stress_ratio: Array
    travel_strain: Array
    phase_line_stress: Array
    phase_line_temperature: Array


class MarchedLeg(NamedTuple):
    """A leg along its path; A fold angles.

    Outer stress, largest [Pa]: driven_outer_stress while it drives, wound_outer_stress of the same
    set while it was wound, other_outer_stress of the set that it winds. (A,): cold_moment of the
    other set [N*m]; when hot, the mean stress hot_stress [Pa], and required_strain [1] for the
    factored moment. wound_share [1]: of the stroke, up to where load or spring winds the driver as
    it cools, free of stress to begin with; 1 of a pair. residual [1]: largest miss of a balance.
    """

    driven_outer_stress: Array
    wound_outer_stress: Array
    other_outer_stress: Array
    cold_moment: Array
    hot_stress: Array
    required_strain: Array
    wound_share: Array
    residual: Array
