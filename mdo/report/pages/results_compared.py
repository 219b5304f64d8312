"""Page of results side by side: one file, no network, in the style of the report."""

from __future__ import annotations

from collections.abc import Sequence

from plotly.offline import get_plotlyjs

from mdo.report.figures import results_compared as figures
from mdo.report.pages.comparison_of_results import (
    COSTS,
    LEAST,
    LINES,
    MAIN,
    MARGINS,
    Comparison,
    Group,
    Line,
)
from mdo.report.templates import template_text
from mdo.report.templates.pieces import (
    CAVEAT,
    SCRIPT,
    STYLE,
    bullets,
    drawn,
    escaped,
    folded,
    paragraph,
    pretty,
    table,
)
from mdo.report.words.results_compared import (
    EMPTY,
    input_text,
    line_values,
    shown_difference,
    shown_unit,
)

WHAT = (
    "Differences are to A, in the unit of the line, with their share of A where that says "
    "something. A dash: the result has no such number."
)
MARGIN = (
    "Worst of each kind in the scale of the model: temperatures per 10 K, strains per 0.01, times "
    "by the logarithm of limit over value, the rest as share of the limit. Left of 0: does not "
    "hold."
)
COST = (
    "Mass of the aircraft that one harder step adds to the optimum, to first order; 'none left': "
    "no design would be left."
)
FAILED = "is-bad"
MARKS = {"infeasible": FAILED, "feasible with open items": "is-warn", "feasible": "is-good"}


def comparison_page(found: Comparison, units: str = "si") -> str:
    """Return the page of a comparison.

    Parameters
    ----------
    found : the comparison
    units : ``si`` or ``us`` trade units
    """
    title = escaped("Comparison: " + " against ".join(side.label for side in found.sides))
    parts_of = [
        ("results", "Results", _results(found)),
        ("values", "Values", _values(found, units)),
        ("torque", "Torque", _torque(found, units)),
        ("mass", "Mass", _mass(found, units)),
        ("margins", "Margins", _margins(found, units)),
        ("costs", "Costs", _costs(found, units)),
        ("more", "More", _more(found, units)),
        ("inputs", "Inputs that differ", _inputs(found, units)),
    ]
    parts_of = [one for one in parts_of if one[2]]
    text = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
        f"<title>{title}</title>\n<style>\n{template_text(STYLE)}</style>\n",
        f"<script>{get_plotlyjs()}</script>\n</head>\n<body>\n",
        '<a class="skip" href="#content">To the content</a>\n',
        _navigation(parts_of),
        f'<div class="page">\n<header>\n<h1>{title}</h1>\n</header>\n',
        '<main id="content" tabindex="-1">\n',
        *(content for _, _, content in parts_of),
        f"</main>\n<footer>{escaped(CAVEAT)}</footer>\n</div>\n",
        f"<script>\n{template_text(SCRIPT)}</script>\n</body>\n</html>\n",
    )
    return "".join(text)


def _navigation(parts: Sequence[tuple[str, str, str]]) -> str:
    links = "".join(
        f'<li><a href="#{anchor}">{escaped(words)}</a></li>\n' for anchor, words, _ in parts
    )
    return f'<nav aria-label="Parts of the comparison">\n<ol>\n{links}</ol>\n</nav>\n'


def section(anchor: str, title: str, content: str) -> str:
    """Return a part of the page; the content is not escaped."""
    head = f'<h2 id="{anchor}-head">{escaped(title)}</h2>'
    return (
        f'<section class="part" id="{anchor}" aria-labelledby="{anchor}-head">\n{head}\n'
        f"{content}</section>\n"
    )


def _results(found: Comparison) -> str:
    """Each result with its verdict and causes, and what to mind."""
    boxes = ""
    for side in found.sides:
        manifest = side.result.manifest
        causes = side.texts("verdict", "cause")
        items = side.texts("verdict", "open item")
        head = f"{side.letter}: {escaped(side.verdict)}"
        content = f'<strong class="level">{head}</strong>\n'
        content += paragraph(f"{side.label}. {side.title}".strip())
        content += paragraph(" ".join(side.texts("verdict", "origin")), kind="soft")
        content += folded("What does not hold", bullets(causes), is_open=True) if causes else ""
        content += folded(f"{len(items)} open items", bullets(items)) if items else ""
        content += paragraph(f"Study hash {manifest.study_hash[:10]}", kind="soft")
        mark = MARKS.get(side.verdict, FAILED)
        boxes += f'<div class="verdict {mark}"><div>{content}</div></div>\n'
    boxes = f'<div class="pairs">\n{boxes}</div>\n'
    notes = "<h3>Mind when comparing</h3>\n" + bullets(found.notes) if found.notes else ""
    return section("results", "Results", boxes + notes)


def _values(found: Comparison, units: str) -> str:
    content = paragraph(WHAT, kind="definition")
    content += _group_table(found, MAIN, units)
    content += "<h3>Least torque margin A/R − 1 of each leg, one wing</h3>\n"
    content += _group_table(found, LEAST, units)
    return section("values", "Mass, power and torque", content)


def _torque(found: Comparison, units: str) -> str:
    plots = []
    for place, leg in enumerate(figures.torque_legs(found)):
        has = [side.letter for side in found.sides if figures.leg_part(side, leg) is not None]
        lacks = [letter for letter in found.letters if letter not in has]
        note = paragraph(f"Not in {', '.join(lacks)}.", kind="soft") if lacks else ""
        plot = drawn(
            figures.torque_figure(found, leg, units), f"torque-{place}",
            f"Required and available moment over the fold angle in the leg {leg}, for results "
            f"{', '.join(has)}",
        )  # fmt: skip
        plots.append(f"<div><h3>{escaped(leg)}</h3>\n{note}{plot}</div>\n")
    if not plots:
        return ""
    text = "Solid: available moment. Dashed: required moment at limit load. One wing."
    content = paragraph(text, kind="definition") + f'<div class="pairs">\n{"".join(plots)}</div>\n'
    return section("torque", "Required and available torque", content)


def _mass(found: Comparison, units: str) -> str:
    if not figures.lines_of(found, LINES):
        return ""
    words = "Mass lines of each result as stacked bars, growth included"
    content = drawn(figures.mass_figure(found, units), "mass", words)
    content += folded("Mass lines as a table", _group_table(found, LINES, units))
    return section("mass", "Mass, growth included", content)


def _margins(found: Comparison, units: str) -> str:
    content = paragraph(MARGIN, kind="definition")
    words = "Worst margin of each kind of requirement, one mark for each result"
    content += drawn(figures.margins_figure(found), "margins", words)
    listed = _group_table(found, MARGINS, units)
    content += folded("Margins in their own units", listed)
    return section("margins", "Margins of the requirements", content)


def _costs(found: Comparison, units: str) -> str:
    figure = figures.costs_figure(found, units)
    if figure is None:
        return ""
    words = "Mass added by one harder step of each requirement, one bar for each result"
    content = paragraph(COST, kind="definition") + drawn(figure, "costs", words)
    content += folded("Costs as a table", _group_table(found, COSTS, units))
    return section("costs", "What the requirements cost", content)


def _more(found: Comparison, units: str) -> str:
    """The groups that have no section of their own."""
    content = "".join(
        folded(group.title, _rows(found, group, units))
        for group in found.groups
        if group.title not in {MAIN, LEAST, LINES, MARGINS, COSTS}
    )
    return section("more", "Design, times, window", content) if content else ""


def _group_table(found: Comparison, title: str, units: str) -> str:
    return "".join(
        _rows(found, group, units) for group in found.groups if group.title == title
    ) or paragraph("None of the results has these.", kind="soft")


def _rows(found: Comparison, group: Group, units: str) -> str:
    letters = found.letters
    head = ["", letters[0]]
    for letter in letters[1:]:
        head += [letter, f"{letter} − {letters[0]}"]
    right = tuple(range(1, len(head)))
    rows = [_row(line, units) for line in group.lines]
    marks = ["dim" if line.alike else "" for line in group.lines]
    return table((*head, "unit", "of"), rows, right=right, marks=marks, kind="lead")


def _row(line: Line, units: str) -> list[str]:
    values = [_minus(text) for text in line_values(line, units)]
    row = [line.name, values[0]]
    for place in range(1, len(values)):
        row += [values[place], _minus(shown_difference(line, place, units))]
    return [*row, pretty(shown_unit(line, units)), line.of]


def _minus(text: str) -> str:
    """Number with a true minus, a dash where there is none."""
    return "–" if text == EMPTY else text.replace("-", "−")


def _inputs(found: Comparison, units: str) -> str:
    rows = []
    for line in found.inputs:
        texts = [pretty(input_text(line, place, units)) for place in range(len(found.sides))]
        rows.append((line.path, *texts, line.meaning))
    if not rows:
        return section("inputs", "Inputs that differ", paragraph("None."))
    text = f"{len(rows)} inputs differ; the others are alike in all."
    content = paragraph(text, kind="definition")
    content += table(("input", *found.letters, "meaning"), rows, kind="lead")
    return section("inputs", "Inputs that differ", content)
