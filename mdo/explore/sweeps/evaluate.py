"""One chunk of a sweep: designs, what comes out, status and reason of each."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache, partial
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.arrays import Floats, Indices
from mdo.explore.sweeps.space import Space, space_of
from mdo.optimise.blocks import in_blocks
from mdo.optimise.many.points import TIMES
from mdo.optimise.optimum import FEASIBLE as HOLDS
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_in
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN

BATCH = 2_000  # designs evaluated at once: keeps memory flat, compiles once
# What of a design is kept: outputs of the system, and the longest times of all legs.
OUTPUTS = (
    "system_mass", "alloy_mass", "peak_power", "sortie_energy", "bundle_length", "bundle_height",
)  # fmt: skip
WORST = "worst_row"
FUNCTION = f"{__name__}:evaluate_chunk"


def evaluate_chunk(context: str, payload: Mapping[str, Any]) -> dict[str, Any]:
    """Columns of the designs of one chunk.

    Parameters
    ----------
    context : the study and the options
    payload : ``start`` and ``stop``, numbers of the designs; ``rows``, their values if listed
    """
    space, start, stop = _space(context), payload["start"], payload["stop"]
    if space.sample is None:
        values = np.asarray(payload["rows"])
    else:
        values = space.values(space.sample.shares(start, stop))
    designs = space.designs(values)
    found = _evaluated(space, values[:, : len(space.axes)], designs)
    status, reason = verdicts(space.problem, found)
    active = space.problem.active
    labels = [label for label, on in zip(space.problem.labels, active, strict=True) if on]
    return {
        "design": np.arange(start, stop),
        **dict(zip(space.names, values[:, : len(space.axes)].T, strict=False)),
        **dict(zip(labels, designs[:, active].T, strict=True)),
        **{name: found[name] for name in (*OUTPUTS, *TIMES, WORST)},
        "status": status,
        "reason": reason,
    }


@lru_cache(maxsize=2)
def _space(context: str) -> Space:
    return space_of(problem_in(context), **options_in(context))


def verdicts(problem: DesignProblem, found: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """Status of every design, and the title of the row that speaks against it."""
    titles = np.array([label.requirement.title for label in problem.rows.labels])[found["place"]]
    broken, holds = found["broken"], found[WORST] >= -HOLDS
    open_ = broken | ~np.isfinite(found["system_mass"])
    lacking = np.char.add("No finite value: ", np.where(broken, titles, "system mass"))
    status = np.select([open_, holds], [OPEN, FEASIBLE], INFEASIBLE)
    return status.tolist(), np.select([open_, holds], [lacking, ""], titles).tolist()


def _evaluated(space: Space, points: Floats, designs: Floats) -> Any:
    """What is kept of each design, as :func:`one_design` gives it."""
    problem = space.problem

    def batch(places: Indices) -> Any:
        if not space.axes:
            shared = (problem.theta, dict(problem.prelude), problem.rows.counts)
            return compiled(problem, one_point=True)(designs[places], *shared)
        turned = space.parametric.parameters(points[places])
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
    values = dict(zip(names, outputs, strict=True))
    limits = chain.unpack(theta)["legs"].time_limit
    kept = jnp.where(counts, rows, jnp.inf)
    bad = counts & ~jnp.isfinite(rows)
    broken = bad.any()
    found = {name: values[name] for name in OUTPUTS}
    for name, group in TIMES.items():  # the longest time of the legs whose row of it counts
        own = counts[np.array([label.group == group for label in problem.rows.labels])]
        times = jnp.where(own, limits * jnp.exp(-values[group]), -jnp.inf)
        found[name] = jnp.where(own.any(), times.max(), jnp.nan)
    return found | {
        WORST: kept.min(),
        "place": jnp.where(broken, jnp.argmax(bad), jnp.argmin(kept)),
        "broken": broken,
    }
