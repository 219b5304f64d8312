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

from mdo.defend.order.tubes import present_sets, whole_count
from mdo.defend.tables.facts import Facts
from mdo.disciplines.records import TOPOLOGIES
from mdo.model.parts import relative_thickness
from mdo.optimise.appraisal import Appraisal

ROWS = 41  # heights at which a place beside the ring is looked for
TURNS = 8  # positions of the ring that are tried, between one tube and the next
MOST = 120  # tubes that are placed: a drawing of more shows nothing, and would be large
FINE = np.linspace(0.0, math.pi, 2001)  # of the section, to place the bundle to 1e-5 of its height
Point = tuple[float, float]


class Tube(NamedTuple):
    """One tube: place of its axis across the chord (x outboard, y up) [m], set, lane, module."""

    x: float
    y: float
    side: int
    lane: int
    module: int
    radius: float


class Layout(NamedTuple):
    """A bundle in whole tubes; lengths in metres, zero where a topology has no such part.

    ``length``, ``height``, ``width`` and ``height_available`` are those of the model, of its
    continuous count; ``front`` is the front end of what is drawn, on the chord. ``radius``,
    ``bore``, ``dressed`` (with the sleeve), ``fitting``, ``pinion`` and ``wheel`` are radii,
    ``pitch`` the least distance of two axes, of coaxial tubes of two radii, ``passing`` that of an
    axis beside the ring, which passes pinions on its way to its own, from one on it. ``fitted``
    (gripped part and spline) and ``cold`` lie at each end of a tube, around its ``active`` length.
    ``capacity`` is the number of tubes that a lane takes. ``counts`` are the whole tubes of each
    set that is there; ``tubes`` holds the first of them, at most ``MOST``.
    """

    topology: str
    counts: dict[int, int]
    modules: int
    lanes: int
    capacity: float
    radius: float
    bore: float
    dressed: float
    fitting: float
    pinion: float
    wheel: float
    pitch: float
    passing: float
    face: float
    active: float
    fitted: float
    cold: float
    length: float
    height: float
    width: float
    height_available: float
    front: float = 0.0
    tubes: tuple[Tube, ...] = ()

    @property
    def end(self) -> float:
        """All that is not active at one end of a tube [m]."""
        return self.fitted + self.cold

    @property
    def overall(self) -> float:
        """Length of one tube with its ends [m]."""
        return self.active + 2.0 * self.end

    @property
    def module_length(self) -> float:
        """Length of one module: a tube with its ends and the gears of every lane [m]."""
        return self.overall + self.lanes * self.face

    @property
    def extent(self) -> float:
        """Length that is drawn [m]."""
        return max(self.length, self.modules * self.module_length)

    @property
    def half_width(self) -> float:
        """Distance of the outermost drawn part from the middle of the bundle [m]."""
        reach = max(self.pinion, self.dressed)
        outermost = max(abs(tube.x) + max(reach, tube.radius) for tube in self.tubes)
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
    geared, assumed = topology == "geared", facts.bundle
    counts = {side: whole_count(float(facts.d["tube_count"][side])) for side in present_sets(facts)}
    radius, wall = float(facts.d["tube_outer_radius"]), float(facts.v["wall_thickness"])
    dressed = radius + float(facts.d["insulation_thickness"])
    sleeve = dressed * (1.0 + float(assumed.tube_gap_ratio))
    pinion = float(facts.v["gear_pinion_diameter"]) / 2.0
    lanes = int(facts.choices.gear_lanes) if geared else 1
    modules = round(float(facts.v["lanes_needed"]) / lanes) if geared else 1
    pitch = 2.0 * max(pinion * float(assumed.pinion_spacing), sleeve)
    mass = appraisal.problem.assembled.parameters["mass_assumptions"]
    layout = Layout(
        topology=topology,
        counts=counts,
        modules=sum(counts.values()) if topology == "knuckle" else max(1, modules),
        lanes=lanes,
        capacity=float(facts.v["lane_capacity"]),
        radius=radius,
        bore=radius - wall,
        dressed=dressed,
        fitting=radius * float(mass.fitting_outer_ratio),
        pinion=pinion,
        wheel=float(facts.d["gear_ratio"]) * pinion,
        pitch=wall + float(assumed.nested_gap) if topology == "nested" else pitch,
        passing=pinion + sleeve,
        face=float(facts.v["gear_face_width"]),
        active=float(facts.d["tube_length"]),
        fitted=2.0 * radius * float(assumed.grip_length_ratio + assumed.spline_length_ratio),
        cold=2.0 * radius * float(assumed.cold_end_length_ratio),
        length=float(facts.v["bundle_length"]),
        height=float(facts.v["bundle_height"]),
        width=float(facts.v["bundle_width"]),
        height_available=float(facts.v["height_available"]),
    )
    chord, skin = float(facts.planform.fold_chord), facts.vehicle.skin_thickness
    ends = layout.height_available + 2.0 * float(skin + facts.vehicle.clearance)
    form = float(facts.vehicle.section_form)
    front = (chord - layout.length) / 2.0  # in the envelope of a bench
    if form < 1.5:
        height = ends / float(facts.planform.fold_thickness)
        front = chord * front_end(layout.length / chord, height, biconvex=form > 0.5)
    return layout._replace(
        front=front + (layout.length - layout.extent) / 2.0,
        tubes=PLACED[topology](layout, interleaved(counts)),
    )


def front_end(length: float, height: float, *, biconvex: bool) -> float:
    """Front end of a bundle on the chord, its length in chords, where the section has a height.

    A bundle that is longer than the chord lies about its middle.

    Parameters
    ----------
    length : in chords
    height : of the section at both ends of the bundle, over its greatest
    biconvex : whether the section is one, else a four-digit one
    """
    if length >= 1.0:
        return (1.0 - length) / 2.0
    station = (1.0 - np.cos(FINE)) / 2.0
    thickness = relative_thickness(station, biconvex=biconvex)
    rising = slice(int(np.argmax(thickness)) + 1)
    return float(np.interp(height, thickness[rising], station[rising]))


def interleaved(counts: dict[int, int]) -> list[int]:
    """Sets of the tubes one after the other, as evenly mixed as the counts allow."""
    places = [((at + 0.5) / count, side) for side, count in counts.items() for at in range(count)]
    return [side for _, side in sorted(places)]


def _geared(layout: Layout, sets: Sequence[int]) -> tuple[Tube, ...]:
    """Modules one behind the other, each with a ring and tubes beside it."""
    ring = layout.wheel + layout.pinion
    # by the arc between neighbours, as in the model, and never so that pinions would cut each other
    apart = math.floor(math.pi / math.asin(min(1.0, layout.pinion / ring)) + 1e-9)
    most = max(1, min(math.floor(layout.capacity + 1e-3), apart))
    tubes: list[Tube] = []
    for module in range(layout.modules):
        first, last = (at * len(sets) // layout.modules for at in (module, module + 1))
        if module > 0 and len(tubes) + last - first > MOST:
            break
        part = sets[first:last][:MOST]
        places = _module_places(len(part), most, ring, layout)
        # mixed from one side to the other, so that both sets are seen from the side
        ordered = sorted(range(len(part)), key=lambda at: places[at])
        for side, at in zip(part, ordered, strict=True):
            tubes.append(Tube(*places[at], side, at // most, module, layout.radius))
    return tuple(tubes)


def _module_places(count: int, most: int, ring: float, layout: Layout) -> list[Point]:
    """Axes of the tubes of one module: the ring turned so that the whole is narrowest."""
    on_ring = min(count, most)
    apart = np.where(np.arange(count) < on_ring, layout.passing, layout.pitch)
    tries = []
    for turn in range(TURNS):
        angles = math.pi / 2.0 + 2.0 * math.pi / on_ring * (turn / TURNS + np.arange(on_ring))
        places = [(ring * math.cos(angle), ring * math.sin(angle)) for angle in angles]
        while len(places) < count:
            places.append(_next_place(places, apart[: len(places)], ring))
        tries.append(places)
    return min(tries, key=lambda places: round(max(abs(x) for x, _ in places), 6))


def _next_place(places: Sequence[Point], apart: np.ndarray, ring: float) -> Point:
    """Place nearest to the middle, on either side: outside the ring, no higher, apart from all."""
    taken = np.array(places)
    rows = np.linspace(-ring, ring, ROWS)
    rise = np.abs(taken[:, 1] - rows[:, None])
    away = np.sqrt(np.maximum(apart**2 - rise**2, 0.0))
    outside = np.sqrt(np.maximum(ring**2 - rows**2, 0.0))
    free = []
    for side in (1.0, -1.0):
        blocked = np.where(rise < apart, side * taken[:, 0] + away, -np.inf)
        least = np.maximum(outside, blocked.max(axis=1))
        free += [(round(float(x), 9), -round(abs(float(y)), 9), -side, side * float(x), float(y))
                 for x, y in zip(least, rows, strict=True)]  # fmt: skip
    return min(free)[3:]


def _nested(layout: Layout, sets: Sequence[int]) -> tuple[Tube, ...]:
    """Coaxial tubes, the outermost first; the mean radius is that of the design."""
    outermost = layout.radius + (min(len(sets), MOST) - 1) / 2.0 * layout.pitch
    return tuple(
        Tube(0.0, 0.0, side, 0, 0, outermost - at * layout.pitch)
        for at, side in enumerate(sets[:MOST])
    )


def _knuckle(layout: Layout, sets: Sequence[int]) -> tuple[Tube, ...]:
    """Tubes one behind the other on the hinge line."""
    return tuple(Tube(0.0, 0.0, side, 0, at, layout.radius) for at, side in enumerate(sets[:MOST]))


def _plated(layout: Layout, sets: Sequence[int]) -> tuple[Tube, ...]:
    """Tubes of a round hexagonal pack: the lattice points nearest to the middle of three."""
    count = min(len(sets), MOST)
    reach = math.ceil(math.sqrt(count)) + 1
    i, j = np.mgrid[-2 * reach : 2 * reach + 1, -reach : reach + 1].reshape(2, -1)
    lattice = layout.pitch * np.column_stack([i + j / 2.0, j * math.sqrt(3.0) / 2.0])
    packs: list[tuple[float, int, np.ndarray]] = []
    for middle in ((0.0, 0.0), (0.5, 0.0), (0.5, math.sqrt(1.0 / 12.0))):
        off = lattice - layout.pitch * np.array(middle)
        far = np.round(np.hypot(off[:, 0], off[:, 1]), 9)
        order = np.lexsort((np.arctan2(off[:, 1], off[:, 0]), far))[:count]
        packs.append((float(far[order[-1]]), len(packs), off[order]))
    return tuple(
        Tube(float(x), float(y), side, 0, 0, layout.radius)
        for side, (x, y) in zip(sets[:MOST], min(packs)[2], strict=True)
    )


PLACED = {"geared": _geared, "nested": _nested, "knuckle": _knuckle, "plated": _plated}
