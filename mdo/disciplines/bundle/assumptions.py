"""Judged and sourced constants of the bundle (defaults in ``mdo/study/defaults/bundle.toml``)."""

from __future__ import annotations

from typing import NamedTuple

from mdo.disciplines.records import Scalar


class BundleAssumptions(NamedTuple):
    """Packing, transmission and gates of the bundle."""

    tube_gap_ratio: Scalar
    sharing_efficiency: Scalar
    joint_efficiency: Scalar
    mesh_efficiency: Scalar
    grip_length_ratio: Scalar
    pinion_ratio: Scalar
    pinion_spacing: Scalar
    gear_surface_factor: Scalar
    gear_face_ratio_max: Scalar
    gear_bending_allowable: Scalar
    gear_teeth: Scalar
    gear_lewis_factor: Scalar
    cold_end_length_ratio: Scalar
    spline_length_ratio: Scalar
    nested_gap: Scalar
    nested_diameter_ratio: Scalar
    knuckle_diameter_ratio: Scalar
    plated_strain_fraction: Scalar
    wall_min: Scalar
    bore_radius_min: Scalar
    buckling_wall_ratio: Scalar
    buckling_knockdown: Scalar
    tangent_modulus_ratio: Scalar
    length_to_diameter_min: Scalar
    bundle_chord_fraction_max: Scalar
