"""The report: one file without network, escaped, in the reader's order, the same every time."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from mdo.defend.cautions.base import reached
from mdo.defend.tables.design import result_tables
from mdo.defend.verdict import open_item_texts
from mdo.optimise.problem import make_problem
from mdo.report import Source, render_report
from mdo.report.figures import defence as defended_figures
from mdo.report.figures import design as figures
from mdo.report.figures.style import AT_LIMIT, HATCHES, RUST
from mdo.report.pages.design_page import PARTS as PLANNED
from mdo.report.pages.design_page import section as made_section
from mdo.report.templates import FOLDER, render
from mdo.report.words.printed import given_number, number, prose, two
from mdo.report.words.table import Cell, Table
from mdo.run.design_analyses import appraise_design, defence_analysis, evaluate_analysis
from mdo.study.study import load_study

from .outline import LIBRARY, LIMIT, outline_of, own

SMALL = Path(__file__).parents[2] / "studies" / "deck_small.toml"
PARTS = ["part-design", "part-why", "part-how", "part-sure", "part-behind"]
ALWAYS = [
    "verdict", "design", "drivers", "mass", "losses", "benefit", "front", "torque", "heat", "times",
    "other-set", "window", "life", "cautions", "discrepancy", "limits", "failures", "validation",
    "not-modelled", "order-sheet", "compliance", "inputs", "alloy", "reproduce",
]  # fmt: skip
DEFENDED = [
    "verdict", "design", "rounding", "drivers", "costs", "mass", "losses", "versus", "benefit",
    "choices", "front", "torque", "heat", "times", "other-set", "window", "life",
    "sensitivity", "cautions", "discrepancy", "limits", "failures", "validation", "not-modelled",
    "order-sheet", "compliance", "inputs", "alloy", "reproduce",
]  # fmt: skip


def said(text):
    """Page without the library of its figures, its words on one line."""
    return " ".join(own(text).split())


def section(anchor, tables):
    """One section of the page from its tables alone."""
    (plan,) = (one for part in PLANNED for one in part["section"] if one["anchor"] == anchor)
    made = made_section(Source(None, tables, {}), **plan)
    return None if made is None else made.content


def evaluated(**changes):
    study = load_study(SMALL).with_values(changes)
    return evaluate_analysis(make_problem(study), lambda _: None)


@pytest.fixture(scope="module")
def guess():
    """A first guess, evaluated: misses requirements."""
    return evaluated()


@pytest.fixture(scope="module")
def tables(guess):
    return result_tables(guess)


def page_of(guess, tables):
    return render_report(Source(guess, tables, run_versions={"fold-mdo": "0.0.test"}))


@pytest.fixture(scope="module")
def text(guess, tables):
    return page_of(guess, tables)


@pytest.fixture(scope="module")
def hostile():
    """A study that tries to break the page."""
    return evaluated(**{
        "study.title": "<script>alert('title')</script> & more",
        "study.description": '"><img src=x onerror=alert(1)>',
        "vehicle.name": "</section></main><b>bold",
    })  # fmt: skip


def conflicts():
    """Two answers to a study without a design, and a change that is none."""
    common = {"unit": "s", "kind": "requirement", "least_at": 60.0, "least_violation": 0.2,
              "failing": "Peak power", "note": ""}  # fmt: skip
    found = pd.DataFrame([
        common | {"what": "alone", "answer": 1, "requirement": "Range of fold angles",
                  "knob": "angle_range", "unit": "1", "suffices": True, "present": 1.0,
                  "value": 0.233, "system_mass": 50.1},
        common | {"what": "pair", "answer": 2, "requirement": "Fold time", "knob": "fold_time",
                  "suffices": True, "present": 60.0, "value": 193.0, "system_mass": 63.9},
        common | {"what": "pair", "answer": 2, "requirement": "Return time", "knob": "return_time",
                  "suffices": True, "present": 600.0, "value": 988.0, "system_mass": 63.9},
        common | {"what": "alone", "answer": 3, "requirement": "Dead time", "knob": "dead_time",
                  "suffices": False, "present": 1.0, "value": np.nan, "system_mass": np.nan},
    ])  # fmt: skip
    core = pd.DataFrame({"requirement": ["Fold time (a & b)", "Peak power from the bus"]})
    return {"conflicts": found, "conflict_core": core}


BESIDE = {"review.html", "order_sheet.md"}  # files of the same folder that the page names


def test_page_is_one_file_that_loads_nothing(text):
    assert len(text.encode()) < LIMIT
    assert text.count(LIBRARY) == 1
    outline = outline_of(text)
    assert outline.loaded == []
    assert {link for link in outline.links if not link.startswith("#")} == BESIDE
    assert not re.search(r"https?://", own(text))
    assert "@import" not in own(text)
    assert "url(" not in own(text)


def test_parts_and_sections_stand_in_the_order_of_the_reader(text):
    outline = outline_of(text)
    assert len(outline.ids) == len(set(outline.ids))
    assert [one for one in outline.sections if one in PARTS] == PARTS
    assert [one for one in outline.sections if one not in PARTS] == ALWAYS
    inside = [link for link in outline.links if link != "#content" and link not in BESIDE]
    linked = [link.removeprefix("#") for link in inside]
    assert linked == outline.sections


def test_every_figure_has_a_text_alternative_and_a_caption(text):
    outline = outline_of(text)
    assert outline.unnamed == []
    plots = re.findall(r'id="figure-([a-z-]+)', text)
    assert {"margins", "mass", "waterfall", "torque-", "temperature-time", "ledger", "times",
            "transformation"} <= set(plots)  # fmt: skip
    assert own(text).count("<figure") == own(text).count("<figcaption>") >= 11


def test_drawings_are_on_the_page_once(text):
    assert text.count('id="fold-front"') == text.count('id="fold-front-angle"') == 1
    design = text[text.index('id="design"') : text.index('id="part-why"')]
    first = text[text.index('id="verdict"') : text.index('id="design"')]
    tracks = first.count('<p class="track')
    assert tracks >= 2  # what a set does in the longest fold and in the longest return
    assert first.count("(governs)") >= 1
    tile = r"torque margin nominal \(.*needed\) \| least with loads at the upper band"
    assert re.search(tile, said(first))
    assert "Hinge moment by case" in first
    assert first.count("<svg") - tracks == design.count("<svg") == 1
    assert text.index('id="part-how"') < text.index('id="fold-front-angle"')
    assert text.index('id="fold-front-angle"') < text.index('id="torque"')


def test_every_leg_has_its_figure_and_one_has_the_driving_point(guess, text):
    for place, leg in enumerate(guess.problem.assembled.legs):
        assert f'id="figure-torque-{place}"' in text
        assert f"<h4>{leg.label}</h4>" in text
    assert own(text).count('"name":"driving point"') == 1


def test_page_says_what_its_numbers_are(text):
    text = said(text)
    assert "both wings moving together" in text
    assert "Measured data: none" in text
    assert "prefers-color-scheme: dark" in text
    assert "@media print" in text
    assert "not certification evidence" in text
    assert "1.2 (friction, seal, skin)" in text
    assert "must hold 1.25 |R|" in text
    assert "0.0.test" in text


def test_every_input_is_listed_and_can_be_filtered(tables, text):
    found = text[text.index('id="inputs-list"') : text.index('id="alloy"')]
    assert all(f"<td>{path}</td>" in found for path in tables["inputs"]["path"])
    assert '<label for="inputs-filter">' in text


def test_infeasible_page_leads_with_what_conflicts(guess, tables):
    assert guess.violated
    broken = said(render_report(Source(guess, {**tables, **conflicts()})))
    order = ["Infeasible</strong>", "cannot hold together", "Fold time (a &amp; b)",
             "What to relax, and by how much", "Range of fold angles", "100 %", "23 %", "193 s",
             "988 s", "misses, worst first", "does not meet its requirements</h4>",
             'class="tiles unmet"', 'id="design"']  # fmt: skip
    places = []
    for words in order:  # each after the one before, or no such text
        places.append(broken.index(words, places[-1] if places else 0))
    assert "infeasible: not for ordering" in broken
    first = broken[places[3] : places[9]]
    assert "Dead time" not in first
    assert "Dead time" in broken[broken.index('id="conflicts"') :]


def test_infeasible_page_without_conflicts_says_how_to_get_them(text):
    assert "--analysis defence" in text[: text.index('id="design"')]


def test_temperature_that_nothing_survives_is_no_number(guess, text):
    assert reached(600.0, 573.15, "destroyed") == "326.9 degC"
    assert reached(1939.0, 573.15, "destroyed") == "above 500.0 degC, destroyed"
    hottest = float(dict(guess.values)["stuck_on_temperature"].max()) - 273.15
    assert hottest > 600.0
    assert f"{hottest:.0f} °C" not in text
    assert "destroyed" in text[text.index('id="failures"') :]


def test_mass_of_an_infeasible_design_is_marked_wherever_it_stands(text):
    for section in ("mass", "losses"):
        part = text[text.index(f'<section id="{section}"') :]
        assert "a design that does not meet its requirements" in part[: part.index("</section>")]


def test_text_of_the_user_is_escaped(hostile):
    broken = render_report(Source(hostile, result_tables(hostile)))
    outline = outline_of(broken)
    assert outline.loaded == []
    assert "<script>alert" not in broken
    assert "&lt;script&gt;alert" in broken
    assert "<img" not in own(broken)
    assert "<b>bold" not in broken


def test_page_is_the_same_every_time(guess, text):
    again = page_of(guess, result_tables(guess))
    assert again == text


def test_open_items_are_short_and_name_what_matters(guess):
    ranked = ("alloy.latent_heat", "alloy.strain_max", "alloy.poisson_ratio")
    item = open_item_texts(guess, ranked)[0]
    assert len(item) < 200
    names = item.partition("those that matter most here: ")[2]
    assert names.startswith("latent heat, poisson ratio")
    assert "least known" in open_item_texts(guess)[0]


def test_ranges_of_costs_have_no_column_where_they_were_not_sought():
    costs = pd.DataFrame([{
        "name": "fold_time", "title": "Fold time", "kind": "requirement", "unit": "s",
        "value": 90.0, "per": "s", "tightening": 0.05, "relaxing": 0.04, "range_low": np.nan,
        "range_high": np.nan, "range_low_end": "", "range_high_end": "", "carried_by": "",
        "note": "",
    }])  # fmt: skip
    assert "cost holds" not in section("costs", {"costs": costs})
    ranged = costs.assign(range_low=80.0, range_high=95.0)
    assert "80.0 s to 95.0 s" in section("costs", {"costs": ranged})


def test_study_of_choices_can_be_sorted_by_every_column():
    found = pd.DataFrame([
        {"place": 1, "alloy": "a", "cooling": "passive", "status": "feasible", "system_mass": 9.5,
         "over_best": 0.0, "limits": "Life", "requirement": "", "notes": ""},
        {"place": 2, "alloy": "a", "cooling": "blower", "status": "infeasible", "system_mass": 8.0,
         "over_best": np.nan, "limits": "", "requirement": "Fold <time>", "notes": ""},
    ])  # fmt: skip
    made = section("choices", {"choices": found})
    assert made.count('aria-sort="none"') == made.count('<button type="button">') == 6
    assert 'data-order="9.5"' in made
    assert 'data-order="8"' not in made  # the mass of what does not work ranks last
    assert "Fold &lt;time&gt;" in made


def test_torque_figure_draws_the_table(tables):
    torque = tables["torque"]
    drawn = figures.torque_figure(torque, "flight_fold, fold", driving_angle=-0.3490659)
    part = torque[torque["leg"] == "flight_fold, fold"].sort_values("fold_angle")
    traces = {trace.name: trace for trace in drawn.data}
    assert np.allclose(traces["required"].y, part["required_moment"])
    assert np.allclose(traces["available"].y, part["available_moment"])
    assert np.allclose(traces["required"].x, np.degrees(part["fold_angle"]))
    assert traces["driving point"].x[0] == pytest.approx(-20.0)
    assert traces["required"].line.dash != traces["available"].line.dash
    upper = traces["required, load model at its upper band"].y
    assert np.allclose(upper, part["required_moment_upper_band"])
    # 10 % of each part in flight below Mach 0.85; lift and incidence oppose, so more of their sum
    assert np.all(upper > 1.1 * part["required_moment"])


def test_mass_figure_adds_up_to_the_system(guess, tables):
    basic, growth = figures.mass_figure(tables["masses"]).data[:2]
    assert sum(basic.x) + sum(growth.x) == pytest.approx(guess.mass)


def test_margins_figure_marks_what_does_not_hold(tables):
    worst = figures.worst_per_group(tables["compliance"])
    assert worst["group"].is_unique
    bars, texts = figures.margins_figure(tables["compliance"]).data
    assert len(bars.y) == len(texts.text)
    failed = (worst["scaled"] < -AT_LIMIT).sum()
    assert list(bars.marker.pattern.shape).count(HATCHES[RUST]) == failed > 0


def test_times_figure_shows_each_motion_and_its_limit(guess, tables):
    bars, _, limits = figures.times_figure(tables["times"]).data
    assert "dash_hold" not in bars.y
    moving = [leg for leg in guess.problem.assembled.legs if leg.kind == "fold"]
    assert len(bars.y) == len(limits.x) == len(moving)


def test_every_bar_tells_its_value_and_unit_when_pointed_at(tables):
    drawn = [
        figures.mass_figure(tables["masses"]), figures.times_figure(tables["times"]),
        figures.margins_figure(tables["compliance"]),
        defended_figures.waterfall_figure(tables["waterfall"]),
    ]  # fmt: skip
    for one in drawn:
        bars = [trace for trace in one.data if trace.type == "bar"]
        assert bars
        assert all("%{" in trace.hovertemplate for trace in bars)


def test_cells_are_escaped_and_marked():
    def printed(*rows, **look):
        lines = Table(("a", "b"), rows, **look)
        return render("design/order-sheet.html", parts=[("<i>", lines)])

    made = printed(("<b>", "1"), right=(1,), marks=("bad",))
    assert "<h4>&lt;i&gt;</h4>" in made
    assert "<td>&lt;b&gt;</td><td class=r>1</td>" in made
    assert '<tr class="bad">' in made
    assert 'data-order="2"' in printed((Cell("two", 2.0), ""), sortable=True)


def test_numbers_are_printed_in_trade_units():
    assert number(-243.15 + 2 * 273.15, "K") == "30 °C"
    assert number(243.15, "K") == "−30 °C"
    assert number(60000.0, "W/m**2") == "6.00 W/cm²"
    assert number(6339.6, "W") == "6.34 kW"
    assert number(0.5, "rad") == "28.6°"
    assert number(12.5, "N*m") == "12.5 N·m"
    assert number(float("nan"), "K") == "–"
    assert number(7.5e-4, "kg/W") == "0.750 kg/kW"
    assert number(6.06e-4, "m**3") == "0.606 L"
    assert number(-7.93e-6, "1") == "−7.93·10⁻⁶"
    assert two(1281.2, "1") == "1300"
    assert prose("from -35 deg, ISO 6336-5, -30.0 degC") == "from −35°, ISO 6336-5, −30.0 °C"
    assert given_number(0.3, "1") == "0.3"
    assert given_number(233.15, "K") == "−40 °C"


def test_style_and_script_lie_beside_the_code():
    style = (FOLDER / "report.css").read_text(encoding="utf-8")
    assert style.count("{") == style.count("}")
    assert "fetch(" not in (FOLDER / "report.js").read_text(encoding="utf-8")


@pytest.mark.slow
def test_report_of_a_defended_optimum_has_every_part_in_order():
    changes = {
        "analysis.optimum.starts": 1, "analysis.defence.starts": 1, "analysis.defence.samples": 32,
        "analysis.defence.choices": {"cooling": ["passive", "blower"]},
    }  # fmt: skip
    problem = make_problem(load_study(SMALL).with_values(changes))
    found = defence_analysis(problem, lambda _: None)
    made = render_report(Source(found, result_tables(found)))
    outline, made = outline_of(made), said(made)
    assert [one for one in outline.sections if one not in PARTS] == DEFENDED
    assert outline.columns >= 6
    assert len(made.encode()) < LIMIT
    assert "Feasible with open items" in made
    for words in ("Break-even: what would turn it", "cost holds from", "Measure these first",
                  "What each step costs", "independent starts ended"):  # fmt: skip
        assert words in made, words


@pytest.mark.slow
def test_report_of_a_design_far_from_working_is_whole(optimum):
    x = np.asarray(optimum.x)
    x = np.clip(
        x * np.where(np.arange(x.size) % 2, 0.3, 3.0), optimum.problem.lower, optimum.problem.upper
    )
    wild = appraise_design(optimum.problem, x, "wild")
    outline_of(render_report(Source(wild, result_tables(wild))))


@pytest.mark.slow
def test_margins_at_their_limit_are_told_in_words(optimum):
    compliance = result_tables(optimum)["compliance"]
    worst = figures.worst_per_group(compliance)
    texts = figures.margins_figure(compliance).data[1].text
    at_limit = (np.abs(worst["scaled"]) <= AT_LIMIT) & (worst["group"] != "driver")
    assert sum("at the limit" in text for text in texts) == at_limit.sum() > 1
