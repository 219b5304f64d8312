"""Law of the section of a tube: how its mean stress, its strain and its wall belong together.

Each level of the tubes writes one such law; moments, twists and rows are the same for all of them.
Stresses are means over the section, ``T/(A r_w)`` [Pa]; strains are those at the effective radius
r_w [1]; what is locked in has the points of the wall as its last axis where a level has any.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.levers import Levers, levers
from mdo.disciplines.wiring import gathered


class SectionLaw(NamedTuple):
    """Functions of one section and alloy; stresses [Pa], strains [1], temperatures [K].

    Attributes
    ----------
    radius
        Points of the wall [m], (P,).
    drag
        Stress of a cold tube unwound by a strain: ``drag(strain)``.
    cold_stress
        Stress of a cold set at a strain: ``cold_stress(strain, retwist)``.
    cold_lock
        Transformation strain of a cold set at a strain: ``cold_lock(strain, retwist)``.
    cold_under
        Strain and transformation strain of a set cooled under a stress: ``cold_under(stress)``.
    hot_under
        Strain and outer-fibre stress of a hot set under a stress, without what a path leaves in the
        wall: ``hot_under(stress, temperature, locked)``.
    hot_wall
        Stress at the points of the wall of a hot set at a strain, points last: ``hot_wall(strain,
        temperature, locked)``.
    mean
        Mean stress of a wall: ``mean(wall_stress)``.
    stall
        Mean and outer-fibre stress of each set blocked where its legs start and heated, (2,) each:
        ``stall(strain, temperature, locked, pushes_up)``, strain (legs,).
    """

    radius: Array
    drag: Callable[[Array], Array]
    cold_stress: Callable[[Array, Array], Array]
    cold_lock: Callable[[Array, Array], Array]
    cold_under: Callable[[Array], tuple[Array, Array]]
    hot_under: Callable[[Array, Array, Array], tuple[Array, Array]]
    hot_wall: Callable[[Array, Array, Array], Array]
    mean: Callable[[Array], Array]
    stall: Callable[[Array, Array, Array, Array], tuple[Array, Array]]


LawOf = Callable[[torsion.Section, Array, Alloy], SectionLaw]


@gathered
class DrivenTubes(NamedTuple):
    """Tubes of both sets of one wing, what they turn and how far.

    Attributes
    ----------
    tube_outer_radius, tube_length
        Outer radius and active length of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set (up, down) [1], shape (2,).
    operating_stress
        Mean stress that each set is built for [Pa], shape (2,).
    gear_ratio
        Tube twist over fold angle [1].
    hot_temperature
        Temperature at the end of heating [K].
    travel_low, travel_high
        Ends of the travel [rad].
    required_moment
        Required moment R at limit load, signed for the direction of the leg [N*m], shape
        (legs, angles).
    pushes_up
        1 where the up set drives [1], shape (legs,).
    transmission_efficiency
        Tube torque to hinge moment, sharing and joints included [1].
    drag_efficiency
        The same of tubes that are dragged, without sharing [1].
    choices, alloy
        Records.
    """

    tube_outer_radius: Array
    wall_ratio: Array
    tube_length: Array
    tube_count: Array
    operating_stress: Array
    gear_ratio: Array
    hot_temperature: Array
    travel_low: Array
    travel_high: Array
    required_moment: Array
    pushes_up: Array
    transmission_efficiency: Array
    drag_efficiency: Array
    choices: Choices
    alloy: Alloy


class Built(NamedTuple):
    """Tubes with the law of their section: section, law, levers, counts, legs pushed up by angle.

    ``counts`` are those of the sets that are there, shape (2,); ``up`` has shape (legs, 1).
    """

    section: torsion.Section
    law: SectionLaw
    lever: Levers
    counts: Array
    up: Array


def built(law_of: LawOf, tubes: DrivenTubes) -> Built:
    """Tubes with the law of a level."""
    section = torsion.section(tubes.tube_outer_radius, tubes.wall_ratio)
    lever = levers(
        section=section,
        tube_length=tubes.tube_length,
        gear_ratio=tubes.gear_ratio,
        efficiency=tubes.transmission_efficiency,
        drag_efficiency=tubes.drag_efficiency,
    )
    counts = jnp.asarray(tubes.choices.set_present) * tubes.tube_count
    law = law_of(section, tubes.wall_ratio, tubes.alloy)
    return Built(section, law, lever, counts, tubes.pushes_up[:, None] > 0.5)
