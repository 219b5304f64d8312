"""Where the parts of a bundle lie, as a drawing needs them: whole tubes, lengths [m], one wing.

The model knows a bundle by its size (:mod:`mdo.disciplines.bundle.packing`); here its whole tubes
are put into that size. Geared: a first lane on the ring around the wheel, all others packed beside
it between the same heights, no two closer than the pitch of the model. Nothing is optimised; the
arrangement is one that works, not a design.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from mdo.defend.order.tubes import present_sets, whole_count
from mdo.defend.tables.requirements import Facts
from mdo.disciplines.records import TOPOLOGIES
from mdo.model.parts import relative_thickness
from mdo.optimise.appraisal import Appraisal

ROWS = 41  # heights at which a place beside the ring is looked for
TURNS = 8  # positions of the ring that are tried, between one tube and the next
MOST = 120  # tubes that are placed: a drawing of more shows nothing, and would be large
THICKEST = 0.2998  # [chord] where the four-digit section is thickest


class Tube(NamedTuple):
    """One tube: place of its axis across the chord (x outboard, y up) [m], set, lane, module."""

    x: float
    y: float
    side: int
    lane: int
    module: int
    radius: float


class Ends(NamedTuple):
    """Lengths at each end of a tube [m]: gripped part, cold part, spline."""

    grip: float
    cold: float
    spline: float

    @property
    def whole(self) -> float:
        """All that is not active at one end [m]."""
        return self.grip + self.cold + self.spline


class Layout(NamedTuple):
    """A bundle in whole tubes; lengths in metres, zero where a topology has no such part.

    ``length``, ``height``, ``width`` and ``height_available`` are those of the model, of its
    continuous count; ``extent`` is the length that is drawn, ``front`` its front end on the chord.
    ``radius``, ``bore``, ``dressed`` (with the sleeve), ``fitting``, ``pinion`` and ``wheel`` are
    radii. ``capacity`` is the number of tubes that a lane takes. ``counts`` are the whole tubes of
    each set that is there; ``tubes`` holds the first of them, at most ``MOST``.
    """

    topology: str
    counts: dict[int, int]
    tubes: tuple[Tube, ...]
    modules: int
    lanes: int
    capacity: float
    radius: float
    bore: float
    dressed: float
    fitting: float
    pinion: float
    wheel: float
    face: float
    active: float
    ends: Ends
    length: float
    extent: float
    front: float
    height: float
    width: float
    height_available: float

    @property
    def overall(self) -> float:
        """Length of one tube with its ends [m]."""
        return self.active + 2.0 * self.ends.whole

    @property
    def module_length(self) -> float:
        """Length of one module: a tube with its ends and the gears of every lane [m]."""
        return self.overall + self.lanes * self.face

    @property
    def reach(self) -> float:
        """Radius of what turns with a tube: its pinion, or the tube with its sleeve [m]."""
        return max(self.pinion, self.dressed)

    @property
    def half_width(self) -> float:
        """Distance of the outermost drawn part from the middle of the bundle [m]."""
        outermost = max(abs(tube.x) + max(self.reach, tube.radius) for tube in self.tubes)
        return max(outermost, self.width / 2.0)

    @property
    def shown(self) -> int:
        """Modules that a side view shows: those with tubes, two of a row on the hinge line."""
        return 2 if self.topology == "knuckle" and self.modules > 1 else self.tubes[-1].module + 1

    @property
    def total(self) -> int:
        """Whole tubes of all sets, drawn or not."""
        return sum(self.counts.values())


def bundle_layout(appraisal: Appraisal) -> Layout:
    """Return the whole tubes of a bundle and what surrounds them."""
    facts = Facts(appraisal)
    topology = TOPOLOGIES[int(facts.choices.topology)]
    assumed = facts.bundle
    continuous = {side: float(facts.d["tube_count"][side]) for side in present_sets(facts)}
    counts = {side: whole_count(count) for side, count in continuous.items()}
    sets = interleaved(counts)
    radius = float(facts.d["tube_outer_radius"])
    dressed = radius + float(facts.d["insulation_thickness"])
    geared = topology == "geared"
    ratio = float(facts.d["gear_ratio"])
    pinion = float(facts.v["gear_pinion_diameter"]) / 2.0
    lanes = int(facts.choices.gear_lanes) if geared else 1
    spacing = float(assumed.pinion_spacing)
    modules = max(1, round(float(facts.v["lanes_needed"]) / lanes)) if geared else 1
    capacity = float(facts.v["lane_capacity"])
    pitch = 2.0 * max(pinion * spacing, dressed * (1.0 + float(assumed.tube_gap_ratio)))
    wall = float(facts.v["wall_thickness"])
    if topology != "geared":
        sets = sets[:MOST]
    if topology == "geared":
        tubes = geared_tubes(
            sets, modules=modules, ring=(1.0 + ratio) * pinion, pinion=pinion, pitch=pitch,
            passing=pinion + dressed * (1.0 + float(assumed.tube_gap_ratio)), capacity=capacity,
            radius=radius,
        )  # fmt: skip
    elif topology == "nested":
        tubes = nested_tubes(sets, radius, wall + float(assumed.nested_gap))
    elif topology == "knuckle":
        tubes = tuple(Tube(0.0, 0.0, side, 0, at, radius) for at, side in enumerate(sets))
        modules = sum(counts.values())
    else:
        tubes = plated_tubes(sets, dressed * 2.0 * (1.0 + float(assumed.tube_gap_ratio)), radius)
    ends = Ends(
        2.0 * radius * float(assumed.grip_length_ratio),
        2.0 * radius * float(assumed.cold_end_length_ratio),
        2.0 * radius * float(assumed.spline_length_ratio),
    )
    active = float(facts.d["tube_length"])
    face = float(facts.v["gear_face_width"])
    length = float(facts.v["bundle_length"])
    chord = float(facts.planform.fold_chord)
    mass = appraisal.problem.assembled.parameters["mass_assumptions"]
    extent = max(length, modules * (active + 2.0 * ends.whole + lanes * face))
    front = front_end(length / chord, biconvex=float(facts.vehicle.section_form) > 0.5)
    return Layout(
        topology=topology,
        counts=counts,
        tubes=tubes,
        modules=modules,
        lanes=lanes,
        capacity=capacity,
        radius=radius,
        bore=radius - wall,
        dressed=dressed,
        fitting=radius * float(mass.fitting_outer_ratio),
        pinion=pinion,
        wheel=ratio * pinion,
        face=face,
        active=active,
        ends=ends,
        length=length,
        extent=extent,
        front=chord * front + (length - extent) / 2.0,
        height=float(facts.v["bundle_height"]),
        width=float(facts.v["bundle_width"]),
        height_available=float(facts.v["height_available"]),
    )


def interleaved(counts: dict[int, int]) -> list[int]:
    """Sets of the tubes one after the other, as evenly mixed as the counts allow."""
    places = [((at + 0.5) / count, side) for side, count in counts.items() for at in range(count)]
    return [side for _, side in sorted(places)]


def geared_tubes(
    sets: Sequence[int],
    *,
    modules: int,
    ring: float,
    pinion: float,
    pitch: float,
    passing: float,
    capacity: float,
    radius: float,
) -> tuple[Tube, ...]:
    """Tubes of a geared bundle: modules one behind the other, each with a ring and tubes beside it.

    Parameters
    ----------
    sets : set of every tube
    modules : groups along the chord
    ring : radius of the axes of the first lane [m]
    pinion : pitch radius of a pinion [m]
    pitch : least distance of two axes beside the ring [m]
    passing : least distance of an axis beside the ring, which passes the first lane of pinions on
        its way to its own, from one on the ring [m]
    capacity : pinions that a lane takes by their spacing along the ring
    radius : of a tube [m]
    """
    # by the arc between neighbours, as in the model, and never so that pinions would cut each other
    apart = math.floor(math.pi / math.asin(min(1.0, pinion / ring)) + 1e-9)
    most = max(1, min(math.floor(capacity + 1e-3), apart))
    tubes: list[Tube] = []
    for module in range(modules):
        part = sets[module * len(sets) // modules : (module + 1) * len(sets) // modules]
        if module > 0 and len(tubes) + len(part) > MOST:
            break
        part = part[:MOST]
        places = best_places(len(part), most=most, ring=ring, pitch=pitch, passing=passing)
        # mixed from one side to the other, so that both sets are seen from the side
        ordered = sorted(range(len(part)), key=lambda at: places[at])
        for side, at in zip(part, ordered, strict=True):
            tubes.append(Tube(*places[at], side, at // most, module, radius))
    return tuple(tubes)


Place = tuple[float, float]


def best_places(count: int, *, most: int, ring: float, pitch: float, passing: float) -> list[Place]:
    """Axes of the tubes of one module: the ring turned so that the whole is narrowest."""
    on_ring = min(count, most)
    tries = []
    for turn in range(TURNS):
        start = math.pi / 2.0 + 2.0 * math.pi / on_ring * turn / TURNS
        angles = [start + 2.0 * math.pi * at / on_ring for at in range(on_ring)]
        places = [(ring * math.cos(one), ring * math.sin(one)) for one in angles]
        apart = [passing] * on_ring
        for _ in range(count - on_ring):
            places.append(next_place(places, apart, height=ring))
            apart.append(pitch)
        tries.append(places)
    return min(tries, key=lambda places: round(max(abs(x) for x, _ in places), 6))


def next_place(places: Sequence[Place], apart: Sequence[float], *, height: float) -> Place:
    """Place nearest to the middle, on either side, within a height and outside the ring.

    Parameters
    ----------
    places, apart : what is there, and how far off it the new one must lie at least [m]
    height : radius of the ring, and largest height over the middle [m]
    """
    taken, off = np.array(places), np.array(apart)
    rows = np.linspace(-height, height, ROWS)
    rise = np.abs(taken[:, 1] - rows[:, None])
    away = np.sqrt(np.maximum(off**2 - rise**2, 0.0))
    outside = np.sqrt(np.maximum(height**2 - rows**2, 0.0))
    found = []
    for side in (1.0, -1.0):
        blocked = np.where(rise < off, side * taken[:, 0] + away, -np.inf)
        least = np.maximum(outside, blocked.max(axis=1))
        found += [
            (round(float(x), 9), -round(abs(float(y)), 9), -side, side * float(x), float(y))
            for x, y in zip(least, rows, strict=True)
        ]
    return min(found)[3:]


def nested_tubes(sets: Sequence[int], radius: float, step: float) -> tuple[Tube, ...]:
    """Coaxial tubes, the outermost first; the mean radius is that of the design."""
    outermost = radius + (len(sets) - 1) / 2.0 * step
    return tuple(Tube(0.0, 0.0, side, 0, 0, outermost - at * step) for at, side in enumerate(sets))


def plated_tubes(sets: Sequence[int], pitch: float, radius: float) -> tuple[Tube, ...]:
    """Tubes of a round hexagonal pack: the lattice points nearest to its middle."""
    reach = math.ceil(math.sqrt(len(sets))) + 1
    lattice = np.array(
        [
            (pitch * (i + j / 2.0), pitch * j * math.sqrt(3.0) / 2.0)
            for i in range(-2 * reach, 2 * reach + 1)
            for j in range(-reach, reach + 1)
        ]
    )
    tries: list[tuple[float, int, np.ndarray]] = []
    for middle in ((0.0, 0.0), (pitch / 2.0, 0.0), (pitch / 2.0, pitch / math.sqrt(12.0))):
        off = lattice - middle
        far = np.hypot(off[:, 0], off[:, 1])
        order = np.lexsort((np.arctan2(off[:, 1], off[:, 0]), np.round(far, 9)))[: len(sets)]
        tries.append((round(float(far[order[-1]]), 9), len(tries), off[order]))
    places = min(tries, key=lambda one: one[:2])[2]
    return tuple(
        Tube(float(x), float(y), side, 0, 0, radius)
        for side, (x, y) in zip(sets, places, strict=True)
    )


def front_end(length: float, *, biconvex: bool) -> float:
    """Front end of a bundle of a length, both in chords: where both its ends see the same height.

    A bundle that is longer than the chord lies about its middle.
    """
    if biconvex or length >= 1.0:
        return (1.0 - length) / 2.0
    if length < 2e-3:
        return THICKEST
    low, high = max(THICKEST - length, 0.0), min(THICKEST, 1.0 - length)

    def difference(x: float) -> float:
        front, back = relative_thickness(np.array([x, x + length]), biconvex=False)
        return float(front - back)

    if difference(low) * difference(high) > 0.0:  # so long that no two such ends are left
        return (1.0 - length) / 2.0
    return float(brentq(difference, low, high, xtol=1e-9))


def half_thickness(station: ArrayLike, thickness: float, *, biconvex: bool) -> np.ndarray:
    """Half of the local thickness [m] of a section at stations in chords, from its greatest [m]."""
    return relative_thickness(station, biconvex=biconvex) * thickness / 2.0
