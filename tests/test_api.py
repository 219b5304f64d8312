"""The interface for Python: what `mdo` offers at its top."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import mdo

STUDY = Path(__file__).parents[1] / "studies" / "deck_medium.toml"
DESIGN = {
    "tube_outer_radius": 7.43e-3,
    "wall_ratio": 0.699,
    "tube_length": 0.595,
    "tube_count": (4.65, 5.5),
    "operating_stress": (1.046e8, 1.11e8),
    "gear_ratio": 0.854,
    "pre_twist": (2.48, 2.495),
    "heater_power": (2020.0, 2370.0),
    "hot_temperature": 473.5,
    "insulation_thickness": 2.87e-4,
    "spring_moment": 1.0,
    "spring_rate": 0.0,
}


def test_evaluate_gives_values_rows_and_a_verdict():
    appraisal = mdo.evaluate(mdo.load_study(STUDY), DESIGN)
    # near the optimum of this study: the roll-up is what its lines say
    lines = appraisal.values["mass_lines"].sum() + appraisal.values["mass_growth"].sum()
    assert appraisal.mass == pytest.approx(float(lines), rel=1e-12)
    assert len(appraisal.rows) == int(appraisal.problem.rows.counts.sum())
    assert mdo.judge(appraisal).level in {"infeasible", "feasible with open items"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tube_lenght": 0.5}, "tube_lenght"),
        ({"tube_length": float("nan")}, r"design\.tube_length: got nan"),
        ({"tube_count": (1.0, 2.0, 3.0)}, r"expected 2 finite"),
    ],
)
def test_evaluate_refuses_what_is_no_design(change, words):
    with pytest.raises(ValueError, match=words):
        mdo.evaluate(mdo.load_study(STUDY), DESIGN | change)


@pytest.mark.slow
def test_build_problem_takes_a_component_of_the_user():
    import openmdao.api as om

    price = om.ExecComp("price = 2000.0 * alloy_mass", alloy_mass={"units": "kg"})

    def extend(model):
        model.add_subsystem("cost", price, promotes=["*"])

    problem = mdo.build_problem(mdo.load_study(STUDY), extend=extend)
    problem.run_model()
    mass = float(problem.get_val("alloy_mass")[0])
    assert float(problem.get_val("price")[0]) == pytest.approx(2000.0 * mass)
    assert mass > 0.0


def test_run_is_a_function_though_a_package_has_its_name(tmp_path):
    # the order of the README, in a process of its own: what is imported first counts
    words = (
        "import mdo, mdo.run.analyses\n"
        f"study = mdo.load_study({str(STUDY)!r})\n"
        "assert mdo.run.analyses.run_study\n"
        "try:\n    mdo.run('missing.toml')\n"
        "except mdo.study.StudyError as error:\n    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", words], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert "missing.toml" in done.stdout
