"""Requirement maps: points, choices that win, sentences; the whole of it on the small study."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import mdo
from mdo.explore.exploration import INTERPOLATED, NOT_CORRECTED, Exploration
from mdo.explore.fronts.front import levels_of
from mdo.explore.maps.dear import dear_figures
from mdo.explore.maps.map import _best, _choices, grid_of, run_map
from mdo.explore.sweeps.space import FACTORIAL, LATIN, SOBOL
from mdo.explore.sweeps.sweep import AS_THEY_ARE
from mdo.optimise.axes import axes_of
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.optimise.reoptimise import reoptimise
from mdo.optimise.verify import fed_back, paths_of, verified_optimum, verify
from mdo.report.words.explorations import sentences
from mdo.results.work import Work
from mdo.run.design_analyses import continuous_optimum
from mdo.run.explorations import explore, levels_words
from mdo.study import load_study
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import scaled

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
TORQUE_MARGIN = "requirements.torque_margin"
RANGES = {"fold_time": ("80 s", "140 s"), "torque_margin": ("10 %", "40 %")}


@pytest.fixture(scope="module")
def problem():
    return make_problem(load_study(STUDY))


def planned(ranges, *, seed=0, **plan):
    plan["axes"] = {name: list(ends) for name, ends in ranges.items()}
    changes = {f"analysis.map.{name}": value for name, value in plan.items()}
    return make_problem(load_study(STUDY).with_values({"study.seed": seed, **changes}))


@pytest.fixture(scope="module")
def axes(problem):
    return axes_of(problem, RANGES, "axes")


def test_grid_holds_every_combination_of_levels():
    levels = {"fold_time": 3, "torque_margin": 2}
    points = grid_of(planned(RANGES, sample=FACTORIAL, levels=levels)).points
    assert [tuple(point) for point in points.round(6)] == [
        (t, m) for t in (80.0, 110.0, 140.0) for m in (0.1, 0.4)
    ]


def test_a_map_of_a_study_that_plans_none_is_refused(problem):
    with pytest.raises(StudyError, match=r"analysis\.map\.axes: missing, expected one axis"):
        grid_of(problem)


@pytest.mark.parametrize("sample", [LATIN, SOBOL])
def test_samples_lie_in_their_ranges_and_repeat(sample):
    problem = planned(RANGES, sample=sample, points=16, seed=5)
    points = grid_of(problem).points
    assert points.shape == (16, 2)
    assert (points >= [80.0, 0.1]).all()
    assert (points <= [140.0, 0.4]).all()
    np.testing.assert_array_equal(points, grid_of(problem).points)


POINTS = pd.DataFrame(
    {
        "point": [0, 1, 2, 0, 1, 2],
        "fold_time": [80.0, 100.0, 120.0] * 2,
        "choice": ["a"] * 3 + ["b"] * 3,
        "status": ["infeasible", "feasible", "feasible", "infeasible", "infeasible", "feasible"],
        "reason": ["Fold time; Wall", "", "", "Fold time", "Fold time", ""],
        "system_mass": [np.nan, 5.0, 4.0, np.nan, np.nan, 3.0],
        "kkt_residual": [np.nan, 1e-9, 4e-4, np.nan, np.nan, 1e-9],
        "cost.fold_time": [np.nan, -0.02, -0.01, np.nan, np.nan, -0.03],
    }
)
AXES = pd.DataFrame(
    [{"axis": "fold_time", "title": "Fold time", "unit": "s", "low": 80.0, "high": 120.0,
      "per": "s", "step": 1.0, "easier": 1}]
)  # fmt: skip


def test_lightest_choice_wins_at_each_point():
    best = _best(POINTS, 3)
    assert list(best["choice"]) == ["", "a", "b"]
    assert best["system_mass"].isna().tolist() == [True, False, False]
    choices = _choices(POINTS, best).set_index("choice")
    assert choices.loc["a", ["feasible", "wins"]].tolist() == [2, 1]
    assert choices.loc["b", ["feasible", "wins"]].tolist() == [1, 1]


def test_sentences_say_what_is_feasible_what_it_costs_and_why_not(problem):
    best = _best(POINTS, 3)
    tables = {"map_points": POINTS, "map_axes": AXES, "map_best": best,
              "map_choices": _choices(POINTS, best)}  # fmt: skip
    said = " ".join(sentences(Exploration("map", problem, tables, {})))
    assert "2 have a feasible optimum" in said
    assert "from 3 to 5 kg" in said
    assert "fold time 0.02 kg per s" in said
    assert "Fold time (3)" in said
    assert "At 1 of them the conditions of an optimum hold only to 0.0004" in said


@pytest.mark.slow
def test_map_of_the_small_study_is_what_one_at_a_time_finds(problem, axes):
    choices = {"cooling": ["passive", "blower"]}
    levels = {"fold_time": 3, "torque_margin": 2}
    mapped = planned(RANGES, sample=FACTORIAL, levels=levels, choices=choices)
    with Work(None, "0" * 64, scheduler="serial") as work:
        found = run_map(mapped, work, lambda _: None)
    points = found.tables["map_points"]
    assert len(points) == 12
    assert sum(found.status_counts.values()) == 12
    from mdo.defend.choices.combinations import combinations, prepare
    from mdo.optimise.knobs import turned

    for combination in combinations(problem.study, choices):
        base = prepare(problem, combination).problem
        own = points[points["choice"] == combination.words].reset_index(drop=True)
        for number in (0, 5):
            row = own.iloc[number]
            alone = find_optimum(
                turned(base, {axis.knob: float(row[axis.name]) for axis in axes}), starts=3
            )
            assert (row["status"] == "feasible") == alone.feasible
            if alone.feasible:
                assert row["system_mass"] <= alone.mass * (1.0 + 1e-6)
                assert alone.mass <= row["system_mass"] * (1.0 + 1e-4)


@pytest.mark.slow
def test_sizes_of_a_map_are_the_scaled_studies(problem):
    """Each size is the study scaled by the law, with the fold time that is asked for at it."""
    ranges = {"vehicle_size.mach": (0.8, 1.25), "fold_time": ("90 s", "130 s")}
    levels = {"vehicle_size.mach": 3, "fold_time": 2}
    mapped = planned(ranges, sample=FACTORIAL, levels=levels)
    with Work(None, "0" * 64, scheduler="serial") as work:
        points = run_map(mapped, work, lambda _: None).tables["map_points"]
    assert (points["status"] == "feasible").sum() >= 3
    for row in points.to_dict("records"):
        study = scaled(problem.study, "mach", row["vehicle_size.mach"])
        own = study.with_values({"requirements.fold_time": f"{row['fold_time']} s"})
        alone = find_optimum(make_problem(own), starts=3)
        assert (row["status"] == "feasible") == alone.feasible
        if alone.feasible:
            assert row["system_mass"] == pytest.approx(alone.mass, rel=1e-6)
            assert np.isfinite(row["cost.vehicle_size.mach"])


DEAR = {"fidelity.optimise.heat": "balance", "fidelity.correct.heat": "network"}


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        (INTERPOLATED, "corrected to heat network, interpolated between points optimised"),
        (levels_of([SimpleNamespace(axis="a")]), "interpolated between points optimised"),
        (levels_of([SimpleNamespace(axis=None)]), "the error elsewhere is not known"),
        (AS_THEY_ARE, "heat network, each design as it is"),
        (NOT_CORRECTED, "heat balance; nothing is corrected here"),
    ],
)
def test_an_exploration_of_corrected_rows_says_at_which_levels_it_stands(levels, said):
    study = load_study(STUDY).with_values(DEAR)
    (line,) = levels_words(SimpleNamespace(levels=levels, study=study))
    assert said in line
    assert "verified" not in line


@pytest.mark.slow
def test_a_map_of_corrected_rows_is_that_of_the_dear_levels_within_its_bounds():
    """Heat corrected to the network; points held out are optimised at it and judge the bound."""
    ranges = {"fold_time": ("170 s", "230 s")}
    plan = {"axes": {name: list(ends) for name, ends in ranges.items()}, "points": 16}
    plan |= {"sample": LATIN, "dear_points": 8, "held_out": 4, "looks": 0}
    changes = DEAR | {f"analysis.map.{name}": value for name, value in plan.items()}
    problem = make_problem(load_study(STUDY).with_values(changes))
    with Work(None, "dear") as work:
        found = run_map(problem, work, lambda _: None)
    points = found.tables["map_points"]
    assert (points["status"] == "feasible").all()
    dear = points[points["dear"] == "solved dear"]
    assert 6 <= len(dear) <= 8
    np.testing.assert_allclose(dear["system_mass"], dear["dear_mass"], rtol=1e-6)
    figures = dear_figures(points)
    assert (figures.held_out, figures.mass_bound_unknown) == (4, 0)
    assert figures.held_out_inside >= 3
    assert figures.mass_bound_median < 0.005
    assert any(f"{figures.held_out_inside} of 4 inside" in said for said in sentences(found))


@pytest.mark.slow
def test_map_at_the_values_of_the_study_is_the_bound_that_its_optimum_prints():
    changes = {"axes": {"torque_margin": ["25 %", "40 %"]}, "sample": FACTORIAL, "looks": 0}
    changes |= {"levels": {"torque_margin": 2}}
    study = load_study(STUDY.with_name("deck_medium.toml")).with_values(
        {f"analysis.map.{name}": value for name, value in changes.items()}
        | {"analysis.optimum.starts": 1}
    )
    problem = make_problem(study)
    optimum = continuous_optimum(problem, print)
    bound, _ = verified_optimum(problem, optimum, print)
    with Work(None, "0" * 64) as work:
        found = explore("map", problem, work, print, paths_of(bound.problem))
    masses = found.tables["map_points"]["system_mass"]
    assert masses[0] == pytest.approx(bound.mass, rel=1e-4)
    assert optimum.mass > bound.mass * 1.05
    assert len(found.tables["path_factors"]) == len(bound.problem.assembled.legs)
    # away from it: what the paths of the design there take makes little difference
    frozen = reoptimise(with_fields(bound.problem, {TORQUE_MARGIN: 0.4}), bound.design)
    assert masses[1] == pytest.approx(frozen.mass, rel=1e-6)
    own = frozen.problem
    marched = verify(own, frozen.design, own.values(frozen.design))
    again, _ = fed_back(frozen, marched, print)
    assert frozen.mass == pytest.approx(again.mass, rel=2e-3)
