"""Disciplines in order, and the implicit scalar of a chain closed by Newton steps."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import jax
import jax.numpy as jnp
from jax import Array

from mdo.model.declaration import Discipline, Loop, Stages

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
