"""Figures: labels with units at the pointer, names and captions, colour never alone."""

from __future__ import annotations

import re

import pytest

UNIT = re.compile(r"[\d)]\s*(N·m|kg|°C|°|K|s|W|kW|J|kJ|MJ|%|MPa|kPa|mm|m|L|V|A|×)(?![a-z])")
SAID = re.compile(
    r"−\d|\b(no|not|none|nothing|outside|miss\w*|stop|warn|watch|judged|judgement|confirm\w*|late"
    r"|beyond|over|fail\w*|infeasible)\b",
    re.IGNORECASE,
)
TRIES = 9  # points that are pointed at in one figure
WAIT, PAUSE = 400, 20  # [ms] for a label, between two looks


def label_at(view, figure):
    """Return the label that appears at the first of some points of a figure,"""
    places = view.probe("points", figure)
    for x, y, _ in places[:TRIES]:
        view.point_at(x, y, off=30.0)
        for _ in range(WAIT // PAUSE):
            view.page.wait_for_timeout(PAUSE)
            found = view.probe("hovered")
            if found:
                return found
    return []


@pytest.mark.dear
@pytest.mark.slow
def test_pointing_at_a_figure_shows_a_value_with_its_unit(look, name):
    view = look(name)
    figures = view.probe("figures")
    assert len(figures) > 10
    silent, bare = [], []
    for figure in figures:
        labels = label_at(view, figure)
        if not labels:
            silent.append(figure)
        bare += [f"{figure}: {label}" for label in labels if not UNIT.search(label)]
        view.page.mouse.move(2.0, 2.0)
    assert silent == []
    assert bare == []
    assert view.said == []


@pytest.mark.dear
def test_every_figure_has_a_name_and_a_caption(look, name):
    view = look(name)
    view.open_all()
    assert view.probe("unnamed") == []
    captions = view.page.locator("figure figcaption").all_inner_texts()
    assert len(captions) == view.page.locator("figure").count()
    assert min(len(one.split()) for one in captions) > 8


@pytest.mark.dear
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_lines_and_bars_stand_out_from_the_page(look, name, scheme):
    assert look(name, scheme=scheme).probe("graphics") == []


def test_colours_of_one_figure_differ_in_more_than_colour(look, name):
    view = look(name)
    assert view.probe("soleColour") == []


def test_rows_that_fail_say_so_in_words(look, name):
    view = look(name)
    view.open_all()
    rows = view.page.locator("tr.bad, tr.miss, tr.stop, tr.watch, tr.warn, tr.judged")
    silent = [text for text in rows.all_inner_texts() if not SAID.search(text)]
    assert silent == []


def test_margins_have_words_or_numbers_beside_their_bars(look, name):
    view = look(name)
    figures = view.page.locator(".js-plotly-plot")
    figure = figures.filter(has_text=re.compile(r"margin .*at the limit")).first
    bars = figure.locator(".barlayer .point").count()
    beside = figure.locator(".textpoint").all_text_contents()
    assert bars > 5
    assert len(beside) == bars
    assert all(re.search(r"at the limit|\d", text) for text in beside)
