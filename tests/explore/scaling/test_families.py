"""Families: the pure one agrees with theory, each size by the optimiser; the full one is honest.

Theory is dimensional analysis, derived in :mod:`mdo.explore.scaling.family` and checked against the
reference table in ``test_laws``.
"""

from __future__ import annotations

import numpy as np
import pytest

from mdo.explore.scaling.family import Family
from mdo.explore.scaling.scaling import run_scaling
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.report.words.explorations import sentences
from mdo.results.work import Work
from mdo.study.scaling_laws import LAWS

AGREES = 0.01


def explored(problem, modes, **plan):
    changes = {f"analysis.scaling.{name}": list(value) for name, value in plan.items()}
    planned = make_problem(problem.study.with_values(changes))
    with Work(None, "x" * 64, scheduler="serial") as work:
        return run_scaling(planned, work, lambda _: None, modes)


@pytest.mark.slow
def test_exponents_of_the_pure_family_agree_with_theory(medium_problem):
    found = explored(medium_problem, modes=("pure",), sizes=(0.25, 0.5, 1.0, 2.0, 4.0))
    table = found.tables["scaling_exponents"]
    assert found.status_counts == {"feasible": 5 * len(LAWS)}
    known = table[table["theory"].notna()]
    off = (known["exponent"] - known["theory"]).abs()
    assert len(known) >= 10 * len(LAWS)
    assert off.max() <= AGREES, known.assign(off=off).sort_values("off").tail().to_string()
    assert (found.tables["scaling_points"]["kkt_residual"] < 1e-5).all()
    assert sum("agrees with theory" in line for line in sentences(found)) == len(LAWS)


@pytest.mark.slow
def test_pure_optimum_is_found_from_starts_that_know_nothing_of_theory(medium_problem):
    family = Family(medium_problem, "dynamic", "pure")
    (_, large) = family.solve([1.0, 2.0])
    assert large.optimum is not None
    cold = find_optimum(large.optimum.problem, starts=3)
    assert cold.feasible
    assert cold.mass == pytest.approx(large.optimum.mass, rel=1e-5)


@pytest.mark.slow
def test_full_family_has_a_status_and_a_reason_at_every_size(medium_problem):
    sizes = (0.25, 0.7, 1.0, 1.4, 4.0)
    found = explored(medium_problem, modes=("full",), laws=("mach",), sizes=sizes)
    points = found.tables["scaling_points"].set_index("size")
    assert points.loc[0.25, "status"] == "not settled"
    assert "case.manoeuvre.load_factor: out of range" in points.loc[0.25, "reason"]
    good = points["status"] == "feasible"
    assert good[[0.7, 1.0, 1.4]].all()
    assert (points.loc[good, "reason"] == "").all()
    assert (points.loc[~good, "reason"] != "").all()
    assert points.loc[~good, "system_mass"].isna().all()
    alone = find_optimum(medium_problem, starts=4)
    assert points.loc[1.0, "system_mass"] == pytest.approx(alone.mass, rel=1e-6)
    changes = found.tables["scaling_changes"]
    # heat is stored in the volume and leaves through the surface: limits of time come with the size
    appears = dict(zip(changes["size"], changes["appears"], strict=True))
    assert "Return time" in appears[1.4]
    assert "Warm-up of the other set" in appears[4.0]
    assert np.isfinite(points.loc[good, "vehicle_mass"]).all()
