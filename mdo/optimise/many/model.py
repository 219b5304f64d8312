"""The compiled chain as a model of the batched optimiser, for points of some axes.

Beside the mass a few other outputs can be minimised or kept below a limit: the objective is a
weighted sum of them, each over its scale, and each has a row ``log(limit / output)``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats, Indices
from mdo.model.chain import Chain
from mdo.model.kept import compiler_options
from mdo.model.layout import LOGARITHMIC, STEPS
from mdo.model.staged import StagedTangents, Turned
from mdo.model.system import OBJECTIVE
from mdo.optimise.batch.functions import Model
from mdo.optimise.batch.iteration import Slope, Value

# Outputs that can be minimised or limited.
OUTPUTS = (OBJECTIVE, "peak_power", "sortie_energy", "bundle_length", "bundle_height")
LEAST = 1e-12


class Lane(NamedTuple):
    """What a lane needs beside the scaled variables.

    Attributes
    ----------
    x
        Design whose inactive entries are kept.
    theta, prelude
        Parameters and what follows from them alone.
    weights
        Of the outputs in the objective, over their scales.
    limits
        Of the outputs; infinite where there is none.
    """

    x: Any
    theta: Any
    prelude: Any
    weights: Any
    limits: Any


class Goal(NamedTuple):
    """What is minimised at each point, and the limits of the outputs, shapes (n, outputs)."""

    weights: Floats
    limits: Floats

    def take(self, places: Any) -> Goal:
        """Goal of some of the points."""
        return Goal(self.weights[places], self.limits[places])


def least_mass(count: int, scale: float) -> Goal:
    """Goal of the lightest design, the mass over a scale [kg], without limits."""
    return least(OBJECTIVE, count, scale)


def least(output: str, count: int, scale: float) -> Goal:
    """Goal of the least value of one output, over a scale, without limits."""
    weights = np.zeros((count, len(OUTPUTS)))
    weights[:, OUTPUTS.index(output)] = 1.0 / scale
    return Goal(weights, np.full((count, len(OUTPUTS)), np.inf))


def many_model(chain: Chain, places: Indices) -> Model:
    """Objective and all rows of a chain and of the limits, in scaled variables.

    ``places`` are those of the variables that move in any of the problems, in the design vector.
    """
    sizes, logarithmic = STEPS[places], LOGARITHMIC[places]

    def design(z: Any, data: Lane) -> tuple[Any, Any]:
        powers = jnp.exp(jnp.where(logarithmic, z, 0.0))
        own = jnp.where(logarithmic, powers, z * sizes)
        return jnp.asarray(data.x).at[places].set(own), jnp.where(logarithmic, powers, sizes)

    def valued(rows: Any, outputs: Any, data: Lane) -> Value:
        held = jnp.isfinite(data.limits)
        bound = jnp.where(held, data.limits, 1.0)
        limited = jnp.log(bound / jnp.maximum(outputs, LEAST))
        return Value(data.weights @ outputs, jnp.append(rows, jnp.where(held, limited, 1.0)))

    def values(z: Any, data: Lane) -> Value:
        x, _ = design(z, data)
        rows, figures = chain.evaluate_rows(x, data.theta, data.prelude, OUTPUTS)
        return valued(rows, jnp.stack(figures), data)

    def start(z: Any, data: Lane) -> tuple[Any, Any]:
        x, stretch = design(z, data)
        return x, jnp.zeros((places.size, x.size)).at[jnp.arange(places.size), places].set(stretch)

    def sloped(turned: Turned, data: Lane) -> tuple[Value, Slope]:
        held = jnp.isfinite(data.limits)
        relative = -turned.output_tangents / jnp.maximum(turned.outputs, LEAST)
        limited = jnp.where(held, relative, 0.0)
        return valued(turned.rows, turned.outputs, data), Slope(
            turned.output_tangents @ data.weights, jnp.hstack([turned.row_tangents, limited]).T
        )

    begin, end = jax.jit(jax.vmap(start)), jax.jit(jax.vmap(sloped))
    tangents = StagedTangents(chain, OUTPUTS)

    def slopes(z: Any, data: Lane) -> tuple[Value, Slope]:
        x, directions = begin(z, data)
        return end(tangents(x, directions, data.theta, data.prelude), data)  # type: ignore[no-any-return]

    def compiling(z: Any, data: Lane) -> Iterator[Callable[[], Any]]:
        x, directions = begin(z, data)
        turned = yield from tangents.compiling(x, directions, data.theta, data.prelude)
        yield partial(valuing, z, data)
        yield partial(end, turned, data)

    what = f"rows and outputs {OUTPUTS} of the variables {places.tolist()}"
    evaluate = chain.compiled(what, jax.vmap(lambda *at: tuple(values(*at))), compiler_options())

    def valuing(z: Any, data: Lane) -> Value:
        return Value(*evaluate(z, data))

    return Model(valuing, slopes, compiling)
