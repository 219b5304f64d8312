"""Sizing of the small study for a probability: what comes out, and whether other samples agree."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize

import mdo
from mdo.explore.assurance.assurance import run_assurance
from mdo.explore.assurance.judged import drawn_steps, judged_inputs
from mdo.explore.assurance.sizing import settle
from mdo.explore.assurance.study_samples import StudySamples
from mdo.optimise.optimum import find_optimum
from mdo.optimise.own_paths import with_own_paths
from mdo.optimise.problem import make_problem
from mdo.report.words.explorations import sentences
from mdo.results.work import Work
from mdo.run.analyses import run_study
from mdo.study import load_study

pytestmark = pytest.mark.slow
STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"
# The closed forms of every discipline: a hundred times cheaper than the levels of the file.
LOW = {"hinge_moment": "strip", "tube": "uniform", "heat": "balance"}
# What the small wing has no room for until it is tested.
TESTED = [
    "alloy.declared_life_cycles", "alloy.declared_life_stress", "alloy.declared_life_strain",
    "alloy.strain_factor", "alloy.strain_rate_constant", "alloy.strain_threshold_stress",
    "alloy.detwinning_start_stress", "alloy.allowable_shear_stress",
    "assumptions.bundle.gear_surface_factor", "assumptions.bundle.gear_face_ratio_max",
    "assumptions.bundle.cold_end_length_ratio", "assumptions.bundle.sharing_efficiency",
]  # fmt: skip


def study(**plan):
    changes = {f"analysis.assurance.{name}": value for name, value in plan.items()}
    low = {"fidelity.optimise": LOW, "fidelity.verify": {}}
    return load_study(STUDY).with_values({**low, "analysis.assurance.known": TESTED, **changes})


def explored(**plan):
    work = Work(None, "test")
    with work:
        return run_assurance(make_problem(study(**plan)), work, lambda _: None)


@pytest.fixture(scope="module")
def found():
    return explored(
        probabilities=[0.5, 0.9, 0.99], samples=2048, confirmation=20_000, measured=1,
        axes={"fold_time": ["150 s", "240 s"], "torque_margin": ["10 %", "40 %"]}, steps=2,
    )  # fmt: skip


def test_probability_asked_is_that_of_20000_samples_of_another_seed(found):
    designs = found.tables["assurance_designs"]
    assert (designs["status"] == "feasible").all()
    off = np.abs(designs["confirmed"] - designs["probability"])
    assert (off <= [0.01, 0.01, 0.003]).all(), off
    assert (np.diff(designs["system_mass"]) > 0.0).all()


def test_what_is_known_saves_mass_and_requirements_move_the_probability(found):
    inputs, points = found.tables["assurance_inputs"], found.tables["assurance_map"]
    added = found.tables["assurance_designs"]["added"].iloc[1]
    assert inputs["spent"].sum() == pytest.approx(added)
    assert inputs["saved"].iloc[0] > 0.0
    assert len(points) == 4
    easy = points[(points["fold_time"] == 240.0) & (points["torque_margin"] == 0.1)]
    assert float(easy["confirmed"].iloc[0]) == points["confirmed"].max()
    assert "Probability 90.0 %" in " ".join(sentences(found))


def test_a_requirement_that_no_mass_buys_is_named_and_the_rest_is_kept():
    """The declared cycles may be fewer than the folds ask for: that is so in nearly half."""
    found = explored(
        probabilities=[0.1, 0.9], samples=128, confirmation=64, measured=0,
        inputs=["alloy.declared_life_cycles", "alloy.density"], known=[],
    )  # fmt: skip
    designs = found.tables["assurance_designs"]
    assert designs["status"].tolist() == ["feasible", "infeasible"]
    assert "No mass buys more than" in designs["reason"].iloc[1]
    assert "Life" in designs["reason"].iloc[1]


def test_what_is_trimmed_after_the_build_saves_mass_and_other_samples_agree():
    plan = {"probabilities": [0.9], "samples": 256, "confirmation": 512, "measured": 0}
    fixed, trimmed = (
        explored(**plan, trimmed=names).tables["assurance_designs"].iloc[0]
        for names in ([], ["hot_temperature", "heater_power"])
    )
    assert trimmed["status"] == "feasible"
    assert trimmed["system_mass"] < fixed["system_mass"]
    assert trimmed["confirmed"] == pytest.approx(0.9, abs=0.03)


def test_a_run_repeats_its_bits_and_is_taken_up(tmp_path):
    own = study(probabilities=[0.5], samples=64, confirmation=64, measured=0)
    own = replace(own, analyses=("assurance",))
    tables = []
    for root in ("one", "two"):
        outcome = run_study(own, results_root=tmp_path / root, scheduler="serial")
        folder = outcome.done[-1].folder
        tables.append((folder / "assurance_designs.csv").read_bytes())
        summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        assert summary["status_counts"] == {"feasible": 1}
    assert tables[0] == tables[1]


CLOSED = {"fidelity.optimise": LOW, "fidelity.verify": {}}
# At the levels of the file no design within its own bound of 0.5 was found that holds in all.
ROOMY = {"design.gear_ratio.lower": 0.2}


@pytest.mark.parametrize("levels", [CLOSED, ROOMY], ids=["closed", "of the file"])
def test_each_of_200_fixed_samples_weighs_what_a_solver_finds_on_all_their_rows(levels):
    """General solver (scipy's SLSQP), given every row of every sample with its slope."""
    known = {"analysis.assurance.known": TESTED}
    problem = make_problem(load_study(STUDY).with_values(levels | known))
    problem = with_own_paths(problem, lambda _: None)
    samples = StudySamples(problem, judged_inputs(problem))
    steps = drawn_steps(problem, samples.inputs, 200, 1)
    sampled, _ = samples.sampled(samples.parameters(steps))
    start = samples.scaled(find_optimum(problem, starts=2).design)
    end = settle(sampled, start, 0)
    assert end.holds
    every = np.arange(200)
    assert sampled.rows(end.z, every).min() > -1e-6
    best = minimize(
        lambda z: sampled.nominal(z).objective, end.z + 0.02, method="SLSQP",
        jac=lambda z: sampled.nominal_slopes(z).objective,
        bounds=list(zip(sampled.lower, sampled.upper, strict=True)),
        constraints={
            "type": "ineq", "fun": lambda z: sampled.rows(z, every).ravel(),
            "jac": lambda z: sampled.slopes(z, every).reshape(-1, z.size),
        },
        options={"ftol": 1e-9, "maxiter": 60},
    )  # fmt: skip
    assert sampled.rows(best.x, every).min() > -1e-5
    assert end.objective == pytest.approx(best.fun, rel=1e-3)
