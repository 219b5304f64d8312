"""The correction of rows and mass: formula, place in the chain, and that zeros do nothing."""

from __future__ import annotations

from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.levels import SHIPPED
from mdo.model.correction import (
    UNCORRECTED,
    Correction,
    corrected_mass,
    corrected_rows,
    scaled_step,
)
from mdo.model.declaration import check_wiring
from mdo.model.layout import DESIGN_LENGTH, LOGARITHMIC, STEPS, split_design
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import OBJECTIVE, ROWS, declare_system
from mdo.optimise.axes import ParametricProblem, written_axes
from mdo.optimise.axes.axis import axes_of
from mdo.optimise.knobs import with_fields
from mdo.optimise.openmdao_problem import problem_from
from mdo.optimise.problem import make_problem
from mdo.optimise.problem_text import problem_context, problem_in
from mdo.study import load_study

STUDY = Path(__file__).parents[2] / "studies" / "deck_medium.toml"
LOW = {"fidelity.optimise.tube": "uniform", "fidelity.verify": {}}
X = np.array(
    [6.8e-3, 0.45, 0.53, 4.7, 5.5, 1.05e8, 1.11e8, 0.854, 2.48, 2.5, 2.02e3, 2.37e3, 473.5, 3e-4,
     1.0, 0.0]
)  # fmt: skip
SIZES = [(3,), ()] + [(2,)] * (len(REQUIREMENTS) - 2)


def numbers(seed: int = 5) -> Correction:
    rng = np.random.default_rng(seed)
    count = 1 + sum(int(np.prod(shape, dtype=int)) for shape in SIZES)
    bend = rng.normal(size=(DESIGN_LENGTH, DESIGN_LENGTH))
    return Correction(
        X * rng.uniform(0.9, 1.1, DESIGN_LENGTH), rng.normal(size=count),
        rng.normal(size=(count, DESIGN_LENGTH)), bend + bend.T,
    )  # fmt: skip


def inputs(x, correction: Correction) -> dict:
    rows = {UNCORRECTED + name: jnp.full(shape, 0.25)
            for name, shape in zip(REQUIREMENTS, SIZES, strict=True)}  # fmt: skip
    return {**split_design(x), **rows, UNCORRECTED + OBJECTIVE: 50.0, "correction": correction}


def test_rows_and_mass_follow_the_formula():
    own = numbers()
    step = np.where(LOGARITHMIC, np.log(np.maximum(X, 1e-9) / np.maximum(own.centre, 1e-9)),
                    (X - own.centre) / STEPS)  # fmt: skip
    rows = corrected_rows(**inputs(X, own))
    assert [row.shape for row in rows] == SIZES
    expected = 0.25 + own.values[1:] + own.slopes[1:] @ step
    assert np.concatenate([np.ravel(row) for row in rows]) == pytest.approx(expected, rel=1e-13)
    (mass,) = corrected_mass(**inputs(X, own))
    second = step @ own.curvature @ step / 2.0
    assert mass == pytest.approx(50.0 + own.values[0] + own.slopes[0] @ step + second, rel=1e-13)


def test_at_the_centre_only_the_values_count():
    own = numbers()
    assert np.abs(scaled_step(own.centre, jnp.asarray(own.centre))).max() == 0.0
    rows = np.concatenate([np.ravel(r) for r in corrected_rows(**inputs(own.centre, own))])
    assert rows == pytest.approx(0.25 + own.values[1:], rel=1e-14)


def test_derivatives_of_rows_and_mass():
    own = numbers()

    def functions(z):
        x = jnp.where(LOGARITHMIC, jnp.exp(z), z)
        given = inputs(x, own)
        return corrected_rows(**given), corrected_mass(**given)

    z = np.where(LOGARITHMIC, np.log(np.maximum(X, 1e-3)), X)
    check_grads(functions, (z,), order=2, modes=["fwd"], rtol=1e-5)


def test_many_designs_at_once_equal_one_by_one():
    own, designs = numbers(), X * np.linspace(0.9, 1.1, 4)[:, None]
    many = jax.vmap(lambda x: corrected_mass(**inputs(x, own))[0])(designs)
    single = [corrected_mass(**inputs(x, own))[0] for x in designs]
    assert many == pytest.approx(np.array(single), rel=1e-14)


def test_it_comes_last_and_gives_what_the_chain_gave_without_it():
    plain = declare_system(report=False)
    system = declare_system(report=False, corrected=True)
    assert [item.name for item in system.disciplines][-2:] == ["mass_correction", ROWS]
    given = {name for item in plain.disciplines for name in item.outputs}
    corrected = {name for item in system.disciplines for name in item.outputs}
    assert given <= corrected
    assert corrected - given == {UNCORRECTED + name for name in (OBJECTIVE, *REQUIREMENTS)}
    parameters = {name for item in system.disciplines for name in item.records}
    check_wiring(system, parameters | {"fold_angle", "path_strain", "path_drag_factor"})


def test_only_a_study_that_corrects_has_numbers_of_a_correction():
    assert make_problem(load_study(STUDY)).correction is None
    corrected = make_problem(
        load_study(STUDY).with_values(LOW | {"fidelity.correct.tube": "radial"})
    )
    assert corrected.study.fidelity.correct == {"tube": "radial"}
    own = corrected.correction
    assert not any(np.any(part) for part in (own.values, own.slopes, own.curvature))
    assert np.size(own.values) == 1 + len(corrected.rows.labels)


def test_another_process_gets_the_same_correction():
    problem = make_problem(load_study(STUDY).with_values(LOW | {"fidelity.correct.tube": "radial"}))
    own = problem.correction._replace(values=np.arange(np.size(problem.correction.values)) / 7.0)
    there = problem_in(problem_context(problem.corrected_by(own), {}))
    assert np.array_equal(there.theta, problem.corrected_by(own).theta)


def test_points_of_a_map_and_turned_knobs_keep_the_correction():
    problem = make_problem(load_study(STUDY).with_values(LOW | {"fidelity.correct.tube": "radial"}))
    blank = problem.correction
    own = blank._replace(values=np.arange(np.size(blank.values)) / 7.0, centre=X)
    problem = problem.corrected_by(own)
    axes = axes_of(problem, {"fold_time": ["500 s", "700 s"]}, "analysis.map.axes")
    context = problem_context(problem, {"axes": written_axes(axes)})
    parametric = ParametricProblem.of_context(context)
    for theta in parametric.theta(np.array([[510.0], [650.0]])):
        there = problem.chain.unpack(theta)["correction"]
        for name, part in own._asdict().items():
            assert np.asarray(getattr(there, name)) == pytest.approx(np.asarray(part)), name
    turned = with_fields(problem, {"requirements.fold_time": 650.0})
    assert np.array_equal(turned.correction.values, own.values)


@pytest.mark.slow
def test_zeros_leave_every_result_where_it_was():
    study = load_study(STUDY).with_values(LOW)
    plain = make_problem(study)
    corrected = make_problem(study.with_values({"fidelity.correct.tube": "radial"}))
    for factor in (0.97, 1.0, 1.02):
        one, other = plain.evaluate(X * factor), corrected.evaluate(X * factor)
        assert one.objective == pytest.approx(other.objective, rel=1e-12)
        for part in ("rows", "objective_slope", "row_slopes"):
            assert getattr(one, part) == pytest.approx(getattr(other, part), rel=1e-12, abs=1e-12)


@pytest.mark.slow
def test_openmdao_problem_has_the_correction_too():
    assert SHIPPED.tube == "radial"
    problem = make_problem(load_study(STUDY).with_values(LOW | {"fidelity.correct.tube": "radial"}))
    rng = np.random.default_rng(3)
    blank = problem.correction
    problem = problem.corrected_by(
        Correction(X, rng.normal(size=np.shape(blank.values)),
                   rng.normal(size=np.shape(blank.slopes)), blank.curvature)
    )  # fmt: skip
    openmdao = problem_from(problem, X)
    openmdao.run_model()
    values = problem.values(X)
    for name in (OBJECTIVE, *problem.chain.row_names):
        theirs = np.reshape(openmdao.get_val(name), values[name].shape)
        assert theirs == pytest.approx(values[name], rel=1e-9, abs=1e-12), name
