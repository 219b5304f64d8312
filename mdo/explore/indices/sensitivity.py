"""The analysis `sensitivity`: what of the inputs moves a design's figures, and the optimum's mass.

Inputs of a design are screened by Morris' effects; the Sobol indices of an output are those of the
inputs with the largest effects on it, the others held at the study's values. Inputs of the optimum
are first moved alone to both ends of their ranges: of a hundred that all move at once nearly every
combination is infeasible, so whole trajectories of optima through all of them are not to be had.
Those with the largest effects on the mass are left to move together; both methods take them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache, partial
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
import pandas as pd
from jax import Array

from mdo.arrays import Floats, Indices
from mdo.explore.exploration import Exploration, Say, counted
from mdo.explore.indices.methods import Morris, Sobol
from mdo.explore.indices.subject import (
    Evaluated,
    Evaluator,
    Input,
    Screened,
    Subject,
    agrees,
    inputs_of,
    study_subject,
)
from mdo.model.system import OBJECTIVE
from mdo.optimise.axes import ParametricProblem, written_axes
from mdo.optimise.blocks import in_blocks
from mdo.optimise.idle_rows import FEASIBLE as HOLDS
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.solution import starts_at
from mdo.optimise.optimum import Optimum, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_context
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN
from mdo.results.work import Columns, Work, in_parts
from mdo.study.analyses import SENSITIVITIES

FUNCTION = f"{__name__}:evaluate_chunk"
BATCH = 512  # points evaluated at once
CHUNK = 4096  # points of one piece of work
PLAIN = ("system_mass", "peak_power", "sortie_energy")
TORQUE = "torque_margin_min"
# Margins that are rows: stress and twist left at the factored moment (the torque margin itself is a
# ratio to a moment that may vanish, so few points can rule its variance), logarithms of limit over
# time (never reached is a large number, not a hole in the sample), life (a logarithm of the Miner
# sum) or the share left of a declared stress.
MARGINS = {
    "stress_margin": "drive_stress",
    "twist_margin": "drive_strain",
    "fold_time_margin": "fold_time_row",
    "return_time_margin": "return_time_row",
    "life_margin": "life",
    "declared_stress_margin": "declared_stress",
}
MET = "met"
THERE = "feasible_optimum"


def outputs_of(problem: DesignProblem) -> tuple[str, ...]:
    """Names of the outputs: mass, power, energy, torque margin, margins of times and life."""
    groups = {label.group for label in problem.counting_labels}
    return (*PLAIN, TORQUE, *(name for name, row in MARGINS.items() if row in groups))


def evaluated(problem: DesignProblem, design: Floats, work: Work, say: Say) -> Evaluator:
    """Outputs of a design as it is, and at how many points it meets every requirement."""

    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        options = {"axes": written_axes(one.axis for one in inputs), "design": design.tolist()}
        context, tasks = problem_context(problem, options), in_parts({"points": points}, CHUNK)
        title = f"Design, {stage.capitalize()}"
        frame = work.do(f"design-{stage}", FUNCTION, context, tasks, say, title=title).frame()
        met = int(frame[MET].sum())
        outputs = {name: np.asarray(frame[name]) for name in outputs_of(problem)}
        return Evaluated(outputs, {FEASIBLE: met, INFEASIBLE: len(frame) - met})

    return evaluate


def evaluate_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Outputs of the design at the points of a chunk, and whether every row holds there."""
    design, points = np.array(options_in(context)["design"]), np.asarray(payload["points"])
    return columns_at(ParametricProblem.of_context(context), design, points)


def columns_at(parametric: ParametricProblem, design: Floats, points: Floats) -> dict[str, Any]:
    """Outputs of a design at points, shape (n, axes), in batches of one size."""
    evaluate = compiled_review(parametric.given)

    def batch(places: Indices) -> Any:
        return evaluate(design, *parametric.parameters(points[places]))

    columns: dict[str, Any] = in_blocks(batch, len(points), BATCH)
    return columns


@lru_cache(maxsize=4)
def compiled_review(problem: DesignProblem) -> Any:
    """Compiled :func:`review` over points."""
    reviewed = jax.vmap(partial(review, problem), in_axes=(None, 0, 0, 0))
    return problem.chain.compiled("review of a design", reviewed)


def review(
    problem: DesignProblem, x: Array, theta: Array, prelude: Any, counts: Array
) -> dict[str, Array]:
    """Outputs of one design at one point.

    A margin is the least of those that count, over legs and fold angles.
    """
    chain = problem.chain
    values = chain.evaluate_chain(x, theta, prelude)
    rows = jnp.concatenate([jnp.ravel(values[name]) for name in chain.row_names])
    groups = np.array([label.group for label in problem.rows.labels])

    def least(values: Array, group: str) -> Array:
        return jnp.where(counts[groups == group], values, jnp.inf).min()

    return {
        **{name: values[name] for name in PLAIN},
        TORQUE: least(jnp.ravel(values["torque_margin"]), "drive_stress"),
        **{name: least(rows[groups == group], group) for name, group in MARGINS.items()},
        MET: (jnp.where(counts, rows, jnp.inf).min() >= -HOLDS).astype(float),
    }


def reoptimised(optimum: Optimum, work: Work, say: Say) -> Evaluator:
    """Mass at points and whether there is a feasible optimum, each from that of the study."""
    problem = optimum.problem

    def evaluate(stage: str, inputs: Sequence[Input], points: Floats) -> Evaluated:
        parametric = ParametricProblem(problem, [one.axis for one in inputs])
        setting = Setting(parametric, problem.active, work, f"optimum-{stage}", say)
        starts = starts_at(np.tile(optimum.design, (len(points), 1)), problem.active)
        optima = find_optima(setting, points, starts=starts, costs=False)
        mass = np.where(optima.feasible, optima.output(OBJECTIVE), np.nan)
        there = np.where(optima.status == OPEN, np.nan, optima.feasible.astype(float))
        return Evaluated({OBJECTIVE: mass, THERE: there}, counted(optima.status))

    return evaluate


def screen(optimum: Optimum, inputs: tuple[Input, ...], most: int, evaluate: Evaluator) -> Screened:
    """Move each input alone to both ends of its range.

    An end without a feasible design counts as the other end does; an input with neither comes
    first.

    Parameters
    ----------
    optimum, inputs : of the study, all of them
    most : inputs that are left
    evaluate : finds the optimum again
    """
    points = np.tile([one.axis.knob.value for one in inputs], (2 * len(inputs), 1))
    own = np.arange(len(inputs))
    points[2 * own, own] = [one.axis.low for one in inputs]
    points[2 * own + 1, own] = [one.axis.high for one in inputs]
    sound = agrees(optimum.problem, inputs, points)
    masses = np.full(len(points), np.nan)
    masses[sound] = evaluate("alone", inputs, points[sound]).outputs[OBJECTIVE]
    low, high = masses[::2], masses[1::2]
    moves = np.abs(np.column_stack([low, high]) - optimum.mass)
    swing = np.where(np.isnan(moves).all(axis=1), np.inf, np.fmax(moves[:, 0], moves[:, 1]))
    kept = np.sort(np.argsort(-swing, kind="stable")[:most])
    return Screened(low, high, tuple(inputs[number] for number in kept))


STARTS = 4
DESIGN, OPTIMUM = SENSITIVITIES
HEADING = ["of", "output", "input", "title"]
SOBOL_COLUMNS = [*HEADING, *Sobol._fields[:-1], "samples", "range_part"]
MORRIS_COLUMNS = [*HEADING, *Morris._fields[:-1], "trajectories", "range_part"]
# Parts of the ranges, until most trajectories are feasible throughout.
PARTS = (1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125)


class SensitivityFacts(NamedTuple):
    """What the sentences tell: the subjects, all inputs, and whether there is an optimum."""

    subjects: Mapping[str, Subject]
    inputs: tuple[Input, ...]
    confidence: float
    feasible: bool


def run_sensitivity(problem: DesignProblem, work: Work, say: Say) -> Exploration:
    """Sobol indices and Morris effects of a fixed design and of the re-optimised mass.

    Parameters
    ----------
    problem : the study
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan is wrong or the study has no judged inputs.
    """
    plan, inputs = problem.study.analysis.sensitivity, inputs_of(problem)
    say("Sensitivity: the optimum of the study")
    best = find_optimum(problem, starts=STARTS)
    subjects: dict[str, Subject] = {}
    if DESIGN in plan.of:
        evaluate = evaluated(problem, best.design, work, say)
        subjects[DESIGN] = study_subject(problem, inputs, plan.samples, evaluate)
    if OPTIMUM in plan.of and best.feasible:
        again, screened = reoptimised(best, work, say), None
        if len(inputs) > plan.inputs_most:
            screened = screen(best, inputs, plan.inputs_most, again)
        left = screened.left if screened else inputs
        subject = study_subject(problem, left, plan.optimum_samples, again, PARTS)
        subjects[OPTIMUM] = subject._replace(screened=screened)
    counts = list(subjects.values())[-1].statuses if subjects else {INFEASIBLE: 1}
    facts = SensitivityFacts(subjects, inputs, plan.confidence, best.feasible)
    return Exploration("sensitivity", problem, tables_of(inputs, subjects), counts, facts)


def tables_of(inputs: Sequence[Input], subjects: Mapping[str, Subject]) -> dict[str, pd.DataFrame]:
    """Tables of all subjects."""
    sobol: list[dict[str, Any]] = []
    morris: list[dict[str, Any]] = []
    for of, subject in subjects.items():
        headings = {
            output: {"of": of, "output": output, "range_part": part}
            for output, part in subject.parts.items()
        }
        for output, effects in subject.morris.items():
            morris += _rows(headings[output], subject.inputs, effects, "trajectories")
        for output, indices in subject.sobol.items():
            sobol += _rows(headings[output], subject.left[output], indices, "samples")
    listed = pd.DataFrame([
        {"input": axis.name, "title": axis.title, "unit": axis.unit, "low": axis.low,
         "high": axis.high, "even": "logarithm" if logarithmic else "value"}
        for axis, logarithmic in inputs
    ])  # fmt: skip
    screened = subjects[OPTIMUM].screened if OPTIMUM in subjects else None
    if screened is not None:
        listed = listed.assign(mass_at_low=screened.low, mass_at_high=screened.high)
    return {
        "sobol_indices": pd.DataFrame(sobol, columns=SOBOL_COLUMNS),
        "morris_effects": pd.DataFrame(morris, columns=MORRIS_COLUMNS),
        "sensitivity_inputs": listed,
    }


def _rows(
    heading: Mapping[str, Any], inputs: Sequence[Input], indices: Sobol | Morris, counted: str
) -> list[dict[str, Any]]:
    """Rows of one output, one for each input."""
    columns = indices._asdict()
    kept = columns.pop("kept")
    return [
        {**heading, "input": axis.name, "title": axis.title, counted: kept}
        | {name: values[number] for name, values in columns.items()}
        for number, (axis, _) in enumerate(inputs)
    ]
