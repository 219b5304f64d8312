"""Summary for a terminal and for scripts: complete, narrow, in the units asked for."""

from __future__ import annotations

import json
import math
import re

import pytest

from mdo.cli.text import as_json
from mdo.defend.tables.design import active_table
from mdo.defend.tables.requirements import requirement_lines
from mdo.defend.verdict import judge
from mdo.report.words.summary import requirement_text, summary_text
from mdo.report.words.summary_data import summary_dict
from mdo.study.number_text import aligned, figure, percent, quantity

HEADINGS = (
    "VERDICT", "MASS of the aircraft", "BUNDLE", "DRIVING CASE", "TIMES", "TEMPERATURES",
    "POWER of the aircraft", "DISTANCE TO PHYSICAL LIMITS", "TRANSFORMATION WINDOW", "CAUTIONS",
)  # fmt: skip


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (1125.48, "1125"), (12345.6, "12346"), (63.2133, "63.21"), (0.85436, "0.8544"),
        (-0.01234567, "-0.01235"), (9.99999e-12, "1e-11"), (2.5e12, "2.5e+12"), (math.nan, "-"),
        (-1e-4, "-0.0001000"), (0.99999999, "1.000"), (9999.96, "10000"),
    ],
)  # fmt: skip
def test_figures_have_four_digits_and_whole_ones_are_kept(value, text):
    assert figure(value) == text


@pytest.mark.parametrize(
    ("value", "unit", "units", "text"),
    [
        (0.0148682, "m", "si", "14.87 mm"),
        (0.0254, "m", "us", "1.000 in"),
        (12.0, "m", "si", "12.00 m"),
        (3.048, "m", "us", "10.00 ft"),
        (393.15, "K", "si", "120.0 degC"),
        (393.15, "K", "us", "248.0 degF"),
        (1.0, "N*m", "us", "8.851 in*lbf"),  # 1 N*m = 8.8507 in*lbf (from memory)
        (0.45359237, "kg", "us", "1.000 lb"),  # exact
        (6894757.293, "Pa", "us", "1.000 ksi"),  # NIST SP 811 (from memory)
        (60000.0, "W/m**2", "si", "6.000 W/cm**2"),
        (1163876.0, "J", "si", "1164 kJ"),
        (0.25, "1", "si", "0.2500"),
        (math.nan, "K", "si", "-"),
    ],
)
def test_quantities_are_in_trade_units(value, unit, units, text):
    assert quantity(value, unit, units) == text


def test_differences_of_temperature_stay_in_kelvin():
    assert quantity(10.0, "K", "us", difference=True) == "10.00 K"


def test_shares_are_in_per_cent():
    assert [percent(x) for x in (0.25, 1e-5, 0.0, 6e-15, -6e-15, -0.172, math.nan)] == [
        "25.0 %", "< 0.1 %", "0.0 %", "0.0 %", "0.0 %", "-17.2 %", "-",
    ]  # fmt: skip


def test_aligned_wraps_only_the_last_column():
    lines = aligned([("a", "1", "word " * 30), ("bbb", "22", "short")], right=(1,))
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith("  a     1  word")
    assert lines[1].startswith(" " * 11 + "word")
    assert lines[-1] == "  bbb  22  short"


@pytest.mark.parametrize("units", ["si", "us"])
def test_summary_is_complete_and_narrow(medium, units):
    text = summary_text(medium, units)
    for heading in HEADINGS:
        assert f"\n{heading}" in text
    assert max(map(len, text.splitlines())) <= 100
    assert "evaluated, not optimised" in text
    assert not re.search(r"\b(nan|inf)\b", text.lower())


def test_units_change_the_numbers_and_not_the_design(medium):
    assert f"fold actuation: {medium.mass:.2f} kg" in summary_text(medium, "si")
    assert f"fold actuation: {medium.mass / 0.45359237:.1f} lb" in summary_text(medium, "us")


def test_summary_of_a_failed_design_says_what_fails_and_by_how_much(medium_case):
    broken = medium_case.appraise({"requirements.fold_time": "100 s"})
    text = summary_text(broken)
    assert "VERDICT: INFEASIBLE" in text
    assert "- Fold time (" in text
    assert "at most 100.0 s" in text
    assert "not for ordering" in text
    assert max(map(len, text.splitlines())) <= 100


def test_summary_for_scripts_is_plain_data(medium):
    content = json.loads(as_json(summary_dict(medium)))
    assert content["verdict"] == judge(medium).level
    assert content["system_mass"] == pytest.approx(medium.mass)
    assert sum(line["total"] for line in content["masses"][:-1]) == pytest.approx(medium.mass)
    assert content["kkt_residual"] is None
    assert content["driving_point"]["leg"]
    assert "aircraft" in content["units"]


def test_numbers_that_nobody_works_with_are_said_in_words(medium):
    assert quantity(50109001.0, "s") == "over 11 days"
    assert quantity(2.7e-18, "m") == "0 mm"
    assert quantity(-5.6e-17, "rad") == "0 deg"
    assert (percent(5549171602.54), percent(-4000.0)) == ("over 10000 %", "below -10000 %")
    lines = {line.group: line for line in requirement_lines(medium)}
    height = lines["bundle_room"]._replace(limit=-0.0575, note="no height is left")
    assert requirement_text(height, "si").endswith(" mm; no height is left")
    torque = lines["torque_margin"]._replace(value=-43.7)
    assert requirement_text(torque, "si").startswith("none, at least 20.00 %")


@pytest.mark.slow
def test_summary_of_an_optimum_names_starts_residual_and_costs(optimum):
    text = summary_text(optimum)
    said = " ".join(text.split())
    assert "counts and sizes free, reached from 2 of 2 starts, KKT residual" in said
    assert "ACTIVE REQUIREMENTS of the bound and what they cost" in text
    dearest = optimum.continuous.active[0]
    assert "factor e" not in text
    assert "wing thickness" not in text
    # hand: the row of a time is ln(limit/time), so 10 s of its limit are 10/limit of the row
    lines = active_table(optimum).set_index("group").loc[["fold_time_row"]]
    assert set(lines["per"]) == {"10 s"}
    cost = lines["multiplier"] * 10.0 / optimum.study.requirements.fold_time
    assert lines["cost"].tolist() == pytest.approx(cost.tolist(), rel=1e-6)
    assert dearest.text in said  # long lines are wrapped
    content = summary_dict(optimum)
    assert content["starts_reached"] == 2
    assert content["system_mass"] == optimum.mass > content["bound"]["system_mass"]
    assert content["bound"]["system_mass"] == optimum.continuous.mass
    assert all(float(n).is_integer() for n in content["design"]["tube_count"])
    assert content["whole_tubes"]["rounding"][-1]["system_mass"] == optimum.mass
    assert content["active"][0]["multiplier"] == dearest.multiplier
    assert max(map(len, text.splitlines())) <= 100
