"""Wire of a standard gauge and sheet of a stock thickness for a design; one wing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.records import MASS_LINES
from mdo.model.parts import choose_cable, housing_wall, wall_for_moment
from mdo.optimise.problem import DesignProblem

CABLES_MAX = 16
SHEET_FIELDS = {"housing": "housing_thickness_min", "end plates": "plate_thickness_min"}
SAME_SHEET = 1e-6  # a wall this little (relative) above a sheet is that sheet


def with_fields(
    problem: DesignProblem, changes: Mapping[str, Mapping[str, float]]
) -> DesignProblem:
    """Problem with fields of its parameter records changed (SI), by record and field.

    Not through the study, whose ranges are those of judged assumptions, not of what is bought.
    """
    parameters = dict(problem.assembled.parameters)
    for record, fields in changes.items():
        parameters[record] = parameters[record]._replace(**fields)
    return problem.with_parameters(parameters)


class Feeder(NamedTuple):
    """Feeder of one wing: cables in parallel, AWG number, area of all [m**2], drop [V], suits."""

    cables: int
    gauge: int
    area: float
    drop: float
    suits: bool

    @property
    def words(self) -> str:
        """The feeder as it would be ordered."""
        several = f"{self.cables} cables in parallel, each " if self.cables > 1 else ""
        return f"{several}AWG {self.gauge}"


def feeder(problem: DesignProblem, x: Floats) -> Feeder:
    """Smallest standard wire for the feeder current of a design, cables in parallel if need be."""
    parameters = problem.assembled.parameters
    current = float(problem.values(x, "feeder_current")["feeder_current"])
    for cables in range(1, CABLES_MAX + 1):
        choice = choose_cable(parameters, current / cables)
        if choice.suits:
            break
    return Feeder(cables, choice.gauge, cables * choice.area, choice.drop, choice.suits)


class Wall(NamedTuple):
    """Wall of a part [m]: in the model, and what its load alone asks for."""

    part: str
    wall: float
    needed: float

    @property
    def record_field(self) -> str:
        """Field of the mass assumptions that holds the least thickness of the part."""
        return SHEET_FIELDS[self.part]


def walls(problem: DesignProblem, x: Floats) -> tuple[Wall, ...]:
    """Walls of housing and, between plates, of the end plates of a design."""
    parameters = problem.assembled.parameters
    v = problem.values(x)
    housing = _housing(problem, x, v)
    plated = int(parameters["choices"].topology) == 3
    return (housing, _plates(problem, x, v)) if plated else (housing,)


def _line(problem: DesignProblem, v: Mapping[str, Any], name: str) -> float:
    """Mass line of one wing [kg]."""
    wings = float(problem.assembled.parameters["choices"].assemblies)
    return float(v["mass_lines"][list(MASS_LINES).index(name)]) / wings


def _housing(problem: DesignProblem, x: Floats, v: Mapping[str, Any]) -> Wall:
    """Wall of the housing from its mass; what strength and wind-up ask for from the wind-up."""
    parameters = problem.assembled.parameters
    a = parameters["mass_assumptions"]
    girth = 2.0 * float(v["bundle_width"] + v["bundle_height"])
    length = float(v["bundle_length"])
    wall = housing_wall(parameters, _line(problem, v, "housing"), girth=girth, length=length)
    enclosed = float(v["bundle_width"] * v["bundle_height"])
    radius = float(np.cbrt(2.0 * enclosed**2 / (np.pi * girth)))
    ratio, limit = float(v["windup_ratio"]), float(parameters["requirements"].windup_limit)
    travel = float(v["travel_high"] - v["travel_low"])
    twist = ratio * float(x[problem.labels.index("gear_ratio")]) * travel
    shear = float(a.structure_shear_modulus)
    moment = twist * shear * 2.0 * np.pi * radius**3 * wall / length
    strength = wall_for_moment(parameters, moment, radius=radius)
    return Wall("housing", wall, max(strength, wall * ratio / limit))


def _plates(problem: DesignProblem, x: Floats, v: Mapping[str, Any]) -> Wall:
    """Thickness of an end plate from its mass; what shear asks for shows only above the floor."""
    a = problem.assembled.parameters["mass_assumptions"]
    diameter = 2.0 * float(x[problem.labels.index("tube_outer_radius")])
    radius = float(v["bundle_radius"]) + float(a.plate_edge_ratio) * diameter
    solid = float(a.structure_density) * np.pi * radius**2 * float(a.plate_fill)
    wall = _line(problem, v, "plates") / (2.0 * solid)
    floor = float(a.plate_thickness_min)
    return Wall("end plates", wall, wall if wall > floor else 0.0)


def next_sheet(sheets: Sequence[float], wall: float) -> float | None:
    """Thinnest sheet [m] that is no thinner than a wall; None if there is none."""
    thick = [sheet for sheet in sheets if sheet >= wall * (1.0 - SAME_SHEET)]
    return min(thick) if thick else None
