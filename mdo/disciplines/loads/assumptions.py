"""Assumptions of the aerodynamic loads; every one can be edited in a study."""

from __future__ import annotations

from typing import NamedTuple

from mdo.disciplines.records import Scalar


class AeroAssumptions(NamedTuple):
    """Numbers of the load models that are judgement or convention."""

    moment_scale: Scalar
    thickness_moment_coefficient: Scalar
    wind_factor: Scalar
    wind_model: Scalar
    wind_upflow: Scalar
    wind_plateau: Scalar
    wind_arm_factor: Scalar
    gust_factor: Scalar
    chordwise_centre_subsonic: Scalar
    chordwise_centre_supersonic: Scalar
    bearing_middle: Scalar
    panel_drag_ratio: Scalar
    uncertainty_subsonic: Scalar
    uncertainty_supersonic: Scalar
    uncertainty_transonic: Scalar
    uncertainty_wind: Scalar
    uncertainty_incidence: Scalar
    uncertainty_damping: Scalar
    uncertainty_friction: Scalar
    uncertainty_table: Scalar
