"""Figures of a course by their definitions: rise, arrival, settling, overshoot, hold, energy."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from mdo.arrays import Floats
from mdo.explore.motion.commands import Stage

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
