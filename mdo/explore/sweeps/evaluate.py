"""One chunk of a sweep: designs, what comes out, status and reason of each."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache, partial
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from mdo.arrays import Floats, Indices
from mdo.explore.sweeps.space import Space, space_of
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.blocks import in_blocks
from mdo.optimise.many.points import TIMES
from mdo.optimise.optimum import FEASIBLE as HOLDS
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_in
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN

BATCH = 2_000  # designs evaluated at once: keeps memory flat, compiles once
# What of a design is kept: outputs of the system, and the longest times of all legs.
OUTPUTS = (
    "system_mass",
    "alloy_mass",
    "peak_power",
    "sortie_energy",
    "bundle_length",
    "bundle_height",
)
WORST = "worst_row"
FUNCTION = f"{__name__}:evaluate_chunk"


def evaluate_chunk(context: str, payload: Mapping[str, Any]) -> dict[str, Any]:
    """Columns of the designs of one chunk.

    Parameters
    ----------
    context : the study and the options
    payload : ``start`` and ``stop``, numbers of the designs; ``rows``, their values if listed
    """
    return _evaluator(context).columns(payload)


@lru_cache(maxsize=2)
def _evaluator(context: str) -> Evaluator:
    return Evaluator(space_of(problem_in(context), **options_in(context)))


class Evaluator:
    """Evaluates designs of one sweep in batches of one width."""

    def __init__(self, space: Space) -> None:
        problem = space.problem
        self._problem, self._space, self._sample = problem, space, space.sample
        self._parametric = ParametricProblem(problem, space.axes) if space.axes else None
        self._titles = np.array([label.requirement.title for label in problem.rows.labels])

    def columns(self, payload: Mapping[str, Any]) -> dict[str, Any]:
        """Columns of a chunk, as :func:`evaluate_chunk` gives them."""
        start, stop = payload["start"], payload["stop"]
        if self._sample is None:
            values = np.asarray(payload["rows"])
        else:
            values = self._space.values(self._sample.shares(start, stop))
        points, designs = self._space.points(values), self._space.designs(values)
        found = self._evaluated(points, designs)
        status, reason = self._verdicts(found)
        variables = {
            label: designs[:, number]
            for number, label in enumerate(self._problem.labels)
            if self._problem.active[number]
        }
        return {
            "design": np.arange(start, stop),
            **dict(zip(self._space.names, points.T, strict=False)),
            **variables,
            **{name: found[name] for name in (*OUTPUTS, *TIMES, WORST)},
            "status": status,
            "reason": reason,
        }

    def _verdicts(self, found: Mapping[str, NDArray[Any]]) -> tuple[list[str], list[str]]:
        """Status of every design, and the title of the row that speaks against it."""
        titles, broken = self._titles[found["place"]], found["broken"]
        settled = ~broken & np.isfinite(found["system_mass"])
        holds = found[WORST] >= -HOLDS
        status = np.select([~settled, holds], [OPEN, FEASIBLE], INFEASIBLE)
        unsettled = np.where(
            broken, np.char.add("No finite value: ", titles), "No finite value: system mass"
        )
        reason = np.select([~settled, holds], [unsettled, ""], titles)
        return status.tolist(), reason.tolist()

    def _evaluated(self, points: Floats, designs: Floats) -> Any:
        problem = self._problem

        def batch(places: Indices) -> Any:
            if self._parametric is None:
                shared = (problem.theta, dict(problem.prelude), problem.rows.counts)
                return compiled(problem, one_point=True)(designs[places], *shared)
            turned = self._parametric.parameters(points[places])
            return compiled(problem, one_point=False)(designs[places], *turned)

        return in_blocks(batch, len(designs), BATCH)


@lru_cache(maxsize=4)
def compiled(problem: DesignProblem, *, one_point: bool) -> Any:
    """Compiled :func:`one_design` over a batch: of one point of the axes, or of a point each."""
    axes = (0, None, None, None) if one_point else 0
    evaluate = jax.vmap(partial(one_design, problem), in_axes=axes)
    return problem.chain.compiled(f"verdicts, {axes}", evaluate)


def one_design(
    problem: DesignProblem, x: Array, theta: Array, prelude: Any, counts: Array
) -> dict[str, Array]:
    """What is kept of one design.

    ``place`` is the row that speaks against it: the worst, or the first without a finite value;
    ``broken`` says that there is one of these.
    """
    chain = problem.chain
    names = (*OUTPUTS, *TIMES.values())
    rows, outputs = chain.evaluate_rows(x, theta, prelude, names)
    values = {**chain.unpack(theta), **dict(zip(names, outputs, strict=True))}
    kept = jnp.where(counts, rows, jnp.inf)
    bad = counts & ~jnp.isfinite(rows)
    broken = bad.any()
    return {
        **{name: values[name] for name in OUTPUTS},
        **{name: _longest(problem, values, group, counts) for name, group in TIMES.items()},
        WORST: kept.min(),
        "place": jnp.where(broken, jnp.argmax(bad), jnp.argmin(kept)),
        "broken": broken,
    }


def _longest(problem: DesignProblem, values: Any, group: str, counts: Array) -> Array:
    """Longest time of the legs whose time row counts; NaN where there are none."""
    places = [n for n, label in enumerate(problem.rows.labels) if label.group == group]
    own = counts[np.array(places)]
    times = jnp.where(own, values["legs"].time_limit * jnp.exp(-values[group]), -jnp.inf)
    return jnp.where(own.any(), times.max(), jnp.nan)
