"""The page of an exploration: one file with figures and data in it, no network needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from plotly.offline import get_plotlyjs

from mdo.report.pages.exploration_front import front_sections
from mdo.report.pages.exploration_indices import sensitivity_sections
from mdo.report.pages.exploration_map import map_points_section, map_sections
from mdo.report.pages.exploration_scaling import scaling_sections
from mdo.report.pages.exploration_sweep import sweep_sections
from mdo.report.pages.exploration_views import map_data
from mdo.report.templates import template_text
from mdo.report.templates.pieces import (
    CAVEAT,
    SCRIPT,
    STYLE,
    Part,
    Section,
    bullets,
    escaped,
    folded,
    navigation,
    paragraph,
    part_html,
    prose,
    section,
    table,
)
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    UNSETTLED,
    Columns,
    Tables,
    with_texts_filled,
)

OWN_STYLE = "exploration.css"
OWN_SCRIPT = "exploration.js"
FOLDED = (
    " Not printed, unless unfolded before: the table of all points. It lies beside this page, as "
    "do the other tables."
)
HEADS = {
    "map": ("Requirement map", "What does each requirement do to the lightest design?"),
    "front": ("Front", "What does one objective cost in another?"),
    "sweep": ("Sweep", "Which designs work, and which do not?"),
    "sensitivity": ("Sensitivities", "Which input matters?"),
    "scaling": ("Scaling", "How does it grow with size?"),
}
NEEDED = {
    "map": ("map_points", "map_axes"),
    "front": ("front_points", "front_objectives"),
    "sweep": ("sweep_status", "sweep_columns"),
    "sensitivity": (),
    "scaling": ("scaling_points", "scaling_exponents"),
}
WORDS = {
    "map": "points of the map",
    "front": "bounds that were solved",
    "sweep": "designs of the sweep",
    "scaling": "sizes of the family",
}
BAD, WARN, GOOD = "is-bad", "is-warn", "is-good"


def render_exploration(
    kind: str, study_title: str, study_name: str, vehicle_name: str, description: str,
    lines: Sequence[str], tables: Tables, versions: Mapping[str, str],
) -> str:  # fmt: skip
    """Return the page of an exploration as one self-contained file.

    Parameters
    ----------
    kind : ``map``, ``front``, ``sweep``, ``sensitivity`` or ``scaling``
    study_title, study_name, vehicle_name, description : of the study
    lines : what came out, one plain sentence each
    tables : of the exploration, by name, SI
    versions : of the tool and its libraries in the run
    """
    title = escaped(study_title or study_name)
    parts = _parts(kind, lines, with_texts_filled(tables), versions)
    about = f"{study_name}, analysis '{kind}'. Vehicle: {vehicle_name}."
    text = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
        f"<title>{title}</title>\n<style>\n{template_text(STYLE)}{template_text(OWN_STYLE)}</style>\n",
        f"<script>{get_plotlyjs()}</script>\n</head>\n<body>\n",
        '<a class="skip" href="#content">To the content</a>\n',
        navigation(parts),
        '<div class="page">\n<header>\n',
        f"<h1>{title}</h1>\n{paragraph(about, kind='soft')}",
        paragraph(description) if description else "",
        '</header>\n<main id="content" tabindex="-1">\n',
        *(part_html(place, part) for place, part in enumerate(parts, 1)),
        f"</main>\n<footer>{escaped(CAVEAT)}",
        f'<span class="paper-only">{escaped(FOLDED)}</span></footer>\n</div>\n',
        f"<script>\n{template_text(OWN_SCRIPT)}</script>\n<script>\n{template_text(SCRIPT)}</script>\n",
        "</body>\n</html>\n",
    )
    return "".join(text)


def _parts(
    kind: str, lines: Sequence[str], tables: Tables, versions: Mapping[str, str]
) -> list[Part]:
    head = "What came out"
    verdict = ("verdict", head, _verdict(kind, lines, tables))
    found = [Part("part-design", head, "In plain sentences.", [verdict])]
    draw = {
        "map": map_sections, "front": front_sections, "sweep": sweep_sections,
        "sensitivity": sensitivity_sections, "scaling": scaling_sections,
    }  # fmt: skip
    for one, (title, question) in HEADS.items():
        if _present(one, tables):
            found.append(Part(f"part-{one}", title, question, draw[one](tables)))
    found.append(
        Part("part-behind", "Everything else", "Every point, and how to reproduce it.",
             _behind(tables, versions))
    )  # fmt: skip
    return found


def _present(kind: str, tables: Tables) -> bool:
    if kind == "sensitivity":
        return "sobol_indices" in tables or "morris_effects" in tables
    return all(name in tables for name in NEEDED[kind])


def status_counts(kind: str, tables: Tables) -> dict[str, int]:
    """Return how many points or designs have each status; nothing for sensitivities."""
    if kind not in WORDS or not _present(kind, tables):
        return {}
    if kind == "sweep":
        sums = tables["sweep_status"].groupby("status")["designs"].sum()
        return {str(status): int(count) for status, count in sums.items()}
    source = f"{kind}_points"
    points = tables[source]
    if kind == "map" and len(points):
        points = map_data(tables, Columns(tables)).best
    return {str(status): int(count) for status, count in points["status"].value_counts().items()}


def _verdict(kind: str, lines: Sequence[str], tables: Tables) -> str:
    """What came out, with a head that says how much of it is feasible."""
    counts = status_counts(kind, tables)
    level, mark = _level(kind, counts)
    lines = [prose(line) for line in lines]
    said = "".join(paragraph(line) for line in lines[:1]) + bullets(lines[1:])
    said = said or paragraph("The analysis left no sentences; see the figures below.")
    content = (
        f'<div class="verdict {mark}"><div><strong class="level">{escaped(level)}</strong>\n'
        f"{said}</div></div>\n"
    )
    return section("verdict", "What came out", content + _tiles(counts))


def _level(kind: str, counts: Mapping[str, int]) -> tuple[str, str]:
    if kind not in WORDS:
        return HEADS.get(kind, (kind, ""))[0], GOOD
    total, met = sum(counts.values()), counts.get(FEASIBLE, 0)
    if total == 0:
        return f"No {WORDS[kind]}: nothing was computed", BAD
    open_ = counts.get(UNSETTLED, 0)
    tail = f", {open_:,} not settled" if open_ else ""
    if met == 0:
        return f"None of the {total:,} {WORDS[kind]} is feasible{tail}", BAD
    return f"{met:,} of {total:,} {WORDS[kind]} are feasible{tail}", WARN if open_ else GOOD


def _tiles(counts: Mapping[str, int]) -> str:
    total = sum(counts.values())
    tiles = "".join(
        f'<div class="tile"><b>{count:,}</b><span>{escaped(status)}, '
        f"{100.0 * count / total:.3g} % of {total:,}</span></div>\n"
        for status, count in sorted(counts.items())
    )
    return f'<div class="tiles">\n{tiles}</div>\n' if tiles else ""


def _behind(tables: Tables, versions: Mapping[str, str]) -> list[Section]:
    found: list[Section] = []
    if _present("map", tables) and len(tables["map_points"]):
        listed = folded("Points of the map", map_points_section(tables))
        found.append(
            ("points", "Points of the map", section("points", "Points of the map", listed))
        )
    rows = [(name, f"{len(one):,}", f"{one.shape[1]:,}") for name, one in tables.items()]
    content = paragraph(
        "The tables of this exploration lie in the folder of this page, in SI units, with a "
        "dictionary of their columns."
    )
    content += table(("table", "rows", "columns"), rows, right=(1, 2))
    content += folded("Versions", table(("what", "version"), list(versions.items())))
    found.append(("reproduce", "Tables", section("reproduce", "Tables and versions", content)))
    return found
