"""Tables and lines of fronts, from fronts known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from mdo.explore.exploration import Choice, Exploration, built_table
from mdo.explore.fronts.curve import breaks, infeasible_gaps, knee_of, trace_curve
from mdo.explore.fronts.front import Front, front_tables
from mdo.explore.fronts.known_points import KnownPoints, Range
from mdo.explore.fronts.study_front import objectives_of
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.many.solution import Optima
from mdo.report.words.explorations import sentences
from tests.explore.fronts.known import Along, normal, silent, zdt1, zdt3

WITHIN = Range(-0.3, 1.0)


def traced(problem, curve, words):
    """A known front as if it had been traced for a study."""
    found = KnownPoints([WITHIN], Along(curve))
    result = trace_curve(found, 20, silent)
    unknown = dict.fromkeys(Optima._fields, np.full(len(found.status), np.nan))
    designs = np.tile(found.bounds[:, :1], len(problem.labels))
    outputs = np.full((len(found.status), len(OUTPUTS)), np.nan)
    optima = Optima(**{**unknown, "designs": designs, "outputs": outputs})
    knee = knee_of(normal(found, result.places, result.ends))
    gaps = (*breaks(found, result), *infeasible_gaps(found, result.ends))
    return Front(words, found, result.places, knee, gaps, optima)


def built(problem, *words):
    return built_table(problem.study, [Choice(one, problem, "") for one in words])


@pytest.fixture(scope="module")
def two(small):
    """Two fronts that cross: the one in parts is better at first."""
    objectives = objectives_of(small)
    fronts = [traced(small, zdt1, "plain"), traced(small, zdt3, "wavy")]
    return objectives, front_tables(small, objectives, fronts, built(small, "plain", "wavy"))


def test_points_come_in_their_order_with_their_designs(two, small):
    _, tables = two
    points = tables["front_points"]
    for _, own in points[points["place"] >= 0].groupby("front"):
        assert own["place"].tolist() == list(range(len(own)))
        assert own["fold_time"].is_monotonic_increasing
        assert own["system_mass"].is_monotonic_decreasing
        assert own[small.labels[0]].tolist() == own["fold_time"].tolist()
        assert own["knee"].sum() == 1


def test_slopes_are_those_of_the_front(two):
    _, tables = two
    points = tables["front_points"]
    own = points[(points["front"] == "plain") & (points["fold_time"] > 0.01)]
    assert own["trade.fold_time"].to_numpy() == pytest.approx(
        -0.5 / np.sqrt(own["fold_time"].to_numpy()), rel=1e-2
    )


def test_bounds_without_a_design_are_listed_with_reason(two):
    points = two[1]["front_points"]
    rest = points[points["place"] < 0]
    assert set(rest["status"]) == {"infeasible"}
    assert set(rest["reason"]) == {"too tight"}
    assert rest["system_mass"].isna().all()
    assert (rest["fold_time"] < 0.0).all()


def test_front_of_all_choices_holds_what_none_of_them_beats(two):
    points = two[1]["front_points"]
    on, best = points[points["place"] >= 0], points[points["overall"]]
    assert set(best["front"]) == {"plain", "wavy"}
    for row in best.itertuples():
        better = (on["fold_time"] < row.fold_time - 1e-3) & (
            on["system_mass"] < row.system_mass - 1e-3
        )
        assert not better.any()


def test_objectives_say_what_is_best_and_worst(two):
    table = two[1]["front_objectives"].set_index("objective")
    assert table.loc["system_mass", "low"] == pytest.approx(
        zdt3(np.array([0.8518329]))[0], abs=1e-2
    )
    assert table.loc["fold_time", ["unit", "better"]].tolist() == ["s", "less"]


def test_gaps_have_both_ends_in_the_units_of_the_objective(two):
    gaps = two[1]["front_gaps"]
    assert (gaps["fold_time_from"] < gaps["fold_time_to"]).all()
    assert (gaps["front"] == "wavy").sum() == 5


def test_lines_say_ends_knee_gaps_and_winners(two, small):
    objectives, tables = two
    text = "\n".join(sentences(Exploration("front", small, tables, {}, objectives)))
    assert "plain: 20 exact points: system mass (bound) from" in text
    assert "The knee, the point farthest from the chord" in text
    assert "wavy: No point of the front with fold time from" in text
    assert "is on the front of all choices at" in text
    assert "these cases keep their own: First fold after a night in the cold" in text


def test_front_without_a_point_says_why(small):
    objectives = objectives_of(small)
    found = KnownPoints([WITHIN])
    found.note(np.array([360.0]), "not a study: no such alloy")
    none = Front("odd", found, np.array([], dtype=np.intp), None, (), None)
    tables = front_tables(small, objectives, [none], built(small, "odd"))
    assert tables["front_points"]["status"].tolist() == ["infeasible"]
    lines = sentences(Exploration("front", small, tables, {}, objectives))
    assert lines[0].startswith("The front has no point")
    assert lines[1] == "odd: not a study: no such alloy."
