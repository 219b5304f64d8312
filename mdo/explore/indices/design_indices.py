"""A fixed design at many points of some inputs: the figures that a review asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache, partial
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.arrays import Floats, Indices
from mdo.explore.indices.inputs import Input
from mdo.optimise.axes import ParametricProblem, written_axes
from mdo.optimise.blocks import in_blocks
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_context
from mdo.results.work import Columns, Task, in_parts

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


def outputs_of(problem: DesignProblem) -> tuple[str, ...]:
    """Names of the outputs: mass, power, energy, torque margin, margins of times and life."""
    groups = {label.group for label in problem.counting_labels}
    return (*PLAIN, TORQUE, *(name for name, row in MARGINS.items() if row in groups))


def fixed_tasks(
    problem: DesignProblem, design: Floats, inputs: Sequence[Input], points: Floats
) -> tuple[str, list[Task]]:
    """Context and chunks that evaluate a design at points of inputs."""
    axes = written_axes(uncertain.axis for uncertain in inputs)
    context = problem_context(problem, {"axes": axes, "design": design.tolist()})
    return context, in_parts({"points": points}, CHUNK)


def evaluate_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Outputs of the design at the points of a chunk, and whether every row holds there."""
    return _fixed(context).columns(np.asarray(payload["points"], dtype=float))


@lru_cache(maxsize=4)
def _fixed(context: str) -> Fixed:
    design = np.array(options_in(context)["design"])
    return Fixed(ParametricProblem.of_context(context), design)


class Fixed:
    """One design of a study whose axes are turned."""

    def __init__(self, parametric: ParametricProblem, design: Floats) -> None:
        self.parametric, self.design = parametric, design
        self.compiled = compiled_review(parametric.given)

    def columns(self, points: Floats) -> dict[str, Any]:
        """Outputs at points, shape (n, axes), in batches of one size."""

        def evaluated(places: Indices) -> Any:
            return self.compiled(self.design, *self.parametric.parameters(points[places]))

        columns: dict[str, Any] = in_blocks(evaluated, len(points), BATCH)
        return columns


_COMPILED: dict[int, Any] = {}


def compiled_review(problem: DesignProblem) -> Any:
    """Compiled :func:`review` over points; one compile serves every study of the chain."""
    key = id(problem.chain)
    if key not in _COMPILED:
        reviewed = jax.vmap(partial(review, problem), in_axes=(None, 0, 0, 0))
        _COMPILED[key] = problem.chain.compiled("review of a design", reviewed)
    return _COMPILED[key]


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

    def own(group: str) -> tuple[Array, Array]:
        places = np.flatnonzero(groups == group)
        return rows[places], counts[places]

    margin = jnp.ravel(values["torque_margin"])
    found = {name: values[name] for name in PLAIN}
    found[TORQUE] = jnp.where(own("drive_stress")[1], margin, jnp.inf).min()
    for name, group in MARGINS.items():
        row, counted = own(group)
        found[name] = jnp.where(counted, row, jnp.inf).min()
    found[MET] = (jnp.where(counts, rows, jnp.inf).min() >= -FEASIBLE).astype(float)
    return found
