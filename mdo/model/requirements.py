# ruff: noqa: PLW0108 - the names of the arguments of a lambda are the wiring
"""THE table of requirements: each is declared once, in one entry.

An entry says which quantity must keep which limit, in which sense and scale, what it runs over,
when it counts, and in which words and units people read it. The constraint row of the chain, its
mask, the line of the compliance table, the name in a figure and the unit of a multiplier follow.

``value`` and ``limit`` are a number, a name, or a function whose arguments are names: of a quantity
of the chain, a design variable, or a record (``"alloy.temperature_max"`` is a field of one). They
run on traced arrays inside the chain and on numpy arrays of a design that was evaluated.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from mdo.disciplines.tube.phases import ROOT3
from mdo.disciplines.tube.roles import OPPOSED
from mdo.disciplines.tube.travel import DOWN, UP
from mdo.model.scales import (
    BUCKLING,
    KELVIN,
    LIFE,
    LOGARITHM,
    MEAN_MOMENT,
    NOMINAL_POWER,
    PRESENCE,
    RELATIVE,
    STRAIN,
    THICKNESS,
    Scale,
    of_driver,
    where,
)
from mdo.model.situation import Situation

SCALAR, SETS, LEGS, ANGLES, STATICS = "scalar", "set", "leg", "angle", "static case"
AT_MOST, AT_LEAST = "at most", "at least"
WING, AIRCRAFT, NEITHER = "one wing", "aircraft", ""
NO_HEIGHT = "so long a bundle finds no height between the skins"

Source = str | float | Callable[..., Any]


class Requirement(NamedTuple):
    """One requirement; see the head of this module for ``value`` and ``limit``.

    ``name`` is that of its constraint row. Without a limit above zero a line of the compliance
    table says ``no_limit``.
    """

    name: str
    title: str
    value: Source
    sense: str
    limit: Source
    scale: Scale
    over: str
    unit: str
    of: str = NEITHER
    counts: Callable[[Situation], Any] = lambda _: True
    no_limit: str = ""


def of_cooled(values: Any, pushes_up: Any) -> Any:
    """Value of the set that opposes the motion of each leg: in a return it must have cooled."""
    return where(pushes_up > 0.5, values[..., DOWN], values[..., UP])


def return_time(heat_time: Any, cool_time: Any, pushes_up: Any, choices: Any) -> Any:
    """Time of a return [s]: cooling, and heating where the other set starts when it is cold.

    Cooled under load both run at once, and heating has a requirement of its own.
    """
    adds = (choices.configuration == OPPOSED) & (choices.return_mode > 0.5)
    heating = where(adds, of_driver(heat_time, pushes_up), 0.0)
    return of_cooled(cool_time, pushes_up) + heating


def _running_over(overrun_moment: Any, inertia_moment: Any, requirements: Any) -> Any:
    """Moment that must be held [N*m]: the factored aiding load, with the deceleration.

    A panel that no load pushes needs no holding: the tubes that move it also stop it, when their
    heat is cut. So the deceleration counts on top of a load, for at most as much as that load is;
    where the load vanishes (a panel hung upright) nothing aids and nothing must be held.
    """
    load = overrun_moment + inertia_moment
    deceleration = where(abs(load) < inertia_moment, abs(load), inertia_moment)
    return 0.0 - requirements.overrun_factor * (load - deceleration)  # no negative zero


def _start_gate(bay: Any, requirements: Any) -> Any:
    """Least austenite start [K] that a bay allows: nothing may start by its warmth alone."""
    return bay + (requirements.lot_tolerance + requirements.self_start_gate)


def _heated_motion(s: Situation) -> Any:
    return s.heated & s.moves


def _cooled_return(s: Situation) -> Any:
    """Returns in which a set must cool in time: of a pair, or left to load or spring."""
    return (s.moves & s.is_return & s.opposed & ~s.other_cold) | s.by_load


def _martensite(s: Situation) -> Any:
    """Legs whose other set must be martensite, cooled in time or long before."""
    return _cooled_return(s) | (s.moves & s.opposed & (s.other_cold | s.other_warmed))


def _warmed(s: Situation) -> Any:
    return _heated_motion(s) & s.other_warmed


_TABLE = (
    Requirement("drive_stress", "Stress needed for the factored moment",
        "required_stress", AT_MOST,
        lambda operating_stress, pushes_up: of_driver(operating_stress, pushes_up),
        RELATIVE, ANGLES, "Pa", counts=lambda s: s.heated),
    Requirement("drive_strain", "Stroke used at factored load",
        "required_strain", AT_MOST, "tube_strain",
        STRAIN, ANGLES, "fraction", counts=lambda s: s.heated),
    Requirement("failed_stress_row", "Stress with one tube failed",
        "failed_stress", AT_MOST, "stress_cap",
        RELATIVE, ANGLES, "Pa", counts=lambda s: s.heated & s.tubes_failed),
    Requirement("failed_strain_row", "Stroke used with one tube failed",
        "failed_strain", AT_MOST, "tube_strain",
        STRAIN, ANGLES, "fraction", counts=lambda s: s.heated & s.tubes_failed),
    Requirement("load_return", "Load or spring re-twists the cold tubes",
        "return_strain", AT_LEAST, "return_needed_strain",
        STRAIN, ANGLES, "fraction", counts=lambda s: s.by_load),
    Requirement("overrun", "Aiding (overhauling) load held without a brake",
        "holding_moment", AT_LEAST, _running_over,
        MEAN_MOMENT, ANGLES, "N*m", WING, counts=lambda s: _heated_motion(s) & (not s.brake)),
    Requirement("fold_time_row", "Fold time",
        lambda heat_time, pushes_up: of_driver(heat_time, pushes_up), AT_MOST, "legs.time_limit",
        LOGARITHM, LEGS, "s", counts=lambda s: _heated_motion(s) & ~s.is_return),
    Requirement("return_time_row", "Return time",
        return_time, AT_MOST, "legs.time_limit",
        LOGARITHM, LEGS, "s", counts=_cooled_return),
    Requirement("return_heat_row", "Return drive heat-up time",
        lambda heat_time, pushes_up: of_driver(heat_time, pushes_up), AT_MOST, "legs.time_limit",
        LOGARITHM, LEGS, "s",
        counts=lambda s: _heated_motion(s) & s.is_return & (s.other_cold | (not s.retwist))),
    Requirement("warm_up", "Warm-up of the other set before the leg",
        lambda heat_time, pushes_up: of_cooled(heat_time, pushes_up), AT_MOST,
        "requirements.warm_up_time",
        LOGARITHM, LEGS, "s", counts=_warmed),
    Requirement("warmed_cooling", "Cooling of the warmed set under the drive",
        lambda cool_time, pushes_up: of_cooled(cool_time, pushes_up), AT_MOST,
        "legs.cooling_limit",
        LOGARITHM, LEGS, "s", counts=lambda s: _warmed(s) & ~s.is_return),
    Requirement("still_warm", "Hold after which the other set is still warm",
        lambda warm_cooling_time, pushes_up: of_cooled(warm_cooling_time, pushes_up), AT_LEAST,
        "legs.hold_time",
        LOGARITHM, LEGS, "s", counts=lambda s: _heated_motion(s) & s.just_heated & s.held),
    Requirement("power_reserve", "Power above the loss at temperature",
        lambda power_balance, heater_power, pushes_up: (
            of_driver(power_balance, pushes_up) * of_driver(heater_power, pushes_up)
        ),
        AT_LEAST, 0.0,
        NOMINAL_POWER, LEGS, "W", WING, counts=lambda s: s.heated),
    Requirement("return_temperature", "Mf margin: martensite finish above the hottest bay",
        lambda cooling_finish, pushes_up: of_cooled(cooling_finish, pushes_up), AT_LEAST,
        lambda bay_hot_temperature, requirements: (
            bay_hot_temperature + (requirements.lot_tolerance + requirements.return_gate)
        ),
        KELVIN, LEGS, "K", counts=_martensite),
    Requirement("self_start", "Inadvertent-actuation margin above bay and soak",
        "alloy.austenite_start", AT_LEAST,
        lambda bay_hot_temperature, requirements: _start_gate(bay_hot_temperature, requirements),
        KELVIN, LEGS, "K"),
    Requirement("driver", "A driver for the leg",
        lambda driver_missing: 1.0 - driver_missing, AT_LEAST, 1.0,
        PRESENCE, LEGS, "1", counts=lambda s: s.works),
    Requirement("structure_temperature_row", "Adjacent structure temperature",
        "structure_temperature_hot", AT_MOST, "vehicle.adjacent_temperature_limit",
        KELVIN, LEGS, "K", counts=lambda s: s.heated),
    Requirement("bay_peak", "Bay at its hottest while a set cools",
        lambda bay_peak_temperature, pushes_up: of_cooled(bay_peak_temperature, pushes_up), AT_MOST,
        "vehicle.adjacent_temperature_limit",
        KELVIN, LEGS, "K", counts=lambda s: _cooled_return(s) | _warmed(s)),
    Requirement("declared_stress", "Declared life: stress",
        "leg_outer_stress", AT_MOST, "alloy.declared_life_stress",
        RELATIVE, LEGS, "Pa", counts=lambda s: _heated_motion(s) & (not s.life_law)),
    Requirement("declared_strain", "Declared life: strain",
        "stroke_strain", AT_MOST, "alloy.declared_life_strain",
        RELATIVE, LEGS, "fraction", counts=lambda s: _heated_motion(s) & (not s.life_law)),
    Requirement("strength", "Outer-fibre stress",
        "outer_stress_operating", AT_MOST, "alloy.allowable_shear_stress",
        RELATIVE, SETS, "Pa", counts=lambda s: s.present),
    Requirement("recoverable", "Recoverable strain",
        "outer_strain_max", AT_MOST, lambda alloy: ROOT3 * alloy.recoverable_strain,
        RELATIVE, SETS, "fraction", counts=lambda s: s.present),
    Requirement("life", "Life (Miner)",
        "life_use", AT_MOST, 1.0,
        LIFE, SETS, "1", counts=lambda s: s.present),
    Requirement("heater_watt_density", "Heater flux at high line",
        "heater_flux", AT_MOST, "heater_flux_limit",
        RELATIVE, SETS, "W/m**2", counts=lambda s: s.present),
    Requirement("heater_sheath", "Heater temperature",
        "sheath_temperature", AT_MOST, "sheath_temperature_limit",
        KELVIN, SETS, "K", counts=lambda s: s.present),
    Requirement("buckling", "Torsional buckling below t/r 0.1",
        "operating_stress", AT_MOST, "buckling_stress",
        BUCKLING, SETS, "Pa", counts=lambda s: s.present),
    Requirement("alloy_temperature", "Alloy temperature",
        "tube_temperature_max", AT_MOST, "alloy.temperature_max",
        KELVIN, SCALAR, "K"),
    Requirement("bus_power", "Peak power from the bus",
        "peak_power", AT_MOST, "supply.power_available",
        LOGARITHM, SCALAR, "W", AIRCRAFT),
    Requirement("slenderness", "Length over diameter",
        "tube_slenderness", AT_MOST, "requirements.length_to_diameter_max",
        LOGARITHM, SCALAR, "1"),
    Requirement("stubbiness", "Length over diameter, least",
        "tube_slenderness", AT_LEAST, "bundle_assumptions.length_to_diameter_min",
        LOGARITHM, SCALAR, "1"),
    Requirement("wall", "Minimum gauge",
        "wall_thickness", AT_LEAST, "bundle_assumptions.wall_min",
        LOGARITHM, SCALAR, "m"),
    Requirement("bore", "Minimum bore",
        "bore_radius", AT_LEAST, "bundle_assumptions.bore_radius_min",
        LOGARITHM, SCALAR, "m"),
    Requirement("gear_bending", "Bending of the gear teeth",
        "gear_tooth_stress", AT_MOST, "bundle_assumptions.gear_bending_allowable",
        RELATIVE, SCALAR, "Pa", counts=lambda s: s.geared),
    Requirement("gear_face", "Face over diameter of the pinions",
        "gear_face_ratio", AT_MOST, "bundle_assumptions.gear_face_ratio_max",
        RELATIVE, SCALAR, "1", counts=lambda s: s.geared),
    Requirement("bundle_room", "Height of the bundle in the wing",
        "bundle_height", AT_MOST, "height_available",
        THICKNESS, SCALAR, "m", WING, counts=lambda s: not s.bench, no_limit=NO_HEIGHT),
    Requirement("bundle_chord", "Length of the bundle along the chord",
        "bundle_length", AT_MOST,
        lambda bundle_assumptions, planform: (
            bundle_assumptions.bundle_chord_fraction_max * planform.fold_chord
        ),
        RELATIVE, SCALAR, "m", WING, counts=lambda s: not s.bench),
    Requirement("envelope_height_row", "Envelope height",
        "bundle_height", AT_MOST, "requirements.envelope_height",
        RELATIVE, SCALAR, "m", WING, counts=lambda s: s.envelope_height),
    Requirement("envelope_length_row", "Envelope length",
        "bundle_length", AT_MOST, "requirements.envelope_length",
        RELATIVE, SCALAR, "m", WING, counts=lambda s: s.envelope_length),
    Requirement("plated_gate", "Bending of offset tubes between plates",
        "parasitic_strain_ratio", AT_MOST, 1.0,
        RELATIVE, SCALAR, "1", counts=lambda s: s.plated),
    Requirement("nested_gate", "Innermost nested tube",
        "nested_bore_radius", AT_LEAST, "bundle_assumptions.bore_radius_min",
        LOGARITHM, SCALAR, "m", counts=lambda s: s.nested),
    Requirement("static_self_start", "Inadvertent-actuation margin, soaked or locked",
        "alloy.austenite_start", AT_LEAST,
        lambda static_bay_hot, requirements: _start_gate(static_bay_hot, requirements),
        KELVIN, STATICS, "K", counts=lambda s: s.static),
)  # fmt: skip

REQUIREMENTS: dict[str, Requirement] = {entry.name: entry for entry in _TABLE}
