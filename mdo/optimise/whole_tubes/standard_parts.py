"""Wire of a standard gauge and sheet of a stock thickness for a design; one wing.

The next standard size up is taken, and the rest re-optimised.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.records import MASS_LINES
from mdo.model.parts import choose_cable, housing_wall, wall_for_moment
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, Fixed

CABLES_MAX = 16
SHEET_FIELDS = {"housing": "housing_thickness_min", "end plates": "plate_thickness_min"}
ROUNDS = 5  # most times that a size is looked up again after re-optimising
SAME_SHEET = 1e-6  # a wall this little (relative) above a sheet is that sheet


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


@dataclass(frozen=True)
class Bought:
    """A design with what was bought for it.

    Attributes
    ----------
    optimum
        The design, re-optimised with what was bought.
    feeder
        Wire of one wing.
    sheets
        Thickness of sheet by part [m].
    words
        What the last step bought.
    remarks
        What could not be bought.
    """

    optimum: Optimum
    feeder: Feeder | None = None
    sheets: Mapping[str, float] = field(default_factory=dict)
    words: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def fields(self) -> dict[str, dict[str, float]]:
        """Fields of the parameter records that hold what was bought (SI)."""
        fields = {}
        if self.feeder is not None:
            fields["power_assumptions"] = {"wire_area_min": self.feeder.area}
        if self.sheets:
            fields["mass_assumptions"] = {SHEET_FIELDS[part]: t for part, t in self.sheets.items()}
        return fields


def buy_wire(bought: Bought) -> Bought:
    """Next standard gauge for the feeder, looked up again until the re-optimised design fits."""
    chosen = feeder(bought.optimum.problem, bought.optimum.design)
    for _ in range(ROUNDS):
        bought = _refitted(replace(bought, feeder=chosen))
        needed = feeder(bought.optimum.problem, bought.optimum.design)
        if needed.area <= chosen.area:
            break
        chosen = needed
    missing = () if chosen.suits else (f"wire: not even {chosen.words} keeps ampacity and drop",)
    remarks = (*bought.remarks, *missing)
    return replace(bought, feeder=chosen, words=chosen.words, remarks=remarks)


def buy_sheets(bought: Bought, sheets: Sequence[float]) -> Bought:
    """Next sheet for the housing and, between plates, for the plates."""
    for _ in range(ROUNDS):
        thickness, remarks = dict(bought.sheets), bought.remarks
        assumed = bought.optimum.problem.assembled.parameters["mass_assumptions"]
        for part, _, needed in walls(bought.optimum.problem, bought.optimum.design):
            least = float(getattr(assumed, SHEET_FIELDS[part]))
            sheet = next_sheet(sheets, max(needed, least))
            if sheet is None:
                remarks = (*remarks, f"sheet: none is as thick as the {part} needs")
            else:
                thickness[part] = sheet
        changed = thickness != bought.sheets
        bought = replace(bought, sheets=thickness, remarks=tuple(dict.fromkeys(remarks)))
        if not changed:
            break
        bought = _refitted(bought)
    words = ", ".join(f"{part} {1e3 * sheet:g} mm" for part, sheet in bought.sheets.items())
    return replace(bought, words=words or "no sheet is thick enough")


def _refitted(bought: Bought) -> Bought:
    """The design re-optimised with what was bought."""
    problem = bought.optimum.problem.fixing(Fixed({}, bought.fields))
    return replace(bought, optimum=find_optimum(problem, starts=0, first=bought.optimum.design))
