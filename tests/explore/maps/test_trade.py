"""What lies between the points of a map: invented maps of a known formula, a map of the study."""

from pathlib import Path

import numpy as np
import pytest

import mdo
from mdo.explore.maps.map import run_map
from mdo.explore.maps.trade import HELD_OUT, UNSURE, YES, best_of, trade_of, unsure_band
from mdo.optimise.problem import make_problem
from mdo.results.work import Work
from mdo.study import load_study
from tests.report.exploration_tables import all_infeasible, map_tables

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
FRESH = 200


def laid(tables, seed=1):
    return trade_of(tables["map_points"], tables["map_axes"], seed)


def check(trade, points):
    """What is asked of a trade page, at points that it has not seen."""
    found = trade.checked(best_of(points, trade.axes))
    met = found[found["feasible"] & found["mass"].notna()]
    assert len(met) > 0.5 * len(found)
    assert (met["error"].abs() <= np.maximum(met["stated"], 0.01)).all()
    assert met["stated"].median() <= 0.01
    unsure = found["verdict"] == UNSURE
    assert unsure.mean() <= 0.10
    sure = found[~unsure]
    assert ((sure["verdict"] == YES) == sure["feasible"]).mean() >= 0.98
    return found


@pytest.mark.parametrize("shape", [{"axes": 2, "levels": 9}, {"axes": 3, "sample": 200}])
def test_masses_and_verdicts_between_the_points_of_an_invented_map(shape):
    trade = laid(map_tables(**shape))
    points = map_tables(axes=shape["axes"], sample=FRESH, seed=8)["map_points"]
    found = check(trade, points)
    lightest = points[points["status"] == YES].sort_values("system_mass", kind="stable")
    choices = lightest.drop_duplicates("point").set_index("point")["choice"]
    met = found[found["feasible"] & (found["verdict"] == YES)]
    assert (met["choice"] == met["point"].map(choices)).mean() > 0.97


def test_points_left_out_are_drawn_by_the_seed_and_in_no_surface():
    tables = map_tables(axes=2, sample=120)
    trade, again, other = laid(tables), laid(tables), laid(tables, seed=2)
    numbers = set(trade.held["point"])
    assert numbers == set(again.held["point"]) != set(other.held["point"])
    whole = tables["map_points"]["point"].nunique()
    assert trade.kept == whole - round(HELD_OUT * whole)
    for one in trade.technologies:
        assert not numbers & {*one.optima["point"], *one.lost["point"]}


def test_a_choice_that_is_infeasible_near_the_edge_is_said_so():
    tables = map_tables(axes=2, levels=9, choices=False)
    corner = np.array([[50.0, 0.5], [140.0, 0.0]])  # hardest and easiest
    assert laid(tables).answers(corner)["verdict"].tolist() == ["not feasible", "feasible"]


def test_unsure_band_is_the_narrowest_with_hardly_a_mistake_outside():
    said = np.linspace(-1.0, 1.0, 401)  # the same at both ends
    wrong = np.abs(said + 0.3) < 0.001  # one point, at -0.3
    assert unsure_band(said, np.zeros_like(wrong)) == pytest.approx(0.0, abs=1e-12)
    assert unsure_band(said, wrong) < 0.3  # one of more than a hundred outside
    many = np.abs(said) < 0.3
    assert unsure_band(said, many) == pytest.approx(0.3, abs=0.01)


def test_a_map_with_nothing_feasible_has_none():
    assert laid(all_infeasible(map_tables(axes=2))) is None


@pytest.mark.slow
def test_masses_and_verdicts_between_the_points_of_a_real_map():
    axes = {"fold_time": ["50 s", "180 s"], "torque_margin": ["10 %", "60 %"],
            "bay_hot": ["40 degC", "62 degC"]}  # fmt: skip
    plain = {"analysis.map.axes": axes, "fidelity.optimise": {"tube": "uniform"},
             "fidelity.verify": {}}  # fmt: skip
    maps = []
    for seed, points in ((1, 300), (77, FRESH)):
        changes = {**plain, "study.seed": seed, "analysis.map.points": points}
        problem = make_problem(load_study(STUDY).with_values(changes))
        with Work(None, "trade", scheduler="serial") as work:
            maps.append(run_map(problem, work, lambda _: None).tables)
    check(laid(maps[0]), maps[1]["map_points"])
