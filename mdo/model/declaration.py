"""The one declaration of the coupled system: disciplines in order, the implicit loop, its solution.

A discipline is a function whose argument names are quantities or records and whose result is a
``NamedTuple`` of quantities. The wiring follows from the names; nothing is wired twice. From this
declaration come the compiled chain (:mod:`mdo.model.chain`) and the OpenMDAO problem
(:mod:`mdo.model.problem`).
"""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Collection, Iterable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.levels import Dear
from mdo.disciplines.wiring import by_names, is_gathered


class Discipline(NamedTuple):
    """One discipline: its function, what it reads and what it gives.

    ``quantities`` and ``records`` are argument names; ``outputs`` name the parts of the result. A
    dear part that no design variable reaches is solved anew only where what it takes moves.
    """

    name: str
    compute: Callable[..., Any] | Dear
    quantities: tuple[str, ...]
    records: tuple[str, ...]
    outputs: tuple[str, ...]

    @property
    def dear(self) -> Dear | None:
        """Its function, if a dear part of it can be solved by itself."""
        return self.compute if isinstance(self.compute, Dear) else None

    @property
    def identity(self) -> str:
        """Module and name of its function."""
        named: Any = self.compute if self.dear is None else self.dear.rest
        return f"{named.__module__}.{named.__qualname__}"

    def arguments(self, known: Mapping[str, Any]) -> dict[str, Any]:
        """What it reads, of known values by name."""
        return {name: known[name] for name in self.quantities + self.records}

    def evaluate(self, known: Mapping[str, Any], solved: Any = None) -> dict[str, Any]:
        """Outputs by name, of known values by name, and of its dear part where it is solved."""
        given = self.arguments(known)
        if self.dear is not None and solved is not None:
            found = self.dear.rest(solved=solved, **given)
        else:
            found = self.compute(**given)
        return dict(zip(self.outputs, found, strict=True))


class Loop(NamedTuple):
    """An implicit scalar: the ``state`` that some discipline reads must equal the ``closure``.

    ``start`` names the record and the field that iterations start from.
    """

    state: str
    closure: str
    start: tuple[str, str]


class System(NamedTuple):
    """Disciplines in the order of evaluation, the design variables and the implicit loop."""

    disciplines: tuple[Discipline, ...]
    design_variables: tuple[str, ...]
    loop: Loop

    def __str__(self) -> str:
        """One line per discipline, for people."""
        return "\n".join(
            f"{d.name}: {', '.join(d.quantities + d.records)} -> {', '.join(d.outputs)}"
            for d in self.disciplines
        )


def is_record(annotation: object) -> bool:
    """Whether an annotation is a record (a NamedTuple class)."""
    return isinstance(annotation, type) and hasattr(annotation, "_fields")


def discipline(name: str, compute: Callable[..., Any] | Dear) -> Discipline:
    """Declare a discipline from the signature of its function; ``solved`` is of its dear part.

    Raises
    ------
    TypeError
        If an argument is not keyword-only or the result is not a NamedTuple class.
    """
    function = compute.rest if isinstance(compute, Dear) else compute
    if any(map(is_gathered, typing.get_type_hints(function).values())):
        compute = function = by_names(function)
    hints = typing.get_type_hints(function)
    hints.pop("solved", None)
    result = hints.pop("return", None)
    if not is_record(result):
        raise TypeError(f"{name}: the function must return a NamedTuple class, got {result!r}")
    for parameter in inspect.signature(function).parameters.values():
        if parameter.kind is not inspect.Parameter.KEYWORD_ONLY:
            raise TypeError(f"{name}: argument {parameter.name} must be keyword-only")
    return Discipline(
        name=name,
        compute=compute,
        quantities=tuple(key for key, hint in hints.items() if not is_record(hint)),
        records=tuple(key for key, hint in hints.items() if is_record(hint)),
        outputs=tuple(typing.cast(Any, result)._fields),
    )


def named_discipline(
    name: str,
    compute: Callable[..., Any],
    *,
    reads: Iterable[str],
    gives: Iterable[str],
    records: Collection[str],
) -> Discipline:
    """Declare a discipline that reads and gives what a table names, not its signature.

    Parameters
    ----------
    name : of the discipline
    compute : takes what it reads by keyword and gives its outputs in order
    reads, gives : names of inputs and outputs
    records : which names are records
    """
    inputs = tuple(reads)
    return Discipline(
        name=name,
        compute=compute,
        quantities=tuple(one for one in inputs if one not in records),
        records=tuple(one for one in inputs if one in records),
        outputs=tuple(gives),
    )


def check_wiring(system: System, parameters: Iterable[str]) -> None:
    """Check that every input is a parameter, a design variable, the state or an earlier output.

    Raises
    ------
    ValueError
        Naming the discipline and the input that nothing provides, or an output given twice.
    """
    known = set(parameters) | set(system.design_variables) | {system.loop.state}
    for item in system.disciplines:
        for name in item.quantities + item.records:
            if name not in known:
                raise ValueError(f"discipline {item.name}: nothing provides its input '{name}'")
        for name in item.outputs:
            if name in known:
                raise ValueError(f"discipline {item.name}: output '{name}' is provided twice")
        known |= set(item.outputs)
    if system.loop.closure not in known:
        raise ValueError(f"nothing provides the closure '{system.loop.closure}' of the loop")


def split_prelude(system: System) -> tuple[tuple[Discipline, ...], tuple[Discipline, ...]]:
    """Split the disciplines into those that no design variable reaches, and the rest.

    The first need evaluating once per study, not once per design; which they are follows from the
    declaration.
    """
    varying = set(system.design_variables) | {system.loop.state}
    prelude: list[Discipline] = []
    chain: list[Discipline] = []
    for item in system.disciplines:
        if varying.isdisjoint(item.quantities):
            prelude.append(item)
        else:
            chain.append(item)
            varying |= set(item.outputs)
    return tuple(prelude), tuple(chain)


class Stages(NamedTuple):
    """Disciplines before the implicit loop, on it, and after it."""

    before: tuple[Discipline, ...]
    loop: tuple[Discipline, ...]
    after: tuple[Discipline, ...]


def split_stages(chain: tuple[Discipline, ...], loop: Loop) -> Stages:
    """Split a chain at its loop: on it is what the state reaches and the closure needs."""
    reached = {loop.state}
    dependent: list[Discipline] = []
    for item in chain:
        if not reached.isdisjoint(item.quantities):
            dependent.append(item)
            reached |= set(item.outputs)
    needed = {loop.closure}
    on_loop: list[Discipline] = []
    for item in reversed(dependent):
        if not needed.isdisjoint(item.outputs):
            on_loop.insert(0, item)
            needed |= set(item.quantities)
    return Stages(
        before=tuple(item for item in chain if item not in dependent),
        loop=tuple(on_loop),
        after=tuple(item for item in dependent if item not in on_loop),
    )


NEWTON_STEPS = 2


def run_disciplines(
    disciplines: tuple[Discipline, ...],
    known: dict[str, Any],
    solved: Mapping[str, Any] = MappingProxyType({}),
) -> dict[str, Any]:
    """Evaluate disciplines in order; returns the known values and all their outputs.

    ``solved`` : dear parts that are known, by discipline.
    """
    values = dict(known)
    for item in disciplines:
        values |= item.evaluate(values, solved.get(item.name))
    return values


def solve_loop(stages: Stages, known: dict[str, Any], loop: Loop) -> dict[str, Any]:
    """Evaluate a chain that contains the implicit scalar of a loop, ``state = closure``.

    Newton steps without derivative, then one differentiable step on the solution: the derivative is
    that of the implicit function theorem. Only the disciplines on the loop are iterated. The
    residual is nearly linear (a heavier actuator makes a heavier vehicle, which loads the lock a
    little more), so two steps reach round-off.
    """
    state, closure = loop.state, loop.closure
    before = run_disciplines(stages.before, known)
    stop = jax.lax.stop_gradient
    frozen = jax.tree.map(stop, before)

    def residual(values: dict[str, Any], guess: Array) -> Array:
        closed: Array = run_disciplines(stages.loop, {**values, state: guess})[closure]
        return guess - closed

    def value_and_slope(guess: Array) -> tuple[Array, Array]:
        return jax.jvp(lambda g: residual(frozen, g), (guess,), (jnp.ones_like(guess),))

    def newton(_: int, guess: Array) -> Array:
        value, slope = value_and_slope(guess)
        return guess - value / slope

    record, field = loop.start
    start = getattr(frozen[record], field)
    guess = jax.lax.fori_loop(0, NEWTON_STEPS, newton, start)
    _, slope = value_and_slope(guess)
    solution = guess - residual(before, guess) / slope
    return run_disciplines(stages.loop + stages.after, {**before, state: solution})
