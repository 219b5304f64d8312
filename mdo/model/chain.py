"""The compiled chain: the declared system as jitted functions of two flat vectors.

``x`` is the design vector of :mod:`mdo.model.layout`; ``theta`` holds every parameter of the study
(vehicle, legs, alloy, choices, assumptions). Discrete choices are numbers in ``theta``: one compile
serves all of them. What no design variable reaches (``prelude``) is evaluated once per ``theta``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache, cached_property
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from mdo.model.declaration import (
    Discipline,
    Stages,
    System,
    check_wiring,
    solve_loop,
    split_prelude,
    split_stages,
)
from mdo.model.kept import Options, cheap_options, optimiser_options, shared
from mdo.model.layout import pack, split_design, unpacking
from mdo.model.prelude import Prelude
from mdo.model.rows import RowIndex, index_rows
from mdo.model.situation import situation

PACKAGE = "mdo."


class Point(NamedTuple):
    """Objective and constraint rows of one design."""

    objective: Array
    rows: Array


class Slopes(NamedTuple):
    """Derivatives along directions in theta, first axis: rows (k, rows), figures by name."""

    rows: Any
    figures: dict[str, Any]


class Chain:
    """Compiled functions of one declared system and one shape of parameters.

    Parameters
    ----------
    system : the declaration
    parameters : a sample of the parameters: fixes names and shapes, not values
    objective : name of the scalar to be minimised
    rows : name of the discipline whose outputs are the constraint rows (>= 0 is good)
    report_only : disciplines that objective and rows do not need; only :attr:`values` has them
    figures : outputs whose derivatives in theta :meth:`slopes` gives
    fit : brings the parameters of any study to the shapes of the chain
    """

    def __init__(
        self,
        system: System,
        parameters: Mapping[str, Any],
        *,
        objective: str,
        rows: str,
        report_only: tuple[str, ...] = (),
        figures: tuple[str, ...] = (),
        fit: Callable[[Mapping[str, Any]], dict[str, Any]] = dict,
    ) -> None:
        parameters = fit(parameters)
        check_wiring(system, parameters)
        self.system = system
        self.fit = fit
        self.objective_name = objective
        self.figure_names = figures
        self.row_names = next(d.outputs for d in system.disciplines if d.name == rows)
        prelude, self._chain = split_prelude(system)
        self._stages = split_stages(self._chain, system.loop)
        after = tuple(item for item in self._stages.after if item.name not in report_only)
        self.lean_stages = self._stages._replace(after=after)
        self.unpack = unpacking(parameters)
        self.identity = self._identity(system.disciplines, parameters)
        self.identity_after_prelude = self._identity(self._chain, parameters)
        self.prelude = Prelude(prelude, parameters, self._identity(prelude, parameters))

    def _identity(
        self, disciplines: tuple[Discipline, ...], parameters: Mapping[str, Any]
    ) -> str | None:
        """All that functions of some disciplines depend on beside their arguments and the sources.

        None if a discipline is not of this package: its source is not known then.
        """
        functions = [item.identity for item in disciplines]
        if not all(one.startswith(PACKAGE) for one in functions):
            return None
        shapes = [np.shape(leaf) for leaf in jax.tree.leaves(dict(parameters))]
        parts = [System(disciplines, self.system.design_variables, self.system.loop),
                 functions,
                 self.system.loop, self.objective_name, self.row_names, self.figure_names,
                 [item.name for item in self.lean_stages.after],
                 jax.tree.structure(dict(parameters)), shapes]  # fmt: skip
        return "\n".join(str(part) for part in parts)

    def pack(self, parameters: Mapping[str, Any]) -> NDArray[np.float64]:
        """Parameters of a study that fits as one vector."""
        return pack(self.fit(parameters))

    def row_index(self, parameters: Mapping[str, Any], prelude: Mapping[str, Any]) -> RowIndex:
        """Rows, and which of them count with the parameters of a study."""
        fitted = self.fit(parameters)
        where = situation(fitted, prelude["heated"], prelude["returned_by_load"])
        legs, angles = np.shape(fitted["fold_angle"])
        return index_rows(self.row_names, where, leg_count=legs, angle_count=angles)

    def evaluate_chain(self, x: Array, theta: Array, prelude: dict[str, Any]) -> dict[str, Any]:
        """All values of one design: parameters, design variables, outputs, loop closed."""
        return self._evaluate(self._stages, x, theta, prelude)

    def _evaluate(
        self, stages: Stages, x: Array, theta: Array, prelude: dict[str, Any]
    ) -> dict[str, Any]:
        known = {**self.unpack(theta), **prelude, **split_design(x)}
        return solve_loop(stages, known, self.system.loop)

    def evaluate_point(self, x: Array, theta: Array, prelude: dict[str, Any]) -> Point:
        """Objective and rows of one design."""
        rows, figures = self.evaluate_rows(x, theta, prelude, (self.objective_name,))
        return Point(figures[0], rows)

    def evaluate_rows(
        self, x: Array, theta: Array, prelude: dict[str, Any], names: tuple[str, ...]
    ) -> tuple[Array, tuple[Array, ...]]:
        """Rows of one design, and the outputs named that do not come from the report's part."""
        values = self._evaluate(self.lean_stages, x, theta, prelude)
        rows = jnp.concatenate([jnp.ravel(values[name]) for name in self.row_names])
        return rows, tuple(values[name] for name in names)

    def compiled(
        self,
        what: str,
        function: Callable[..., Any],
        options: Options = None,
        *,
        prelude_given: bool = False,
    ) -> Any:
        """Compile a function of this chain, its trace kept (see :func:`mdo.model.kept.shared`).

        Parameters
        ----------
        what : name of the function, with all that it depends on beside chain and arguments
        function : gives arrays in tuples, lists and dicts
        options : of the compiler
        prelude_given : the function takes the outputs of the prelude and evaluates none of it, so
            that all levels of the loads share its trace and its code
        """
        identity = self.identity_after_prelude if prelude_given else self.identity
        return shared(function, None if identity is None else f"{identity}\n{what}", options)

    def point(self, x: Any, theta: Any, prelude: Any) -> Point:
        """Objective and rows of one design, compiled."""
        return Point(*self._point(x, theta, prelude))

    @cached_property
    def _point(self) -> Any:
        return self.compiled(
            "point",
            lambda *at: tuple(self.evaluate_point(*at)),
            optimiser_options(),
            prelude_given=True,
        )

    def point_and_gradient(self, x: Any, theta: Any, prelude: Any) -> tuple[Point, Point]:
        """Objective and rows of one design and their total derivatives in x, compiled."""
        point, gradient = self._point_and_gradient(x, theta, prelude)
        return Point(*point), Point(*gradient)

    @cached_property
    def _point_and_gradient(self) -> Any:
        """Compiled, forward mode.

        Linearised once: what does not vary with the direction is not computed for each of them,
        and the compiler has half as much to do.
        """

        def both(x: Array, theta: Array, prelude: dict[str, Any]) -> tuple[Any, Any]:
            point, push = jax.linearize(lambda at: self.evaluate_point(at, theta, prelude), x)
            gradient = jax.vmap(push, out_axes=-1)(jnp.eye(x.size))
            return tuple(point), tuple(gradient)

        return self.compiled("point and gradient", both, optimiser_options(), prelude_given=True)

    @cached_property
    def values(self) -> Any:
        """Compiled: every output of the system at one design that a design variable reaches."""

        def everything(x: Array, theta: Array, prelude: dict[str, Any]) -> dict[str, Any]:
            values = self.evaluate_chain(x, theta, prelude)
            given = {name for item in self._chain for name in item.outputs}
            return {name: values[name] for name in sorted(given)}

        return self.compiled("values", everything, optimiser_options(), prelude_given=True)

    @cache  # noqa: B019  # chains are kept as long as the process
    def values_of(self, names: frozenset[str]) -> Any:
        """Compiled: some outputs of the system at one design, and no discipline that none needs."""
        stages = self._stages_for(names)

        def some(x: Array, theta: Array, prelude: dict[str, Any]) -> dict[str, Any]:
            values = self._evaluate(stages, x, theta, prelude)
            given = {name for item in self._chain for name in item.outputs} & names
            return {name: values[name] for name in sorted(given)}

        what = f"values of {sorted(names)}"
        return self.compiled(what, some, cheap_options(), prelude_given=True)

    def _stages_for(self, names: Iterable[str]) -> Stages:
        """Stages less what follows the loop and is not needed for some outputs."""
        needed = set(names)
        after: list[Discipline] = []
        for item in reversed(self._stages.after):
            if not needed.isdisjoint(item.outputs):
                after.insert(0, item)
                needed |= set(item.quantities)
        return self._stages._replace(after=tuple(after))

    def slopes(self, x: Any, theta: Any, prelude: Any, directions: Any) -> Slopes:
        """Exact derivatives of rows and figures along directions in theta, at a fixed design.

        Parameters
        ----------
        x : design vector
        theta, prelude : parameters and what follows from them alone
        directions : shape (k, parameters)
        """
        parts, still = [], jax.tree.map(np.zeros_like, prelude)
        for direction in np.atleast_2d(np.asarray(directions, dtype=float)):
            reaches = direction[self.prelude.read].any()
            turned = self.prelude.slope(theta, direction) if reaches else still
            parts.append(self._slope(x, theta, prelude, direction, turned))
        rows, figures = zip(*parts, strict=True)
        names = self.figure_names
        return Slopes(
            np.stack(rows), {name: np.stack([f[name] for f in figures]) for name in names}
        )

    @cached_property
    def _slope(self) -> Any:
        """Compiled: derivative of rows and figures along one direction in theta and prelude."""
        stages = self._stages_for((*self.row_names, *self.figure_names))

        def results(x: Array, theta: Array, prelude: dict[str, Any]) -> tuple[Array, Any]:
            values = self._evaluate(stages, x, theta, prelude)
            rows = jnp.concatenate([jnp.ravel(values[name]) for name in self.row_names])
            return rows, {name: values[name] for name in self.figure_names}

        def along(x: Array, theta: Array, prelude: Any, direction: Array, turned: Any) -> Any:
            return jax.jvp(lambda t, p: results(x, t, p), (theta, prelude), (direction, turned))[1]

        return self.compiled("slope", along, cheap_options(), prelude_given=True)

    @cached_property
    def batch(self) -> Any:
        """Compiled :meth:`evaluate_point` over a batch of designs, shape (n, design)."""
        return jax.jit(jax.vmap(self.evaluate_point, in_axes=(0, None, None)))
