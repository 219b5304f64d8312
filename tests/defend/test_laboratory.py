"""The test plan: every uncertain field has a method, and accuracies and worth follow by hand."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import mdo
from mdo.alloys.fields import CARD_FIELDS
from mdo.defend.sensitivity import measurement_plan
from mdo.defend.sensitivity.measurement_plan import (
    CONFIRM,
    DRAWING,
    FIELDS,
    IN_HOUSE,
    METHODS,
    NO_STANDARD,
    method_of,
)
from mdo.defend.uncertain import CHOSEN, PRINTED_ONLY
from mdo.optimise.appraisal import Appraisal

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"
WORDS = {"tube": "", "stress": "", "hot": "", "cold": "", "folds": ""}
Z95 = 1.6448536269514722


@pytest.fixture(scope="module")
def found(small_sensitivity):
    return small_sensitivity


@pytest.fixture(scope="module")
def appraisal(found):
    problem, x = found.optimum.problem, found.optimum.design
    return Appraisal("optimum", problem, x, problem.values(x), found.optimum, "")


@pytest.fixture(scope="module")
def plan(found, appraisal):
    return measurement_plan.test_plan(found, appraisal)


def uncertain_fields():
    """Every number of cards and defaults that may have a range and is not chosen."""
    yield from CARD_FIELDS
    folder = Path(mdo.__file__).parent / "study" / "defaults"
    for file in sorted(folder.glob("*.toml")):
        for name, entry in tomllib.loads(file.read_text(encoding="utf-8")).items():
            chosen = name in CHOSEN or name.startswith((PRINTED_ONLY, "growth_"))
            if not chosen and "low" in entry and "high" in entry:
                yield name


@pytest.mark.parametrize("field", sorted(set(uncertain_fields())))
def test_every_uncertain_field_has_a_method(field):
    assert field in FIELDS
    method = method_of(field)
    assert method.measure
    assert method.specimen.format_map(WORDS)
    assert method.condition.format_map(WORDS)


def test_every_method_serves_a_field_and_names_a_standard_or_says_none():
    assert set(FIELDS.values()) == set(METHODS)
    for method in METHODS.values():
        assert bool(method.standards) or method.kind in {IN_HOUSE, DRAWING}
        assert (method.specimens > 0) == (method.kind != DRAWING)
        text = measurement_plan._standards(method)
        assert text.count(CONFIRM) == len(method.standards)
        assert (NO_STANDARD in text) == (method.kind == IN_HOUSE)


def test_field_without_an_entry_is_an_in_house_test_and_not_dropped(found, appraisal):
    odd = tuple(replace(one, field="unheard_of") for one in found.inputs)
    first = measurement_plan.test_plan(
        replace(found, odds=replace(found.odds, inputs=odd)), appraisal, 1
    )
    assert list(first["standards"]) == [NO_STANDARD]


def test_plan_has_three_tests_in_the_order_of_the_sensitivity(found, plan):
    assert (plan["kind"] != DRAWING).sum() == 3
    assert plan["rank"].is_monotonic_increasing
    ranking = list(found.table["input"])
    assert plan["input"][0] == ranking[0]
    # whatever stands before the last of the plan is in it: a test, a drawing, or given together
    named = {*plan["input"], *", ".join(plan["together"]).split(", ")}
    assert set(ranking[: plan["rank"].iloc[-1]]) <= named


def test_plan_names_the_design_that_it_tests(plan, appraisal):
    life, design = plan.iloc[0], appraisal.design
    stress = max(design["operating_stress"]) / 1e6
    hot, diameter = design["hot_temperature"] - 273.15, 2e3 * design["tube_outer_radius"]
    assert life["input"] == "alloy.declared_life_stress"
    assert "alloy.declared_life_cycles" in life.together
    assert "E3506" in life.standards
    assert f"{stress:.0f} MPa" in life.condition
    assert f"{hot:.1f} degC" in life.condition
    assert "1000 folds" in life.condition
    assert f"{diameter:.3f} mm" in life.specimen


def test_accuracy_brings_the_share_below_the_next_and_to_a_quarter(found, plan):
    paths = [one.path for one in found.inputs]
    for one in plan.itertuples():
        given = found.inputs[paths.index(one.input)]
        shares = found.table.set_index("input")[f"{one.for_what}_share"]
        own, others = shares[one.input], shares.drop(plan["input"]).max()
        if one.relative:
            left = 2.0 * np.log1p(one.accuracy) / np.log(given.high / given.low)
        else:
            left = 2.0 * one.accuracy / (given.high - given.low)
        assert left <= 0.5 + 1e-12
        assert own * left**2 <= max(others, own * 0.1**2) * (1 + 1e-9)


def test_worth_of_a_test_is_the_fall_of_the_95_percent_point(found, plan):
    first = plan.iloc[0]
    given = next(one for one in found.inputs if one.path == first["input"])
    left = 2.0 * np.log1p(first.accuracy) / np.log(given.high / given.low)
    share = first["mass_share"]
    # variance with the share of this input cut down
    after = found.reserve.deviation * np.sqrt(1.0 - share * (1.0 - left**2))
    expected = Z95 * (found.reserve.deviation - after)
    assert first.mass_worth == pytest.approx(expected, rel=1e-9)
    assert 0.0 < first.reserve_worth < found.reserve.backed_off + abs(found.optimum.mass)


def test_numbers_without_any_share_are_not_tested(found, appraisal):
    everything = measurement_plan.test_plan(found, appraisal, 1000)
    assert everything[["mass_share", "verdict_share"]].max(axis=1).min() > 0.0
    named = {*everything["input"], *", ".join(everything["together"]).split(", ")}
    largest = found.table[["mass_share", "verdict_share"]].max(axis=1)
    assert set(found.table["input"][largest > 1e-9]) <= named


def test_table_has_a_line_for_each(plan):
    assert plan["input"].is_unique
    assert plan["standards"].map(type).eq(str).all()
