"""Optima at the dear levels at points of some axes, each in a chunk of work of its own."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.model.correction import Correction
from mdo.optimise.axes import ParametricProblem, written_axes
from mdo.optimise.levels.interpolation import Known
from mdo.optimise.levels.study_optimum import corrected_end, dear_problem
from mdo.optimise.many.optima import Setting
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem_text import problem_context
from mdo.results.work import Columns, in_parts

WORKER = "mdo.optimise.levels.dear_points:solve_dear"


class DearPoints(NamedTuple):
    """Optima at the dear levels, first axis of every array: the point.

    Attributes
    ----------
    mass, violation, kkt_residual
        Of the dear model at the end [kg], [1], [1].
    optimal
        Whether its conditions hold.
    evaluations, gradients
        Of the dear model.
    known
        The corrections around them.
    """

    mass: Floats
    violation: Floats
    kkt_residual: Floats
    optimal: Booleans
    evaluations: Indices
    gradients: Indices
    known: Known

    @property
    def feasible(self) -> Booleans:
        """Points with a feasible optimum of the dear model."""
        return np.asarray(self.optimal & (self.violation <= FEASIBLE))


NUMBERS = ("mass", "violation", "kkt_residual", "optimal", "evaluations", "gradients")


def dear_points(setting: Setting, stage: str, points: Floats, designs: Floats) -> DearPoints:
    """Optima at the dear levels, each from a design that is near.

    Parameters
    ----------
    setting : axes and who does the work
    stage : name of the folder of the chunks
    points : values of the axes, shape (n, axes), SI
    designs : starts, shape (n, design)
    """
    axes = {"axes": written_axes(setting.parametric.axes)}
    context = problem_context(setting.parametric.given, axes)
    tasks = in_parts({"points": points, "designs": designs}, 1)
    name, title = f"{setting.stage}-{stage}", "Optima at the dear levels"
    frame = setting.work.do(name, WORKER, context, tasks, setting.say, title=title).frame()

    def stacked(column: str) -> Floats:
        return np.stack([np.frombuffer(bytes.fromhex(text)) for text in frame[column]])

    rows = stacked("values").shape[1]
    square = points.shape[0], -1, designs.shape[1]
    correction = Correction(
        stacked("centre"),
        stacked("values"),
        stacked("slopes").reshape(square),
        stacked("curvature").reshape(square),
    )
    counts = stacked("counts").reshape(-1, rows - 1) > 0.0
    known = Known(points, correction, stacked("carried"), counts)
    return DearPoints(known=known, **{column: frame[column].to_numpy() for column in NUMBERS})


@lru_cache(maxsize=8)
def _parametric(context: str) -> ParametricProblem:
    return ParametricProblem.of_context(context)


def solve_dear(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve the points of a chunk; arrays come back as text, exact.

    Parameters
    ----------
    context : study and axes
    payload : ``points``, ``designs``
    """
    columns: dict[str, list[Any]] = {}
    pairs = zip(np.asarray(payload["points"]), np.asarray(payload["designs"]), strict=True)
    for point, design in pairs:
        for name, value in _solved(_parametric(context).at(point), design).items():
            columns.setdefault(name, []).append(value)
    return {name: np.array(v) if name in NUMBERS else v for name, v in columns.items()}


def _solved(problem: Any, design: Floats) -> dict[str, Any]:
    end, corrected = corrected_end(problem, dear_problem(problem), problem.clip(design))
    carried = np.zeros(1 + len(problem.rows.labels))
    carried[0] = 1.0
    carried[1 + problem.counting] = -end.conditions.multipliers
    assert corrected.correction is not None
    arrays = {**corrected.correction._asdict(), "carried": carried, "counts": problem.rows.counts}
    texts = {name: np.asarray(part, float).tobytes().hex() for name, part in arrays.items()}
    numbers = (end.value.objective, end.violation, end.conditions.residual, end.optimal,
               end.evaluations, end.gradients)  # fmt: skip
    return dict(zip(NUMBERS, numbers, strict=True)) | texts
