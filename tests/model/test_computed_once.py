"""Barriers behind what several operations read: same results, and every operation compiled once.

Checked against the text of the compiled program; what fusion does is the compiler's own.
"""

import jax
import jax.numpy as jnp
import numpy as np
import pytest

from mdo.model.computed_once import DEAR, computed_once
from mdo.model.kept import compiler_options

STEPS = DEAR + 50


def long_way(x: jax.Array, steps: int = STEPS) -> jax.Array:
    for _ in range(steps):
        x = 1.5 - x * 0.7
    return x


def shared_by_two(x: jax.Array) -> dict[str, jax.Array]:
    end = long_way(x)
    return {"sum": (end * jnp.ones((3, 1))).sum(), "turned": end[::-1] - 1.0}


def compiled_text(function: object, x: jax.Array) -> str:
    return str(jax.jit(function, compiler_options=compiler_options()).lower(x).compile().as_text())


@pytest.mark.skipif(jax.default_backend() != "cpu", reason="barriers are for the CPU's compiler")
def test_what_two_read_is_compiled_once() -> None:
    x = jnp.linspace(-1.0, 1.0, 5)
    again = compiled_text(shared_by_two, x).count(" multiply(")
    once = compiled_text(computed_once(shared_by_two), x).count(" multiply(")
    assert (once, again) == (STEPS, 2 * STEPS)


def test_cheap_or_read_by_one_gets_no_barrier() -> None:
    def text(function: object) -> str:
        return str(jax.make_jaxpr(computed_once(function))(jnp.ones(3)))  # type: ignore[arg-type]

    assert "optimization_barrier" in text(shared_by_two)
    assert "optimization_barrier" not in text(lambda x: long_way(x).sum())
    assert "optimization_barrier" not in text(lambda x: [long_way(x, 9) + 1, long_way(x, 9) * 2])


def test_calls_count_with_what_goes_into_them() -> None:
    half = jax.jit(lambda x: long_way(x, DEAR // 4))

    def function(x: jax.Array) -> list[jax.Array]:
        end = half(half(half(x)))
        return [end + 1.0, end * 2.0]

    assert "optimization_barrier" in str(jax.make_jaxpr(computed_once(function))(jnp.ones(3)))


def test_slopes_of_loops_are_those_of_the_function() -> None:
    """Linearised, a scan calls what was traced before (``closed_call``)."""

    def course(start: jax.Array) -> jax.Array:
        def step(at: jax.Array, _: jax.Array) -> tuple[jax.Array, jax.Array]:
            found = jax.lax.fori_loop(0, 3, lambda _, z: (z + at / z) / 2.0, at)
            return jnp.sin(found) + 1.0, found

        return jax.lax.scan(jax.checkpoint(step), start, jnp.arange(4.0))[1]

    def slopes(start: jax.Array) -> jax.Array:
        return jax.vmap(jax.linearize(course, start)[1])(jnp.eye(3))

    at = jnp.array([0.5, 1.5, 2.5])
    assert "closed_call" in str(jax.make_jaxpr(slopes)(at))
    np.testing.assert_allclose(jax.jit(computed_once(slopes))(at), slopes(at), rtol=1e-13)


def test_results_are_those_of_the_function() -> None:
    @jax.custom_jvp
    def own(x: jax.Array) -> jax.Array:
        return x**2

    own.defjvp(lambda given, along: (own(*given), 2.0 * given[0] * along[0]))

    def everything(given: dict[str, jax.Array]) -> dict[str, object]:
        start = given["x"] + 1.0
        loop = jax.lax.while_loop(
            lambda at: at[0] < 4, lambda at: (at[0] + 1, at[1] * 1.5), (0, start)
        )
        _, course = jax.lax.scan(lambda at, step: (at + step, at * step), start, jnp.arange(4.0))
        branch = jax.lax.cond(start[0] > 0.0, jnp.sin, jnp.cos, start)
        _, push = jax.linearize(long_way, start)
        slopes = jax.vmap(push)(jnp.eye(3))
        return {
            "a": (loop, course, branch),
            "b": slopes,
            "c": own(start),
            "d": jnp.where(start > 2, 1, start),
        }

    given = {"x": jnp.array([0.5, 1.5, 2.5])}
    wanted, got = everything(given), jax.jit(computed_once(everything))(given)
    assert jax.tree.structure(wanted) == jax.tree.structure(got)
    for one, other in zip(jax.tree.leaves(wanted), jax.tree.leaves(got), strict=True):
        np.testing.assert_allclose(other, one, rtol=1e-13)
