"""The batched optimiser on the shipped medium study: agreement with one optimum at a time.

Slow: the batched derivatives take half a minute to compile where the cache does not have them.
"""

from pathlib import Path

import numpy as np
import pytest

import mdo
from mdo.explore.batch.chain_problems import chain_model, chain_problems, distinct
from mdo.explore.batch.lanes import Solver, best_of
from mdo.explore.batch.sqp import INFEASIBLE, OPTIMAL, Options
from mdo.explore.knob_list import requirements_of
from mdo.explore.knobs import turned
from mdo.explore.optimum import find_optimum
from mdo.explore.problem import make_problem
from mdo.explore.starts import starting_designs
from mdo.study import load_study

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_medium.toml"
LONGER, SHORTER = 360.0, 120.0  # fold times: one to relax, one that no design meets


@pytest.fixture(scope="module")
def base():
    return make_problem(load_study(STUDY))


@pytest.fixture(scope="module")
def optimum(base):
    return find_optimum(base)


@pytest.fixture(scope="module")
def problems(base):
    fold_time = next(k for k in requirements_of(base) if k.name == "fold_time")
    return [base, *(turned(base, {fold_time: value}) for value in (LONGER, SHORTER))]


@pytest.fixture(scope="module")
def solved(base, optimum, problems):
    solver = Solver(chain_model(base), width=32, options=Options())
    start = base.unscale(base.scale(optimum.design) + 0.02 * base.active)
    batch = chain_problems(problems, np.tile(start, (len(problems), 1)), optimum.mass)
    batch, blocked = distinct(solver, batch)
    assert not blocked.any()
    return batch, solver.solve(batch)


@pytest.mark.slow
def test_feasible_optima_agree(problems, optimum, solved):
    _, ends = solved
    again = [find_optimum(one, starts=1, first=optimum.design) for one in problems[:2]]
    assert (ends.status[:2] == OPTIMAL).all()
    masses = [one.mass / optimum.mass for one in again]
    np.testing.assert_allclose(ends.f[:2], masses, rtol=1e-7)
    assert ends.residual[:2].max() <= 1e-7


@pytest.mark.slow
def test_infeasible_study_has_the_same_least_violation(base, problems, optimum):
    """Best of the same starts: the violation of this one has several local minima 1 % apart."""
    short = problems[2]
    designs = [optimum.design, *(start.design for start in starting_designs(short, 3))]
    solver = Solver(chain_model(base), width=32)
    batch = chain_problems([short] * len(designs), np.array(designs), optimum.mass)
    found = best_of(solver.solve(distinct(solver, batch)[0]), np.zeros(len(designs), dtype=int))
    alone = find_optimum(short, starts=3, first=optimum.design)
    assert not alone.feasible
    assert found.status[0] == INFEASIBLE
    # one at a time stops at a weight of 100 on the violation, so it may end a little higher
    assert 0.97 * alone.violation < found.violation[0] < 1.001 * alone.violation


@pytest.mark.slow
def test_multipliers_are_those_of_one_at_a_time(base, optimum, solved):
    """Sums over the rows of each group, because copies share a multiplier."""
    _, ends = solved
    alone = np.zeros(base.rows.counts.size)
    alone[base.counting] = optimum.multipliers
    groups = np.array([label.group for label in base.rows.labels])
    for group in np.unique(groups):
        together = ends.multipliers[0][groups == group].sum() * optimum.mass
        assert together == pytest.approx(alone[groups == group].sum(), rel=1e-4, abs=1e-4)


@pytest.mark.slow
def test_copies_are_left_out(problems, solved):
    batch, _ = solved
    for one, counts in zip(problems, batch.counts, strict=True):
        assert 0 < counts.sum() < one.rows.counts.sum()
        assert not (counts & ~one.rows.counts).any()
