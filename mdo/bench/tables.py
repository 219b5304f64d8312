"""Tables of a log beside its prediction, SI; the page and the words are made of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from mdo.bench.comparison import DELAY, GAIN, Comparison
from mdo.bench.fit import Fit
from mdo.bench.identify import Separation, alike, directions
from mdo.bench.log import Log
from mdo.bench.log_cells import CHANNELS
from mdo.bench.replay import Replay, channel_of, title_of
from mdo.defend.tables.frame import of_records

SAMPLES_SHOWN = 1500  # of each series in the table that figures are drawn from


def comparison_tables(replay: Replay, comparison: Comparison) -> dict[str, pd.DataFrame]:
    """Tables of the log, of each series and of what would explain the difference."""
    found = {
        "bench_log": _facts(replay.log, replay.level),
        "bench_series": _series(comparison),
        "bench_agreement": _agreements(replay, comparison),
        "bench_causes": _causes(replay, comparison),
    }
    repairs = [*replay.log.repairs]
    return found | {"bench_repairs": pd.DataFrame({"repair": pd.Series(repairs, dtype=str)})}


def _agreements(replay: Replay, comparison: Comparison) -> pd.DataFrame:
    table, labels = pd.DataFrame(comparison.agreements), comparison.labels
    table.insert(1, "title", [title_of(label) for label in labels])
    table.insert(2, "unit", [CHANNELS[channel_of(label)].unit for label in labels])
    noise = [replay.noise[label] for label in labels]
    return table.assign(noise=noise, agrees=comparison.agrees, too_wide=comparison.too_wide)


def fit_tables(fit: Fit, separated: Sequence[Separation] = ()) -> dict[str, pd.DataFrame]:
    """Tables of what was fitted, how well, and what the log leaves open."""
    fitted = of_records(
        fit.fitted,
        "parameter=parameter.name meaning=parameter.meaning unit=parameter.unit "
        "before=parameter.value range_low=parameter.low range_high=parameter.high fitted=value "
        "low high narrowed moves",
    ).assign(open_ends=[int(one.open_low) + int(one.open_high) for one in fit.fitted])
    errors = {
        "error_before": fit.error_before, "error": fit.error, "held_out_error": fit.held_out_error,
        "held_out_ratio": fit.held_out_error / fit.error, "widened": fit.widened,
        "fitted_until": fit.fitted_until,
    }  # fmt: skip
    return {
        "bench_fit": fitted,
        "bench_errors": pd.DataFrame([errors]),
        "bench_open": pd.DataFrame(
            [(", ".join(one.names), one.left, one.is_open) for one in directions(fit)],
            columns=["parameters", "left", "is_open"],
        ),
        "bench_alike": pd.DataFrame(
            [*alike(fit)], columns=["first", "second", "correlation"]
        ),
        "bench_tests": pd.DataFrame([*separated], columns=["test", "left"]),
    }  # fmt: skip


def _facts(log: Log, level: str) -> pd.DataFrame:
    facts = {
        "log": log.name, "SHA-256": log.digest, "samples": f"{len(log.time)}",
        "duration": f"{log.time[-1]:.6g} s", "study": log.study, "case": log.case,
        "predicted by": level,
    }  # fmt: skip
    rows = [(name, text) for name, text in facts.items() if text]
    return pd.DataFrame(rows, columns=["fact", "text"])


def _series(comparison: Comparison) -> pd.DataFrame:
    """Samples of each series, thinned evenly; the ends stay."""
    count = len(comparison.time)
    kept = np.unique(np.linspace(0, count - 1, min(count, SAMPLES_SHOWN)).astype(int))
    one, labels = comparison, comparison.labels
    courses = {"measured": one.measured, "predicted": one.predicted, "band_low": one.low,
               "band_high": one.high}  # fmt: skip
    return pd.DataFrame(
        {"label": np.repeat(labels, kept.size), "time": np.tile(one.time[kept], len(labels))}
        | {name: course[:, kept].ravel() for name, course in courses.items()}
    )


def _causes(replay: Replay, comparison: Comparison) -> pd.DataFrame:
    units = {one.name: (one.unit, one.meaning) for one in replay.parameters}

    def rows() -> Iterator[tuple[object, ...]]:
        for cause in comparison.causes:
            unit, meaning = units.get(cause.name, ("", ""))
            if not unit:
                channel = CHANNELS[channel_of(cause.name)]
                unit = {GAIN: "1", DELAY: "s"}.get(cause.kind, channel.unit)
                meaning = title_of(cause.name)
            yield (cause.kind, cause.name, meaning, unit, cause.shift, cause.ranges,
                   cause.explained)  # fmt: skip

    columns = ["kind", "name", "meaning", "unit", "shift", "ranges", "explained"]
    return pd.DataFrame([*rows()], columns=columns)
