"""From a checked study to the numbers that the coupled model takes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from mdo.alloys import Card, CardError, Field, load_card
from mdo.arrays import Floats
from mdo.disciplines import records
from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.electric.assumptions import PowerAssumptions
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.loads.assumptions import AeroAssumptions
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions
from mdo.study.choices import BOX
from mdo.study.fields import declared
from mdo.study.legs import Leg, along_legs, fold_angles, idle_leg, legs_record, study_legs
from mdo.study.load_table import LoadTable
from mdo.study.reader import StudyError
from mdo.study.sections import Vehicle
from mdo.study.study import Study
from mdo.study.text import file_name

STATION = ("station", "leading_edge", "chord", "twist", "thickness_ratio")
NO_LIMIT = 1e6  # [m] an envelope that is not asked for

Record = TypeVar("Record")


@dataclass(frozen=True)
class Assembled:
    """Numbers of a study: parameters of the model, legs, static cases and the alloy card."""

    parameters: Mapping[str, Any]
    legs: tuple[Leg, ...]
    statics: tuple[Leg, ...]
    card: Card


def assemble(study: Study) -> Assembled:
    """Turn a study into parameters of the model.

    Raises
    ------
    StudyError
        If the alloy card cannot be read or lacks a field that the run needs.
    """
    card = declared_life(study, alloy_card(study))
    try:
        card = card.of_tubes(trained=study.actuator.trained)
        alloy = card.record()
    except CardError as error:
        raise StudyError([f"actuator.alloy: {line}" for line in error.problems]) from None
    every = study_legs(study)
    legs = tuple(leg for leg in every if leg.state.reacted_by == "actuator" and leg.kind != "soak")
    statics = tuple(leg for leg in every if leg not in legs)
    angles = fold_angles(legs, study.actuator.angles_per_leg)
    held = statics or (idle_leg(legs[0]),)
    # zeros for other levels of the loads: parameters of one shape share compiled code
    table = study.load_table if study.fidelity.optimise.hinge_moment == "table" else None
    moment_low, moment_high = table_moments(table, legs, angles)
    static_low, static_high = table_moments(table, held, fold_angles(held, 1))
    planform = planform_record(study)
    parameters: dict[str, Any] = {
        "fold_angle": angles,
        "path_strain": along_legs(legs, "path_strain", 0.0, angles.shape[1]),
        "path_drag_factor": along_legs(legs, "path_drag_factor", 1.0, angles.shape[1]),
        "alloy": alloy,
        "planform": planform,
        "vehicle": vehicle_record(study, planform),
        "legs": legs_record(legs),
        "statics": records.Statics(legs_record(held)),
        "choices": choices_record(study),
        "supply": _copied(records.Supply, study.supply),
        "requirements": _copied(records.Requirements, study.requirements),
        "aero": AeroAssumptions(**study.assumptions["aero"]),
        "thermal_assumptions": ThermalAssumptions(**study.assumptions["thermal"]),  # type: ignore[arg-type]
        "power_assumptions": PowerAssumptions(**study.assumptions["power"]),  # type: ignore[arg-type]
        "mass_assumptions": MassAssumptions(**study.assumptions["mass"]),
        "bundle_assumptions": BundleAssumptions(**study.assumptions["bundle"]),
        "baseline": BaselineAssumptions(**study.assumptions["baseline"]),
        "table_moment_low": moment_low,
        "table_moment_high": moment_high,
        "static_table_low": static_low[:, 0],
        "static_table_high": static_high[:, 0],
    }
    return Assembled(parameters, legs, statics, card)


def alloy_card(study: Study) -> Card:
    """Alloy card of a study: one that comes with the tool, or the user's own beside the study.

    Raises
    ------
    StudyError
        With every fault of the card.
    """
    name = study.actuator.alloy
    own = name.endswith(".toml") or "/" in name or "\\" in name
    try:
        return load_card(Path(study.folder) / file_name(name)) if own else _shipped(name)
    except CardError as error:
        raise StudyError([f"actuator.alloy: {line}" for line in error.problems]) from None


_shipped = cache(load_card)


def declared_life(study: Study, card: Card) -> Card:
    """Card with the life that the study declares, where it declares one.

    The study's numbers are judged: a design on them is at best feasible with open items.
    """
    fields = {}
    for name in ("declared_life_stress", "declared_life_strain", "declared_life_cycles"):
        value = getattr(study.actuator, name)
        if value is not None:
            fields[name] = Field(
                name=name, value=value, low=None, high=None, text=f"{value:g}",
                source="declared by the study", provenance="judgement", judged=True,
            )  # fmt: skip
    return card.with_fields(fields) if fields else card


def table_moments(
    table: LoadTable | None, legs: tuple[Leg, ...], angles: Floats
) -> tuple[Floats, Floats]:
    """Hinge moments of the user's table at the fold angles of each leg [N*m]; zero without one.

    Raises
    ------
    StudyError
        If the table has no rows for a leg that needs them.
    """
    low, high = np.zeros_like(angles), np.zeros_like(angles)
    problems = []
    for number, leg in enumerate(legs):
        if leg.kind in {"soak", "idle"} or table is None:
            continue
        way = "return" if leg.is_return else "fold"
        try:
            low[number], high[number] = table.moments(leg.case, way, angles[number])
        except KeyError:
            problems.append(f"actuator.table: no rows for case '{leg.case}', leg '{way}'")
    if problems:
        raise StudyError(problems)
    return low, high


def planform_record(study: Study) -> records.Planform:
    """Geometry of wing and panel from the breakpoints."""
    wing = study.vehicle.wing
    planform = planform_from_breakpoints(
        **{name: np.array([getattr(point, name) for point in wing]) for name in STATION},
        fold_station=study.vehicle.fold_station,
    )
    if study.bench is None:
        return planform
    # the inertia of a bench is the whole of it, no air moves along; its room is a box
    room = {
        "fold_chord": study.bench.envelope_length,
        "fold_thickness": study.bench.envelope_height,
    }
    return planform._replace(panel_apparent_inertia=0.0, **room)


def vehicle_record(study: Study, planform: records.Planform) -> records.Vehicle:
    """Vehicle and panel; an inertia that the study leaves open is that of a uniform panel."""
    vehicle = study.vehicle
    inertia = vehicle.panel_inertia
    if inertia is None:
        # panel_damping_integral is the second moment of the panel's area about the axis
        second, area = np.asarray(planform.panel_damping_integral), np.asarray(planform.panel_area)
        inertia = vehicle.panel_mass * float(second / area)
    return _copied(
        records.Vehicle,
        vehicle,
        mass_without_actuator=vehicle.mass,
        panel_inertia=inertia,
        section_form=float((*declared(Vehicle)["section"].choices, BOX).index(vehicle.section)),
    )


def choices_record(study: Study) -> records.Choices:
    """Discrete choices of a study as numbers."""
    actuator = study.actuator
    pair = actuator.configuration == "opposed"
    sides = [float(pair or actuator.drive_side == side) for side in ("up", "down")]
    return _copied(
        records.Choices,
        actuator,
        drive_side=-1.0 if actuator.drive_side == "down" else 1.0,
        set_present=np.array(sides),
        tubes_failed=float(study.requirements.tubes_failed),
        assemblies=1.0 if study.bench else 2.0,
    )


def _copied(record: Callable[..., Record], section: Any, **own: Any) -> Record:
    """Record of the model: what it shares with a section of the study, and its own fields."""
    names = record._fields  # type: ignore[attr-defined]
    return record(**own, **{name: _number(section, name) for name in names if name not in own})


def _number(section: Any, name: str) -> Any:
    """Field of a section as the model has it: a word by its place among the choices."""
    value = getattr(section, name)
    of: type = type(section)
    if isinstance(value, str):
        return float(declared(of)[name].choices.index(value))
    if isinstance(value, bool | int):
        return float(value)
    return NO_LIMIT if value is None else value
