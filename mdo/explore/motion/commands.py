"""Commands of the analysis `motion`: angles over time, histories of the load; how each is met."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.model.motion_run import Course
from mdo.study.analyses import MotionPlan
from mdo.study.legs import Leg

HOLD_ANGLES = 10  # of the command `hold`, after the start
HOLD_SHARE = 1.5  # of the time that sizing allows: how long a stroke is waited for
LONGEST, SHORTEST = 12 * 3600.0, 60.0  # [s] of a hold that is left out, of one stroke
PERIOD, PULSE = 10.0, 30.0  # [s] of a sine; of one pulse a minute


class Stage(NamedTuple):
    """One constant command: its name, from and to [rad], begin and end [s], way 1 or -1."""

    name: str
    start: float
    target: float
    begin: float
    end: float
    way: float


class Command(NamedTuple):
    """What is asked over time, and its stages."""

    course: Course
    stages: tuple[Stage, ...]


class Motion(NamedTuple):
    """What moves: number of its leg and of its return, ends [rad], time allowed for both [s]."""

    leg: int
    back: int | None
    start: float
    end: float
    fold_limit: float
    return_limit: float
    in_flight: bool


def motion_of(legs: tuple[Leg, ...], records: Any, case: str | None) -> Motion | None:
    """Legs of a case that the actuator moves; of the first one where none is named."""
    moves = np.asarray(records.moves) > 0.5
    backwards = np.asarray(records.is_return) > 0.5
    limit = np.asarray(records.time_limit, float)
    ours = [at for at, leg in enumerate(legs) if moves[at] and case in (None, leg.case)]
    if not ours:
        return None
    first = ours[0]
    back = next(
        (at for at in ours[1:] if backwards[at] and legs[at].case == legs[first].case), None
    )
    ends = (np.asarray(records.angle_from, float), np.asarray(records.angle_to, float))
    return Motion(
        first, back, float(ends[0][first]), float(ends[1][first]), float(limit[first]),
        float(limit[first if back is None else back]),
        bool(np.asarray(records.airborne)[first] > 0.5),
    )  # fmt: skip


def make_command(plan: MotionPlan, motion: Motion, seed: int) -> Command:
    """Command of a plan; angles were checked before."""
    corners, holds = _corners(plan, motion)
    begin, last = 0.0, motion.start
    stages, times, angles = list[Stage](), [0.0], [motion.start]
    is_ramp = plan.command in RAMPS
    for place, (move, target, hold) in enumerate(corners):
        sense = 1.0 if target >= last else -1.0
        moved = abs(target - last) > 1e-9
        end = begin + move + hold
        name = f"{place + 1}: to {np.degrees(target):.4g} deg"
        if moved or holds:
            stages.append(Stage(name, last, target, begin, end, sense))
        times += [begin + move, end]
        angles += [target, target]
        begin, last = end, target
    step = plan.sample
    time: Floats = step * np.arange(1.0, np.ceil(begin / step) + 1.0)
    if is_ramp:
        wanted: Floats = np.interp(time, times, angles)
    else:
        index = np.searchsorted([stage.end for stage in stages], time - 1e-9)
        wanted = np.asarray([stage.target for stage in stages])[np.minimum(index, len(stages) - 1)]
    slope = np.gradient(wanted, step) if is_ramp else np.zeros(time.size)
    speed: Floats = np.where(np.abs(slope) < 1e-9, 0.0, slope)
    way, rests = _ways(wanted, speed, motion)
    # those that the case can have
    loads = (plan.gust, plan.manoeuvre) if motion.in_flight else (plan.wind, plan.deck_roll)
    air, mass = (history(kind, time) for kind in loads)
    course = Course(step, wanted, speed, way, rests, air, mass, np.ones(time.size), seed)
    return Command(course, tuple(stages))


RAMPS = ("ramp", "reversal", "schedule")


def _corners(plan: MotionPlan, motion: Motion) -> tuple[list[tuple[float, float, float]], bool]:
    """Time to move, angle, and time to hold of every corner of a command."""
    start, end = motion.start, motion.end if plan.target is None else plan.target
    there, back = (
        min(max(HOLD_SHARE * limit, SHORTEST), LONGEST) if plan.hold is None else plan.hold
        for limit in (motion.fold_limit, motion.return_limit)
    )
    if plan.command in ("step", "ramp"):
        return [(plan.ramp if plan.command == "ramp" else 0.0, end, there)], False
    if plan.command == "hold":
        angles = np.linspace(start, end, HOLD_ANGLES + 1)[1:]
        return [(0.0, float(angle), there) for angle in angles], False
    if plan.command == "reversal":
        # no faster than sizing allows: the wing has to be on its way where the command turns
        middle, turn = (start + end) / 2.0, min(max(plan.ramp, motion.fold_limit), LONGEST)
        return [(turn, middle, 0.0), (turn, start, back)], False
    if plan.command == "schedule":
        times = [0.0, *(time for time, _ in plan.schedule)]
        moves = np.diff(times)
        return [
            (float(m), angle, 0.0) for m, (_, angle) in zip(moves, plan.schedule, strict=True)
        ], True
    return [(0.0, end, there), (0.0, start, back)] * plan.cycles, False


def _ways(angle: Floats, rate: Floats, motion: Motion) -> tuple[Floats, Floats]:
    """Way of the last change of the command, and whether it rests."""
    sign = np.sign(np.diff(angle, prepend=motion.start))
    last = np.maximum.accumulate(np.where(sign != 0.0, np.arange(sign.size), -1))
    return np.where(last < 0, 1.0, sign[last]), (rate == 0.0) * 1.0


def history(kind: str, time: Floats) -> Floats:
    """Share of a half width over time: steady at its limit, sine of 10 s, one pulse a minute."""
    turn = 2.0 * np.pi * time
    shapes = {
        "none": 0.0 * time,
        "limit": 0.0 * time + 1.0,
        "sine": np.sin(turn / PERIOD),
        "pulse": np.where(time % 60.0 < PULSE, 0.5 * (1.0 - np.cos(turn / PULSE)), 0.0),
    }
    return np.asarray(shapes[kind], float)


WITHIN = np.radians(1.0)  # of the command: arrived and settled
LAST = 0.1  # share of a stage that its steady error and ripple are taken over
STALL_RATE, STALL_TIME = np.radians(0.01), 30.0  # [rad/s], [s]: no slower, no longer


def stage_figures(
    stage: Stage, time: Floats, angle: Floats, power: Floats, tube: Floats, heater: Floats
) -> dict[str, float]:
    """Figures of one stage of one course, SI.

    Parameters
    ----------
    stage : what was commanded
    time, angle, power : over time [s], [rad], [W] of the wing, (M,)
    tube, heater : hottest temperature of any group over time [K], (M,)

    Notes
    -----
    settling_time: last time outside 1 deg of the command, over its begin; arrival_time: first time
    within it; rise_time: 10 to 90 %; steady_error and ripple: mean and standard deviation over the
    last tenth; NaN where it never comes so far. stalled: 1 where the wing stood for 30 s before
    it arrived, with heat on and after it had begun to move.
    """
    here = (time > stage.begin) & (time <= stage.end + 1e-9)
    after, at, watts = time[here] - stage.begin, angle[here], power[here]
    error = at - stage.target
    span = stage.target - stage.start
    outside = np.flatnonzero(np.abs(error) > WITHIN)
    inside = np.flatnonzero(np.abs(error) <= WITHIN)
    settled = after[0] if not outside.size else (
        after[outside[-1] + 1] if outside[-1] + 1 < after.size else np.nan
    )  # fmt: skip
    last = after > after[-1] * (1.0 - LAST)
    done = (at - stage.start) / (span or 1.0)
    tenth, most = (np.flatnonzero(done >= share) for share in (0.1, 0.9))
    seconds = np.diff(time[here], prepend=stage.begin)
    return {
        "rise_time": after[most[0]] - after[tenth[0]] if most.size and tenth.size else np.nan,
        "arrival_time": after[inside[0]] if inside.size else np.nan,
        "settling_time": float(settled),
        "overshoot": float(max(0.0, np.max(stage.way * error))),
        "steady_error": float(np.mean(error[last])),
        "ripple": float(np.std(at[last])),
        "hold_power_mean": float(np.mean(watts[last])),
        "hold_power_ripple": float(np.std(watts[last])),
        "power_peak": float(np.max(watts)),
        "energy": float(np.sum(watts * seconds)),
        "tube_temperature_peak": float(np.max(tube[here])),
        "heater_temperature_peak": float(np.max(heater[here])),
        "stalled": float(_stalled(after, at, stage, watts)),
    }


def lane_figures(stage: Stage, seen: Mapping[str, Floats], lane: int = 0) -> dict[str, float]:
    """Figures of one stage of one lane of courses, SI; see :func:`stage_figures`."""
    of = {name: values[lane] for name, values in seen.items()}
    hottest = (of[f"{part}_temperature"].max(axis=-1) for part in ("tube", "heater"))
    power = of["heater_power"].sum(axis=-1)
    return stage_figures(stage, of["time"], of["fold_angle"], power, *hottest)


def _stalled(after: Floats, angle: Floats, stage: Stage, power: Floats) -> bool:
    """Whether a wing that had begun to move stood still under heat before it came near."""
    step = after[1] - after[0] if after.size > 1 else 1.0
    rate = np.abs(np.gradient(angle, step)) if after.size > 1 else np.zeros(1)
    begun = np.maximum.accumulate(np.abs(angle - stage.start) > WITHIN)
    far = np.abs(angle - stage.target) > WITHIN
    still = begun & far & (rate < STALL_RATE) & (power > 0.5 * power.max())
    longest = run = 0
    for one in still:
        run = run + 1 if one else 0
        longest = max(longest, run)
    return longest * step > STALL_TIME
