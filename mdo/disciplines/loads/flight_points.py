"""A function of Mach number and fold angle, evaluated once for each pair that differs.

Rows of a study share flight points (a static case repeats its angle, a return leg its way), and
many studies of a batch share their wing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import jax
import jax.numpy as jnp
from jax import Array
from jax.custom_batching import custom_vmap

_DIGITS = 12  # decimals of Mach number and angle [rad] in which points must differ

Point = Callable[[Any, Array, Array], Any]


def _distinct(mach: Array, fold_angle: Array) -> tuple[Array, Array, Array]:
    """Place of one point of each kind, the kind of each point, and the number of kinds."""
    keys = jnp.round(jnp.stack([mach, fold_angle], axis=1), _DIGITS)
    _, first, kind = jnp.unique(
        jax.lax.stop_gradient(keys), axis=0, size=mach.size, return_index=True, return_inverse=True
    )
    kind = kind.ravel()
    return first, kind, jnp.max(kind) + 1


def _each(function: Callable[[Array], Any], count: Array, size: int) -> Any:
    """Results of the first `count` numbers, nought for the rest up to `size`."""
    shapes = jax.eval_shape(function, jnp.asarray(0))
    start = jax.tree.map(lambda leaf: jnp.zeros((size, *leaf.shape), leaf.dtype), shapes)

    def store(place: Array, table: Any) -> Any:
        return jax.tree.map(lambda all_, one: all_.at[place].set(one), table, function(place))

    return jax.lax.fori_loop(0, count, store, start)


def _scaled(slopes: Array, by: Array) -> Array:
    return slopes * by.reshape(by.shape + (1,) * (slopes.ndim - 1))


def _members_in_turn(table: Point) -> Any:
    """The same, under ``vmap`` one member after the other; a member like the last is not run."""
    batched = custom_vmap(table)

    @batched.def_vmap
    def one_after_the_other(size: int, in_batched: Any, *arguments: Any) -> tuple[Any, Any]:
        members = jax.tree.map(
            lambda leaf, varies: leaf if varies else jnp.broadcast_to(leaf, (size, *leaf.shape)),
            arguments,
            tuple(in_batched),
        )
        first = jax.tree.map(lambda leaf: leaf[0], members)
        shapes = jax.eval_shape(table, *first)
        nothing = jax.tree.map(lambda leaf: jnp.zeros(leaf.shape, leaf.dtype), shapes)
        unlike = jax.tree.map(lambda leaf: jnp.full_like(leaf, jnp.nan), first)

        def step(before: Any, member: Any) -> tuple[Any, Any]:
            arguments, results = before
            same = jax.tree.reduce(
                jnp.logical_and, jax.tree.map(lambda a, b: jnp.all(a == b), arguments, member)
            )
            results = jax.lax.cond(same, lambda: results, lambda: table(*member))
            return (member, results), results

        _, results = jax.lax.scan(step, (unlike, nothing), members)
        return results, jax.tree.map(lambda _: True, results)

    return batched


def solved_once(function: Point) -> Point:
    """Evaluate a function at many points, each kind once; derivatives are exact, forward mode.

    Parameters
    ----------
    function
        Of what all points share (a tree), a Mach number [1] and a fold angle [rad].

    Returns
    -------
    Callable
        Of the same tree, Mach numbers [1] and fold angles [rad], shape ``(points,)``; its results
        have a leading axis of points, in the unit of the function's.

    Notes
    -----
    Under ``vmap`` the members run one after the other, so that memory stays that of one, and a
    member whose arguments equal those of the member before takes its results.

    Examples
    --------
    >>> def work(wing, mach, angle):
    ...     return wing * mach * jnp.cos(angle)
    >>> points = solved_once(work)
    >>> [float(a) for a in points(jnp.asarray(2.0), jnp.array([0.5, 0.5, 1.0]), jnp.zeros(3))]
    [1.0, 1.0, 2.0]

    References
    ----------
    Derived (chain rule: the slopes of each kind along wing, Mach number and angle serve all its
    points).
    """

    def table(wing: Any, mach: Array, fold_angle: Array) -> Any:
        first, kind, count = _distinct(mach, fold_angle)
        results = _each(lambda i: function(wing, mach[first[i]], fold_angle[first[i]]), count,
                        mach.size)  # fmt: skip
        return jax.tree.map(lambda leaf: leaf[kind], results)

    batched = _members_in_turn(table)

    @jax.custom_jvp
    def points(wing: Any, mach: Array, fold_angle: Array) -> Any:
        return batched(wing, mach, fold_angle)

    @points.defjvp
    def slopes(primals: Any, tangents: Any) -> tuple[Any, Any]:
        wing, mach, fold_angle = primals
        turned, mach_turned, angle_turned = tangents
        first, kind, count = _distinct(mach, fold_angle)
        # directions: along the wing's own, Mach number, angle
        unit = jnp.eye(3)
        turns = (jax.tree.map(lambda leaf: jnp.stack([leaf, 0.0 * leaf, 0.0 * leaf]), turned),
                 unit[1], unit[2])  # fmt: skip

        def along(place: Array) -> Any:
            at = (wing, mach[first[place]], fold_angle[first[place]])
            return jax.vmap(jax.linearize(function, *at)[1])(*turns)

        moves = jax.tree.reduce(
            jnp.logical_or, jax.tree.map(lambda leaf: jnp.any(leaf != 0.0), tangents)
        )
        shapes = jax.eval_shape(along, jnp.asarray(0))
        still = jax.tree.map(lambda leaf: jnp.zeros((mach.size, *leaf.shape), leaf.dtype), shapes)
        by_kind = jax.lax.cond(moves, lambda: _each(along, count, mach.size), lambda: still)

        def joined(by_kind: Array) -> Array:
            by_wing, by_mach, by_angle = jnp.moveaxis(by_kind[kind], 1, 0)
            total: Array = by_wing + _scaled(by_mach, mach_turned) + _scaled(by_angle, angle_turned)
            return total

        return points(wing, mach, fold_angle), jax.tree.map(joined, by_kind)

    return points
