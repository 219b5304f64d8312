"""The knobs of a study: what it asks for, what loads it, and what technology it counts on."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from mdo.optimise.knobs import ALLOY, LOAD, REQUIREMENT, TECHNOLOGY, Knob, Move
from mdo.optimise.problem import DesignProblem
from mdo.study.reader import Input
from mdo.study.study import Study

EASIER_HIGH, EASIER_LOW = 1, -1


class Plain(NamedTuple):
    """A knob that moves one field of the study."""

    path: str
    title: str
    kind: str
    step: float
    per: str
    easier: int


PLAIN = (
    Plain("requirements.fold_time", "Fold time", REQUIREMENT, 1.0, "s", EASIER_HIGH),
    Plain("requirements.return_time", "Return time", REQUIREMENT, 1.0, "s", EASIER_HIGH),
    Plain("requirements.torque_margin", "Torque margin", REQUIREMENT, 0.01, "percent of margin",
          EASIER_LOW),
    Plain("requirements.added_moment", "Resisting moment at the hinge", LOAD, 1.0, "N*m",
          EASIER_LOW),
    Plain("assumptions.aero.moment_scale", "Aerodynamic hinge moments", LOAD, 0.01, "percent",
          EASIER_LOW),
    Plain("supply.power_available", "Power granted", REQUIREMENT, 1e3, "kW", EASIER_HIGH),
    Plain("supply.low_voltage_ratio", "Lowest line voltage", REQUIREMENT, 0.01,
          "percent of nominal", EASIER_HIGH),
    Plain("requirements.bay_hot", "Hottest bay", REQUIREMENT, 1.0, "K", EASIER_LOW),
    Plain("requirements.bay_cold", "Coldest bay", REQUIREMENT, 1.0, "K", EASIER_HIGH),
    Plain("requirements.lot_tolerance", "Lot tolerance of the alloy", REQUIREMENT, 1.0, "K",
          EASIER_LOW),
    Plain("requirements.return_gate", "Return gate", REQUIREMENT, 1.0, "K", EASIER_LOW),
    Plain("requirements.self_start_gate", "Self-start gate", REQUIREMENT, 1.0, "K", EASIER_LOW),
    Plain("requirements.friction_factor", "Factor on friction", REQUIREMENT, 0.1, "0.1",
          EASIER_LOW),
    Plain("requirements.overrun_factor", "Factor on a load that runs over", REQUIREMENT, 0.1,
          "0.1", EASIER_LOW),
    Plain("requirements.dead_time", "Dead time", REQUIREMENT, 1.0, "s", EASIER_LOW),
    Plain("requirements.life_factor", "Factor on life", REQUIREMENT, 1.0, "1", EASIER_LOW),
    Plain("requirements.envelope_height", "Envelope height", REQUIREMENT, 1e-3, "mm", EASIER_HIGH),
    Plain("requirements.envelope_length", "Envelope length", REQUIREMENT, 1e-3, "mm", EASIER_HIGH),
    Plain("vehicle.clearance", "Gap kept to each skin", REQUIREMENT, 1e-3, "mm", EASIER_LOW),
    Plain("vehicle.adjacent_temperature_limit", "Temperature limit of the structure", REQUIREMENT,
          1.0, "K", EASIER_HIGH),
    Plain("requirements.length_to_diameter_max", "Slenderness of the tubes", TECHNOLOGY, 1.0,
          "length/diameter", EASIER_HIGH),
    Plain("actuator.declared_life_stress", "Stress that the life allows", TECHNOLOGY, 1e6, "MPa",
          EASIER_HIGH),
    Plain("actuator.declared_life_strain", "Strain that the life allows", TECHNOLOGY, 1e-3,
          "0.1 % strain", EASIER_HIGH),
)  # fmt: skip

# Values of the alloy that progress may raise: field, title, step, words of the step.
ALLOY_VALUES = (
    ("allowable_shear_stress", "Allowable shear stress of the alloy", 1e6, "MPa"),
    ("recoverable_strain", "Recoverable strain of the alloy", 1e-3, "0.1 % strain"),
)
# Prices: path, title, step in SI, words of the step.
PRICES = (
    ("assumptions.power.generator_specific_mass", "Mass of the generator share", 1e-4, "0.1 kg/kW"),
    ("assumptions.power.battery_specific_power", "Specific power of the battery", 100.0,
     "0.1 kW/kg"),
    ("assumptions.power.converter_specific_mass_large", "Mass of power conversion", 1e-4,
     "0.1 kg/kW"),
    ("assumptions.power.controller_channel_mass", "Mass of a controller channel", 0.01, "10 g"),
)  # fmt: skip
FOLDS, ANGLES, FLIGHT_LOAD, WIND = "folds", "angle_range", "flight_load_factor", "deck_wind"


def requirements_of(problem: DesignProblem) -> tuple[Knob, ...]:
    """Requirements and loads of a study that can be turned, those of single cases included."""
    wanted = [knob for knob in _plain(problem.study) if knob.kind != TECHNOLOGY]
    return (*wanted, *_times_of_cases(problem.study), *_composites(problem.study))


def technologies_of(problem: DesignProblem) -> tuple[Knob, ...]:
    """Technology values that the study counts on: stress, strain, masses per power."""
    found = [knob for knob in _plain(problem.study) if knob.kind == TECHNOLOGY]
    return (*found, *_alloy(problem), *_prices(problem.study))


def all_knobs(problem: DesignProblem) -> tuple[Knob, ...]:
    """Requirements, loads and technology values."""
    return requirements_of(problem) + technologies_of(problem)


def _plain(study: Study) -> Iterator[Knob]:
    inputs = {one.path: one for one in study.inputs}
    for one in PLAIN:
        found = inputs.get(one.path)
        value = None if found is None else _number(found)
        if found is None or value is None:
            continue
        low, high = _range(found)
        yield Knob(
            name=one.path.split(".")[-1],
            title=one.title,
            kind=one.kind,
            unit=found.unit,
            value=value,
            low=low,
            high=high,
            step=one.step,
            per=one.per,
            easier=one.easier,
            moves=(Move(one.path, value),),
        )


def _times_of_cases(study: Study) -> Iterator[Knob]:
    """Times that single cases state for themselves."""
    inputs = {one.path: one for one in study.inputs}
    for case in study.cases:
        for name, words in (("fold_time", "Fold time"), ("return_time", "Return time")):
            found = inputs.get(f"case.{case.id}.{name}")
            if found is None or found.origin != "file" or case.kind != "fold":
                continue
            if name == "return_time" and case.return_case is None:
                continue
            value = _number(found)
            if value is None:
                continue
            low, high = _range(found)
            yield Knob(
                name=f"{name}.{case.id}",
                title=f"{words} of '{case.id}'",
                kind=REQUIREMENT,
                unit="s",
                value=value,
                low=low,
                high=high,
                step=1.0,
                per="s",
                easier=EASIER_HIGH,
                moves=(Move(found.path, value),),
            )


def _composites(study: Study) -> Iterator[Knob]:
    """Knobs that move a field of several cases."""
    driven = [case for case in study.cases if case.kind == "fold"]
    folds = sum(case.folds_per_life for case in driven)
    if folds > 0.0:
        moves = tuple(
            Move(f"case.{case.id}.folds_per_life", case.folds_per_life, case.folds_per_life / folds)
            for case in driven
            if case.folds_per_life > 0.0
        )
        yield Knob(FOLDS, "Folds of the life", REQUIREMENT, "1", folds,
                   0.0, 1e6, 100.0, "100 folds", EASIER_LOW, moves)  # fmt: skip
    if study.load_table is not None:  # the table holds the angles, the load and the wind
        return
    yield from _angle_range(study)
    flown = [case for case in driven if case.location == "air" and case.load_factor > 0.0]
    if flown:
        worst = max(case.load_factor for case in flown)
        moves = tuple(
            Move(f"case.{case.id}.load_factor", case.load_factor, case.load_factor / worst)
            for case in flown
        )
        yield Knob(FLIGHT_LOAD, "Load factor while folding in flight",
                   LOAD, "1", worst, 0.0, 6.0, 0.1, "0.1 of load factor", EASIER_LOW,
                   moves)  # fmt: skip
    windy = [case for case in driven if case.location == "deck" and case.wind_speed > 0.0]
    if windy:
        worst = max(case.wind_speed for case in windy)
        moves = tuple(
            Move(f"case.{case.id}.wind_speed", case.wind_speed, case.wind_speed / worst)
            for case in windy
        )
        yield Knob(WIND, "Wind while folding on deck", LOAD, "m/s", worst,
                   0.0, 50.0, 1.0, "m/s", EASIER_LOW, moves)  # fmt: skip


def _angle_range(study: Study) -> Iterator[Knob]:
    """Factor on every fold angle that the actuator moves to or from."""
    driven = [case for case in study.cases if case.kind == "fold"]
    held = [case for case in study.cases if case.kind == "hold" and case.reacted_by == "actuator"]
    moves = [
        Move(f"case.{case.id}.{name}", angle, angle)
        for case in driven
        for name, angle in (("fold_from", case.fold_from), ("fold_to", case.fold_to))
        if angle != 0.0
    ]
    moves += [
        Move(f"case.{case.id}.fold_at", case.fold_from, case.fold_from)
        for case in held
        if case.fold_from != 0.0
    ]
    if not moves:
        return
    most = max(abs(move.base) for move in moves)
    yield Knob(ANGLES, "Range of fold angles", REQUIREMENT, "1", 1.0,
               0.05, math.radians(109.0) / most, 0.01, "percent of the range", EASIER_LOW,
               tuple(moves))  # fmt: skip


def _alloy(problem: DesignProblem) -> Iterator[Knob]:
    for field, title, step, per in ALLOY_VALUES:
        value = float(getattr(problem.assembled.parameters["alloy"], field))
        yield Knob(
            name=field,
            title=title,
            kind=TECHNOLOGY,
            unit="Pa" if step >= 1.0 else "1",
            value=value,
            low=0.2 * value,
            high=5.0 * value if step >= 1.0 else min(5.0 * value, 0.19),
            step=step,
            per=per,
            easier=EASIER_HIGH,
            moves=(Move(ALLOY + field, value),),
        )


def _prices(study: Study) -> Iterator[Knob]:
    inputs = {one.path: one for one in study.inputs}
    for path, title, step, per in PRICES:
        found = inputs[path]
        value = _number(found)
        if value is None:
            continue
        low, high = _range(found)
        better_high = "Specific" in title
        yield Knob(
            name=path.split(".")[-1],
            title=title,
            kind=TECHNOLOGY,
            unit=found.unit,
            value=value,
            low=low,
            high=high,
            step=step,
            per=per,
            easier=EASIER_HIGH if better_high else EASIER_LOW,
            moves=(Move(path, value),),
        )


def _number(found: Input) -> float | None:
    given = found.value
    return float(given) if isinstance(given, int | float) and not isinstance(given, bool) else None


def _range(found: Input) -> tuple[float, float]:
    low = -math.inf if found.low is None else found.low
    high = math.inf if found.high is None else found.high
    return low, high
