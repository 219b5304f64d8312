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


class _Size(NamedTuple):
    """One wing's tubes: section, diameter bare and with sleeve, wall, lengths [m], their number."""

    section: torsion.Section
    diameter: Array
    dressed: Array
    wall: Array
    overall: Array
    total: Array


class _Gears(NamedTuple):
    """Gears of a geared bundle: lanes [1], pinion, face, pitch [m], volume [m**3]."""

    parallel: Array
    needed: Array
    modules: Array
    pinion: Array
    face: Array
    pitch: Array
    volume: Array


def _gears(
    size: _Size, largest: Array, gear_ratio: Array, choices: Choices, a: BundleAssumptions
) -> _Gears:
    """Lanes, pinions and wheels for the largest torque of a tube."""
    parallel = jnp.asarray(choices.gear_lanes)
    needed = lanes_required(size.total, ratio=gear_ratio, spacing=a.pinion_spacing)
    modules = blended_max(needed / parallel, 1.0, 0.05)
    pinion = size.diameter * a.pinion_ratio
    by_pinions, by_sleeves = pinion * a.pinion_spacing, size.dressed * (1.0 + a.tube_gap_ratio)
    wheels = collector_factor(gear_ratio, size.total, modules * parallel)
    idlers = 2.0 * size.total * mean_idlers(parallel)
    surface = a.gear_surface_factor
    return _Gears(
        parallel=parallel,
        needed=needed,
        modules=modules,
        pinion=pinion,
        face=face_width(largest, pinion_diameter=pinion, ratio=gear_ratio, surface_factor=surface),
        pitch=blended_max(by_pinions, by_sleeves, PITCH_BLEND * size.diameter),
        volume=rotor_volume(largest, surface_factor=surface, volume_factor=wheels)
        + rotor_volume(largest, surface_factor=surface, volume_factor=idlers),
    )


def _outlines(
    size: _Size, gears: _Gears, ratio: Array, pack: Array, nest: Array, a: BundleAssumptions
) -> Outline:
    """Envelope and exposure of all four topologies, in their order."""
    blend = PITCH_BLEND * size.diameter
    ring = (ratio + 1.0) * gears.pinion + blended_max(gears.pinion, size.dressed, blend)
    spread = ring + 2.0 * (gears.parallel - 1.0) * gears.pitch
    alone = jnp.ones_like(size.diameter)
    knuckle = a.knuckle_diameter_ratio * size.dressed
    round_pack = 2.0 * pack + gears.pitch
    perimeters = size.total * jnp.pi * size.dressed
    crowded = alone * crowding(1.0 + jnp.asarray(a.tube_gap_ratio))
    inside = 1.0 / blended_max(size.total, 1.0, 0.05)
    rows = gears.modules * (size.overall + gears.parallel * gears.face)
    hull = gears.modules * 2.0 * (ring + spread) * 0.9
    return Outline(
        length=jnp.stack([size.total * size.overall, size.overall, rows, size.overall]),
        height=jnp.stack([knuckle, nest, ring, round_pack]),
        width=jnp.stack([knuckle, nest, spread, round_pack]),
        radiation=jnp.stack(
            [
                alone,
                inside,
                hull_view_factor(hull, perimeters),
                hull_view_factor(jnp.pi * round_pack, perimeters),
            ]
        ),
        convection=jnp.stack([alone, inside, crowded, crowded]),
    )


def _size(
    section: torsion.Section, length: Array, sleeve: Array, counts: Array, a: BundleAssumptions
) -> _Size:
    """Tubes of one wing with their grips, cold ends and splines."""
    diameter = 2.0 * section.outer_radius
    grip = jnp.asarray(a.grip_length_ratio)
    ends = grip + a.cold_end_length_ratio + a.spline_length_ratio
    return _Size(
        section=section,
        diameter=diameter,
        dressed=diameter + 2.0 * sleeve,
        wall=section.outer_radius - section.inner_radius,
        overall=length + 2.0 * diameter * ends,
        total=jnp.maximum(jnp.sum(counts), 1e-3),
    )


def _buckling(size: _Size, length: Array, alloy: Alloy, a: BundleAssumptions) -> Array:
    """Shear stress at which a tube buckles, knocked down [Pa]."""
    modulus = alloy.martensite_young_modulus * jnp.asarray(a.tangent_modulus_ratio)
    return jnp.asarray(a.buckling_knockdown) * torsion.buckling_stress(
        outer_radius=size.section.outer_radius,
        wall=size.wall,
        length=length,
        young_modulus=modulus,
        poisson_ratio=alloy.poisson_ratio,
    )


def _height_available(length: Array, planform: Planform, vehicle: Vehicle) -> Array:
    """Height of the wing at the fold over the length of the bundle [m]."""
    return usable_height(
        bundle_length=length,
        fold_chord=planform.fold_chord,
        fold_thickness=planform.fold_thickness,
        section_form=vehicle.section_form,
        skin_thickness=vehicle.skin_thickness,
        clearance=vehicle.clearance,
    )


def _plated_strain(size: _Size, pack: Array, travel: Array, length: Array) -> Array:
    """Bending and axial strain of a tube between turning plates [1]."""
    bent = plate_motion(
        circle_radius=pack, relative_angle=travel, outer_diameter=size.diameter, tube_length=length
    )
    return bent.bending_strain + bent.axial_strain


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
    counts = jnp.asarray(choices.set_present) * tube_count
    size = _size(section, tube_length, insulation_thickness, counts, a)
    torques = torsion.torque(operating_stress, section) * choices.set_present
    largest = blended_max(torques[0], torques[1], 0.02 * jnp.sum(torques) + 1e-9)
    gears = _gears(size, largest, gear_ratio, choices, a)
    pitch = size.dressed * (1.0 + jnp.asarray(a.tube_gap_ratio))
    pack = pitch / 2 * jnp.sqrt(size.total / HEX_FILL)
    step = size.wall + a.nested_gap
    outermost = section.outer_radius + (size.total - 1.0) / 2 * step
    nest = 2.0 * jnp.asarray(a.nested_diameter_ratio) * (outermost + insulation_thickness)
    outlines = _outlines(size, gears, gear_ratio, pack, nest, a)
    chosen = Outline(*(values[jnp.asarray(choices.topology).astype(int)] for values in outlines))
    strain = _plated_strain(size, pack, travel_high - travel_low, tube_length)
    admissible = alloy.strain_saturation * jnp.asarray(a.plated_strain_fraction)
    geared = jnp.asarray(choices.topology) == GEARED
    return Bundle(
        wall_thickness=size.wall,
        bore_radius=section.inner_radius,
        tube_slenderness=tube_length / size.diameter,
        tube_length_overall=size.overall,
        bundle_length=chosen.length,
        bundle_height=chosen.height,
        bundle_width=chosen.width,
        height_available=_height_available(chosen.length, planform, vehicle),
        lanes=jnp.where(geared, gears.modules * gears.parallel, 1.0),
        lanes_needed=jnp.where(geared, gears.needed, 1.0),
        lane_capacity=pinions_per_lane(gear_ratio, a.pinion_spacing),
        gear_meshes=jnp.where(geared, 1.0 + mean_idlers(gears.parallel), 0.0),
        modules=jnp.where(geared, gears.modules, 1.0),
        gear_face_width=jnp.where(geared, gears.face, 0.0),
        gear_volume=jnp.where(geared, gears.volume, 0.0),
        bundle_radius=chosen.height / 2,
        parasitic_strain_ratio=strain / admissible,
        nested_bore_radius=outermost - (size.total - 1.0) * step - size.wall,
        buckling_stress=_buckling(size, tube_length, alloy, a),
        radiation_exposure=chosen.radiation,
        convection_exposure=chosen.convection,
    )
