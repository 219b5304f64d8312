"""The chain over a batch of designs: compiled by JAX, and by plain numpy from the same functions.

    python benchmarks/numpy_chain.py [STUDY] [--designs N] [--repeats N] [--one-core]

The steps that JAX traces from the chain over a batch (``vmap`` of one design, parameters shared)
are done one by one with numpy, each as one operation over the whole batch: what the same formulas
written with numpy arrays would do. Arrays are let go after their last use. Both results are
compared (1e-10, relative to values above one) before anything is timed. Numpy uses one core for
such operations; ``--one-core`` holds JAX to one as well. Compile times are left out.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from functools import reduce
from pathlib import Path
from typing import Any

import numpy as np

CLOSE = 1e-10
SPREAD = 0.01  # of the designs around a first guess


def power(x: Any, y: int) -> Any:
    """Whole power by products, as a compiler does it."""
    whole = reduce(np.multiply, [x] * abs(y)) if y else np.ones_like(x)
    return whole if y >= 0 else 1.0 / whole


def divide(x: Any, y: Any) -> Any:
    """Quotient; of whole numbers the one towards zero."""
    if np.result_type(x, y).kind not in "iu":
        return np.divide(x, y)
    return np.abs(x) // np.abs(y) * np.where(np.less(x, 0) == np.less(y, 0), 1, -1).astype(x.dtype)


def broadcast(x: Any, shape: Sequence[int], dimensions: Sequence[int]) -> Any:
    sizes = [1] * len(shape)
    for size, place in zip(np.shape(x), dimensions, strict=True):
        sizes[place] = size
    return np.broadcast_to(np.reshape(x, sizes), shape)


def cut(x: Any, starts: Sequence[int], ends: Sequence[int], steps: Sequence[int] | None) -> Any:
    steps = steps or [1] * len(starts)
    return x[tuple(slice(*one) for one in zip(starts, ends, steps, strict=True))]


def window(x: Any, starts: Sequence[Any], sizes: Sequence[int]) -> tuple[slice, ...]:
    """Place of a slice whose start is a value, moved so that it lies within the array."""
    first = [
        int(np.clip(start, 0, whole - size))
        for start, whole, size in zip(starts, np.shape(x), sizes, strict=True)
    ]
    return tuple(slice(at, at + size) for at, size in zip(first, sizes, strict=True))


def updated(x: Any, new: Any, starts: Sequence[Any]) -> Any:
    found = np.array(x)
    found[window(x, starts, np.shape(new))] = new
    return found


def product(x: Any, y: Any, numbers: Any) -> Any:
    """Sum of products over some dimensions, others in step: batch, rest of x, rest of y."""
    (sum_x, sum_y), (step_x, step_y) = numbers
    names_x = list(range(np.ndim(x)))
    names_y = [50 + n for n in range(np.ndim(y))]
    for one, other in zip((*sum_x, *step_x), (*sum_y, *step_y), strict=True):
        names_y[other] = names_x[one]
    out = [names_x[n] for n in step_x]
    out += [n for k, n in enumerate(names_x) if k not in {*sum_x, *step_x}]
    out += [n for k, n in enumerate(names_y) if k not in {*sum_y, *step_y}]
    return np.einsum(x, names_x, y, names_y, out)


def gather(x: Any, places: Any, numbers: Any, sizes: Sequence[int]) -> Any:
    """The forms that the chain has: a slice, entries of a table, one entry of each row."""
    along = numbers.start_index_map
    if len(along) != 1 or np.shape(places)[-1:] != (1,):
        raise NotImplementedError(f"gather {numbers} {sizes}")
    at, size = int(along[0]), sizes[along[0]]
    start = np.clip(places[..., 0], 0, np.shape(x)[at] - size)
    if np.ndim(start) == 0:
        found = x[(slice(None),) * at + (slice(int(start), int(start) + size),)]
        return np.squeeze(found, axis=tuple(map(int, numbers.collapsed_slice_dims)))
    if not numbers.operand_batching_dims and np.ndim(x) == 1 and size == 1:
        found = x[start]
        return np.reshape(found, (*np.shape(start), *([1] * len(numbers.offset_dims))))
    if tuple(numbers.operand_batching_dims) == (0,) and np.ndim(x) == 2 and size == 1:
        return np.take_along_axis(x, start[:, None], axis=1)
    raise NotImplementedError(f"gather {numbers} {sizes}")


def scatter(x: Any, places: Any, updates: Any, numbers: Any) -> Any:
    """The one form that the chain has: one column, or one entry, set."""
    if len(numbers.inserted_window_dims) != 1 or np.shape(places) != (1,):
        raise NotImplementedError(f"scatter {numbers}")
    found = np.array(x)
    at, place = numbers.inserted_window_dims[0], int(places[0])
    if 0 <= place < found.shape[at]:
        found[(slice(None),) * at + (place,)] = updates
    return found


PLAIN: dict[str, Callable[..., Any]] = {
    "abs": np.abs, "add": np.add, "add_any": np.add, "and": np.bitwise_and, "cbrt": np.cbrt,
    "cos": np.cos, "div": divide, "eq": np.equal, "exp": np.exp, "expm1": np.expm1,
    "ge": np.greater_equal, "gt": np.greater, "le": np.less_equal, "log": np.log,
    "log1p": np.log1p, "lt": np.less, "lt_to": np.less, "max": np.maximum, "min": np.minimum,
    "mul": np.multiply, "ne": np.not_equal, "neg": np.negative, "not": np.logical_not,
    "or": np.bitwise_or, "pow": np.power, "rem": np.fmod, "sign": np.sign, "sin": np.sin,
    "sqrt": np.sqrt, "stop_gradient": lambda x: x, "sub": np.subtract, "tan": np.tan,
    "tanh": np.tanh, "atan2": np.arctan2, "floor": np.floor, "is_finite": np.isfinite,
    "square": np.square, "copy": lambda x: x,
}  # fmt: skip
SHAPED: dict[str, Callable[..., Any]] = {
    "argmax": lambda p, x: np.argmax(x, axis=p["axes"][0]).astype(p["index_dtype"]),
    "argmin": lambda p, x: np.argmin(x, axis=p["axes"][0]).astype(p["index_dtype"]),
    "broadcast_in_dim": lambda p, x: broadcast(x, p["shape"], p["broadcast_dimensions"]),
    "clamp": lambda _, low, x, high: np.clip(x, low, high),
    "concatenate": lambda p, *xs: np.concatenate(xs, axis=p["dimension"]),
    "convert_element_type": lambda p, x: np.asarray(x).astype(p["new_dtype"], copy=False),
    "dot_general": lambda p, x, y: product(x, y, p["dimension_numbers"]),
    "dynamic_slice": lambda p, x, *starts: x[window(x, starts, p["slice_sizes"])],
    "dynamic_update_slice": lambda _, x, new, *starts: updated(x, new, starts),
    "gather": lambda p, x, at: gather(x, at, p["dimension_numbers"], p["slice_sizes"]),
    "integer_pow": lambda p, x: power(x, p["y"]),
    "iota": lambda p: broadcast(
        np.arange(p["shape"][p["dimension"]], dtype=p["dtype"]), p["shape"], [p["dimension"]]
    ),
    "reduce_and": lambda p, x: np.all(x, axis=p["axes"]),
    "reduce_max": lambda p, x: np.max(x, axis=p["axes"]),
    "reduce_min": lambda p, x: np.min(x, axis=p["axes"]),
    "reduce_or": lambda p, x: np.any(x, axis=p["axes"]),
    "reduce_sum": lambda p, x: np.sum(x, axis=p["axes"]),
    "reshape": lambda p, x: np.reshape(x, p["new_sizes"]),
    "scatter": lambda p, x, at, new: scatter(x, at, new, p["dimension_numbers"]),
    "select_n": lambda _, which, *cases: (
        np.where(which, cases[1], cases[0]) if len(cases) == 2 else np.choose(which, cases)
    ),
    "slice": lambda p, x: cut(x, p["start_indices"], p["limit_indices"], p["strides"]),
    "split": lambda p, x: np.split(x, np.cumsum(p["sizes"])[:-1], axis=p["axis"]),
    "squeeze": lambda p, x: np.squeeze(x, axis=tuple(p["dimensions"])),
    "stack": lambda p, *xs: np.stack(xs, axis=p["axis"]),
    "transpose": lambda p, x: np.transpose(x, p["permutation"]),
}


def scan(p: dict[str, Any], *given: Any) -> list[Any]:
    """A loop of fixed length, with values carried and values stacked."""
    body, constants, carried = p["jaxpr"], p["num_consts"], p["num_carry"]
    own, carry = given[:constants], list(given[constants : constants + carried])
    rows, stacked = given[constants + carried :], []
    for turn in range(p["length"]) if not p["reverse"] else reversed(range(p["length"])):
        out = call(body, *own, *carry, *(x[turn] for x in rows))
        carry = out[:carried]
        stacked.append(out[carried:])
    columns = zip(*(reversed(stacked) if p["reverse"] else stacked), strict=True)
    return [*carry, *(np.stack(column) for column in columns)]


def repeat(p: dict[str, Any], *given: Any) -> list[Any]:
    """A loop as long as a condition holds."""
    first, second = p["cond_nconsts"], p["cond_nconsts"] + p["body_nconsts"]
    carry = list(given[second:])
    while bool(call(p["cond_jaxpr"], *given[:first], *carry)[0]):
        carry = call(p["body_jaxpr"], *given[first:second], *carry)
    return carry


NESTED: dict[str, Callable[..., list[Any]]] = {
    "cond": lambda p, which, *given: call(p["branches"][int(which)], *given),
    "custom_jvp_call": lambda p, *given: call(p["call_jaxpr"], *given),
    "custom_vjp_call": lambda p, *given: call(p["call_jaxpr"], *given),
    "jit": lambda p, *given: call(p["jaxpr"], *given),
    "pjit": lambda p, *given: call(p["jaxpr"], *given),
    "scan": scan,
    "while": repeat,
}


def call(closed: Any, *given: Any) -> list[Any]:
    """Do the steps of a traced function with numpy."""
    return Program.of(closed)(*given)


class Program:
    """Steps of one traced function, and after which step each value is needed no more."""

    known: dict[int, Program] = {}  # noqa: RUF012 - filled once per traced function

    def __init__(self, closed: Any) -> None:
        self._closed = closed  # kept alive: its identity is the key
        self._inner = closed.jaxpr
        last: dict[Any, int] = {}
        for number, step in enumerate(self._inner.eqns):
            for one in (*step.invars, *step.outvars):
                if not hasattr(one, "val"):
                    last[one] = number
        for one in self._inner.outvars:
            if not hasattr(one, "val"):
                last.pop(one, None)
        self._ends: list[list[Any]] = [[] for _ in self._inner.eqns]
        for one, number in last.items():
            self._ends[number].append(one)

    @classmethod
    def of(cls, closed: Any) -> Program:
        if id(closed) not in cls.known:
            cls.known[id(closed)] = cls(closed)
        return cls.known[id(closed)]

    def __call__(self, *given: Any) -> list[Any]:
        values = dict(zip(self._inner.invars, given, strict=True))
        values |= zip(self._inner.constvars, map(np.asarray, self._closed.consts), strict=True)

        def read(one: Any) -> Any:
            return np.asarray(one.val) if hasattr(one, "val") else values[one]

        for step, ended in zip(self._inner.eqns, self._ends, strict=True):
            found = done(step, [read(one) for one in step.invars])
            values |= zip(step.outvars, found, strict=True)
            for one in ended:
                del values[one]
        return [read(one) for one in self._inner.outvars]


def done(step: Any, given: list[Any]) -> list[Any]:
    """Do one step; gives its results."""
    name = step.primitive.name
    if name in PLAIN:
        return [PLAIN[name](*given)]
    if name in SHAPED:
        found = SHAPED[name](step.params, *given)
        return found if name == "split" else [found]
    if name in NESTED:
        return NESTED[name](step.params, *given)
    raise NotImplementedError(f"no counterpart in numpy for {name}")


def median_time(function: Callable[[], object], repeats: int) -> float:
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        function()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def difference(one: Sequence[Any], other: Sequence[Any]) -> float:
    """Largest difference, relative to values above one; what is not finite must be the same."""
    worst = 0.0
    for mine, theirs in zip(one, other, strict=True):
        same = (mine == theirs) | (np.isnan(mine) & np.isnan(theirs))
        gap = np.abs(np.where(same, 0.0, mine - theirs)) / np.maximum(1.0, np.abs(theirs))
        worst = max(worst, float(gap.max()))
    return worst


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    root = Path(__file__).parents[1]
    parser.add_argument("study", nargs="?", type=Path, default=root / "studies/deck_medium.toml")
    parser.add_argument("--designs", type=int, default=2_000)
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--one-core", action="store_true")
    given = parser.parse_args()
    if given.one_core:
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    import jax  # starts its threads, so after the cores are chosen

    from mdo.optimise.problem import make_problem
    from mdo.optimise.starts import starting_designs
    from mdo.study import load_study

    problem = make_problem(load_study(given.study))
    x = starting_designs(problem, 1)[0].design
    shares = np.random.default_rng(1).uniform(-1.0, 1.0, (given.designs, x.size))
    designs = np.clip(x * (1.0 + SPREAD * shares), problem.lower, problem.upper)
    theta, prelude = np.asarray(problem.theta), dict(problem.prelude)
    vmapped = jax.vmap(problem.chain.evaluate_point, in_axes=(0, None, None))
    traced = jax.make_jaxpr(vmapped)(designs, theta, prelude)
    leaves = [np.asarray(leaf) for leaf in jax.tree.leaves((designs, theta, prelude))]

    def compiled() -> Any:
        return jax.block_until_ready(problem.chain.batch(designs, theta, prelude))

    def plain() -> list[Any]:
        with np.errstate(all="ignore"):
            return call(traced, *leaves)

    gap = difference(plain(), [np.asarray(part) for part in compiled()])
    print(f"study {given.study.name}, {given.designs} designs, largest difference {gap:.1e}")
    if not gap <= CLOSE:
        sys.exit(f"the results differ by more than {CLOSE:.0e}: nothing timed")
    ours, theirs = (median_time(function, given.repeats) for function in (compiled, plain))
    cores = 1 if given.one_core else len(os.sched_getaffinity(0))
    print(f"{'':28s}{'ms a batch':>12s}{'designs/s':>12s}")
    for name, spent in ((f"JAX, {cores} core(s)", ours), ("numpy", theirs)):
        print(f"{name:28s}{spent * 1e3:12.1f}{given.designs / spent:12.0f}")
    print(f"ratio {theirs / ours:.2f}")


if __name__ == "__main__":
    main()
