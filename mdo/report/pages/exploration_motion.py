"""Part of the page on the fold in time."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from mdo.report.figures.motion import (
    history_figure,
    loop_figure,
    spread_figure,
    torque_figure,
    wing_figure,
)
from mdo.report.pages.parts import Drawn, Section, drawn, section_of
from mdo.report.words.exploration_columns import Tables
from mdo.report.words.motion import BESIDE
from mdo.report.words.table import Table

TEMPLATE = "motion.html"
DASH = "—"
SPREAD = (
    ("settling_time", "settling time (s)", 1.0),
    ("overshoot", "overshoot (deg)", 180.0 / math.pi),
    ("steady_error", "steady error (deg)", 180.0 / math.pi),
    ("tube_temperature_peak", "hottest tube (K)", 1.0),
)


def _number(value: float, digits: int = 4) -> str:
    return DASH if not np.isfinite(value) else f"{value:.{digits}g}".replace("-", "−")


def _degrees(value: float) -> str:
    return _number(math.degrees(value), 3)


def _celsius(value: float) -> str:
    return _number(value - 273.15, 3)


def motion_sections(tables: Tables) -> list[Section]:
    """Sections on a motion."""
    course, stages = tables["motion_course"], tables["motion_stages"]
    last = stages.iloc[0]
    said = (
        f"First command {last['stage']}: settled {_number(last['settling_time'])} s, overshoot "
        f"{_degrees(last['overshoot'])} deg."
    )
    sections = [
        section_of(
            TEMPLATE, "motion-course", "Course", "Course in time",
            plot=drawn(history_figure(course, stages), "motion-course", said),
            stages=_stages(stages),
        ),
        section_of(
            TEMPLATE, "motion-wing", "The wing", "The wing from the front",
            plot=drawn(wing_figure(course), "motion-wing", "Wing that folds; play or slide."),
        ),
        section_of(
            TEMPLATE, "motion-path", "Path", "Temperature, angle, torque", plots=_paths(tables),
        ),
        section_of(
            TEMPLATE, "motion-beside", "Beside sizing", "Beside what sizing said",
            sizing=_sizing(tables["motion_sizing"]), loops=_loops(tables["motion_loops"]),
        ),
    ]  # fmt: skip
    if "motion_faults" in tables:
        sections.append(
            section_of(TEMPLATE, "motion-faults", "Faults", listed=_faults(tables["motion_faults"]))
        )
    if "motion_units" in tables:
        sections.append(_spread(tables["motion_units"], tables["motion_spread"]))
    return sections


def _paths(tables: Tables) -> list[tuple[str, Drawn]]:
    course, branches = tables["motion_course"], tables["motion_branches"]
    return [
        ("Hysteresis: angle over temperature",
         drawn(loop_figure(course, branches), "motion-loop", "Fold angle over tube temperature.")),
        ("Torque over angle, by temperature",
         drawn(torque_figure(course), "motion-torque", "Moment of the tubes over fold angle.")),
    ]  # fmt: skip


def _stages(table: pd.DataFrame) -> Table:
    head = (
        "command", "rise s", "arrives s", "settled s", "overshoot deg", "steady error deg",
        "ripple deg", "hold W", "hold ripple W", "peak W", "energy kJ", "tubes °C", "heaters °C",
        "stalls",
    )  # fmt: skip
    rows = [
        (str(row.stage), _number(row.rise_time), _number(row.arrival_time),
         _number(row.settling_time), _degrees(row.overshoot), _degrees(row.steady_error),
         _degrees(row.ripple), _number(row.hold_power_mean, 3), _number(row.hold_power_ripple, 2),
         _number(row.power_peak, 3), _number(row.energy / 1e3, 3),
         _celsius(row.tube_temperature_peak), _celsius(row.heater_temperature_peak),
         "yes" if row.stalled else "no")
        for row in table.itertuples()
    ]  # fmt: skip
    return Table(head, rows, right=range(1, 13))


def _sizing(table: pd.DataFrame) -> Table:
    rows = [
        (BESIDE[str(row.quantity)], _number(row.sized), _number(row.moved), _number(row.ratio, 4),
         str(row.reason))
        for row in table.itertuples()
    ]  # fmt: skip
    return Table(("figure", "sized", "moved", "ratio", "why they differ"), rows, right=(1, 2, 3))


def _loops(table: pd.DataFrame) -> Table:
    rows = [
        (str(row.corner), str(row.branch), _degrees(row.angle), _celsius(row.kelvin),
         _number(row.gain_margin, 3), _number(row.phase_margin, 3))
        for row in table.itertuples()
    ]  # fmt: skip
    head = ("corner", "branch", "angle deg", "tube °C", "gain margin dB", "phase margin deg")
    return Table(head, rows, right=range(2, 6))


def _faults(table: pd.DataFrame) -> Table:
    head = (
        "fault", "what the wing does", "verdict", "left to right deg", "tubes °C", "heaters °C",
        "cut-off", "caution",
    )  # fmt: skip
    rows = [
        (str(row.fault), str(row.outcome) + (f" ({row.reason})" if row.reason else ""),
         str(row.verdict), _degrees(row.asymmetry), _celsius(row.tube_temperature_peak),
         _celsius(row.heater_temperature_peak), "acted" if row.cut_off_acted else DASH,
         str(row.caution))
        for row in table.itertuples()
    ]  # fmt: skip
    return Table(head, rows, right=(3, 4, 5))


def _spread(units: pd.DataFrame, spread: pd.DataFrame) -> Section:
    plots: list[tuple[str, Drawn]] = []
    for place, (stage, part) in enumerate(units.groupby("stage", sort=False)):
        figure = spread_figure(part, SPREAD)
        plots.append((str(stage), drawn(figure, f"motion-spread-{place}", f"Spread, {stage}.")))
    scale = {name: (title, factor) for name, title, factor in SPREAD}
    quantiles: Sequence[str] = [name for name in spread if str(name).startswith("quantile_")]
    rows = [
        (str(row["stage"]), scale[row["quantity"]][0],
         *(_number(row[name] * scale[row["quantity"]][1]) for name in quantiles),
         _number(100.0 * row["missing"], 3))
        for row in spread.to_dict("records") if row["quantity"] in scale
    ]  # fmt: skip
    head = ("command", "figure", *(f"{name[9:]} %" for name in quantiles), "never %")
    listed = Table(head, rows, right=range(2, len(head)))
    return section_of(
        TEMPLATE, "motion-spread", "Over units", "Over the scatter of units",
        count=int(units["unit"].nunique()), plots=plots, listed=listed,
    )  # fmt: skip
