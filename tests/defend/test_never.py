"""Strokes that never end: 'never' for people, a finite time and a reason in the result."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import times_table
from mdo.defend.tables.never import never_cools
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.report.words.summary import summary_text
from mdo.report.words.table import shown_table
from mdo.run.design_analyses import appraise_design, evaluate_analysis
from mdo.study.study import load_study

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"


@pytest.fixture(scope="module")
def guess() -> Appraisal:
    return evaluate_analysis(make_problem(load_study(STUDY)), lambda _: None)


def changed(guess: Appraisal, **factors: float) -> Appraisal:
    x, labels = guess.x.copy(), guess.problem.labels
    for name, factor in factors.items():
        for place in (at for at, label in enumerate(labels) if label.partition(".")[0] == name):
            x[place] *= factor
    return appraise_design(guess.problem, x, "test")


def times(appraisal: Appraisal) -> pd.DataFrame:
    return times_table(Facts(appraisal))


def test_a_design_that_works_has_no_status(guess: Appraisal) -> None:
    assert (times(guess)["status"] == "").all()
    text = summary_text(guess)
    assert "never:" not in text[text.index("TIMES") : text.index("TEMPERATURES")]


def test_tubes_that_stay_below_austenite_start_never_fold(guess: Appraisal) -> None:
    # definition: nothing transforms below As' (reference sma-tubes, section 2); 400 K is below
    cold = changed(guess, hot_temperature=400.0 / float(guess.design["hot_temperature"]))
    assert np.min(Facts(cold).v["heating_start"]) > 400.0
    table = times(cold)
    moves = table[table["time"].notna()]
    assert moves["status"].str.contains("heating never: 126.9 degC hot is not above As'").all()
    assert np.isfinite(moves["time"]).all()
    text = summary_text(cold)
    lines = text[text.index("TIMES") : text.index("TEMPERATURES")].splitlines()
    assert any(line.split()[:4] == ["stow_calm,", "fold", "never", "180.0"] for line in lines)
    page = shown_table("times", table)
    assert {row[2] for row in page.rows} == {"never"}


def test_heater_below_the_loss_when_hot_never_heats(guess: Appraisal) -> None:
    # hand: the lumped tube comes to rest at bay + P/UA (Incropera and DeWitt, 5.1, from memory);
    # the loss of one tube when hot is what the answer gives
    working = Facts(guess)
    side = int(np.argmax(working.present))
    loss = working.v["loss_conductance_hot"][:, side]
    excess = float(guess.design["hot_temperature"]) - working.v["bay_cold_temperature"]
    ratio = float(np.max(loss * excess)) / float(guess.design["heater_power"][side])
    weak = changed(guess, heater_power=0.5 * ratio)
    moves = times(weak)[times(weak)["time"].notna()]
    assert moves["status"].str.contains("heating never: at low line the heater gives less").all()
    strong = changed(guess, heater_power=2.0)
    assert (times(strong)["status"] == "").all()


def test_set_whose_martensite_finish_is_in_the_bay_never_cools(guess: Appraisal) -> None:
    facts = Facts(guess)
    leg = int(np.flatnonzero(facts.returns)[0])
    assert never_cools(facts, leg, 0) == ""
    facts.v = {**facts.v, "cooling_finish": facts.v["bay_hot_temperature"][[leg, leg]] - 1.0}
    assert never_cools(facts, leg, 0).endswith("is not above the bay 55.0 degC")


def test_requirement_on_a_time_says_never(guess: Appraisal) -> None:
    weak = changed(guess, heater_power=0.02)
    text = " ".join(summary_text(weak).split())
    assert "never, at most 180.0 s; heating never: at low line" in text
