"""The page of an exploration: one file with figures and data in it, no network needed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from mdo.data_files import toml_beside
from mdo.report.pages.exploration_assurance import assurance_sections
from mdo.report.pages.exploration_front import front_sections
from mdo.report.pages.exploration_indices import sensitivity_sections
from mdo.report.pages.exploration_map import map_points_section, map_sections
from mdo.report.pages.exploration_motion import motion_sections
from mdo.report.pages.exploration_scaling import scaling_sections
from mdo.report.pages.exploration_sweep import sweep_sections
from mdo.report.pages.exploration_views import map_data
from mdo.report.pages.parts import BAD, GOOD, WARN, Head, Part, Section, section_of
from mdo.report.templates import render
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    UNSETTLED,
    Columns,
    Tables,
    with_texts_filled,
)
from mdo.report.words.printed import prose
from mdo.report.words.table import Table

NOT_PRINTED = (
    "Not printed, unless unfolded before: the table of all points. It lies beside this page, as "
    "do the other tables."
)
# What is not counted warns by a value in a column of a table.
LACKING = {
    "motion": ("motion_faults", "verdict", "fail"),
    "assurance": ("assurance_designs", "status", "infeasible"),
}


class Kind(NamedTuple):
    """Exploration on a page: see the head of ``exploration_page.toml``."""

    sections: Callable[[Tables], Sequence[Section]]
    title: str
    question: str
    needed: Sequence[str]
    counted: str = ""


SECTIONS = {
    "map": map_sections,
    "front": front_sections,
    "sweep": sweep_sections,
    "sensitivity": sensitivity_sections,
    "scaling": scaling_sections,
    "assurance": assurance_sections,
    "motion": motion_sections,
}
KINDS = {name: Kind(SECTIONS[name], **known) for name, known in toml_beside(__file__).items()}


def render_exploration(head: Head, lines: Sequence[str], tables: Tables, trade: str = "") -> str:
    """Return the page of an exploration as one self-contained file.

    Parameters
    ----------
    head : the exploration and its study
    lines : what came out, one plain sentence each
    tables : of the exploration, by name, SI
    trade : file of the live trade page beside it, if there is one
    """
    tables = with_texts_filled(tables)
    came_out = _verdict(head.kind, lines, tables, trade)
    parts = [
        Part("part-design", came_out.title, "In plain sentences.", [came_out]),
        *(
            Part(f"part-{name}", known.title, known.question, known.sections(tables))
            for name, known in KINDS.items() if _present(name, tables)
        ),
        Part("part-behind", "Everything else", "Every point, and how to reproduce it.",
             _behind(tables, head.versions)),
    ]  # fmt: skip
    return render("exploration.html", **head.shown(), not_printed=NOT_PRINTED, parts=parts)


def _present(kind: str, tables: Tables) -> bool:
    """Whether there are the tables of an exploration; sensitivities have one of two."""
    there = [name in tables for name in KINDS[kind].needed]
    return any(there) if kind == "sensitivity" else all(there)


def status_counts(kind: str, tables: Tables) -> dict[str, int]:
    """Return how many points or designs have each status; nothing for sensitivities."""
    if not (kind in KINDS and KINDS[kind].counted and _present(kind, tables)):
        return {}
    if kind == "sweep":
        sums = tables["sweep_status"].groupby("status")["designs"].sum()
        return {str(status): int(count) for status, count in sums.items()}
    points = tables[f"{kind}_points"]
    if kind == "map" and len(points):
        points = map_data(tables, Columns(tables)).best
    return {str(status): int(count) for status, count in points["status"].value_counts().items()}


def _verdict(kind: str, lines: Sequence[str], tables: Tables, trade: str) -> Section:
    """What came out, with a head that says how much of it is feasible."""
    counts = status_counts(kind, tables)
    head, level = _level(kind, counts, tables)
    total = sum(counts.values())
    tiles = [
        (f"{count:,}", f"{status}, {100.0 * count / total:.3g} % of {total:,}")
        for status, count in sorted(counts.items())
    ]
    said = list(map(prose, lines)) or ["The analysis left no sentences; see the figures below."]
    return section_of("verdict", level=level, head=head, lines=said, tiles=tiles, trade=trade)


def _level(kind: str, counts: Mapping[str, int], tables: Tables) -> tuple[str, str]:
    """Words of the verdict and its class."""
    known = KINDS[kind]
    if not known.counted:
        table, column, lacking = LACKING.get(kind, ("", "", ""))
        lacks = table in tables and (tables[table][column] == lacking).any()
        return known.title, WARN if lacks else GOOD
    total, met, open_ = sum(counts.values()), counts.get(FEASIBLE, 0), counts.get(UNSETTLED, 0)
    if total == 0:
        return f"No {known.counted}: nothing was computed", BAD
    tail = f", {open_:,} not settled" if open_ else ""
    if kind == "front" and met:
        found = "front point" if met == 1 else "front points"
        return f"{met:,} {found} found{tail}", WARN if open_ else GOOD
    if met == 0:
        return f"None of the {total:,} {known.counted} is feasible{tail}", BAD
    return f"{met:,} of {total:,} {known.counted} are feasible{tail}", WARN if open_ else GOOD


def _behind(tables: Tables, versions: Mapping[str, str]) -> list[Section]:
    mapped = _present("map", tables) and len(tables["map_points"])
    rows = [(name, f"{len(table):,}", f"{table.shape[1]:,}") for name, table in tables.items()]
    listed = Table(("table", "rows", "columns"), rows, right=(1, 2))
    about = Table(("what", "version"), list(versions.items()))
    last = section_of("reproduce", tables=listed, versions=about)
    return [map_points_section(tables), last] if mapped else [last]
