"""Part of the page on the fold in time."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from mdo.report.figures.motion import (
    ZERO,
    history_figure,
    loop_figure,
    spread_figure,
    torque_figure,
    wing_figure,
)
from mdo.report.pages.parts import Drawn, Section, drawn, section_of
from mdo.report.words.exploration_columns import Tables
from mdo.report.words.printed import number, signed
from mdo.report.words.table import Table, shown_table
from mdo.study.number_text import figure, percent

TEMPLATE = "motion.html"
SPREAD = (
    ("settling_time", "settling time (s)", 1.0, 0.0),
    ("overshoot", "overshoot (deg)", 180.0 / math.pi, 0.0),
    ("steady_error", "steady error (deg)", 180.0 / math.pi, 0.0),
    ("tube_temperature_peak", "hottest tube (°C)", 1.0, ZERO),
)


def motion_sections(tables: Tables) -> list[Section]:
    """Sections on a motion."""
    course, stages = tables["motion_course"], tables["motion_stages"]
    last = stages.iloc[0]
    said = (
        f"First command {last['stage']}: settled {number(last['settling_time'], 's')}, overshoot "
        f"{number(last['overshoot'], 'rad')}."
    )
    sections = [
        section_of(
            TEMPLATE, "motion-course", "Course", "Course in time",
            plot=drawn(history_figure(course, stages), "motion-course", said),
            stages=shown_table("motion_stages", stages),
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
            sizing=shown_table("motion_sizing", tables["motion_sizing"]),
            loops=shown_table("motion_loops", tables["motion_loops"]),
        ),
    ]  # fmt: skip
    if "motion_faults" in tables:
        listed = shown_table("motion_faults", tables["motion_faults"])
        sections.append(section_of(TEMPLATE, "motion-faults", "Faults", listed=listed))
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


def _spread(units: pd.DataFrame, spread: pd.DataFrame) -> Section:
    plots: list[tuple[str, Drawn]] = []
    for place, (stage, part) in enumerate(units.groupby("stage", sort=False)):
        drawing = spread_figure(part, SPREAD)
        plots.append((str(stage), drawn(drawing, f"motion-spread-{place}", f"Spread, {stage}.")))
    scale = {name: (title, factor, zero) for name, title, factor, zero in SPREAD}
    quantiles: Sequence[str] = [name for name in spread if str(name).startswith("quantile_")]
    rows = [
        (str(row["stage"]), scale[row["quantity"]][0],
         *(signed(figure(row[name] * scale[row["quantity"]][1] - scale[row["quantity"]][2], 4))
           for name in quantiles),
         percent(row["missing"]))
        for row in spread.to_dict("records") if row["quantity"] in scale
    ]  # fmt: skip
    head = ("command", "figure", *(f"{name[9:]} %" for name in quantiles), "never")
    listed = Table(head, rows, right=range(2, len(head)))
    return section_of(
        TEMPLATE, "motion-spread", "Over units", "Over the scatter of units",
        count=int(units["unit"].nunique()), plots=plots, listed=listed,
    )  # fmt: skip
