"""Every requirement of a study in physical units: value, limit and margin at its worst angle.

The rows of the model are normalised for the optimiser; here each is read back in the unit that an
engineer checks, with the row itself as judge of whether it holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.disciplines.tube.sma import ROOT3
from mdo.model.layout import SET_NAMES
from mdo.model.rows import ANGLES, LEGS, ROW_GROUPS, SCALAR, SETS
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import FEASIBLE

Floats = NDArray[np.float64]
AT_MOST, AT_LEAST = "at most", "at least"
WING, AIRCRAFT, NEITHER = "one wing", "aircraft", ""
NO_HEIGHT = "so long a bundle finds no height between the skins"
REQUIRED, REPORTED = "required", "reported only"


class RequirementLine(NamedTuple):
    """One requirement of one leg, static case or set at its worst fold angle.

    ``margin`` is positive where the requirement holds, in ``unit``; temperatures of margins are
    differences. ``row`` is the normalised row (>= 0 good), ``multiplier`` the sum over the angles,
    in kg of the aircraft per unit of row. NaN where a line has none.
    """

    requirement: str
    group: str
    standing: str
    leg: str
    fold_angle: float
    side: str
    sense: str
    value: float
    limit: float
    margin: float
    unit: str
    of: str
    row: float
    multiplier: float
    holds: bool
    note: str


class Facts:
    """Values, parameters and design of an appraisal; what belongs to the driver of each leg."""

    def __init__(self, appraisal: Appraisal) -> None:
        assembled = appraisal.problem.assembled
        self.v = appraisal.values
        self.d = appraisal.design
        p = assembled.parameters
        self.legs, self.statics = p["legs"], p["statics"].state
        self.alloy, self.planform, self.vehicle = p["alloy"], p["planform"], p["vehicle"]
        self.choices, self.supply, self.wanted = p["choices"], p["supply"], p["requirements"]
        self.bundle = p["bundle_assumptions"]
        self.tolerance_low = float(p["thermal_assumptions"].heater_tolerance_low)
        self.tolerance_high = float(p["thermal_assumptions"].heater_tolerance_high)
        self.fold_angle = np.asarray(p["fold_angle"])
        self.up = self.v["pushes_up"] > 0.5
        self.leg_names = tuple(leg.label for leg in assembled.legs)
        self.static_names = tuple(leg.label for leg in assembled.statics)

    def of_driver(self, name: str) -> Floats:
        """Value of the set that drives each leg, shape (legs,), of a (2,) or (legs, 2) quantity."""
        value = self.v[name] if name in self.v else self.d[name]
        pair = np.broadcast_to(value, (self.up.size, 2))
        return np.where(self.up, pair[:, 0], pair[:, 1])

    def of_cooled(self, name: str) -> Floats:
        """Value of the set that opposes the motion of each leg, shape (legs,)."""
        pair = np.broadcast_to(self.v[name], (self.up.size, 2))
        return np.where(self.up, pair[:, 1], pair[:, 0])

    def return_time(self) -> Floats:
        """Time of a return leg [s]: cooling, and heating of the other set where the times add."""
        adds = int(self.choices.configuration) == 2 and float(self.choices.return_mode) > 0.5
        heat = self.of_driver("heat_time") if adds else 0.0
        return self.of_cooled("cool_time") + heat

    def over_bay(self, bay: Any, gate: Any) -> Any:
        """Bay temperature plus lot tolerance and gate [K]."""
        return bay + self.wanted.lot_tolerance + gate

    def stress_cap(self) -> Any:
        """Uniform stress at which the outer fibre reaches the allowable one [Pa]."""
        operating = np.maximum(self.d["operating_stress"], 1.0)
        factor = (self.v["outer_stress_operating"] / operating)[0]
        return self.alloy.allowable_shear_stress / factor

    @property
    def wall(self) -> Any:
        """Wall of the tubes [m]."""
        return self.d["tube_outer_radius"] * self.d["wall_ratio"]

    @property
    def bore_radius(self) -> Any:
        """Inner radius of the tubes [m]."""
        return self.d["tube_outer_radius"] - self.wall


class Physical(NamedTuple):
    """How a row reads in physical units: unit, sense, whose it is, and value and limit."""

    unit: str
    sense: str
    of: str
    pair: Callable[[Facts], tuple[Any, Any]]


def _angles(values: Any) -> Any:
    return np.asarray(values)[:, None]


PHYSICAL: dict[str, Physical] = {
    "drive_stress": Physical(
        "Pa", AT_MOST, NEITHER,
        lambda f: (f.v["required_stress"], _angles(f.of_driver("operating_stress"))),
    ),
    "drive_strain": Physical(
        "1", AT_MOST, NEITHER, lambda f: (f.v["required_strain"], f.v["tube_strain"])
    ),
    "failed_stress_row": Physical(
        "Pa", AT_MOST, NEITHER, lambda f: (f.v["failed_stress"], f.stress_cap())
    ),
    "failed_strain_row": Physical(
        "1", AT_MOST, NEITHER, lambda f: (f.v["failed_strain"], f.v["tube_strain"])
    ),
    "load_return": Physical(
        "1", AT_LEAST, NEITHER, lambda f: (f.v["return_strain"], f.v["return_needed_strain"])
    ),
    "overrun": Physical(
        "N*m", AT_LEAST, WING,
        lambda f: (f.v["holding_moment"], -f.wanted.overrun_factor * f.v["overrun_moment"]),
    ),
    "fold_time_row": Physical(
        "s", AT_MOST, NEITHER, lambda f: (f.of_driver("heat_time"), f.legs.time_limit)
    ),
    "return_time_row": Physical(
        "s", AT_MOST, NEITHER, lambda f: (f.return_time(), f.legs.time_limit)
    ),
    "return_heat_row": Physical(
        "s", AT_MOST, NEITHER, lambda f: (f.of_driver("heat_time"), f.legs.time_limit)
    ),
    "power_reserve": Physical(
        "W", AT_LEAST, WING,
        lambda f: (f.of_driver("power_balance") * f.of_driver("heater_power"), 0.0),
    ),
    "return_temperature": Physical(
        "K", AT_LEAST, NEITHER,
        lambda f: (
            f.of_cooled("cooling_finish"),
            f.over_bay(f.v["bay_hot_temperature"], f.wanted.return_gate),
        ),
    ),
    "self_start": Physical(
        "K", AT_LEAST, NEITHER,
        lambda f: (
            f.alloy.austenite_start,
            f.over_bay(f.v["bay_hot_temperature"], f.wanted.self_start_gate),
        ),
    ),
    "driver": Physical("1", AT_LEAST, NEITHER, lambda f: (1.0 - f.v["driver_missing"], 1.0)),
    "structure_temperature_row": Physical(
        "K", AT_MOST, NEITHER,
        lambda f: (f.v["structure_temperature_hot"], f.vehicle.adjacent_temperature_limit),
    ),
    "declared_stress": Physical(
        "Pa", AT_MOST, NEITHER,
        lambda f: (f.v["leg_outer_stress"], f.alloy.declared_life_stress),
    ),
    "declared_strain": Physical(
        "1", AT_MOST, NEITHER, lambda f: (f.v["stroke_strain"], f.alloy.declared_life_strain)
    ),
    "strength": Physical(
        "Pa", AT_MOST, NEITHER,
        lambda f: (f.v["outer_stress_operating"], f.alloy.allowable_shear_stress),
    ),
    "recoverable": Physical(
        "1", AT_MOST, NEITHER,
        lambda f: (f.v["outer_strain_max"], ROOT3 * f.alloy.recoverable_strain),
    ),
    "life": Physical("1", AT_MOST, NEITHER, lambda f: (f.v["life_use"], 1.0)),
    "heater_watt_density": Physical(
        "W/m**2", AT_MOST, NEITHER, lambda f: (f.v["heater_flux"], f.v["heater_flux_limit"])
    ),
    "heater_sheath": Physical(
        "K", AT_MOST, NEITHER,
        lambda f: (f.v["sheath_temperature"], f.v["sheath_temperature_limit"]),
    ),
    "buckling": Physical(
        "Pa", AT_MOST, NEITHER, lambda f: (f.d["operating_stress"], f.v["buckling_stress"])
    ),
    "alloy_temperature": Physical(
        "K", AT_MOST, NEITHER, lambda f: (f.v["tube_temperature_max"], f.alloy.temperature_max)
    ),
    "bus_power": Physical(
        "W", AT_MOST, AIRCRAFT, lambda f: (f.v["peak_power"], f.supply.power_available)
    ),
    "slenderness": Physical(
        "1", AT_MOST, NEITHER,
        lambda f: (
            f.d["tube_length"] / (2.0 * f.d["tube_outer_radius"]),
            f.wanted.length_to_diameter_max,
        ),
    ),
    "stubbiness": Physical(
        "1", AT_LEAST, NEITHER,
        lambda f: (
            f.d["tube_length"] / (2.0 * f.d["tube_outer_radius"]),
            f.bundle.length_to_diameter_min,
        ),
    ),
    "wall": Physical("m", AT_LEAST, NEITHER, lambda f: (f.wall, f.bundle.wall_min)),
    "bore": Physical("m", AT_LEAST, NEITHER, lambda f: (f.bore_radius, f.bundle.bore_radius_min)),
    "bundle_room": Physical(
        "m", AT_MOST, WING, lambda f: (f.v["bundle_height"], f.v["height_available"])
    ),
    "bundle_chord": Physical(
        "m", AT_MOST, WING,
        lambda f: (
            f.v["bundle_length"],
            f.bundle.bundle_chord_fraction_max * f.planform.fold_chord,
        ),
    ),
    "envelope_height_row": Physical(
        "m", AT_MOST, WING, lambda f: (f.v["bundle_height"], f.wanted.envelope_height)
    ),
    "envelope_length_row": Physical(
        "m", AT_MOST, WING, lambda f: (f.v["bundle_length"], f.wanted.envelope_length)
    ),
    "plated_gate": Physical(
        "1", AT_MOST, NEITHER, lambda f: (f.v["parasitic_strain_ratio"], 1.0)
    ),
    "nested_gate": Physical(
        "m", AT_LEAST, NEITHER, lambda f: (f.v["nested_bore_radius"], f.bundle.bore_radius_min)
    ),
    "static_self_start": Physical(
        "K", AT_LEAST, NEITHER,
        lambda f: (
            f.alloy.austenite_start,
            f.over_bay(f.v["static_bay_hot"], f.wanted.self_start_gate),
        ),
    ),
}  # fmt: skip


# What one unit of a normalised row is, for multipliers; the whole limit where not named.
ROW_UNITS = {
    **dict.fromkeys(
        ("return_temperature", "self_start", "structure_temperature_row", "heater_sheath",
         "alloy_temperature", "static_self_start"), "10 K",
    ),
    **dict.fromkeys(("drive_strain", "failed_strain_row", "load_return"), "0.01 of strain"),
    **dict.fromkeys(
        ("fold_time_row", "return_time_row", "return_heat_row", "bus_power", "slenderness",
         "stubbiness", "wall", "bore", "nested_gate", "buckling"), "factor e",
    ),
    "life": "factor e**2.5 of life",
    "power_reserve": "nominal power",
    "bundle_room": "wing thickness",
    "overrun": "mean moment",
}  # fmt: skip


def row_unit(group: str) -> str:
    """Return what one unit of a normalised row is, in words."""
    return ROW_UNITS.get(group, "100 % of the limit")


def requirement_lines(appraisal: Appraisal) -> tuple[RequirementLine, ...]:
    """Every requirement that counts, one line per group and leg, static case or set.

    Groups are in the order of the model, the torque margin A/R - 1 first; what is only reported
    (margin with one tube failed where none is required to fail) comes last.
    """
    facts = Facts(appraisal)
    gathered: dict[tuple[str, int, int], list[tuple[int, float, float]]] = {}
    for result in appraisal.rows:
        label = result.label
        key = (label.group, label.leg, label.side)
        gathered.setdefault(key, []).append((label.angle, result.value, result.multiplier))
    read: dict[str, tuple[Floats, Floats]] = {}
    lines = [_line(facts, key, rows, read) for key, rows in gathered.items()]
    return (*_torque_lines(facts), *lines, *_reported(facts))


def _line(
    facts: Facts,
    key: tuple[str, int, int],
    rows: list[tuple[int, float, float]],
    read: dict[str, tuple[Floats, Floats]],
) -> RequirementLine:
    """Line of one group at one place: the worst of its angles."""
    group, leg, side = key
    physical = PHYSICAL[group]
    angle, row, _ = min(rows, key=lambda one: one[1])
    over = ROW_GROUPS[group].over
    if group not in read:
        value, limit = physical.pair(facts)
        shape = facts.v[group].shape
        read[group] = (np.broadcast_to(value, shape), np.broadcast_to(limit, shape))
    place: tuple[int, ...] = {SCALAR: (), SETS: (side,), ANGLES: (leg, angle)}.get(over, (leg,))
    value, limit = (float(part[place]) for part in read[group])
    if over in {SCALAR, SETS}:
        name = ""
    else:
        name = (facts.leg_names if over in {LEGS, ANGLES} else facts.static_names)[leg]
    return RequirementLine(
        requirement=ROW_GROUPS[group].title,
        group=group,
        standing=REQUIRED,
        leg=name,
        fold_angle=float(facts.fold_angle[leg, angle]) if over == ANGLES else np.nan,
        side=SET_NAMES[side] if side >= 0 else "",
        sense=physical.sense,
        value=value,
        limit=limit,
        margin=limit - value if physical.sense == AT_MOST else value - limit,
        unit=physical.unit,
        of=physical.of,
        row=row,
        multiplier=sum(one[2] for one in rows),
        holds=row >= -FEASIBLE,
        note=NO_HEIGHT if group == "bundle_room" and limit <= 0.0 else "",
    )


def _torque_lines(facts: Facts) -> Iterator[RequirementLine]:
    """Torque margin A/R - 1 of each leg that a heated set drives, at its worst angle."""
    wanted = np.broadcast_to(facts.legs.torque_margin_required, facts.up.shape)
    for leg in np.flatnonzero(facts.v["heated"] > 0.5):
        yield margin_line(
            facts, "torque_margin", "Torque margin A/R - 1", int(leg), limit=float(wanted[leg])
        )


def _reported(facts: Facts) -> Iterator[RequirementLine]:
    """Lines without a requirement: margin with one tube failed where none is required to fail."""
    if float(facts.choices.tubes_failed) < 0.5:
        for leg in np.flatnonzero(facts.v["heated"] > 0.5):
            line = margin_line(
                facts, "torque_margin_failed", "Torque margin with one tube failed", int(leg)
            )
            yield line._replace(standing=REPORTED, note="none is required to fail")


def margin_line(
    facts: Facts, name: str, words: str, leg: int, *, limit: float = 0.0
) -> RequirementLine:
    """Line of a torque margin of one leg at its worst angle."""
    margins = facts.v[name][leg]
    # from -1 down nothing is available and the ratio says little: the largest shortfall counts
    shortfall = -margins * np.abs(facts.v["required_moment"][leg])
    angle = int(np.argmax(np.where(margins <= -1.0, shortfall, -np.inf)))
    if margins.min() > -1.0:
        angle = int(np.argmin(margins))
    value = float(margins[angle])
    assists = value >= 0.5 * NO_RESISTANCE
    beaten = "cold set and spring take more than the hot set gives" if value <= -1.0 else ""
    return RequirementLine(
        requirement=words,
        group=name,
        standing=REQUIRED,
        leg=facts.leg_names[leg],
        fold_angle=float(facts.fold_angle[leg, angle]) if not assists else np.nan,
        side="",
        sense=AT_LEAST,
        value=np.nan if assists else value,
        limit=limit,
        margin=np.nan if assists else value - limit,
        unit="1",
        of=WING,
        row=np.nan,
        multiplier=0.0,
        holds=assists or value - limit >= -FEASIBLE,
        note="load assists at every angle" if assists else beaten,
    )
