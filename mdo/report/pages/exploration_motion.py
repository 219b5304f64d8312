"""Part of the page on the fold in time."""

from __future__ import annotations

import math

import pandas as pd

from mdo.report.figures import motion
from mdo.report.pages.parts import Section, drawn, section_of
from mdo.report.words.exploration_columns import Tables
from mdo.report.words.printed import number, prose, signed
from mdo.report.words.table import Table, shown_table
from mdo.study.number_text import figure, percent

TEMPLATE = "motion.html"
SPREAD = (
    ("settling_time", "settling time (s)", 1.0, 0.0),
    ("overshoot", "overshoot (deg)", 180.0 / math.pi, 0.0),
    ("steady_error", "steady error (deg)", 180.0 / math.pi, 0.0),
    ("tube_temperature_peak", "hottest tube (°C)", 1.0, motion.ZERO),
)


def motion_sections(tables: Tables) -> list[Section]:
    """Sections on a motion."""
    course, stages = tables["motion_course"], tables["motion_stages"]
    last = stages.iloc[0]
    said = (
        f"First command {last['stage']}: settled {number(last['settling_time'], 's')}, overshoot "
        f"{number(last['overshoot'], 'rad')}."
    )
    wing = drawn(motion.wing_figure(course), "motion-wing", "Wing that folds; play or slide.")
    loop = motion.loop_figure(course, tables["motion_branches"])
    paths = [
        ("Hysteresis: angle over temperature",
         drawn(loop, "motion-loop", "Fold angle over tube temperature.")),
        ("Torque over angle, by temperature",
         drawn(motion.torque_figure(course), "motion-torque",
               "Moment of the tubes over fold angle.")),
    ]  # fmt: skip
    sections = [
        section_of(
            TEMPLATE, "motion-course", "Course", "Course in time", stages=_shown(tables, "stages"),
            plot=drawn(motion.history_figure(course, stages), "motion-course", said),
        ),
        section_of(TEMPLATE, "motion-wing", "The wing", "The wing from the front", plot=wing),
        section_of(TEMPLATE, "motion-path", "Path", "Temperature, angle, torque", plots=paths),
        section_of(
            TEMPLATE, "motion-beside", "Beside sizing", "Beside what sizing said",
            sizing=_shown(tables, "sizing"), loops=_shown(tables, "loops"),
        ),
    ]  # fmt: skip
    if "motion_faults" in tables:
        listed = _shown(tables, "faults")
        sections.append(section_of(TEMPLATE, "motion-faults", "Faults", listed=listed))
    if "motion_units" in tables:
        sections.append(_spread(tables["motion_units"], tables["motion_spread"]))
    return sections


def _shown(tables: Tables, name: str) -> Table:
    return shown_table(f"motion_{name}", tables[f"motion_{name}"])


def _spread(units: pd.DataFrame, spread: pd.DataFrame) -> Section:
    plots = [
        (prose(str(stage)), drawn(motion.spread_figure(part, SPREAD), f"motion-spread-{place}",
                           f"Spread, {stage}."))
        for place, (stage, part) in enumerate(units.groupby("stage", sort=False))
    ]  # fmt: skip
    quantiles = [str(name) for name in spread if str(name).startswith("quantile_")]
    rows = [
        (prose(row["stage"]), title,
         *(signed(figure(row[end] * factor - zero, 4)) for end in quantiles),
         percent(row["missing"]))
        for row in spread.to_dict("records")
        for name, title, factor, zero in SPREAD if name == row["quantity"]
    ]  # fmt: skip
    head = ("command", "figure", *(f"{name[9:]} %" for name in quantiles), "never")
    listed = Table(head, rows, right=range(2, len(head)))
    return section_of(
        TEMPLATE, "motion-spread", "Over units", "Over the scatter of units",
        count=int(units["unit"].nunique()), plots=plots, listed=listed,
    )  # fmt: skip
