"""Parameters of the model at many points of some axes, without assembling a study for each.

Most parameters follow an axis linearly (a limit is a number of the study); some, such as those of
the size of the vehicle, follow a smooth curve, which Chebyshev polynomials hold to round-off. Where
the effects of all axes add up, over the whole range and with all axes turned at once, a point is a
sum of products; this is found by assembling studies at the ends, the nodes, the middle and corners,
and anything else is assembled point by point.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import Any, NamedTuple, Self

import jax
import numpy as np
from numpy.polynomial import chebyshev

from mdo.arrays import Booleans, Floats
from mdo.model.correction import NAME as CORRECTION
from mdo.model.correction import Correction
from mdo.optimise.axes.axis import Axis, axes_of, ends_of
from mdo.optimise.blocks import block_size, in_blocks
from mdo.optimise.knobs import Knob, turned
from mdo.optimise.levels.interpolation import Interpolation
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import options_in, problem_in
from mdo.study.reader import StudyError
from mdo.study.units import as_written

CLOSE = 1e-12  # relative difference that counts as the same number
CURVE_CLOSE = 1e-9  # the same where a curve is laid through nodes
CORNERS = 6  # mixed points at which linearity is checked
BLOCK, WIDE_BLOCK = 256, 8192  # points whose prelude is evaluated at once, on a CPU or not
NODES = 32


class Effect(NamedTuple):
    """How the parameters change along one axis from its middle, in Chebyshev polynomials.

    Attributes
    ----------
    low, high
        Ends of the axis, or of its logarithm.
    logarithmic
        Whether they are those of its logarithm: of a curve over an axis without zero in it.
    terms
        Coefficients, shape (terms, parameters); two of a line.
    """

    low: float
    high: float
    logarithmic: bool
    terms: Floats

    def at(self, values: Floats) -> Floats:
        """Change of the parameters at values of the axis, shape (n, parameters)."""
        along = np.log(values) if self.logarithmic else values
        place = (2.0 * along - self.low - self.high) / (self.high - self.low)
        return np.asarray(chebyshev.chebvander(place, len(self.terms) - 1) @ self.terms)


class Parameters(NamedTuple):
    """Parameters of many points, first axis: the point.

    Attributes
    ----------
    theta
        Parameters as vectors, shape (n, parameters).
    prelude
        What follows from them alone: a tree of arrays.
    counts
        Rows that count, shape (n, rows).
    """

    theta: Floats
    prelude: Any
    counts: Booleans

    def take(self, places: Any) -> Parameters:
        """Some of the points."""
        return jax.tree.map(lambda array: array[places], self)  # type: ignore[no-any-return]


def written_axes(axes: Iterable[Axis]) -> dict[str, list[str | float]]:
    """Axes as a study file names them."""
    return {
        axis.name: [as_written(end, axis.unit) for end in (axis.low, axis.high)] for axis in axes
    }


class ParametricProblem:
    """Turns the axes of one study to many points.

    Parameters
    ----------
    problem : the study
    axes : what is turned

    Raises
    ------
    StudyError
        If the middle or an end of an axis is no value that the study may have.
    """

    def __init__(self, problem: DesignProblem, axes: Sequence[Axis]) -> None:
        self.axes = tuple(axes)
        self.middle = np.array([0.5 * (axis.low + axis.high) for axis in self.axes])
        self.problem = self.turned(problem, self.middle) if self.axes else problem
        self.given = problem
        self.interpolation: Interpolation | None = None

    @classmethod
    @lru_cache(maxsize=8)
    def of_context(cls, context: str) -> ParametricProblem:
        """Study and axes of a context that names them by :func:`written_axes`, made once."""
        problem = problem_in(context)
        return cls(problem, axes_of(problem, options_in(context)["axes"], "axes"))

    def interpolating(self, interpolation: Interpolation | None) -> Self:
        """The same with corrections of rows at every point; None: those of the study."""
        if interpolation is self.interpolation:
            return self
        _ = self._batched_prelude, self.axes and self.effects  # made once, for all copies
        changed = copy.copy(self)
        changed.interpolation = interpolation
        return changed

    def turned(self, problem: DesignProblem, point: Floats) -> DesignProblem:
        """Problem with every axis turned to a point.

        Raises
        ------
        StudyError
            If there is no such study; says at which point.
        """
        pairs = list(zip(self.axes, point, strict=True))
        try:
            return turned(problem, {_anchored(axis, value): value for axis, value in pairs})
        except StudyError as error:
            place = ", ".join(f"{a.name} = {as_written(v, a.unit)}" for a, v in pairs)
            raise StudyError([f"{text} (at {place})" for text in error.problems]) from None

    def at(self, point: Floats) -> DesignProblem:
        """Problem at one point, assembled like any other study."""
        place = np.asarray(point, dtype=float)
        made = self.turned(self.given, place)
        if self.interpolation is None:
            return made
        one = (np.asarray(part)[0] for part in self.interpolation.at(place[None, :]))
        return made.corrected_by(Correction(*one))

    def parameters(self, points: Floats) -> Parameters:
        """Parameters at points, shape (n, axes), SI."""
        theta = self.theta(np.asarray(points, dtype=float))
        prelude = self.preludes(theta)
        return Parameters(theta, prelude, self.counts(theta, prelude))

    def theta(self, points: Floats) -> Floats:
        """Parameters as vectors, shape (n, parameters)."""
        if not self.axes:
            theta = np.tile(np.asarray(self.problem.theta), (len(points), 1))
        elif self.effects is None:
            theta = np.stack([np.asarray(self.turned(self.given, p).theta) for p in points])
        else:
            theta = self._added(self.effects, points)
        if self.interpolation is not None:
            places = self.problem.chain.unpack(np.arange(theta.shape[1]))[CORRECTION]
            for place, part in zip(places, self.interpolation.at(points), strict=True):
                theta[:, place] = part
        return theta

    def _added(self, effects: Iterable[Effect], points: Floats) -> Floats:
        """Parameters of the middle with the effects of all axes."""
        changes = sum(one.at(points[:, n]) for n, one in enumerate(effects))
        return np.asarray(np.asarray(self.problem.theta) + changes)

    @cached_property
    def effects(self) -> tuple[Effect, ...] | None:
        """Effects of the axes on the parameters; None where they do not add up."""
        found = tuple(self._effect(number) for number in range(len(self.axes)))
        close = CLOSE if all(len(one.terms) == 2 for one in found) else CURVE_CLOSE
        shares = np.random.default_rng(0).random((CORNERS, len(self.axes)))
        low, high = ends_of(self.axes)
        points = low + shares * (high - low)
        for point, theta in zip(points, self._added(found, points), strict=True):
            if not _same(np.asarray(self.turned(self.given, point).theta), theta, close):
                return None
        return found

    def _effect(self, number: int) -> Effect:
        """Effect of one axis: a line where the middle lies between the ends, else a curve."""
        base, low, high = np.asarray(self.problem.theta), *self.axes[number][1:]
        ends = [self._theta_along(number, value) for value in (low, high)]
        if _same(0.5 * (ends[0] + ends[1]), base, CLOSE):
            return Effect(
                low, high, False, np.stack([np.zeros_like(base), 0.5 * (ends[1] - ends[0])])
            )
        logarithmic = low > 0.0
        if logarithmic:
            low, high = float(np.log(low)), float(np.log(high))
        places = chebyshev.chebpts1(NODES)
        along = 0.5 * (low + high + places * (high - low))
        nodes = np.exp(along) if logarithmic else along
        changes = np.stack([self._theta_along(number, value) - base for value in nodes])
        terms = np.linalg.solve(chebyshev.chebvander(places, NODES - 1), changes)
        return Effect(low, high, logarithmic, np.asarray(terms, dtype=float))

    def _theta_along(self, number: int, value: float) -> Floats:
        """Parameters with one axis turned from the middle of all."""
        point = self.middle.copy()
        point[number] = value
        return np.asarray(self.turned(self.given, point).theta)

    def preludes(self, theta: Floats) -> Any:
        """Outputs that no design variable reaches, in blocks of one shape."""
        size = block_size(BLOCK, WIDE_BLOCK)
        return in_blocks(lambda places: self._batched_prelude(theta[places]), len(theta), size)

    @cached_property
    def _batched_prelude(self) -> Any:
        chain = self.problem.chain
        return chain.compiled("preludes", jax.vmap(chain.prelude.evaluate))

    def counts(self, theta: Floats, prelude: Mapping[str, Any]) -> Booleans:
        """Rows that count at every point: the masks of a study, found once per situation."""
        parameters = self.problem.chain.unpack(theta)
        limits = parameters["requirements"]
        deciding = [
            np.asarray(prelude["heated"]) > 0.5,
            np.asarray(prelude["returned_by_load"]) > 0.5,
            np.column_stack([limits.envelope_height < 1e5, limits.envelope_length < 1e5]),
            np.column_stack([np.asarray(part).reshape(len(theta), -1)
                             for part in parameters["choices"]]),
        ]  # fmt: skip
        table = np.column_stack([np.asarray(part, dtype=float) for part in deciding])
        _, firsts, member = np.unique(table, axis=0, return_index=True, return_inverse=True)
        masks = []
        for point in firsts:
            own = {name: prelude[name][point] for name in ("heated", "returned_by_load")}
            one = jax.tree.map(lambda array, at=point: array[at], parameters)
            masks.append(self.problem.chain.row_index(one, own).counts)
        return np.stack(masks)[member.ravel()]


def _same(one: Floats, other: Floats, close: float) -> bool:
    return bool(np.allclose(one, other, rtol=close, atol=1e-300))


def _anchored(axis: Axis, value: float) -> Knob:
    """Knob whose present value is known: one that the study leaves open starts from the value."""
    if not np.isnan(axis.knob.value):
        return axis.knob
    moves = tuple(replace(move, base=value) for move in axis.knob.moves)
    return replace(axis.knob, value=value, moves=moves)
