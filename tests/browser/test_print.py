"""The report on paper: A4 from a wide window, as a browser prints it."""

from __future__ import annotations

import io
import re

import pytest

from .shots import PAPER
from .viewing import PRINTED, SCREEN

LAST_PART = "part-behind"
STATE = """[
    [...document.querySelectorAll('.js-plotly-plot .main-svg')].map(one => one.clientWidth),
    [...document.querySelectorAll('details')].filter(one => one.open).length]"""


def paper(view):
    """Return the text of each page, without spaces."""
    import pypdfium2

    document = pypdfium2.PdfDocument(io.BytesIO(view.page.pdf(**PAPER)))
    texts = [page.get_textpage().get_text_bounded() for page in document]
    return ["".join(text.replace("\ufffe", "-").split()) for text in texts]


@pytest.mark.dear
def test_print_has_no_navigation_and_nothing_is_cut_or_broken(fresh, name):
    printed = fresh(name)
    printed.to_paper()
    assert printed.controls() == []
    assert printed.faults(*SCREEN, "broken") == {}
    assert printed.probe("splittable", PRINTED[1]) == []
    assert printed.probe("page") > 0.95


@pytest.mark.slow
def test_print_of_a_dark_screen_is_light(fresh, name):
    view = fresh(name, scheme="dark")
    view.page.emulate_media(media="print", color_scheme="dark")
    assert view.probe("page") > 0.95
    assert view.probe("contrast") == []


@pytest.mark.dear
def test_print_keeps_what_is_folded_and_figures_whole_and_leaves_the_screen(fresh, name):
    view = fresh(name)
    before = view.page.evaluate(STATE)
    folds = view.probe("behindFolds")
    assert len(folds) > 15
    view.page.evaluate(
        "window.addEventListener('beforeprint', () => { window.figures = probe.figureWords(); })"
    )
    sheets = paper(view)
    figures = view.page.evaluate("window.figures")
    view.page.wait_for_timeout(600)
    view.settle()
    assert view.page.evaluate(STATE) == before
    assert view.said == []
    whole = "".join(sheets)
    lost = [(part, title) for part, title, words in folds if words not in whole]
    assert [title for part, title in lost if part != LAST_PART] == []
    if lost:
        assert re.search(r"\w+\.csv", whole), "paper does not say where the rest is"
    torn = [
        one["name"]
        for one in figures
        if not any(all(word in sheet for word in one["words"]) for sheet in sheets)
    ]
    assert len(figures) > 10
    assert torn == []
