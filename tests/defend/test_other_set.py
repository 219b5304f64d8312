"""States of the other set: what a combination of them is, and what each does to a design."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mdo.defend.choices.combinations import combinations, excluded_motions, prepare, study_with
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import times_table
from mdo.defend.tables.other_set import other_set_table
from mdo.defend.verdict import judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.run.design_analyses import evaluate_analysis
from mdo.study.study import Study, load_study

STUDIES = Path(__file__).parents[2] / "studies"
STATES = {"other_set": ["just_heated", "cold", "warmed"], "trained": [False, True]}


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(STUDIES / "deck_small.toml")


@pytest.fixture(scope="module")
def guess(study: Study) -> Appraisal:
    return evaluate_analysis(make_problem(study), lambda _: None)


def test_a_state_is_that_of_every_motion_out_and_back(study: Study) -> None:
    for each in combinations(study, STATES):
        changed = study_with(study, each.whole)
        folds = [case for case in changed.cases if case.kind == "fold"]
        motions = folds + [case.return_case for case in folds if case.return_case is not None]
        assert {case.other_set for case in motions} == {each.choices["other_set"]}  # type: ignore[union-attr]
        assert changed.actuator.trained == each.choices["trained"]
        assert {case.other_set for case in changed.cases if case.kind != "fold"} == {None}


def test_one_set_has_no_other_set(study: Study) -> None:
    options = {"configuration": ["opposed", "load_return"], "drive_side": ["up"], **STATES}
    got = combinations(study, options)
    assert len(got) == 3 * 2 + 2
    assert sum(each.copies for each in got) == 2 * 3 * 2


def test_nothing_is_just_heated_after_rest(study: Study) -> None:
    # definition (design page): a fold after rest starts cold, a return as its hold time says
    choices = {"configuration": "opposed", "other_set": "just_heated"}
    every = excluded_motions(study, choices)
    assert {"stow_calm, fold", "stow_calm, return", "cold_start"} <= set(every)
    held = study.with_values({"case.stow_calm.hold_time": "60 s"})
    assert set(every) - set(excluded_motions(held, choices)) == {"stow_calm, return"}
    declared = study.with_values({"case.cold_start.other_set": "just_heated"})
    assert set(every) - set(excluded_motions(declared, choices)) == {"cold_start"}
    for state in ("cold", "warmed"):
        assert excluded_motions(study, {**choices, "other_set": state}) == ()


def test_excluded_state_is_prepared_with_its_motions(guess: Appraisal, study: Study) -> None:
    (hot, warmed) = combinations(study, {"other_set": ["just_heated", "warmed"]})
    assert prepare(guess.problem, hot).excluded
    assert prepare(guess.problem, warmed).excluded == ()


def test_table_has_the_design_of_the_study_in_its_own_state(guess: Appraisal) -> None:
    table = other_set_table(guess)
    assert len(table) == 6
    (own,) = table[table["own"]].itertuples()
    assert (own.other_set, own.trained) == ("warmed", False)
    times = times_table(Facts(guess))
    assert own.from_rest_time == times["from_rest_time"].max()
    assert own.fold_time == times.loc[times["what"] == "fold time", "time"].max()
    assert own.peak_power == np.max(guess.values["peak_power"])
    assert own.row == min(row.value for row in guess.rows)
    assert own.verdict == judge(guess).level


def test_excluded_state_is_never_feasible_and_warming_takes_time_and_power(
    guess: Appraisal,
) -> None:
    table = other_set_table(guess).query("not trained").set_index("other_set")
    assert table.loc["just_heated", "verdict"] == "excluded by the cases"
    # definition (design page): warmed, its own heaters come first: time and peak power add
    for name in ("from_rest_time", "peak_power"):
        assert table.loc["warmed", name] > 1.3 * table.loc["just_heated", name]
    # long cold it is detwinned against the drive: less margin than cooled under it
    assert table.loc["cold", "row"] < table.loc["just_heated", "row"]


def test_one_set_has_no_table(study: Study) -> None:
    alone = load_study(STUDIES / "deck_medium_flight_only.toml")
    assert other_set_table(evaluate_analysis(make_problem(alone), lambda _: None)).empty


def test_one_set_from_rest_takes_what_its_leg_takes(study: Study) -> None:
    # definition: nothing is prepared; driven, its set heats; left to the load, its set cools
    alone = load_study(STUDIES / "deck_medium_flight_only.toml")
    table = times_table(Facts(evaluate_analysis(make_problem(alone), lambda _: None)))
    moves = table[table["time"].notna() & (table["what"] != "hold")]
    assert {"fold time", "return time"} <= set(moves["what"])
    np.testing.assert_array_equal(moves["from_rest_time"], moves["time"])
