"""The comparison with conventional hinges: numbers against counted samples, words against cases."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from mdo.defend.comparison.compare import (
    GEARED,
    HYDRAULIC,
    LOCAL,
    MASS,
    SMA,
    ComparisonLine,
    compare,
    geared_table,
    standing,
)
from mdo.defend.comparison.intervals import DRAWN, HELD, Interval
from mdo.defend.comparison.sentences import (
    NOT_INCLUDED,
    compared_failures,
    findings,
    numbers,
    plain_sentence,
    rules,
    rules_table,
    share_of,
    spoken,
    two,
)
from mdo.defend.drawn_inputs import evaluate_drawn
from mdo.defend.tables.frame import of_lines
from mdo.defend.uncertain import uncertain_inputs
from mdo.disciplines.mass.comparison import GEARED_LINES
from mdo.disciplines.mass.system import LOCK
from mdo.optimise.appraisal import Appraisal

STUDIES = Path(__file__).parents[2] / "studies"
SAMPLES = 500


@pytest.fixture(scope="module")
def appraised(small_optimum):
    problem, design = small_optimum.problem, small_optimum.design
    return Appraisal("optimum", problem, design, problem.values(design), small_optimum, "")


def compared(appraisal, samples):
    inputs = uncertain_inputs(appraisal.problem)
    drawn = evaluate_drawn(appraisal.problem, appraisal.x, inputs, samples=samples)
    return compare(appraisal, drawn, hydraulic=False)


@pytest.fixture(scope="module")
def versus(appraised, small_drawn):
    return compare(appraised, small_drawn, hydraulic=True)


def test_lines_hold_the_values_of_the_design(appraised, versus):
    for measure, concept, figure in (
        ("mass", SMA, "system_mass"),
        ("mass", GEARED, "geared_mass"),
        ("mass", HYDRAULIC, "hydraulic_mass"),
        ("mass", LOCAL, "hydraulic_mass_local"),
        ("envelope", SMA, "actuator_volume"),
        ("envelope", GEARED, "geared_volume"),
        ("peak power", GEARED, "geared_power"),
        ("energy of a sortie", SMA, "sortie_energy"),
    ):
        line = versus.line(measure, concept)
        assert line.value == pytest.approx(float(appraised.values[figure])), figure
        assert line.low < line.high
    ratio = versus.line("mass", GEARED).ratio
    assert ratio == pytest.approx(
        float(appraised.values["system_mass"] / appraised.values["geared_mass"])
    )


def test_shares_are_counted_over_the_samples(versus):
    figures = versus.intervals.drawn.figures
    for measure, concept, one, other in (
        ("mass", GEARED, "system_mass", "geared_mass"),
        ("envelope", GEARED, "actuator_volume", "geared_volume"),
        ("mass", LOCAL, "system_mass", "hydraulic_mass_local"),
    ):
        counted = np.count_nonzero(figures[one] < figures[other]) / SAMPLES
        assert versus.line(measure, concept).share == counted
    assert versus.intervals.drawn.samples == SAMPLES


@pytest.mark.slow
def test_hydraulic_hinge_only_where_it_is_asked_for(appraised):
    plain = compared(appraised, 20)
    assert {line.concept for line in plain.lines} == {SMA, GEARED}
    with pytest.raises(KeyError):
        plain.line("mass", HYDRAULIC)


def test_an_evaluated_design_is_compared_as_drawn_only(appraised):
    given = replace(appraised, optimum=None)
    found = compared(given, 20)
    assert {line.basis for line in found.lines} == {DRAWN}
    assert not any("Drawn again" in text for text in findings(found))


def test_held_line_stands_beside_the_drawn_one(versus):
    drawn, held = (versus.line("mass", GEARED, basis) for basis in (DRAWN, HELD))
    assert held.ratio == pytest.approx(drawn.ratio)
    assert held.ratio_high / held.ratio_low > drawn.ratio_high / drawn.ratio_low
    assert 0.0 <= held.share < 0.05


def test_geared_table_is_the_geared_mass(appraised):
    table = geared_table(appraised).set_index("line")
    assert list(table.index) == [*GEARED_LINES, "total"]
    total = table.loc["total"]
    assert total["total"] == pytest.approx(float(appraised.values["geared_mass"]))
    assert total["basic"] == pytest.approx(table["basic"][:-1].sum())
    assert total["growth"] == pytest.approx(total["total"] - total["basic"])


def test_both_sides_carry_one_lock(appraised):
    lock = geared_table(appraised).set_index("line").loc["lock"]
    assert lock["basic"] == pytest.approx(float(appraised.values["mass_lines"][LOCK]))
    assert lock["growth"] == pytest.approx(float(appraised.values["mass_growth"][LOCK]))


def test_return_time_is_what_the_hinge_is_asked_for(appraised, versus):
    own, other = versus.line("return time", SMA), versus.line("return time", GEARED)
    assert other.value == appraised.study.requirements.return_time
    assert own.value <= other.value * (1.0 + 1e-6)
    assert own.low < own.high


def test_table_has_a_line_of_each(versus):
    table = of_lines(ComparisonLine, versus.lines)
    assert len(table) == len(versus.lines)
    assert set(table["unit"]) == {"kg", "m**3", "W", "J", "s"}
    own = table[table["concept"] == SMA]
    assert own["ratio"].isna().all()


def between(low, high):
    nothing = (np.nan,) * 5
    return Interval("system_mass", "geared_mass", DRAWN, "1", 1.0, low, high, "", *nothing, "")


@pytest.mark.parametrize(
    ("low", "high", "share", "word"),
    [
        (1.2, 4.0, 0.0, "heavier"),
        (0.2, 0.9, 1.0, "lighter"),
        (0.8, 4.0, 0.1, "probably heavier"),
        (0.3, 1.1, 0.9, "probably lighter"),
        (0.7, 1.4, 0.5, "about the same"),
    ],
)
def test_words_scale_with_what_is_known(versus, low, high, share, word):
    assert standing(between(low, high), share, MASS) == word
    lines = tuple(
        line._replace(share=share, standing=word)
        if (line.measure, line.concept, line.basis) == ("mass", GEARED, DRAWN)
        else line
        for line in versus.lines
    )
    sentence = plain_sentence(replace(versus, lines=lines))
    heads = {
        "heavier": "The geared electric hinge is lighter: ",
        "lighter": "The SMA actuator is lighter than the geared electric hinge: ",
        "probably heavier": "The geared electric hinge is probably lighter: ",
        "probably lighter": "The SMA actuator is probably lighter than the geared",
        "about the same": "The SMA actuator is about as heavy as the geared electric hinge: ",
    }
    assert sentence.startswith(heads[word])
    assert f"in {share_of(share)} of {SAMPLES} samples" in sentence


def test_plain_sentence_of_the_small_study(appraised, versus):
    """The hinge is some two and a half times lighter; no sample turns it."""
    sentence = plain_sentence(versus)
    own, other = (float(appraised.values[name]) for name in ("system_mass", "geared_mass"))
    assert 2.0 < own / other < 3.0
    assert re.fullmatch(
        rf"The geared electric hinge is lighter: {two(other)} kg \([\d.]+ to [\d.]+\) against "
        rf"{two(own)} kg \([\d.]+ to [\d.]+\) of the SMA actuator as drawn, {two(own / other)} "
        r"times \([\d.]+ to [\d.]+\) its mass; the SMA actuator is the lighter one in none of "
        rf"{SAMPLES} samples of the uncertain inputs\.",
        sentence,
    )
    assert "lb" in plain_sentence(versus, "us")
    about = "The SMA actuator is about as heavy as the hydraulic hinge with its system: "
    assert plain_sentence(versus, rival=HYDRAULIC).startswith(about)


def test_findings_say_what_the_design_does_not_do(versus):
    text = " ".join(findings(versus))
    met = versus.intervals.drawn.met
    assert f"meets every requirement in {share_of(met)} of the samples" in text
    assert "In none of mass, envelope, peak power and energy is the SMA actuator ahead" in text
    assert "Where the aircraft has hydraulics anyway" in text
    assert "The study's own values favour the SMA actuator" in text


def test_findings_say_where_it_is_ahead(versus):
    """With the envelope turned round, the words turn round with it."""
    lines = tuple(
        line._replace(share=1.0, standing="smaller")
        if (line.measure, line.concept) == ("envelope", GEARED)
        else line
        for line in versus.lines
    )
    text = " ".join(findings(replace(versus, lines=lines)))
    assert "The SMA actuator is ahead in: envelope smaller" in text
    assert "In none of" not in text


def test_a_failing_design_is_called_one(appraised):
    weak = appraised.x.copy()
    weak[appraised.problem.labels.index("tube_count.up")] *= 0.5
    values = appraised.problem.values(weak)
    failing = Appraisal("evaluate", appraised.problem, weak, values, None, "")
    assert "does not meet its requirements" in next(findings(compared(failing, 20)))


def test_rules_say_what_is_not_even_and_by_how_much(appraised):
    by_name = {rule.rule: rule for rule in rules(appraised)}
    assert by_name["lock"].kept
    assert by_name["growth"].kept
    # least wire of 0.383 mm2, out and back, x 8900 kg/m3 x 1.35 x 1.12, both wings
    run = appraised.study.supply.run_length
    wire = 2 * 2 * run * 0.383e-6 * 8900 * 1.35 * 1.12
    assert not by_name["wire"].kept
    assert f"would add {two(wire):g} kg" in by_name["wire"].text
    saved = float(appraised.values["system_mass"] - appraised.values["geared_mass"])
    share = saved / float(appraised.values["closed_vehicle_mass"])
    assert f"{100 * share:.1f} % less" in by_name["weight"].text
    # a battery: 120 W h/kg, 80 % of it used
    energy = float(appraised.values["geared_sortie_energy"])
    assert not by_name["battery"].kept
    assert f"{two(energy / (120 * 3600 * 0.8)):g} kg" in by_name["battery"].text
    table = rules_table(appraised)
    assert set(NOT_INCLUDED) <= set(table["text"])
    assert any("fairing" in text for text in NOT_INCLUDED)


def test_failures_of_every_concept_are_named(appraised):
    table = compared_failures(appraised, hydraulic=True)
    assert set(table["concept"]) == {SMA, GEARED, HYDRAULIC}
    for _, group in table.groupby("concept"):
        assert list(group["failure"]) == ["power lost", "one part lost", "jam"]
    assert HYDRAULIC not in set(compared_failures(appraised)["concept"])


def test_numbers_carry_two_digits(versus):
    assert numbers(0.00291, 0.0081, "m**3") == "2.9 to 8.1 L"
    assert numbers(1013.0, 1234.0, "W") == "1.0 to 1.2 kW"
    assert numbers(9.2563e6, 11.37e6, "J") == "9.3 to 11 MJ"
    assert numbers(0.001, 0.002, "m**3", "us") == "61 to 120 in**3"
    line = versus.line("mass", SMA)._replace(value=63.21, low=49.6, high=154.9)
    assert spoken(line) == "63 kg (50 to 150)"


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "none"), (0.004, "under 1 %"), (0.123, "12 %"), (0.996, "over 99 %"), (1.0, "all")],
)
def test_shares_claim_no_more_than_was_counted(share, words):
    assert share_of(share) == words
