"""Part of the page on a sweep: standing of the designs, all columns at once, mass against each."""

from __future__ import annotations

import numpy as np
import pandas as pd

from mdo.report.figures.bars import counts_figure, counts_of, counts_table, named_counts
from mdo.report.figures.requirement_map import CROSS, OPEN, Group, cloud_figure
from mdo.report.figures.style import BLUE
from mdo.report.pages.exploration_controls import axis_controls, parallel_block, telling
from mdo.report.templates.pieces import Section, drawn, paragraph, picture, section, table
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

MASS = "system_mass"
MOST_POINTS = 2000
MOST_AXES = 9
MOST_BEHIND = 200  # rows and columns of the table behind a figure
MOST_COLUMNS = 4
STATUS_READ = (
    "How many designs of the sweep are feasible, and what the others fail first: the requirement "
    "with the largest violation. Designs are not settled where a value could not be computed; "
    "they count as neither. A reason of several requirements counts at each."
)
PARALLEL_READ = (
    "Each line is one design of the sample; it crosses each axis at its value. Give a range below, "
    "or drag along an axis, and lines outside of it are left out; a click on the axis lifts its "
    "range."
)
CLOUD_READ = (
    "Each mark is one design of the sample: circles are feasible, crosses are not. Nothing here "
    "is optimised; the lower edge of the circles is what the sweep found, not what is possible."
)
RANGES_READ = (
    "Least and largest value of each column over all designs of the sweep, and the median of the "
    "designs in the table sweep_sample."
)


def sweep_sections(tables: Tables) -> list[Section]:
    """Sections on a sweep, those for which there is something to show."""
    status = tables["sweep_status"]
    if status.empty or int(status["designs"].sum()) == 0:
        content = section("sweep-status", "Sweep", paragraph("The sweep has no designs."))
        return [("sweep-status", "Standing", content)]
    found = [("sweep-status", "Standing", _status(status))]
    sample = tables.get("sweep_sample", pd.DataFrame())
    if len(sample):
        found.append(("sweep-lines", "All columns at once", _lines(tables)))
        found.append(("sweep-cloud", "Mass against each", _cloud(tables)))
    found.append(("sweep-ranges", "Ranges", _ranges(tables)))
    return found


def _status(status: pd.DataFrame) -> str:
    counts = named_counts(counts_of(status, "designs"))
    total = int(status["designs"].sum())
    plot = drawn(
        counts_figure(counts, "designs", total), "sweep-status",
        f"Bars of {total:,} designs by status and reason",
    )  # fmt: skip
    content = picture(plot, STATUS_READ, behind=counts_table(counts, "designs", total))
    return section("sweep-status", "Which designs are feasible, and what the others fail", content)


def _known(tables: Tables) -> list[Column]:
    """Columns of numbers that the sample has."""
    columns, sample = Columns(tables), tables["sweep_sample"]
    names = [str(name) for name in tables["sweep_columns"]["column"]]
    return [columns.of(name) for name in names if name in sample]


def _shown(tables: Tables) -> tuple[pd.DataFrame, str]:
    """Designs that are drawn, and the sentence that says how many."""
    sample, total = tables["sweep_sample"], int(tables["sweep_status"]["designs"].sum())
    shown = thinned(sample, MOST_POINTS).reset_index(drop=True)
    note = thinned_words(len(shown), total, "designs", "designs")
    return shown, paragraph(note, kind="soft") if note else ""


def _lines(tables: Tables) -> str:
    shown, note = _shown(tables)
    known = _known(tables)
    mass = [one for one in known if one.name == MASS]
    rest = [one for one in known if one.name != MASS]
    axes = [*telling(shown, rest, MOST_AXES), *mass]
    lead = mass[0] if mass else axes[-1]
    block = parallel_block(
        "sweep-parallel", shown, axes, lead=lead, met=(shown["status"] == FEASIBLE).to_numpy(),
        alternative=f"Parallel coordinates of {len(shown):,} designs",
    )  # fmt: skip
    return section("sweep-lines", "All columns at once", note + picture(block, PARALLEL_READ))


def _cloud(tables: Tables) -> str:
    shown, note = _shown(tables)
    known = [one for one in _known(tables) if shown[one.name].notna().any()]
    if not known:
        text = "The sample has no column of numbers."
        return section("sweep-cloud", "Mass against each column", paragraph(text))
    y = next((place for place, one in enumerate(known) if one.name == MASS), len(known) - 1)
    groups = _groups(shown)
    controls = axis_controls(
        "sweep-axes", {"sweep-cloud": [rows for _, rows, _ in groups]}, shown, known,
        {"x": 0, "y": y},
    )  # fmt: skip
    figure = cloud_figure(shown, groups, known[0], known[y], _texts(shown, known, known[y]))
    said = f"Designs of the sample, {known[y].title} against a column of your choice"
    rest = [one for one in known if one.name != known[y].name]
    behind = values_table(
        thinned(shown, MOST_BEHIND), [known[y], *telling(shown, rest, MOST_COLUMNS)],
        first=[("design", "design")], words=[("status", "status"), ("reason", "what it fails")],
    )  # fmt: skip
    content = note + controls + picture(
        drawn(figure, "sweep-cloud", said), CLOUD_READ, behind=behind, more="Some of the designs"
    )  # fmt: skip
    return section("sweep-cloud", "Mass against each column", content)


def _groups(shown: pd.DataFrame) -> list[Group]:
    met = (shown["status"] == FEASIBLE).to_numpy()
    failed = (shown["status"] == "infeasible").to_numpy()
    circle = {"symbol": "circle", "color": BLUE, "size": 6, "line": {"width": 0}}
    cross = {**CROSS, "size": 5, "line": {"width": 1.2, "color": CROSS["color"]}}
    found: list[Group] = [
        ("infeasible", np.flatnonzero(failed), cross),
        ("not settled", np.flatnonzero(~met & ~failed), OPEN),
        ("feasible", np.flatnonzero(met), circle),
    ]
    return [one for one in found if one[1].size]


def _texts(shown: pd.DataFrame, known: list[Column], mass: Column) -> list[str]:
    """Labels of designs: standing, mass and what they fail."""
    rest = [one for one in known if one.name != mass.name][:4]
    found = []
    for line in shown.to_dict("records"):
        lines = [f"design {line['design']}, {safe(line['status'])}"]
        lines += [safe(line["reason"], 60)] if line["reason"] else []
        lines += [f"{safe(one.title)} {one.text(float(line[one.name]))}" for one in (mass, *rest)]
        found.append("<br>".join(lines))
    return found


def _ranges(tables: Tables) -> str:
    columns = Columns(tables)
    rows = []
    for line in tables["sweep_columns"].to_dict("records"):
        one = columns.of(str(line["column"]))
        rows.append(
            (
                str(line["title"]),
                *(one.text(float(line[end])) for end in ("low", "median", "high")),
                one.name,
            )
        )
    head = ("column", "lowest", "median", "highest", "name in the table")
    listed = table(head, rows, right=(1, 2, 3))
    return section("sweep-ranges", "Ranges of the columns", paragraph(RANGES_READ) + listed)
