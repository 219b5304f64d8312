"""What one failure does to a design, as far as the low fidelity can say.

One tube, one heater, one sensor, the bus lost, a jam, one side slower than the other. What the
study demands is judged as required; what has a limit but no requirement is compared with it and
only reported. None of it replaces a safety assessment.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.failures.left_right import (
    angle_apart,
    same_conditions,
    widest_conditions,
)
from mdo.defend.tables.requirements import REPORTED, REQUIRED, Facts
from mdo.disciplines.heat.record import STUCK_ON_PARTS
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import FEASIBLE

Floats = NDArray[np.float64]
NOT_EVALUATED = "not evaluated at this fidelity"


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


def failure_states(appraisal: Appraisal) -> tuple[FailureLine, ...]:
    """Every failure state that this fidelity can evaluate, one line or more each."""
    facts = Facts(appraisal)
    return (
        *_one_tube(facts),
        *_heater_open(appraisal, facts),
        *_stuck_on(facts),
        *_bus_lost(appraisal, facts),
        *_jam(facts),
        *_asymmetry(appraisal, facts),
    )


def failures_table(lines: tuple[FailureLine, ...]) -> pd.DataFrame:
    """Failure states as a table; see :class:`FailureLine`."""
    return pd.DataFrame(lines, columns=list(FailureLine._fields))


def _line(
    failure: str,
    evaluated: str,
    where: str,
    value: float,
    limit: float,
    unit: str,
    *,
    at_least: bool = False,
    required: bool = False,
    note: str,
) -> FailureLine:
    margin = value - limit if at_least else limit - value
    judged = not math.isnan(margin)
    slack = FEASIBLE * (1.0 + abs(limit)) if judged else 0.0
    holds = ("yes" if margin >= -slack else "no") if judged else ""
    standing = REQUIRED if required else REPORTED
    return FailureLine(failure, evaluated, where, value, limit, unit, margin, holds, standing, note)


def _moving(facts: Facts) -> NDArray[np.intp]:
    """Legs that a heated set moves."""
    moves = np.asarray(facts.legs.moves) > 0.5
    return np.flatnonzero(moves & (facts.v["heated"] > 0.5))


def _place(facts: Facts, leg: int, angle: int) -> str:
    return f"{facts.leg_names[leg]}, {np.degrees(facts.fold_angle[leg, angle]):.0f} deg"


def _lame_line(facts: Facts, failure: str, note: str) -> Iterator[FailureLine]:
    """Line of the moment with one tube cold and dragging, where it is shortest."""
    legs = np.flatnonzero(facts.v["heated"] > 0.5)
    if not legs.size:
        return
    left, needed = facts.v["available_moment_failed"][legs], facts.v["required_moment"][legs]
    place, angle = (int(i) for i in np.unravel_index(int((left - needed).argmin()), left.shape))
    required = float(facts.choices.tubes_failed) > 0.5
    asked = "" if required else "no tube is required to fail (requirements.tubes_failed = 0); "
    yield _line(
        failure, "moment left with the cold tube dragging, against the required one",
        _place(facts, int(legs[place]), angle), float(left[place, angle]),
        float(needed[place, angle]), "N*m",
        at_least=True, required=required, note=f"one wing, limit load; {asked}{note}",
    )  # fmt: skip


def _one_tube(facts: Facts) -> Iterator[FailureLine]:
    """One tube cold and dragging."""
    yield from _lame_line(facts, "one tube", "a tube that breaks drags less than one that is cold")


def _heater_open(appraisal: Appraisal, facts: Facts) -> Iterator[FailureLine]:
    """One heater without current: its tube stays cold, the others heat as before."""
    assumed = appraisal.problem.assembled.parameters["power_assumptions"]
    together = float(assumed.tubes_per_channel)
    shared = f"; a failed switch leaves {together:.3g} tubes cold" if together > 1.0 else ""
    yield from _lame_line(facts, "one heater open", f"its tube stays cold{shared}")
    legs = np.asarray(facts.legs.is_return) < 0.5
    folds = [leg for leg in _moving(facts) if legs[leg]]
    if not folds:
        return
    limits, times = np.asarray(facts.legs.time_limit), facts.of_driver("heat_time")
    worst = max(folds, key=lambda leg: times[leg] / limits[leg])
    yield _line(
        "one heater open", "fold time with the heaters that are left", facts.leg_names[worst],
        float(times[worst]), float(limits[worst]), "s", required=True,
        note="each tube has its own heater and keeps its power; the cold tube takes no heat",
    )  # fmt: skip


def _hottest(facts: Facts) -> tuple[int, int] | None:
    """Leg and set whose tube runs hottest with its heater stuck on."""
    present = np.asarray(facts.choices.set_present) > 0.5
    legs = _moving(facts)
    if not legs.size or not present.any():
        return None
    reached = np.where(present, facts.v["stuck_on_temperature"][legs], -np.inf)
    place, side = np.unravel_index(int(reached.argmax()), reached.shape)
    return int(legs[place]), int(side)


def _stuck_on(facts: Facts) -> Iterator[FailureLine]:
    """A heater that stays on, and a sensor that reads low: the temperature runs away."""
    place = _hottest(facts)
    if place is None:
        return
    found = _runaway(facts, place)
    where = f"{facts.leg_names[place[0]]}, {SET_NAMES[place[1]]} set"
    over = [name for name, limit in found.limits.items() if found.reached[name] > limit]
    cut = (
        f"an independent cut-off, own sensor and own switch, must act first ({_when(found, over)})"
        if over
        else "stays below every limit without a cut-off"
    )
    for name, words in _RUNS.items():
        yield _line(
            "one heater stuck on", words, where, found.reached[name], found.limits[name],
            "K", note=cut,
        )  # fmt: skip
    first = min(found.times, key=lambda name: found.times[name])
    runs = bool(over) and math.isfinite(found.times[first])
    yield _line(
        "one heater stuck on", "time from the hot temperature to the first limit", where,
        found.times[first] if runs else math.nan, math.nan, "s",
        note=f"limit of the {first}, by the heat balance of the tube; the limit of the alloy "
        f"at the earliest after {found.earliest:.0f} s, were it all heat into the alloy"
        if runs else "no limit is reached",
    )  # fmt: skip
    yield _line(
        "one sensor", "temperature that the tube runs to if the cut-off shares the sensor", where,
        found.reached["alloy"], found.limits["alloy"], "K",
        note="reading low, its channel runs away as with a heater stuck on; an independent cut-off "
        "bounds the overshoot at its own setting, which the study does not have; reading high, the "
        "tube stays cold as with a heater open",
    )  # fmt: skip


_RUNS = {
    "alloy": "temperature that the tube runs to at high line, hot bay",
    "heater": "temperature that the heater runs to",
    "structure": "temperature that the structure beside the tube runs to",
}


class Runaway(NamedTuple):
    """Heater stuck on in one leg and set: what each part reaches, its limit [K], the time [s].

    ``times`` are from the hot temperature to the limit of each part, infinite where never;
    ``earliest`` leaves out every loss and all but the alloy.
    """

    reached: dict[str, float]
    limits: dict[str, float]
    times: dict[str, float]
    earliest: float


def _runaway(facts: Facts, place: tuple[int, int]) -> Runaway:
    """What a heater stuck on at high line does in the hot bay of a leg, to tubes of a set."""
    reached = ("stuck_on_temperature", "stuck_on_heater_temperature",
               "stuck_on_structure_temperature")  # fmt: skip
    limits = (facts.alloy.temperature_max, facts.v["sheath_temperature_limit"],
              facts.vehicle.adjacent_temperature_limit)  # fmt: skip
    return Runaway(
        reached=dict(zip(STUCK_ON_PARTS, (float(facts.v[name][place]) for name in reached),
                         strict=True)),
        limits=dict(zip(STUCK_ON_PARTS, map(float, limits), strict=True)),
        times=dict(zip(STUCK_ON_PARTS, facts.v["stuck_on_time"][place].tolist(), strict=True)),
        earliest=float(facts.v["stuck_on_earliest"][place]),
    )  # fmt: skip


def _when(found: Runaway, over: list[str]) -> str:
    """Times after which the limits are passed, in words."""
    known = [f"{name} after {found.times[name]:.0f} s" for name in over if found.times[name] < 1e6]
    return ", ".join(known) if known else "slowly"


def _bus_lost(appraisal: Appraisal, facts: Facts) -> Iterator[FailureLine]:
    """No heat: lock at the ends, brake between them, heat-held panels, hot sets that still push."""
    yield from _locked_without_power(appraisal, facts)
    brake = float(facts.v["brake_moment"])
    braked = float(facts.choices.brake) > 0.5
    who = "the brake must engage without power" if braked else "the study has no brake"
    yield from _between_locks(facts, brake, who)
    yield from _overrunning(facts, brake)
    for leg in np.flatnonzero(np.asarray(facts.legs.holds) > 0.5):
        load = float(facts.v["required_moment"][leg].max())
        yield _held(facts, "that heat held", (int(leg), 0), load, brake, who)
    returning = np.flatnonzero(np.asarray(facts.legs.is_return) > 0.5)
    if returning.size:
        slowest = float(facts.of_cooled("cool_time")[returning].max())
        yield _line(
            "bus lost", "time that the hot set goes on pushing, at most", "hottest bay", slowest,
            math.nan, "s",
            note="until its last tube is below Mf'; the panel may move on that way meanwhile",
        )  # fmt: skip


def _between_locks(facts: Facts, brake: float, who: str) -> Iterator[FailureLine]:
    """Largest load on a panel that stops on the way, and what holds it there."""
    moves = np.flatnonzero(np.asarray(facts.legs.moves) > 0.5)
    if not moves.size:
        return
    load = np.maximum(np.abs(facts.v["moment_low"]), np.abs(facts.v["moment_high"]))[moves]
    leg, angle = (int(one) for one in np.unravel_index(int(load.argmax()), load.shape))
    place = int(moves[leg]), angle
    yield _held(facts, "between the locks", place, float(load.max()), brake, who)


def _held(
    facts: Facts, words: str, place: tuple[int, int], load: float, brake: float, who: str
) -> FailureLine:
    """Line of a load at one leg and angle against what the brake holds [N*m]."""
    where = _place(facts, *place)
    if brake <= 0.0 and (facts.v["returned_by_load"] > 0.5).any():
        return _line(
            "bus lost", f"largest load {words}", where, load, math.nan, "N*m",
            note="one wing, limit load; no brake: the load moves the panel back as the tubes cool, "
            "as in every return",
        )  # fmt: skip
    return _line(
        "bus lost", f"moment that the brake holds, against the largest load {words}", where,
        brake, load, "N*m", at_least=True,
        note=f"one wing, limit load; {who}; it is sized for loads that run over; friction and cold "
        "tubes are not credited",
    )  # fmt: skip


def _locked_without_power(appraisal: Appraisal, facts: Facts) -> Iterator[FailureLine]:
    """What the lock carries where the study loses heat, against what it is sized for."""
    lost = [n for n, leg in enumerate(appraisal.problem.assembled.statics)
            if leg.kind == "heat_loss"]  # fmt: skip
    words = "ultimate moment on the lock where heat is lost, against the one it is sized for"
    if not lost:
        yield _line("bus lost", words, "", math.nan, math.nan, "N*m",
                    note='no case of kind "heat_loss" in the study')  # fmt: skip
        return
    worst = max(lost, key=lambda n: facts.v["lock_moment"][n])
    yield _line(
        "bus lost", words, facts.static_names[worst], float(facts.v["lock_moment"][worst]),
        float(facts.v["lock_moment"].max()), "N*m", required=True,
        note="one wing; a lock must be there at that angle and hold without power",
    )  # fmt: skip


def _overrunning(facts: Facts, brake: float) -> Iterator[FailureLine]:
    """Load behind the motion: held by the brake, else by the cold set and the spring."""
    # where the load itself drives the return, the cooling tubes let it go: nothing runs away
    own = (np.asarray(facts.legs.moves) > 0.5) & (facts.v["returned_by_load"] < 0.5)
    moves = np.flatnonzero(own)
    if not moves.size:
        return
    over = facts.v["overrun_moment"][moves]
    assisting = -float(over.min()) * float(facts.wanted.overrun_factor)
    if assisting <= 0.0:
        return
    place, angle = (int(one) for one in np.unravel_index(int(over.argmin()), over.shape))
    leg = int(moves[place])
    braked = float(facts.choices.brake) > 0.5
    cold = max(float(facts.v["holding_moment"][leg, angle]), 0.0)
    yield _line(
        "bus lost", "moment that holds back a load that runs over, with its factor",
        _place(facts, leg, angle), brake if braked else cold, assisting, "N*m",
        at_least=True, required=True,
        note="one wing; by the brake, without power" if braked
        else "one wing; cold set and spring alone, no brake",
    )  # fmt: skip


def _jam(facts: Facts) -> Iterator[FailureLine]:
    """The hinge is stuck and the heat stays on."""
    yield _line(
        "jam with heat on", "outer-fibre stress of the blocked tubes, fully recovering",
        "hot temperature", float(facts.v["stall_outer_stress"]),
        float(facts.alloy.allowable_shear_stress), "Pa",
        note="cut the heat when the angle stops following; hotter still, the stress goes on rising",
    )  # fmt: skip
    counts = facts.d["tube_count"] * np.asarray(facts.choices.set_present)
    stalled, rated = facts.v["stall_moment"], counts * facts.v["rated_moment"]
    side = int(np.argmax(stalled))
    moment, where = float(stalled[side]), f"{SET_NAMES[side]} set"
    yield _line(
        "jam with heat on", "moment at the hinge, against the one that gears and fittings see",
        where, moment, float(rated[side]), "N*m",
        note="one wing; gears, fittings and stops must carry the stall moment, or a torque limiter",
    )  # fmt: skip
    if np.asarray(facts.statics.locked).max() > 0.5:
        yield _line(
            "jam with heat on", "moment against a lock that stays in, of its ultimate moment",
            where, moment, float(facts.v["lock_moment"].max()), "N*m",
            note="one wing; the load on the panel comes on top",
        )  # fmt: skip


def _asymmetry(appraisal: Appraisal, facts: Facts) -> Iterator[FailureLine]:
    """One side lags, or stays behind altogether."""
    legs = _moving(facts)
    if not legs.size:
        return
    for (fast, slow), words in (
        (same_conditions(appraisal), "same line and bay, heaters at the ends of their tolerance"),
        (widest_conditions(appraisal), "one side at high line in the hot bay, the other not"),
    ):
        apart, lag = angle_apart(facts, fast, slow), slow.ready - fast.ready
        worst = int(legs[apart[legs].argmax()])
        yield _line(
            "asymmetry", f"largest difference of fold angle while moving: {words}",
            facts.leg_names[worst], float(apart[worst]), math.nan, "rad",
            note=f"ready {lag[worst]:.0f} s apart; close the loop on the angle of both sides, stop "
            "at the difference that roll control holds",
        )  # fmt: skip
    yield from _rolling(appraisal, facts)


def _rolling(appraisal: Appraisal, facts: Facts) -> Iterator[FailureLine]:
    """Rolling moment with one panel left behind."""
    air = [leg for leg in _moving(facts) if np.asarray(facts.legs.airborne)[leg] > 0.5]
    words = "rolling moment with one panel at the start and the other at the end of a leg"
    if not air:
        return
    if appraisal.study.fidelity.hinge_moment == "table":
        yield _line(
            "asymmetry", words, "", math.nan, math.nan, "N*m",
            note=f"{NOT_EVALUATED}: a table of hinge moments does not say how they arise",
        )  # fmt: skip
        return
    roll = facts.v["rolling_moment"]
    worst = max(air, key=lambda leg: roll[leg])
    yield _line(
        "asymmetry", words, facts.leg_names[worst], float(roll[worst]), math.nan, "N*m",
        note="lift of the panels alone, at the symmetric trim; the inner wing and sideslip are "
        "not in it: compare with the roll control that is left",
    )  # fmt: skip
