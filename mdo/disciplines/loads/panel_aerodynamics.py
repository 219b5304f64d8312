"""Panel aerodynamics: the record that every source of them fills."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

SIDESLIP_ASPECT = 1.5  # effective aspect ratio of a panel in its own incidence, over its own one


class PanelAerodynamics(NamedTuple):
    """Hinge moment and normal force of the right panel, per dynamic pressure and radian.

    Shape ``(legs, angles)`` but for the last three, ``(legs,)``.
    """

    lift_moment_arm: Array  # [m] hinge moment per newton of total lift, trimmed at that lift
    lift_normal_fraction: Array  # [1] panel normal force per newton of total lift
    incidence_moment: Array  # [m**3] per wing incidence, not trimmed
    incidence_force: Array  # [m**2]
    sideslip_moment: Array  # [m**3] per sideslip
    sideslip_force: Array  # [m**2]
    panel_moment: Array  # [m**3] per incidence of the panel alone
    panel_force: Array  # [m**2]
    panel_lift: Array  # [m**2] lift of both wings of it
    twist_moment: Array  # [m**3] of the built-in twist of the panel against the inner wing
    twist_force: Array  # [m**2]
    twist_lift: Array  # [m**2] lift of both wings of it
    roll_moment: Array  # [m**4] per p/V
    rate_moment: Array  # [m**4] per fold rate/V, positive: damping
    chordwise_centre: Array  # [1]
    load_uncertainty: Array  # [1]
    transonic: Array  # [1]
