"""Optima of many points at the dear levels: few are solved dear, the batch does the rest.

Dear optima are laid where the predicted error of mass is largest; their corrections are
interpolated over the axes, and all points are optimised with their rows so corrected. A bound on
the error goes with every point; some further points are solved dear only to judge it.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import numpy as np

from mdo.arrays import Floats, Indices
from mdo.optimise.axes.axis import ends_of
from mdo.optimise.levels.dear_points import DearPoints, dear_points
from mdo.optimise.levels.interpolation import Interpolation
from mdo.optimise.levels.process import Process
from mdo.optimise.many.neighbours import spread_order
from mdo.optimise.many.optima import Setting, find_optima
from mdo.optimise.many.solution import Optima

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
