"""Bundle of one wing: topology, packing in the slab at the fold, kinematic gates.

Four topologies, selected by number so that one compiled chain serves all:

0 ``knuckle``: tubes one behind the other on the hinge line, torques add, no gear;
1 ``nested``: coaxial tubes on the hinge line, inner tubes cool worst;
2 ``geared``: a pinion on each tube, on a wheel on the hinge line. A wheel takes ``pi (1 + m)/1.1``
  pinions; further lanes are further wheels. The tubes of the first lane sit on the ring around the
  wheel; those of each parallel lane lie one pitch further out in the slab and reach their wheel
  through one more idler. What the parallel lanes do not take follows in further modules along the
  chord;
3 ``plated``: tubes between two plates that turn about the bundle axis, so that each tube is bent.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.bundle.exposure import crowding, hull_view_factor
from mdo.disciplines.bundle.gears import (
    collector_factor,
    face_width,
    lanes_required,
    pinions_per_lane,
    rotor_volume,
)
from mdo.disciplines.bundle.plated import plate_motion
from mdo.disciplines.bundle.transmission import GEARED, mean_idlers
from mdo.disciplines.bundle.wing_room import usable_height
from mdo.disciplines.records import Alloy, Choices, Planform, Vehicle
from mdo.disciplines.smooth import blended_max
from mdo.disciplines.tube import torsion

PITCH_BLEND = 0.01  # [1] of a diameter: pinions or insulation decide the pitch; bias 0.25 % at most
HEX_FILL = 0.75  # tubes per circle area of equal pitch circles in a round hexagonal pack; judgement


class Bundle(NamedTuple):
    """Size, gates and exposures of the bundle and sizes of its tubes; one wing.

    Lengths [m], gear_volume [m**3], buckling_stress [Pa]; lanes, modules, ratios and exposures [1].
    """

    wall_thickness: Array
    bore_radius: Array
    tube_slenderness: Array
    tube_length_overall: Array
    bundle_length: Array
    bundle_height: Array
    bundle_width: Array
    height_available: Array
    lanes: Array
    lanes_needed: Array
    lane_capacity: Array
    gear_meshes: Array
    modules: Array
    gear_face_width: Array
    gear_volume: Array
    bundle_radius: Array
    parasitic_strain_ratio: Array
    nested_bore_radius: Array
    buckling_stress: Array
    radiation_exposure: Array
    convection_exposure: Array


class Outline(NamedTuple):
    """Envelope and exposure of one topology."""

    length: Array
    height: Array
    width: Array
    radiation: Array
    convection: Array


def bundle(
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    gear_ratio: Array,
    insulation_thickness: Array,
    travel_low: Array,
    travel_high: Array,
    planform: Planform,
    vehicle: Vehicle,
    choices: Choices,
    alloy: Alloy,
    bundle_assumptions: BundleAssumptions,
) -> Bundle:
    """Envelope, gear volume, gates and exposures of the bundle (one wing).

    Parameters
    ----------
    tube_outer_radius, tube_length, insulation_thickness
        Outer radius, active length and sleeve of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set [1], shape (2,).
    operating_stress
        Uniform shear stress of each set [Pa], shape (2,).
    gear_ratio
        Tube twist over fold angle [1].
    travel_low, travel_high
        Ends of the travel [rad].
    planform, vehicle, choices, alloy, bundle_assumptions
        Records.

    Returns
    -------
    Bundle
        Lengths [m]; tube_slenderness is active length over diameter [1]; gear_volume is the
        solid-rotor volume of all gears, every pinion loaded as
        those of the stronger set [m**3]; parasitic_strain_ratio is bending plus axial strain over
        the admissible one (plated) [1].

    References
    ----------
    Derived (geometry of the four topologies); :mod:`mdo.disciplines.bundle.gears`,
    :mod:`mdo.disciplines.bundle.plated`, :mod:`mdo.disciplines.bundle.wing_room`.
    """
    a = bundle_assumptions
    section = torsion.section(tube_outer_radius, wall_ratio)
    diameter = 2.0 * jnp.asarray(tube_outer_radius)
    dressed = diameter + 2.0 * insulation_thickness
    counts = jnp.asarray(choices.set_present) * tube_count
    total = jnp.maximum(jnp.sum(counts), 1e-3)
    overall = tube_length + 2.0 * diameter * (
        jnp.asarray(a.grip_length_ratio) + a.cold_end_length_ratio + a.spline_length_ratio
    )
    tube_torque = torsion.torque(operating_stress, section) * choices.set_present
    largest = blended_max(tube_torque[0], tube_torque[1], 0.02 * jnp.sum(tube_torque) + 1e-9)
    parallel = jnp.asarray(choices.gear_lanes)
    needed = lanes_required(total, ratio=gear_ratio, spacing=a.pinion_spacing)
    modules = blended_max(needed / parallel, 1.0, 0.05)
    lanes = modules * parallel
    geared = jnp.asarray(choices.topology) == GEARED
    surface = a.gear_surface_factor
    pinion = diameter * a.pinion_ratio
    face = face_width(largest, pinion_diameter=pinion, ratio=gear_ratio, surface_factor=surface)
    volume = rotor_volume(
        largest,
        surface_factor=surface,
        volume_factor=collector_factor(gear_ratio, total, lanes),
    )
    blend = PITCH_BLEND * diameter
    pitch = blended_max(pinion * a.pinion_spacing, dressed * (1.0 + a.tube_gap_ratio), blend)
    idlers = 2.0 * total * mean_idlers(parallel)
    volume = volume + rotor_volume(largest, surface_factor=surface, volume_factor=idlers)
    ring = (gear_ratio + 1.0) * pinion + blended_max(pinion, dressed, blend)
    spread = ring + 2.0 * (parallel - 1.0) * pitch
    pack_radius = dressed * (1.0 + jnp.asarray(a.tube_gap_ratio)) / 2 * jnp.sqrt(total / HEX_FILL)
    nest_step = section.outer_radius - section.inner_radius + a.nested_gap
    nest_outer = section.outer_radius + (total - 1.0) / 2 * nest_step
    one = jnp.ones_like(diameter)
    open_pitch = 1.0 + jnp.asarray(a.tube_gap_ratio)
    nest = 2.0 * a.nested_diameter_ratio * (nest_outer + insulation_thickness)
    knuckle = a.knuckle_diameter_ratio * dressed
    round_pack = 2.0 * pack_radius + pitch
    perimeters = total * jnp.pi * dressed
    crowded = one * crowding(open_pitch)
    outlines = Outline(
        length=jnp.stack(
            [total * overall, overall, modules * (overall + parallel * face), overall]
        ),
        height=jnp.stack([knuckle, nest, ring, round_pack]),
        width=jnp.stack([knuckle, nest, spread, round_pack]),
        radiation=jnp.stack(
            [
                one,
                1.0 / blended_max(total, 1.0, 0.05),
                hull_view_factor(modules * 2.0 * (ring + spread) * 0.9, perimeters),
                hull_view_factor(jnp.pi * round_pack, perimeters),
            ]
        ),
        convection=jnp.stack([one, 1.0 / blended_max(total, 1.0, 0.05), crowded, crowded]),
    )
    kind = jnp.asarray(choices.topology).astype(int)
    chosen = Outline(*(values[kind] for values in outlines))
    design_strain = alloy.strain_saturation * jnp.asarray(a.plated_strain_fraction)
    bent = plate_motion(
        circle_radius=pack_radius,
        relative_angle=travel_high - travel_low,
        outer_diameter=diameter,
        tube_length=tube_length,
    )
    strain = bent.bending_strain + bent.axial_strain
    wall = section.outer_radius - section.inner_radius
    return Bundle(
        wall_thickness=wall,
        bore_radius=section.inner_radius,
        tube_slenderness=tube_length / diameter,
        tube_length_overall=overall,
        bundle_length=chosen.length,
        bundle_height=chosen.height,
        bundle_width=chosen.width,
        height_available=usable_height(
            bundle_length=chosen.length,
            fold_chord=planform.fold_chord,
            fold_thickness=planform.fold_thickness,
            section_form=vehicle.section_form,
            skin_thickness=vehicle.skin_thickness,
            clearance=vehicle.clearance,
        ),
        lanes=jnp.where(geared, lanes, 1.0),
        lanes_needed=jnp.where(geared, needed, 1.0),
        lane_capacity=pinions_per_lane(gear_ratio, a.pinion_spacing),
        gear_meshes=jnp.where(geared, 1.0 + mean_idlers(parallel), 0.0),
        modules=jnp.where(geared, modules, 1.0),
        gear_face_width=jnp.where(geared, face, 0.0),
        gear_volume=jnp.where(geared, volume, 0.0),
        bundle_radius=chosen.height / 2,
        parasitic_strain_ratio=strain / design_strain,
        nested_bore_radius=nest_outer - (total - 1.0) * nest_step - wall,
        buckling_stress=jnp.asarray(a.buckling_knockdown)
        * torsion.buckling_stress(
            outer_radius=section.outer_radius,
            wall=wall,
            length=tube_length,
            young_modulus=alloy.martensite_young_modulus * jnp.asarray(a.tangent_modulus_ratio),
            poisson_ratio=alloy.poisson_ratio,
        ),
        radiation_exposure=chosen.radiation,
        convection_exposure=chosen.convection,
    )
