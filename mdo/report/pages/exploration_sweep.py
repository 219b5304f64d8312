"""Part of the page on a sweep: standing of the designs, all columns at once, mass against each."""

from __future__ import annotations

import pandas as pd

from mdo.report.figures.bars import counts_of
from mdo.report.figures.requirement_map import CROSS, OPEN, Group, cloud_figure, groups_of
from mdo.report.figures.style import BLUE
from mdo.report.pages.exploration_controls import axes_of_points, parallel_lines, telling
from mdo.report.pages.exploration_map import counted
from mdo.report.pages.parts import Section, drawn, section_of
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Column,
    Columns,
    Tables,
    safe,
    thinned,
    thinned_words,
    values_table,
)
from mdo.report.words.table import Table

MASS = "system_mass"
MOST_POINTS = 2000
MOST_AXES = 9
MOST_BEHIND = 200  # rows and columns of the table behind a figure
MOST_COLUMNS = 4


def sweep_sections(tables: Tables) -> list[Section]:
    """Sections on a sweep, those for which there is something to show."""
    status = tables["sweep_status"]
    if status.empty or int(status["designs"].sum()) == 0:
        return [section_of("sweep-status", title="Sweep")]
    standing = counted("sweep-status", counts_of(status, "designs"), "designs")
    sections = [section_of("sweep-status", **standing)]
    sample = tables.get("sweep_sample", pd.DataFrame())
    if len(sample):
        columns = Columns(tables)
        names = [str(name) for name in tables["sweep_columns"]["column"]]
        known = [columns.of(name) for name in names if name in sample]
        shown = thinned(sample, MOST_POINTS).reset_index(drop=True)
        note = thinned_words(len(shown), int(status["designs"].sum()), "designs", "designs")
        sections += [_lines(shown, known, note), _cloud(shown, known, note)]
    return [*sections, _ranges(tables)]


def _lines(shown: pd.DataFrame, known: list[Column], note: str) -> Section:
    mass = [column for column in known if column.name == MASS]
    rest = [column for column in known if column.name != MASS]
    axes = [*telling(shown, rest, MOST_AXES), *mass]
    block = parallel_lines(
        "sweep-parallel", shown, axes, lead=mass[0] if mass else axes[-1],
        alternative=f"Parallel coordinates of {len(shown):,} designs",
    )  # fmt: skip
    return section_of("sweep-lines", note=note, block=block)


def _cloud(shown: pd.DataFrame, known: list[Column], note: str) -> Section:
    known = [column for column in known if shown[column.name].notna().any()]
    if not known:
        return section_of("sweep-cloud")
    at = next((place for place, one in enumerate(known) if one.name == MASS), len(known) - 1)
    mass, groups = known[at], _groups(shown)
    rest = [column for column in known if column != mass]
    figure = cloud_figure(shown, groups, known[0], mass, _texts(shown, mass, rest[:4]))
    said = f"Designs of the sample, {mass.title} against a column of your choice"
    return section_of(
        "sweep-cloud", note=note, plot=drawn(figure, "sweep-cloud", said),
        axes=axes_of_points("sweep-cloud", groups, shown, known, {"x": 0, "y": at}),
        behind=values_table(
            shown, [mass, *telling(shown, rest, MOST_COLUMNS)], most=MOST_BEHIND,
            first={"design": "design"}, words={"status": "status", "reason": "what it fails"},
        ),
    )  # fmt: skip


def _groups(shown: pd.DataFrame) -> list[Group]:
    met = (shown["status"] == FEASIBLE).to_numpy()
    failed = (shown["status"] == "infeasible").to_numpy()
    circle = {"symbol": "circle", "color": BLUE, "size": 6, "line": {"width": 0}}
    cross = {**CROSS, "size": 5, "line": {"width": 1.2, "color": CROSS["color"]}}
    return groups_of([
        ("infeasible", failed, cross), ("not settled", ~met & ~failed, OPEN),
        ("feasible", met, circle),
    ])  # fmt: skip


def _texts(shown: pd.DataFrame, mass: Column, rest: list[Column]) -> list[str]:
    """Labels of designs: standing, mass and what they fail."""
    texts = []
    for line in shown.to_dict("records"):
        lines = [f"design {line['design']}, {safe(line['status'])}"]
        lines += [safe(line["reason"], 60)] if line["reason"] else []
        lines += [f"{safe(one.title)} {one.text(float(line[one.name]))}" for one in (mass, *rest)]
        texts.append("<br>".join(lines))
    return texts


def _ranges(tables: Tables) -> Section:
    columns = Columns(tables)
    rows = [
        (str(line["title"]),
         *(columns.of(str(line["column"])).text(float(line[end]))
           for end in ("low", "median", "high")),
         str(line["column"]))
        for line in tables["sweep_columns"].to_dict("records")
    ]  # fmt: skip
    head = ("column", "lowest", "median", "highest", "name in the table")
    return section_of("sweep-ranges", listed=Table(head, rows, right=(1, 2, 3)))
