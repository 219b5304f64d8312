"""Legs and static cases that only fill up arrays: shared shapes, no effect on any value."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jax
import numpy as np
import pytest

from mdo.disciplines.levels import LEVELS, SHIPPED
from mdo.disciplines.records import Legs
from mdo.model.declaration import run_disciplines
from mdo.model.layout import DESIGN_LENGTH, split_design
from mdo.model.sizes import LEG_SIZES, STATIC_SIZES, filled, size_for
from mdo.model.system import declare_system
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
MEDIUM, FEWER = "deck_medium", "deck_medium_deck_only"
MANY_LEGS, MANY_STATICS, MANY_ANGLES = 1009, 2003, 3001  # lengths that nothing else has
EVERY_LEVEL = [(kind, level) for kind, levels in LEVELS.items() for level in levels]


@pytest.fixture(scope="module")
def problems() -> dict[str, DesignProblem]:
    return {name: make_problem(load_study(STUDIES / f"{name}.toml")) for name in (MEDIUM, FEWER)}


def middle(problem: DesignProblem) -> np.ndarray:
    return problem.unscale((problem.scale(problem.lower) + problem.scale(problem.upper)) / 2.0)


def shapes(like: Any, *lengths: int) -> Any:
    """Shapes of a record of arrays of these lengths."""
    return jax.tree.map(lambda _: jax.ShapeDtypeStruct(lengths, float), like)


def test_sizes_say_what_an_axis_runs_over() -> None:
    every = [*LEG_SIZES, *STATIC_SIZES, 2]  # 2 sets
    assert len(set(every)) == len(every)
    assert [size_for(n, LEG_SIZES) for n in (1, 12, 13, 97)] == [12, 12, 18, 97]


@pytest.mark.parametrize(("kind", "level"), EVERY_LEVEL)
def test_no_level_gives_an_output_that_could_be_taken_for_one_over_legs(
    problems: dict[str, DesignProblem], kind: str, level: str
) -> None:
    system = declare_system(levels=SHIPPED._replace(**{kind: level}))
    given = {**problems[MEDIUM].assembled.parameters, "vehicle_mass": 1.0}
    known = {name: shapes(value) for name, value in given.items()}
    known["planform"] = jax.tree.map(
        lambda part: jax.ShapeDtypeStruct(np.shape(part), float), given["planform"]
    )
    known["legs"] = shapes(given["legs"], MANY_LEGS)
    known["statics"] = shapes(given["statics"], MANY_STATICS)
    moments = jax.ShapeDtypeStruct((MANY_LEGS, MANY_ANGLES), float)
    known |= dict.fromkeys(("fold_angle", "table_moment_low", "table_moment_high"), moments)
    held = jax.ShapeDtypeStruct((MANY_STATICS,), float)
    known |= dict.fromkeys(("static_table_low", "static_table_high"), held)
    known["choices"] = known["choices"]._replace(set_present=jax.ShapeDtypeStruct((2,), float))

    def everything(x: Any, known: dict[str, Any]) -> dict[str, Any]:
        return run_disciplines(system.disciplines, {**known, **split_design(x)})

    outputs = jax.eval_shape(everything, jax.ShapeDtypeStruct((DESIGN_LENGTH,), float), known)
    of_system = [name for item in system.disciplines for name in item.outputs]
    first = {name: outputs[name].shape[0] for name in of_system if outputs[name].shape}
    assert MANY_LEGS in first.values()
    assert MANY_STATICS in first.values()
    mistaken = {*LEG_SIZES, *STATIC_SIZES, MANY_ANGLES}
    assert {name: length for name, length in first.items() if length in mistaken} == {}


def test_studies_of_other_numbers_of_cases_share_one_chain(
    problems: dict[str, DesignProblem],
) -> None:
    counts = {len(problem.assembled.legs) for problem in problems.values()}
    assert len(counts) == 2
    assert problems[MEDIUM].chain is problems[FEWER].chain


@pytest.mark.parametrize("name", [MEDIUM, pytest.param(FEWER, marks=pytest.mark.slow)])
def test_values_are_those_of_the_study_without_what_fills(
    problems: dict[str, DesignProblem], name: str
) -> None:
    problem = problems[name]
    x = middle(problem)
    got = problem.values(x)
    known = {**problem.assembled.parameters, **split_design(x)}  # its own sizes, nothing filled
    known["vehicle_mass"] = got["closed_vehicle_mass"]
    wanted = jax.jit(lambda values: run_disciplines(problem.chain.system.disciplines, values))(
        known
    )
    for key, value in got.items():
        own = np.asarray(wanted[key])
        assert value.shape == own.shape, key
        # a residual is round-off of what it is relative to, 1; others have their own size
        size = np.max(np.abs(own), where=np.isfinite(own), initial=1e-300)
        scale = 1.0 if key == "ledger_residual" else size
        np.testing.assert_allclose(value, own, rtol=1e-9, atol=1e-12 * scale, err_msg=key)


@pytest.mark.parametrize("name", [MEDIUM, FEWER])
def test_rows_that_only_fill_never_count_and_those_of_the_study_all_do(
    problems: dict[str, DesignProblem], name: str
) -> None:
    problem = problems[name]
    legs, cases = len(problem.assembled.legs), len(problem.assembled.statics)
    for label in problem.counting_labels:
        assert label.leg < (cases if label.group == "static_self_start" else legs)
    gates = [label.leg for label in problem.counting_labels if label.group == "self_start"]
    assert gates == list(range(legs))


def test_what_is_full_stays_as_it_is(problems: dict[str, DesignProblem]) -> None:
    whole = filled(problems[FEWER].assembled.parameters)
    jax.tree.map(np.testing.assert_array_equal, filled(whole), whole)
    assert isinstance(whole["legs"], Legs)
