"""What several operations read is computed once on a CPU, not once for each of them.

The compiler for CPUs fuses an operation into every one that reads it. In a long chain of them, its
tangents above all, the same thousand operations are then compiled and computed in a dozen places. A
barrier behind a value makes the compiler finish it first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from functools import reduce
from itertools import count
from operator import or_
from typing import Any

import jax
from jax.extend.core import Literal

DEAR = 200  # operations that would be computed again; fewer cost less so than a kernel of their own
COMPILED = frozenset({"jit", "pjit"})
# operations whose results are finished without a barrier
FINISHED = frozenset({
    "while", "scan", "cond", "dot_general", "reduce_sum", "reduce_max", "reduce_min", "cumsum",
    "sort", "scatter", "scatter_add", "triangular_solve", "lu", "optimization_barrier",
})  # fmt: skip


def computed_once(function: Callable[..., Any]) -> Callable[..., Any]:
    """Function with barriers behind what would be computed again at great cost; same results.

    Parameters
    ----------
    function : of trees of arrays, to be compiled and not to be differentiated any more
    """

    def with_barriers(*arguments: Any) -> Any:
        traced, shape = jax.make_jaxpr(function, return_shape=True)(*arguments)
        leaves = jax.tree.leaves(arguments)
        results, _ = _replay(traced, leaves, [0] * len(leaves), count())
        return jax.tree.unflatten(jax.tree.structure(shape), results)

    return with_barriers


def _replay(
    traced: Any, given: Sequence[Any], behind: Sequence[int], numbers: Iterator[int]
) -> tuple[list[Any], list[int]]:
    """Results of a trace, and which operations a reader of each computes again.

    given, behind: arguments, and the same of them; operations are bits at the next of the numbers.
    """
    trace = traced.jaxpr
    named = zip([*trace.constvars, *trace.invars], [*traced.consts, *given], strict=True)
    values: dict[Any, Any] = dict(named)
    again = dict(zip(trace.invars, behind, strict=True))
    readers = Counter(name for step in trace.eqns for name in set(filter(_varies, step.invars)))
    readers.update(filter(_varies, trace.outvars))

    def read(atom: Any) -> Any:
        return values[atom] if _varies(atom) else atom.val

    def whole(atoms: Sequence[Any]) -> list[int]:
        return [again.get(atom, 0) if _varies(atom) else 0 for atom in atoms]

    for step in trace.eqns:
        taken = [read(atom) for atom in step.invars]
        kind = step.primitive.name
        inner = step.params.get("jaxpr" if kind in COMPILED else "call_jaxpr")
        if inner is not None:
            results, masks = _replay(inner, taken, whole(step.invars), numbers)
        else:
            result = step.primitive.bind(*taken, **step.params)
            results = result if step.primitive.multiple_results else [result]
            own = 0 if kind in FINISHED else reduce(or_, whole(step.invars), 1 << next(numbers))
            masks = [own] * len(results)
        for name, result, mask in zip(step.outvars, results, masks, strict=True):
            dear = mask.bit_count() * (readers[name] - 1) > DEAR
            values[name] = jax.lax.optimization_barrier(result) if dear else result
            again[name] = 0 if dear else mask
    return [read(atom) for atom in trace.outvars], whole(trace.outvars)


def _varies(atom: Any) -> bool:
    """Whether what an operation reads is a variable; the rest are constants."""
    return not isinstance(atom, Literal)
