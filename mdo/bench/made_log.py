"""Logs that are made, not measured: a course with the faults of a bench put on it.

No log of such an actuator is public. A made log tries the reader, the comparison and the fit; it
says nothing about a real bench.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.signal import lfilter

from mdo.bench.log import Log
from mdo.bench.log_cells import CHANNELS, INPUTS, MANY, OUTPUTS, Numbers
from mdo.bench.replay import Replay, channel_of
from mdo.study.units import to_trade


class Faults(NamedTuple):
    """What a bench puts on a course.

    Attributes
    ----------
    noise
        Standard deviation over the span of a channel [1].
    drift
        By the end, over the span [1].
    lag
        Time constant of the sensors [s].
    zero
        Offset by channel, SI.
    missing
        Share of the samples that are not there [1].
    """

    noise: float = 0.01
    drift: float = 0.0
    lag: float = 0.0
    zero: Mapping[str, float] = {}
    missing: float = 0.0


def made_log(
    time: Numbers, channels: Mapping[str, Numbers], faults: Faults, *, seed: int, name: str = "made"
) -> Log:
    """Make a log of a course; inputs stay as they are.

    Parameters
    ----------
    time : evenly spaced [s], (N,)
    channels : SI, (N,) or (N, tubes)
    faults : what is put on them
    seed : of noise and missing samples
    name : of the log
    """
    rng = np.random.default_rng(seed)
    made: dict[str, Numbers] = {}
    for channel, course in channels.items():
        values = np.array(course, dtype=float)
        if channel not in INPUTS:
            span = np.ptp(values)
            values = _lagged(values, faults.lag, float(time[1] - time[0]))
            ramp = np.linspace(0.0, 1.0, len(time)).reshape(-1, *[1] * (values.ndim - 1))
            values = values + faults.zero.get(channel, 0.0) + faults.drift * span * ramp
            values = values + faults.noise * span * rng.standard_normal(values.shape)
            values[rng.random(values.shape) < faults.missing] = np.nan
        made[channel] = values
    return Log(name, "", np.asarray(time, dtype=float), made, (), ())


def made_of(replay: Replay, values: Numbers, faults: Faults, *, seed: int) -> Log:
    """Make a log of what a replay predicts under the inputs of its own log.

    Parameters
    ----------
    replay : whose log holds the inputs
    values : of the parameters of the unit on this bench, (P,)
    faults : what is put on the course
    seed : of noise and missing samples
    """
    predicted = dict(zip(replay.measured, replay.predict(values), strict=True))
    given = replay.log.channels
    channels = {name: course for name, course in given.items() if name in INPUTS}
    for name in (name for name in OUTPUTS if name in given):
        columns = [course for label, course in predicted.items() if channel_of(label) == name]
        channels[name] = np.stack(columns, axis=1) if name in MANY else columns[0]
    return made_log(replay.log.time, channels, faults, seed=seed, name=replay.log.name)


def _lagged(values: Numbers, constant: float, step: float) -> Numbers:
    """First-order lag of a sensor that begins at rest; exact for straight lines between samples."""
    if constant <= 0.0:
        return values
    keep = np.exp(-step / constant)
    new = 1.0 - constant / step * (1.0 - keep)
    old = 1.0 - keep - new
    start = (1.0 - new) * values[:1]
    return np.asarray(lfilter([new, old], [1.0, -keep], values, axis=0, zi=start)[0])


def write_log(log: Log, path: Path, remarks: Sequence[str] = ()) -> None:
    """Write a log as CSV in trade units, and the TOML file that names its columns beside it.

    Parameters
    ----------
    log : any
    path : of the CSV file
    remarks : lines on top of the TOML file
    """
    columns, declared = [log.time], ['time = "time [s]"']
    names = ["time [s]"]
    for channel, values in log.channels.items():
        (offset, unit), (scale, _) = (to_trade(n, CHANNELS[channel].unit) for n in (0.0, 1.0))
        own = values.T if channel in MANY else values[None]
        heads = [
            f"{channel}{n if channel in MANY else ''} [{unit}]" for n in range(1, len(own) + 1)
        ]
        columns += [row * (scale - offset) + offset for row in own]
        names += heads
        text = ", ".join(f'"{head}"' for head in heads)
        declared.append(f"{channel} = [{text}]" if channel in MANY else f"{channel} = {text}")
    rows = [",".join("" if np.isnan(cell) else f"{cell:.9g}" for cell in row)
            for row in np.stack(columns, axis=1)]  # fmt: skip
    path.write_text("\n".join([",".join(names), *rows]) + "\n", encoding="utf-8")
    declared += [
        f'{name} = "{of}"' for name, of in (("study", log.study), ("case", log.case)) if of
    ]
    head = [*(f"# {remark}" for remark in remarks), "[log]"]
    path.with_suffix(".toml").write_text("\n".join([*head, *declared]) + "\n", encoding="utf-8")
