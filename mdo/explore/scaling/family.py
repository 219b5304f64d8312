r"""One law and mode of a family: the optimum at every size, from neighbours and from starts.

The pure family: nothing that has a size of its own, so that a law gives one exponent exactly.

Where a law makes all loads go as ``size^k``, an actuator that carries them at the same stresses
and strains is a copy of the given one whose lengths go as the cube root of the load,

.. math:: \lambda = s^{k/3},\qquad T = \tau\,r^2\,t \sim \lambda^3 ,

with the same numbers of tubes, gear ratio, wall and length over radius. Its alloy has the volume of
moment times angle over work per volume, so mass and work go as :math:`\lambda^3 = s^k`. Heat is
stored in the volume and leaves through the surface: with one film coefficient, as radiation has,
times go as :math:`\lambda` and powers as :math:`\lambda^2`.

What keeps a size of its own in reality is freed. Gauges (wall, bore, housing, plates), fixed masses
and masses per piece (controller, sensors, leads) are zero, and the room in the wing is without
limit. Masses per power and conductivities follow the actuator, so that masses go with the volume
and conductances with the surface. What follows no power of a length is left out: still air (its
film coefficient goes with no power of a diameter; tubes radiate), the lock (its mass goes with the
thickness of the wing too), the wires. Load factors on deck follow the law too, and the dynamic law
keeps Mach number and takes its dynamic pressure from denser air. The mass that flies, actuator
included, goes as the law says. Time limits (of legs, holds, cooling, warming) are longer than those
of the study, since without still air tubes cool slower; they go as :math:`\lambda`.

The optimiser knows none of this: it gets each size as a problem like any other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

from mdo.arrays import Floats
from mdo.data_files import toml_beside
from mdo.model.parts import air_pressure
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.many.points import longest_times
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.optimise.problem_text import problem_in
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN, SETTLED
from mdo.results.work import Columns
from mdo.study.analyses import MODES
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import LAWS, eased, scaled

PATIENCE = 3.0  # time limits over those of the study
TIME_LIMITS = ("time_limit", "hold_time", "cooling_limit")
ALTITUDES = (-40_000.0, 30_000.0)  # [m] between which a pressure is looked for

_DATA = toml_beside(__file__, "pure")
# Exponents of the actuator's length and values whatever the size, by record and field.
FOLLOWS: dict[str, dict[str, float]] = _DATA["follows"]
FREED: dict[str, dict[str, float]] = _DATA["freed"]


class Anchor(NamedTuple):
    """Masses at the given size [kg]: that of the aircraft with its actuator, and the actuator's."""

    closed: float
    system: float


def actuator_length(law: str, size: float) -> float:
    """Length of the actuator over that of the given one."""
    return float(size ** (LAWS[law].moment / 3.0))


def pure_problem(
    given: DesignProblem, natural: DesignProblem, law: str, size: float, anchor: Anchor | None
) -> DesignProblem:
    """Problem of one size without anything that has a size of its own.

    Parameters
    ----------
    given : the given vehicle, as its study says
    natural : the vehicle scaled by the law, its cases as they are
    law, size : as for :func:`mdo.study.scaling_laws.scaled`
    anchor : masses of the pure optimum at the given size; None while that is looked for
    """
    length = actuator_length(law, size)
    own = given.assembled.parameters
    changed = dict(natural.assembled.parameters)

    def change(record: str, **fields: Any) -> None:
        changed[record] = changed[record]._replace(**fields)

    for record, fields in FOLLOWS.items():
        kept = {name: getattr(own[record], name) * length**power for name, power in fields.items()}
        change(record, **kept)
    for record, values in FREED.items():
        change(record, **values)
    change("requirements", warm_up_time=PATIENCE * length * own["requirements"].warm_up_time)
    large = changed["power_assumptions"].converter_specific_mass_large
    change("power_assumptions", converter_specific_mass_small=large)
    growth = own["mass_assumptions"].growth_electronics_medium
    change("mass_assumptions", growth_electronics_small=growth, growth_electronics_large=growth)
    change("vehicle", mass_without_actuator=_flying(own, law, size, anchor))
    change("supply", power_available=own["supply"].power_available * length**2)
    changed["legs"] = _states(own["legs"], law, size)
    stretch = variable_stretch(given.labels, length)
    bounds = {name: getattr(given, name) * stretch for name in ("lower", "upper", "frozen")}
    return replace(natural.with_parameters(changed), **bounds)


def variable_stretch(labels: tuple[str, ...], length: float) -> Floats:
    """Factor on each design variable of an actuator of another length."""
    return np.array(
        [length ** _DATA["variables"].get(label.split(".")[0], 0.0) for label in labels]
    )


def _flying(own: Mapping[str, Any], law: str, size: float, anchor: Anchor | None) -> float:
    """Mass of the aircraft without its actuator, so that with it it goes as the law says [kg]."""
    if anchor is None:
        return float(own["vehicle"].mass_without_actuator)
    rule = LAWS[law]
    return float(anchor.closed * size**rule.mass - anchor.system * size**rule.moment)


def _states(own: Any, law: str, size: float) -> Any:
    """States of legs by the law, load factors on deck too; Froude's law in flight by denser air."""
    rule = LAWS[law]
    flying = np.asarray(own.airborne) > 0.5
    denser = size ** (2.0 * rule.speed)
    altitude = [
        _altitude_of(float(height), denser) if flies and denser != 1.0 else float(height)
        for height, flies in zip(np.asarray(own.altitude), flying, strict=True)
    ]
    kinds = {"wind_speed": "speed", "roll_rate": "rate", "roll_acceleration": "acceleration",
             "load_factor": "load_factor", "side_load_factor": "load_factor"}  # fmt: skip
    longer = PATIENCE * actuator_length(law, size)
    return own._replace(
        altitude=np.array(altitude),
        **{name: np.asarray(getattr(own, name)) * longer for name in TIME_LIMITS},
        **{name: np.asarray(getattr(own, name)) * size ** getattr(rule, kind)
           for name, kind in kinds.items()},
    )  # fmt: skip


def _altitude_of(height: float, ratio: float) -> float:
    """Altitude at which the pressure is a ratio of that at another [m]."""
    wanted = ratio * air_pressure(height)
    return float(brentq(lambda h: air_pressure(h) / wanted - 1.0, *ALTITUDES, xtol=1e-9))


FUNCTION = f"{__name__}:solve_family"
FULL, PURE = MODES
STARTS = 2  # of the count problem at each size, beside the neighbour's design
MORE_STARTS = 6  # where none of these ended at an optimum
CARRIES = 1e-4  # share of the largest multiplier from which a row is active
BLAMED = 0.1  # share of the largest violation from which a row is a reason
BETTER = 1e-7  # share of the mass by which a second look must gain
TIMES = ("fold_time", "return_time")
PLAIN = ("system_mass", "alloy_mass", "peak_power", "sortie_energy", "bundle_length")
QUANTITIES = (
    *PLAIN, "required_moment_max", "actuator_work_max", "leg_work_density_max", *TIMES,
    "tube_count", "tube_outer_radius", "tube_length", "gear_ratio",
)  # fmt: skip


class Member(NamedTuple):
    """One size: its problem and optimum, or why there is no such study."""

    size: float
    vehicle_mass: float
    optimum: Optimum | None
    refused: str


def solve_family(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve all sizes of one law and mode.

    Parameters
    ----------
    context : the study
    payload : ``law``, ``mode``, ``sizes`` (length over that of the given vehicle)
    """
    law, mode = str(payload["law"]), str(payload["mode"])
    members = Family(problem_in(context), law, mode).solve([float(n) for n in payload["sizes"]])
    rows = [{"law": law, "mode": mode, **row_of(member)} for member in members]
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    return {
        name: values if isinstance(values[0], str) else np.array(values)
        for name, values in columns.items()
    }


class Family:
    """Sizes of one vehicle by one law.

    Parameters
    ----------
    given : the vehicle of size one
    law : a key of :data:`mdo.study.scaling_laws.LAWS`
    mode : ``pure`` or ``full``
    """

    def __init__(self, given: DesignProblem, law: str, mode: str) -> None:
        self.given, self.law, self.mode = given, law, mode
        self.anchor: Anchor | None = None

    def solve(self, sizes: Sequence[float]) -> list[Member]:
        """Members in the order of the sizes: outward from the given one, then a second look."""
        order = [int(n) for n in np.argsort(np.abs(np.log(sizes)), kind="stable")]
        if self.mode == PURE:
            self._drop_anchor()
        known: dict[int, Member] = {}
        for place in order:
            known[place] = self._member(sizes[place], self._neighbour(known, sizes[place]))
        for place in reversed(order):
            for near in _beside(known, sizes, place):
                known[place] = self._look_again(known[place], near)
        return [known[place] for place in range(len(sizes))]

    def problem(self, size: float) -> DesignProblem:
        """Problem of one size.

        Raises
        ------
        StudyError
            If the scaled vehicle is no study.
        """
        study = self.given.study
        if self.mode == FULL:
            return make_problem(scaled(study, self.law, size))
        flyable = eased(study, size ** (LAWS[self.law].area - LAWS[self.law].mass))
        natural = make_problem(scaled(flyable, self.law, size, cases=False))
        return pure_problem(self.given, natural, self.law, size, self.anchor)

    def carried(self, design: Floats, ratio: float) -> Floats:
        """Design for a vehicle larger by a ratio: a start, no more."""
        labels = self.given.labels
        if self.mode == PURE:
            return np.asarray(design * variable_stretch(labels, actuator_length(self.law, ratio)))
        load = ratio ** LAWS[self.law].moment
        follows = ("tube_count", "heater_power")
        factors = [load if at.startswith(follows) else 1.0 for at in labels]
        return np.asarray(design * np.array(factors))

    def _drop_anchor(self) -> None:
        """Fix the masses of the given size, from which the pure mode scales what flies."""
        found = find_optimum(self.problem(1.0))
        masses = found.problem.values(found.design, "closed_vehicle_mass", "system_mass")
        self.anchor = Anchor(*(float(value) for value in masses.values()))

    def _neighbour(self, known: Mapping[int, Member], size: float) -> Member | None:
        """Member to start a size from: a feasible one if there is any, the nearest of them."""
        solved = [one for one in known.values() if one.optimum is not None]
        return min(
            solved,
            key=lambda one: (not one.optimum.feasible, abs(np.log(one.size / size))),  # type: ignore[union-attr]
            default=None,
        )

    def _member(self, size: float, near: Member | None) -> Member:
        try:
            problem = self.problem(size)
        except StudyError as error:
            return Member(size, np.nan, None, error.problems[0])
        first = None if near is None else self._start(problem, near, size)
        found = find_optimum(problem, starts=STARTS, first=first)
        if found.feasible and found.kkt_residual > SETTLED:
            found = find_optimum(problem, starts=MORE_STARTS, first=found.design)
        return Member(size, problem.study.vehicle.mass, found, "")

    def _look_again(self, member: Member, near: Member) -> Member:
        """Member from another neighbour where that is better."""
        had = member.optimum
        if had is None or near.optimum is None:
            return member
        start = self._start(had.problem, near, member.size)
        found = find_optimum(had.problem, starts=0, first=start)
        worse, value = had.rank
        least_gain = BETTER if had.feasible else 0.0
        better = found.rank < (worse, value * (1.0 - least_gain))
        return member._replace(optimum=found) if better else member

    def _start(self, problem: DesignProblem, near: Member, size: float) -> Floats:
        assert near.optimum is not None
        return problem.clip(self.carried(near.optimum.design, size / near.size))


def _beside(known: Mapping[int, Member], sizes: Sequence[float], place: int) -> list[Member]:
    """Solved members of the next size below and the next above."""
    ranked = sorted(range(len(sizes)), key=lambda n: sizes[n])
    at = ranked.index(place)
    return [known[n] for n in (*ranked[max(at - 1, 0) : at], *ranked[at + 1 : at + 2])]


def row_of(member: Member) -> dict[str, Any]:
    """Line of one size: what came of it, and its quantities, NaN where there is no optimum."""
    found = member.optimum
    row = {
        "size": member.size, "vehicle_mass": member.vehicle_mass, "status": OPEN,
        "reason": f"no such study: {member.refused}", "active": "",
        "violation": np.nan, "kkt_residual": np.nan, **dict.fromkeys(QUANTITIES, np.nan),
    }  # fmt: skip
    if found is None:
        return row
    row |= {"violation": found.violation, "kkt_residual": found.kkt_residual}
    if not found.feasible:
        lacks = -np.minimum(found.problem.evaluate(found.design).rows, 0.0)
        return row | {"status": INFEASIBLE, "reason": _titles(found.problem, lacks, BLAMED)}
    if found.kkt_residual > SETTLED:
        left = f"the optimiser ended at a KKT residual of {found.kkt_residual:.1e}"
        return row | {"reason": left}
    active = _titles(found.problem, found.multipliers, CARRIES)
    return row | {"status": FEASIBLE, "reason": "", "active": active, **quantities(found)}


def _titles(problem: DesignProblem, weights: Floats, share: float) -> str:
    """Titles of the groups of rows with at least a share of the largest weight, heaviest first."""
    total: dict[str, float] = {}
    for label, weight in zip(problem.counting_labels, weights, strict=True):
        total[label.group] = max(total.get(label.group, 0.0), float(weight))
    least = share * max([*total.values(), 1e-300])
    ordered = sorted(total, key=lambda group: -total[group])
    return "; ".join(REQUIREMENTS[group].title for group in ordered if total[group] > least)


def quantities(found: Optimum) -> dict[str, float]:
    """Quantities of an optimum; tubes and moments of one wing."""
    problem = found.problem
    values = problem.values(found.design)
    design = dict(zip(problem.labels, found.design, strict=True))
    choices, legs = (problem.assembled.parameters[name] for name in ("choices", "legs"))
    moves = np.asarray(legs.moves) > 0.5
    largest = {
        f"{name}_max": float(values[name][moves].max())
        for name in ("required_moment", "actuator_work", "leg_work_density")
    }
    at = problem.theta[None], problem.rows_of(values)[None], problem.rows.counts[None]
    times = dict(zip(TIMES, longest_times(problem, *at)[0].tolist(), strict=True))
    counts = np.array([design["tube_count.up"], design["tube_count.down"]])
    return {
        **{name: float(values[name]) for name in PLAIN},
        **largest,
        **times,
        "tube_count": float(counts @ np.asarray(choices.set_present)),
        **{name: design[name] for name in ("tube_outer_radius", "tube_length", "gear_ratio")},
    }
