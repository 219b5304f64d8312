"""The report: one file without network, escaped, the same every time; figures hold their tables."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from plotly.offline import get_plotlyjs

from mdo.explore.problem import make_problem
from mdo.explore.tables import result_tables
from mdo.report import figures, render_report
from mdo.report.html import given_number, number, table
from mdo.runner import appraise_design

LIMIT = 6_000_000
VOID = {"meta", "br", "hr", "img", "input", "link"}


class Outline(HTMLParser):
    """Tags of a page: ids, links, what is loaded, and whether every tag is closed."""

    def __init__(self):
        super().__init__()
        self.ids, self.links, self.loaded, self.open = [], [], [], []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.ids += [given["id"]] if "id" in given else []
        self.links += [given["href"]] if tag == "a" else []
        self.loaded += [given[key] for key in ("src", "data") if key in given]
        self.loaded += [given["href"]] if tag == "link" else []
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def outline_of(page):
    outline = Outline()
    outline.feed(page.replace(get_plotlyjs(), ""))
    assert outline.open == []
    return outline


@pytest.fixture(scope="module")
def tables(optimum):
    return result_tables(optimum)


@pytest.fixture(scope="module")
def page(optimum, tables):
    return render_report(optimum, tables)


@pytest.fixture(scope="module")
def hostile(optimum):
    """The design of the optimum in a study that fails and tries to break the page."""
    study = optimum.study.with_values(
        {
            "study.title": "<script>alert('title')</script> & more",
            "study.description": '"><img src=x onerror=alert(1)>',
            "vehicle.name": "</section></main><b>bold",
            "requirements.fold_time": "100 s",
        }
    )
    return appraise_design(make_problem(study), optimum.x, "design <i>given</i>")


@pytest.mark.slow
def test_page_is_one_small_file_that_loads_nothing(page):
    assert len(page.encode()) < LIMIT
    assert page.count(get_plotlyjs()) == 1
    outline = outline_of(page)
    assert outline.loaded == []
    assert all(link.startswith("#") for link in outline.links)
    own = page.replace(get_plotlyjs(), "")
    assert not re.search(r"https?://", own)
    assert "@import" not in own
    assert "url(" not in own


@pytest.mark.slow
def test_page_has_every_section_and_unique_ids(page):
    outline = outline_of(page)
    assert len(outline.ids) == len(set(outline.ids))
    expected = {"verdict", "losses", "failures", "torque", "mass", "margins", "times", "limits",
                "cautions", "alloy", "inputs", "validation", "reproduce"}  # fmt: skip
    assert {f"#{anchor}" for anchor in expected} == set(outline.links)
    assert expected <= set(outline.ids)


@pytest.mark.slow
def test_page_is_the_same_every_time(optimum, page):
    assert render_report(optimum, result_tables(optimum)) == page


@pytest.mark.slow
def test_every_leg_has_its_figure_and_one_has_the_driving_point(optimum, page):
    for place, leg in enumerate(optimum.problem.assembled.legs):
        assert f'id="figure-torque-{place}"' in page
        assert f"<h3>{leg.label}</h3>" in page
    assert page.replace(get_plotlyjs(), "").count('"name":"driving point"') == 1


@pytest.mark.slow
def test_page_says_what_its_numbers_are(page):
    assert "Feasible with open items" in page
    assert "both wings moving together" in page
    assert "Measured data: none" in page
    assert "What is not modelled" in page
    assert "prefers-color-scheme: dark" in page
    assert "not certification evidence" in page
    # definitions take the factors of the study
    assert "1.2 (friction, seal, skin)" in page
    assert "must hold 1.25 |R|" in page


@pytest.mark.slow
def test_text_of_the_user_is_escaped_and_a_failure_gets_its_page(hostile):
    broken = render_report(hostile, result_tables(hostile))
    outline = outline_of(broken)
    assert outline.loaded == []
    assert "<script>alert" not in broken
    assert "&lt;script&gt;alert" in broken
    assert "<img" not in broken.replace(get_plotlyjs(), "")
    assert "<b>bold" not in broken
    assert "What does not hold" in broken
    assert "infeasible: not for ordering" in broken


@pytest.mark.slow
def test_report_of_a_design_far_from_working_is_whole(optimum):
    x = np.asarray(optimum.x)
    x = np.clip(
        x * np.where(np.arange(x.size) % 2, 0.3, 3.0), optimum.problem.lower, optimum.problem.upper
    )
    wild = appraise_design(optimum.problem, x, "wild")
    outline_of(render_report(wild, result_tables(wild)))


@pytest.mark.slow
def test_torque_figure_draws_the_table(tables):
    torque = tables["torque"]
    drawn = figures.torque_figure(torque, "flight_fold, fold", driving_angle=-0.6108652)
    part = torque[torque["leg"] == "flight_fold, fold"].sort_values("fold_angle")
    traces = {trace.name: trace for trace in drawn.data}
    assert np.allclose(traces["required"].y, part["required_moment"])
    assert np.allclose(traces["available"].y, part["available_moment"])
    assert np.allclose(traces["required"].x, np.degrees(part["fold_angle"]))
    assert traces["driving point"].x[0] == pytest.approx(-35.0)
    # +10 % in flight below Mach 0.85
    assert np.allclose(
        traces["required, load model at its upper band"].y, 1.1 * part["required_moment"]
    )


@pytest.mark.slow
def test_mass_figure_adds_up_to_the_system(optimum, tables):
    basic, growth = figures.mass_figure(tables["masses"]).data[:2]
    assert sum(basic.x) + sum(growth.x) == pytest.approx(optimum.mass)


@pytest.mark.slow
def test_margins_figure_marks_what_is_at_its_limit(tables):
    worst = figures.worst_per_group(tables["compliance"])
    assert worst["group"].is_unique
    bars, texts = figures.margins_figure(tables["compliance"]).data
    assert len(bars.y) == len(texts.text)
    at_limit = (np.abs(worst["scaled"]) <= figures.AT_LIMIT) & (worst["group"] != "driver")
    assert sum("at the limit" in text for text in texts.text) == at_limit.sum() > 1


@pytest.mark.slow
def test_times_figure_shows_each_motion_and_its_limit(optimum, tables):
    bars, limits = figures.times_figure(tables["times"]).data[:2]
    assert "dash_hold" not in bars.y
    moving = [leg for leg in optimum.problem.assembled.legs if leg.kind == "fold"]
    assert len(bars.y) == len(limits.x) == len(moving)


def test_cells_are_escaped_and_marked():
    text = table(("a", "b"), [("<b>", "1")], right=(1,), marks=("bad",))
    assert "<td>&lt;b&gt;</td><td class=r>1</td>" in text
    assert "<tr class=bad>" in text


def test_numbers_are_printed_in_trade_units():
    assert number(-243.15 + 2 * 273.15, "K") == "30.0 °C"
    assert number(243.15, "K") == "−30.0 °C"
    assert number(60000.0, "W/m**2") == "6.000 W/cm²"
    assert number(0.5, "rad") == "28.65°"
    assert number(12.5, "N*m") == "12.50 N·m"
    assert number(float("nan"), "K") == "–"
    assert given_number(0.3, "1") == "0.3"
    assert given_number(233.15, "K") == "−40 °C"


def test_style_lies_beside_the_code():
    style = Path(figures.__file__).with_name("report.css").read_text(encoding="utf-8")
    assert style.count("{") == style.count("}")
