"""Derivatives of the chain along many directions, a few stages compiled one by one.

Compiled as one function the tangents of a batch cost two to three times as much: the compiler fuses
across disciplines and computes what several of them read once for each reader. Three stages (before
the implicit loop, the loop, after it) hand over finished arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Sequence
from functools import partial
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array

from mdo.model.chain import Chain
from mdo.model.declaration import Discipline, run_disciplines, solve_loop
from mdo.model.kept import compiler_options
from mdo.model.layout import DESIGN_SIZES, split_design

Known = dict[str, Any]
Run = Callable[[Known], Known]


class Turned(NamedTuple):
    """Rows and outputs, and their tangents (axis after the batch: the direction)."""

    rows: Array
    outputs: Array
    row_tangents: Array
    output_tangents: Array


class _Stage(NamedTuple):
    """What a stage reads of the values that vary, what it gives on, and its compiled function."""

    reads: tuple[str, ...]
    call: Any


class StagedTangents:
    """Rows and outputs of a batch of designs with tangents along directions of the design.

    Parameters
    ----------
    chain : the system
    outputs : names of scalars that are wanted beside the rows
    """

    def __init__(self, chain: Chain, outputs: Sequence[str]) -> None:
        self.chain, self.outputs = chain, tuple(outputs)
        self._stages = self._compiled()
        self._split = jax.jit(jax.vmap(split_design))
        self._split_tangents = jax.jit(jax.vmap(jax.vmap(split_design)))
        self._gather = chain.compiled(
            f"rows and {self.outputs}", jax.vmap(self._gathered), compiler_options()
        )

    def __call__(self, x: Any, directions: Any, theta: Any, prelude: Any) -> Turned:
        """Evaluate.

        Parameters
        ----------
        x : designs, shape (n, design)
        directions : of each, shape (n, k, design)
        theta, prelude : parameters of each, and what follows from them alone
        """
        values, tangents = self._split(x), self._split_tangents(directions)
        for stage in self._stages:
            read, turned = _only(stage.reads, values), _only(stage.reads, tangents)
            given, along = stage.call(read, turned, theta, prelude)
            values, tangents = {**values, **given}, {**tangents, **along}
        return Turned(*self._gather(*self._ends(values, tangents), theta, prelude))

    def _ends(self, values: Known, tangents: Known) -> tuple[Known, Known]:
        """What rows and outputs are made of, where it varies."""
        needed = [n for n in (*self.chain.row_names, *self.outputs) if n in values]
        return _only(needed, values), _only(needed, tangents)

    def compiling(
        self, x: Any, directions: Any, theta: Any, prelude: Any
    ) -> Generator[Callable[[], Any], None, Turned]:
        """Calls that compile the stages, each alone; returns zeros in the shape of the result.

        Each stage is traced before its call is given: its code can be made while the next one is
        traced.
        """
        values, tangents = self._split(x), self._split_tangents(directions)
        for stage in self._stages:
            known = (_only(stage.reads, values), _only(stage.reads, tangents), theta, prelude)
            given, along = _zeros(stage.call.eval_shape(*known))
            yield partial(stage.call, *known)
            values, tangents = {**values, **given}, {**tangents, **along}
        ends = (*self._ends(values, tangents), theta, prelude)
        yield partial(self._gather, *ends)
        return Turned(*_zeros(self._gather.eval_shape(*ends)))

    def _compiled(self) -> list[_Stage]:
        stages, loop = self.chain.lean_stages, self.chain.system.loop

        def around(known: Known) -> Known:
            empty = stages._replace(before=(), after=())
            return solve_loop(empty, known, loop)

        parts: list[tuple[tuple[Discipline, ...], Run]] = [
            (stages.before, lambda known: run_disciplines(stages.before, known)),
            (stages.loop, around),
            (stages.after, lambda known: run_disciplines(stages.after, known)),
        ]
        wanted = {*self.chain.row_names, *self.outputs}
        varying = {*DESIGN_SIZES}
        found = []
        for place, (disciplines, run) in enumerate(parts):
            later = [item for rest, _ in parts[place + 1 :] for item in rest]
            needed = wanted.union(*(item.quantities for item in later))
            given = {name for item in disciplines for name in item.outputs}
            if disciplines == stages.loop:
                given = given | {loop.state}
            reads = sorted(varying & {name for item in disciplines for name in item.quantities})
            gives = sorted(given & needed)
            found.append(_Stage(tuple(reads), self._stage(place, run, reads, gives)))
            varying |= given
        return found

    def _stage(self, place: int, run: Run, reads: Sequence[str], gives: Sequence[str]) -> Any:
        """Compile one stage: values and tangents in, values and tangents out."""

        def stage(read: Known, turned: Known, theta: Any, prelude: Known) -> tuple[Known, Known]:
            fixed = {**self.chain.unpack(theta), **prelude}

            def outputs(varying: Known) -> Known:
                values = run({**fixed, **varying})
                return {name: values[name] for name in gives}

            value, push = jax.linearize(outputs, read)
            return value, jax.vmap(push)(turned)

        what = f"tangents of stage {place}: {reads} to {gives}"
        return self.chain.compiled(what, jax.vmap(stage), compiler_options(), prelude_given=True)

    def _gathered(self, own: Known, along: Known, theta: Any, prelude: Known) -> tuple[Array, ...]:
        """Rows and outputs of one design as vectors, and their tangents."""
        fixed = {**self.chain.unpack(theta), **prelude}
        count = next(iter(along.values())).shape[0]

        def value(name: str) -> Array:
            found: Array = jnp.ravel(own[name] if name in own else fixed[name])
            return found

        def tangent(name: str) -> Array:
            if name in along:
                found: Array = along[name].reshape(count, -1)
                return found
            return jnp.zeros((count, value(name).size))

        rows, outputs = self.chain.row_names, self.outputs
        return (
            jnp.concatenate([value(name) for name in rows]),
            jnp.concatenate([value(name) for name in outputs]),
            jnp.concatenate([tangent(name) for name in rows], axis=1),
            jnp.concatenate([tangent(name) for name in outputs], axis=1),
        )


def _only(names: Iterable[str], values: Known) -> Known:
    return {name: values[name] for name in names}


def _zeros(shapes: Any) -> Any:
    zeros = jax.tree.map(lambda leaf: np.zeros(leaf.shape, leaf.dtype), shapes)
    return jax.device_put(zeros, jax.local_devices()[0])  # placed like what stages give
