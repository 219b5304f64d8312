"""Read ``[vehicle]`` and its breakpoints, check them against each other, fill what is derived."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from mdo.study.choices import PANEL_DENSITY_SHARE, STRUCTURES
from mdo.study.fields import number
from mdo.study.part import Part
from mdo.study.reader import Reader, values_of
from mdo.study.sections import Breakpoint, Vehicle
from mdo.study.values import shown

_AREA_TOLERANCE = 0.02


def read_vehicle(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of the vehicle section, as far as they are sound."""
    vehicle = Part.read(reader, Vehicle, given, "vehicle")
    if not vehicle.values:
        return {}
    vehicle.only_one(*Vehicle.one_of)
    fill_structure(vehicle)
    for path in [path for path in reader.inputs if path.startswith("vehicle.wing[")]:
        reader.inputs[path] = reader.inputs.pop(path)  # listed behind what needs no wing
    wing = vehicle.values.pop("wing", ())
    before = len(reader.problems)
    _check_stations(vehicle, [values_of(one).get("station") for one in wing])
    sound = len(wing) > 1 and all(isinstance(one, Breakpoint) for one in wing)
    if sound and len(reader.problems) == before:
        vehicle.values["wing"] = wing
        _fill_from_wing(vehicle, wing)
    return vehicle.values


def fill_structure(part: Part) -> None:
    """Fill the temperature limit of the structure beside the tubes."""
    structure = part.values.get("structure")
    if structure:
        part.derive("adjacent_temperature_limit", STRUCTURES[structure])


def _check_stations(vehicle: Part, stations: Sequence[float | None]) -> None:
    """Note stations that do not start at the plane of symmetry or do not increase."""
    if stations and stations[0] is not None and stations[0] != 0.0:
        vehicle.problem("wing[1].station", f'got {stations[0]:g} m, expected "0 m" (the root)')
    for place, (first, second) in enumerate(pairwise(stations), 2):
        if first is not None and second is not None and second <= first:
            vehicle.problem(
                f"wing[{place}].station",
                f"not increasing, got {second:g} m, expected more than {first:g} m",
            )


def _fill_from_wing(vehicle: Part, wing: tuple[Breakpoint, ...]) -> None:
    """Derive fold, areas and panel from the breakpoints."""
    stations = [section.station for section in wing]
    chords = [section.chord for section in wing]
    whole = 2.0 * area_outboard(stations, chords, 0.0).area
    given = vehicle.values.get("reference_area")
    if given is not None and abs(given / whole - 1.0) > _AREA_TOLERANCE:
        vehicle.problem(
            "reference_area",
            f"contradiction, got {given:.4g} m**2, expected {whole:.4g} m**2 within 2 % "
            "(the area of the breakpoints, both sides; correct one of them)",
        )
    vehicle.derive("reference_area", whole, "area of the breakpoints")
    _fill_fold(vehicle, stations[-1])
    fold = vehicle.values.get("fold_station")
    if fold is None or not 0.0 < fold < stations[-1]:
        return
    _fill_panel(vehicle, whole, area_outboard(stations, chords, fold))
    span, centre = stations[-1] - fold, vehicle.values.get("panel_centre")
    if centre is not None and centre > span:
        reason = f"outside of a panel of {span:.4g} m from the fold axis to its tip"
        vehicle.contradiction("panel_centre", reason, "less than that")
    spacing = 0.5 * chord_at(stations, chords, fold)
    vehicle.derive("bearing_spacing", spacing, origin="judgement")


def _fill_fold(vehicle: Part, semi_span: float) -> None:
    """Derive fold station and fraction from each other and check that the fold is on the wing."""
    station, fraction = (vehicle.values.get(name) for name in ("fold_station", "fold_fraction"))
    if station is not None and station >= semi_span:
        vehicle.problem(
            "fold_station",
            f"off the wing, got {shown(vehicle.given['fold_station'])}, "
            f"expected less than the semi-span {semi_span:g} m",
        )
    elif station is not None:
        share = 1.0 - station / semi_span
        least, most = number("fold_fraction").range_si()
        if not (least or 0.0) <= share <= (most or 1.0):
            vehicle.problem(
                "fold_station",
                f"out of range, got {shown(vehicle.given['fold_station'])}, a fold fraction of "
                f"{share:.3g}, expected {least:g} to {most:g}",
            )
        vehicle.derive("fold_fraction", share, "from fold_station")
    elif fraction is not None:
        vehicle.derive("fold_station", semi_span * (1.0 - fraction), "from fold_fraction")


def _fill_panel(vehicle: Part, whole: float, panel: Area) -> None:
    """Derive mass and centre of gravity of the panel; check the mass against the vehicle's."""
    mass = vehicle.values.get("mass")
    if mass is not None:
        judged = PANEL_DENSITY_SHARE * mass / whole * panel.area
        vehicle.derive("panel_mass", judged, origin="judgement")
    vehicle.derive("panel_centre", panel.centroid, origin="judgement")
    panel_mass = vehicle.values.get("panel_mass")
    if mass is not None and panel_mass is not None and 2.0 * panel_mass >= mass:
        vehicle.problem(
            "panel_mass",
            f"contradiction, got {panel_mass:g} kg, expected less than half of {mass:g} kg",
        )


class Area(NamedTuple):
    """Area [m2] of one side outboard of a station, and its centroid from that station [m]."""

    area: float
    centroid: float


def chord_at(stations: Sequence[float], chords: Sequence[float], station: float) -> float:
    """Return the chord [m] at a station [m] inside the wing, linear between breakpoints."""
    for (y1, c1), (y2, c2) in pairwise(zip(stations, chords, strict=True)):
        if station <= y2:
            return c1 + (c2 - c1) * (station - y1) / (y2 - y1)
    return chords[-1]


def area_outboard(stations: Sequence[float], chords: Sequence[float], start: float) -> Area:
    """Integrate the chord outboard of a station, exactly for straight edges.

    Parameters
    ----------
    stations, chords
        Breakpoints of one wing [m], stations increasing.
    start
        Station [m] inside the wing from which to integrate.
    """
    inside = [(y, c) for y, c in zip(stations, chords, strict=True) if y > start]
    edges = [(start, chord_at(stations, chords, start)), *inside]
    area = first_moment = 0.0
    for (y1, c1), (y2, c2) in pairwise(edges):
        width = y2 - y1
        strip = 0.5 * (c1 + c2) * width
        area += strip
        first_moment += strip * (y1 - start) + width**2 * (c1 + 2.0 * c2) / 6.0
    return Area(area, first_moment / area)
