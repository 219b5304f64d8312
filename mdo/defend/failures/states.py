"""What one failure does to a design, as far as the levels of the study can say.

One tube, one heater, one sensor, the bus lost, a jam, one side slower than the other. What the
study demands is judged as required; what has a limit but no requirement is compared with it and
only reported. None of it replaces a safety assessment. Words stand in ``failures.toml``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.data_files import toml_beside
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.requirements import REPORTED, REQUIRED, first_least
from mdo.disciplines.heat.record import STUCK_ON_PARTS
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.idle_rows import FEASIBLE

SHORTEST = 1.0  # [s] of a motion


class Side(NamedTuple):
    """One side of the aircraft: when each leg is heated, and how long it moves [s], (legs,)."""

    ready: Floats
    motion: Floats

    def moved(self, time: Floats) -> Floats:
        """Share of the motion that is done at a time; even, and done when the tubes are hot."""
        left = (self.ready - time) / np.maximum(self.motion, SHORTEST)
        return np.asarray(np.clip(1.0 - left, 0.0, 1.0))


def side_at(appraisal: Appraisal, *, high: bool, hot: bool, strong: bool) -> Side:
    """One side by the model's own heat balance, in conditions of its own.

    Parameters
    ----------
    appraisal : the design
    high : at the highest line voltage, else at the lowest
    hot : in the hottest bay of each leg, else in the coldest
    strong : its heaters at the upper end of their tolerance, else at the lower
    """
    problem = appraisal.problem
    given = problem.assembled.parameters
    supply, assumed = given["supply"], given["thermal_assumptions"]
    line = supply.high_voltage_ratio if high else supply.low_voltage_ratio
    share = assumed.heater_tolerance_high if strong else -assumed.heater_tolerance_low
    bay = appraisal.values["bay_hot_temperature" if hot else "bay_cold_temperature"]
    records = {
        "thermal_assumptions": assumed._replace(
            heater_tolerance_low=-share, heater_tolerance_high=share
        ),
        "supply": supply._replace(low_voltage_ratio=line, high_voltage_ratio=line),
        "legs": given["legs"]._replace(bay_prescribed=np.ones_like(bay), bay_cold=bay, bay_hot=bay),
    }
    theta = problem.chain.pack({**given, **records})
    values = problem.values_with(appraisal.x, theta)
    pair = values["heat_time"]
    ready = np.where(appraisal.values["pushes_up"] > 0.5, pair[:, 0], pair[:, 1])
    return Side(ready, values["motion_time"])


def same_conditions(appraisal: Appraisal) -> tuple[Side, Side]:
    """Fast and slow side at the lowest line in the coldest bay: only their heaters differ."""
    fast = side_at(appraisal, high=False, hot=False, strong=True)
    return fast, side_at(appraisal, high=False, hot=False, strong=False)


def widest_conditions(appraisal: Appraisal) -> tuple[Side, Side]:
    """Fast side: high line, hot bay, strong heaters; slow side: the ends opposite to these."""
    fast = side_at(appraisal, high=True, hot=True, strong=True)
    return fast, side_at(appraisal, high=False, hot=False, strong=False)


def angle_apart(facts: Facts, fast: Side, slow: Side) -> Floats:
    """Largest difference of fold angle between two sides commanded together [rad], (legs,).

    It occurs when the slow side starts or when the fast one arrives.
    """
    travel = np.abs(facts.fold_angle[:, -1] - facts.fold_angle[:, 0])
    moments = (slow.ready - slow.motion, fast.ready)
    shares = [fast.moved(time) - slow.moved(time) for time in moments]
    return np.asarray(travel * np.maximum(*shares))


Place = tuple[int, int]
WORDS: dict[str, dict[str, Any]] = toml_beside(__file__, "failures")
SLOW = 1e6  # [s] from here on a time is only said to be long
CONDITIONS = (
    (same_conditions, "same line and bay, heaters at the ends of their tolerance"),
    (widest_conditions, "one side at high line in the hot bay, the other not"),
)


class FailureLine(NamedTuple):
    """One failure and what was evaluated for it.

    ``value`` and ``limit`` in ``unit`` (SI; NaN where there is none); ``margin`` positive where it
    holds; ``holds`` is ``yes``, ``no``, or empty where there is no limit; ``standing`` says whether
    the study requires it; ``note`` says what must be shown elsewhere.
    """

    failure: str
    evaluated: str
    where: str
    value: float
    limit: float
    unit: str
    margin: float
    holds: str
    standing: str
    note: str


def _line(
    name: str,
    where: str = "",
    value: float = math.nan,
    limit: float = math.nan,
    *,
    required: bool = False,
    **words: Any,
) -> FailureLine:
    """Line of a failure by its name in ``failures.toml``, whose braces the words fill."""
    entry = WORDS[name]
    margin = float(value - limit if entry.get("at_least", False) else limit - value)
    slack = FEASIBLE * (1.0 + abs(limit))
    holds = "" if math.isnan(margin) else "yes" if margin >= -slack else "no"
    standing = REQUIRED if required or entry.get("required", False) else REPORTED
    evaluated, note = (entry[part].format_map(words) for part in ("evaluated", "note"))
    return FailureLine(
        entry["failure"], evaluated, where, float(value), float(limit), entry["unit"], margin,
        holds, standing, note,
    )  # fmt: skip


def failure_states(facts: Facts) -> tuple[FailureLine, ...]:
    """Every failure state that this fidelity can evaluate, one line or more each."""
    parts = (_one_tube, _heater_open, _stuck_on, _bus_lost, _jam, _asymmetry)
    return tuple(line for part in parts for line in part(facts))


def _angle(facts: Facts, place: Place) -> str:
    return f"{facts.leg_names[place[0]]}, {np.degrees(facts.fold_angle[place]):.0f} deg"


def _set(side: int) -> str:
    return f"{SET_NAMES[side]} set"


def _least_place(values: Floats, legs: NDArray[np.intp]) -> Place:
    """Leg and angle (or set) of the least of the values of some legs, the first among equals."""
    row, column = np.unravel_index(first_least(values[legs]), values[legs].shape)
    return int(legs[row]), int(column)


def _moment_left(facts: Facts, name: str, **words: str) -> Iterator[FailureLine]:
    """Moment with one tube cold and dragging, where it is shortest."""
    legs = np.flatnonzero(facts.heated)
    if not legs.size:
        return
    left, needed = facts.v["available_moment_failed"], facts.v["required_moment"]
    place = _least_place(left - needed, legs)
    required = float(facts.choices.tubes_failed) > 0.5
    asked = "" if required else "no tube is required to fail (requirements.tubes_failed = 0); "
    yield _line(
        name, _angle(facts, place), left[place], needed[place],
        required=required, asked=asked, **words,
    )  # fmt: skip


def _one_tube(facts: Facts) -> Iterator[FailureLine]:
    """One tube cold and dragging."""
    yield from _moment_left(facts, "moment_left")


def _heater_open(facts: Facts) -> Iterator[FailureLine]:
    """One heater without current: its tube stays cold, the others heat as before."""
    together = float(facts.parameters["power_assumptions"].tubes_per_channel)
    shared = f"; a failed switch leaves {together:.3g} tubes cold" if together > 1.0 else ""
    yield from _moment_left(facts, "moment_left_heater_open", shared=shared)
    folds = np.flatnonzero(facts.driven & ~facts.returns)
    if folds.size:
        limits, times = np.asarray(facts.legs.time_limit), facts.of_driver("heat_time")
        worst = folds[first_least(-(times / limits)[folds])]
        yield _line("time_heater_open", facts.leg_names[worst], times[worst], limits[worst])


class Runaway(NamedTuple):
    """Heater stuck on in one leg and set: what each part reaches, its limit [K], the time [s].

    ``times`` are from the hot temperature to the limit of each part, infinite where never;
    ``earliest`` leaves out every loss and all but the alloy.
    """

    reached: dict[str, float]
    limits: dict[str, float]
    times: dict[str, float]
    earliest: float


def _hottest(facts: Facts) -> Place | None:
    """Leg and set whose tube runs hottest with its heater stuck on."""
    legs = np.flatnonzero(facts.driven)
    if not legs.size or not facts.present.any():
        return None
    return _least_place(np.where(facts.present, -facts.v["stuck_on_temperature"], np.inf), legs)


def _runaway(facts: Facts, place: Place) -> Runaway:
    """What a heater stuck on at high line does in the hot bay of a leg, to tubes of a set."""
    temperatures = [
        facts.v[f"stuck_on_{part}temperature"][place] for part in ("", "heater_", "structure_")
    ]
    limits = (facts.alloy.temperature_max, facts.v["sheath_temperature_limit"],
              facts.vehicle.adjacent_temperature_limit)  # fmt: skip
    reached, highest, times = (
        dict(zip(STUCK_ON_PARTS, map(float, numbers), strict=True))
        for numbers in (temperatures, limits, facts.v["stuck_on_time"][place])
    )
    return Runaway(reached, highest, times, float(facts.v["stuck_on_earliest"][place]))


def _stuck_on(facts: Facts) -> Iterator[FailureLine]:
    """A heater that stays on, and a sensor that reads low: the temperature runs away."""
    place = _hottest(facts)
    if place is None:
        return
    reached, limits, times, earliest = _runaway(facts, place)
    where = f"{facts.leg_names[place[0]]}, {_set(place[1])}"
    over = [part for part, limit in limits.items() if reached[part] > limit]
    known = [f"{part} after {times[part]:.0f} s" for part in over if times[part] < SLOW]
    cut = (
        f"an independent cut-off, own sensor and own switch, must act first "
        f"({', '.join(known) or 'slowly'})"
        if over
        else "stays below every limit without a cut-off"
    )
    for part in STUCK_ON_PARTS:
        yield _line(f"stuck_on_{part}", where, reached[part], limits[part], cut=cut)
    first = min(times, key=lambda part: times[part])
    if over and math.isfinite(times[first]):
        yield _line("stuck_on_time", where, times[first], first=first, earliest=earliest)
    else:
        yield _line("stuck_on_never", where)
    yield _line("sensor", where, reached["alloy"], limits["alloy"])


def _bus_lost(facts: Facts) -> Iterator[FailureLine]:
    """No heat: lock at the ends, brake between them, heat-held panels, hot sets that still push."""
    statics = facts.appraisal.problem.assembled.statics
    lost = [number for number, static in enumerate(statics) if static.kind == "heat_loss"]
    carried = facts.v["lock_moment"]
    if lost:
        worst = lost[first_least(-carried[lost])]
        yield _line("locked", facts.static_names[worst], carried[worst], carried.max())
    else:
        yield _line("no_heat_loss")
    legs = np.flatnonzero(facts.moves)
    if legs.size:  # a panel that stops on the way
        load = np.maximum(np.abs(facts.v["moment_low"]), np.abs(facts.v["moment_high"]))
        place = _least_place(-load, legs)
        yield _held(facts, "between the locks", place, load[place])
    yield from _overrunning(facts)
    for leg in np.flatnonzero(np.asarray(facts.legs.holds) > 0.5):
        yield _held(facts, "that heat held", (int(leg), 0), facts.v["required_moment"][leg].max())
    if facts.returns.any():
        slowest = facts.of_cooled("cool_time")[facts.returns].max()
        yield _line("goes_on_pushing", "hottest bay", slowest)


def _held(facts: Facts, words: str, place: Place, load: float) -> FailureLine:
    """Line of a load at one leg and angle against what the brake holds [N*m]."""
    where, brake = _angle(facts, place), float(facts.v["brake_moment"])
    if brake <= 0.0 and facts.loaded.any():
        return _line("load_returns", where, load, words=words)
    who = "the brake must engage without power" if facts.braked else "the study has no brake"
    return _line("brake_holds", where, brake, load, words=words, brake=who)


def _overrunning(facts: Facts) -> Iterator[FailureLine]:
    """Load behind the motion: held by the brake, else by the cold set and the spring."""
    # where the load itself drives the return, the cooling tubes let it go: nothing runs away
    legs = np.flatnonzero(facts.moves & ~facts.loaded)
    if not legs.size:
        return
    over = facts.v["overrun_moment"]
    place = _least_place(over, legs)
    assisting = -float(over[place]) * float(facts.wanted.overrun_factor)
    if assisting > 0.0:
        cold = max(float(facts.v["holding_moment"][place]), 0.0)
        held = float(facts.v["brake_moment"]) if facts.braked else cold
        holder = (
            "by the brake, without power" if facts.braked else "cold set and spring alone, no brake"
        )
        yield _line("runs_over", _angle(facts, place), held, assisting, holder=holder)


def _jam(facts: Facts) -> Iterator[FailureLine]:
    """The hinge is stuck and the heat stays on."""
    stress, allowed = facts.v["stall_outer_stress"], facts.alloy.allowable_shear_stress
    yield _line("jam_stress", "hot temperature", float(stress), float(allowed))
    rated = facts.d["tube_count"] * facts.present * facts.v["rated_moment"]
    side = first_least(-facts.v["stall_moment"])
    moment = facts.v["stall_moment"][side]
    yield _line("jam_moment", _set(side), moment, rated[side])
    if np.asarray(facts.statics.locked).max() > 0.5:
        yield _line("jam_locked", _set(side), moment, facts.v["lock_moment"].max())


def _asymmetry(facts: Facts) -> Iterator[FailureLine]:
    """One side lags, or stays behind altogether."""
    legs = np.flatnonzero(facts.driven)
    if not legs.size or facts.appraisal.study.bench:
        return
    for conditions, words in CONDITIONS:
        fast, slow = conditions(facts.appraisal)
        apart = angle_apart(facts, fast, slow)
        worst = legs[first_least(-apart[legs])]
        lag = float(slow.ready[worst] - fast.ready[worst])
        yield _line("angle_apart", facts.leg_names[worst], apart[worst], conditions=words, lag=lag)
    yield from _rolling(facts)


def _rolling(facts: Facts) -> Iterator[FailureLine]:
    """Rolling moment with one panel left behind."""
    legs = np.flatnonzero(facts.driven & (np.asarray(facts.legs.airborne) > 0.5))
    if legs.size and facts.appraisal.study.fidelity.optimise.hinge_moment == "table":
        yield _line("rolling_by_table")
    elif legs.size:
        roll = facts.v["rolling_moment"]
        worst = legs[first_least(-roll[legs])]
        yield _line("rolling", facts.leg_names[worst], roll[worst])
