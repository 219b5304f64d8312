"""Optima of many points at the dear levels: few are solved dear, the batch does the rest.

Dear optima are laid where the predicted error of mass is largest; their corrections are
interpolated over the axes, and all points are optimised with their rows so corrected. A bound on
the error goes with every point; some further points are solved dear only to judge it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.model.correction import Correction
from mdo.optimise.axes import ParametricProblem, written_axes
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.levels.interpolation import Interpolation, Known, Process
from mdo.optimise.levels.study_optimum import corrected_end, dear_problem
from mdo.optimise.many.neighbours import spread_order
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.solution import Optima
from mdo.optimise.problem_text import problem_context
from mdo.results.work import Columns, in_parts

WORKER = "mdo.optimise.levels.dear_optima:solve_dear"


class DearPoints(NamedTuple):
    """Optima at the dear levels, first axis of every array: the point.

    Attributes
    ----------
    mass, violation
        Of the dear model at the end [kg], [1].
    optimal
        Whether its conditions hold.
    known
        The corrections around them.
    """

    mass: Floats
    violation: Floats
    optimal: Booleans
    known: Known

    @property
    def feasible(self) -> Booleans:
        """Points with a feasible optimum of the dear model."""
        return np.asarray(self.optimal & (self.violation <= FEASIBLE))


NUMBERS = ("mass", "violation", "optimal")


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
    slopes, curvature = (stacked(name).reshape(square) for name in ("slopes", "curvature"))
    correction = Correction(stacked("centre"), stacked("values"), slopes, curvature)
    counts = stacked("counts").reshape(-1, rows - 1) > 0.0
    known = Known(points, correction, stacked("carried"), counts)
    return DearPoints(known=known, **{column: frame[column].to_numpy() for column in NUMBERS})


def solve_dear(context: str, payload: Mapping[str, Any]) -> Columns:
    """Solve the points of a chunk; arrays come back as text, exact.

    Parameters
    ----------
    context : study and axes
    payload : ``points``, ``designs``
    """
    columns: dict[str, list[Any]] = {}
    parametric = ParametricProblem.of_context(context)
    pairs = zip(np.asarray(payload["points"]), np.asarray(payload["designs"]), strict=True)
    for point, design in pairs:
        for name, value in _solved(parametric.at(point), design).items():
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
    numbers = (end.value.objective, end.violation, end.optimal)
    return dict(zip(NUMBERS, numbers, strict=True)) | texts


FIRST = 3  # dear points that are spread evenly at first, for every axis and one more
ROUNDS = 4  # of dear points and batches, most


class Plan(NamedTuple):
    """How many points are solved dear.

    Attributes
    ----------
    most
        To correct the others.
    error
        Share of the mass that the bound should not exceed anywhere.
    held_out
        To judge the bound.
    seed
        Of which ones these are.
    """

    most: int
    error: float
    held_out: int
    seed: int


class DearOptima(NamedTuple):
    """Optima with corrected rows, and those that were solved dear.

    Attributes
    ----------
    optima
        Of all points, with bounds on their objective.
    solved, places
        Points solved dear to correct the others, and which they are.
    held_out, held_places
        Points solved dear to judge the bound.
    interpolation
        Of the corrections; None where nothing could be solved.
    """

    optima: Optima
    solved: DearPoints | None
    places: Indices
    held_out: DearPoints | None
    held_places: Indices
    interpolation: Interpolation | None


def dear_optima(setting: Setting, points: Floats, looks: int, plan: Plan) -> DearOptima:
    """Optimise every point with rows corrected to the dear levels.

    Parameters
    ----------
    setting : axes, variables and who does the work
    points : values of the axes, shape (n, axes), SI
    looks : further starts of points that are infeasible, open or suspect
    plan : how many points are solved dear
    """
    low, high = ends_of(setting.parametric.axes)
    places = (points - low) / (high - low)
    optima = find_optima(setting, points, looks=looks, costs=False)
    good = np.flatnonzero(optima.feasible)
    none = np.array([], dtype=np.intp)
    if not good.size:  # nothing to correct
        return DearOptima(optima, None, none, None, none, None)
    first = min(FIRST * (places.shape[1] + 1), plan.most, good.size)
    chosen = good[spread_order(places[good], first)[:first]]
    solved, done, interpolation = None, none, None
    for number in range(1, ROUNDS + 1):
        setting.say(f"Dear levels, round {number}: {chosen.size} points")
        designs = optima.designs[chosen]
        more = dear_points(setting, f"dear{number}", points[chosen], designs)
        solved = more if solved is None else jax.tree.map(_joined, solved, more)
        done = np.append(done, chosen)
        interpolation = Interpolation.of(solved.known, low, high)
        corrected = setting._replace(
            parametric=setting.parametric.interpolating(interpolation),
            stage=f"{setting.stage}-corrected{number}",
        )
        optima = find_optima(corrected, points, starts=optima.starts, looks=looks)
        chosen = _next(optima, places, done, interpolation.process, first, plan)
        if not chosen.size:
            break
    held = _held_out(optima, done, plan)
    judges = None
    if held.size:
        judges = dear_points(setting, "held", points[held], optima.designs[held])
    return DearOptima(optima, solved, done, judges, held, interpolation)


def _joined(one: Floats, other: Floats) -> Floats:
    return np.concatenate([one, other])


def _next(
    optima: Optima, places: Floats, done: Indices, process: Process, most: int, plan: Plan
) -> Indices:
    """Points to be solved dear next: where the bound, with those before them, is largest."""
    good = np.setdiff1d(np.flatnonzero(optima.feasible & np.isfinite(optima.bound)), done)
    share = optima.bound[good] / optima.objective[good]
    size = share / process.deviations(places[good])
    chosen = np.array([], dtype=np.intp)
    while chosen.size < min(most, plan.most - done.size, good.size):
        if chosen.size:
            known = np.vstack([process.places, places[chosen]])
            share = size * Process(known, process.lengths).deviations(places[good])
        worst = int(share.argmax())
        if share[worst] <= plan.error:
            break
        chosen = np.append(chosen, good[worst])
    return chosen


def _held_out(optima: Optima, done: Indices, plan: Plan) -> Indices:
    """Feasible points with a bound that were not solved dear, drawn."""
    bounded = optima.feasible & np.isfinite(optima.bound)
    left = np.setdiff1d(np.flatnonzero(bounded), done)
    drawn = np.random.default_rng(plan.seed).permutation(left)[: plan.held_out]
    return np.asarray(np.sort(drawn), dtype=np.intp)
