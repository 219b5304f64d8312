"""What other processes do: size a study for one probability, and try a design on samples."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.explore.assurance.judged import drawn_steps, judged_inputs
from mdo.explore.assurance.local import Sampled
from mdo.explore.assurance.quantile import deviations, order_weights, worst_of
from mdo.explore.assurance.sizing import Sized, settle
from mdo.explore.assurance.study_samples import StudySamples
from mdo.optimise.axes import Parameters, ParametricProblem
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.problem_text import options_in, problem_in
from mdo.results.work import Columns

SIZE, TRY = f"{__name__}:size_chunk", f"{__name__}:try_chunk"
COARSE, COARSEST = 256, 0.9  # samples of the first sizing, and the share that they tell of
TAIL, MOST = 40, 32_768  # samples that may fail, at least, in those of a share; most of these
FITTED = 0.5  # of the variables: samples that a design is fitted to
CARRIES = 0.02  # weight in the quantile from which a row has slopes of its own
STILL = 1e-12  # slope below which no variable moves a row
CONFIRM = 1  # added to the seed of the study: samples that confirm
CERTAIN = 1.0
TURNS, GAINED = 4, 1e-4  # of sizing and trimming; share of the mass below which they end
ROUGHLY = 1e-3  # of a row: what counts as failing, and as varying, where shares are told


class Ready(NamedTuple):
    """A study with its samples, made once per process.

    Attributes
    ----------
    study, parameters, sampled, kept
        The study, parameters of the samples, what is sized, and which of all rows its rows are.
    steps
        Of the inputs in each sample.
    start
        Scaled variables of the optimum at the study's values.
    lost
        Samples in which a row fails that no variable moves: no mass buys them.
    """

    study: StudySamples
    parameters: Parameters
    sampled: Sampled
    kept: Indices
    steps: Floats
    start: Floats
    lost: Booleans


@lru_cache(maxsize=2)
def _study(context: str) -> StudySamples:
    problem = problem_in(context)
    return StudySamples(problem, judged_inputs(problem))


@lru_cache(maxsize=3)
def _ready(context: str, count: int, shrunk: int) -> Ready:
    options, study = options_in(context), _study(context)
    steps = drawn_steps(study.problem, study.inputs, count, study.problem.study.seed)
    if shrunk >= 0:
        steps[:, shrunk] *= options["left"]
    parameters = study.parameters(steps)
    sampled, kept = study.sampled(parameters)
    start = study.scaled(np.array(options["design"]))
    slopes = np.abs(sampled.nominal_slopes(start).rows).max(axis=1)
    rows = sampled.rows(start, np.arange(count))
    lost = ((rows < -FEASIBLE) & (slopes < STILL)).any(axis=1)
    return Ready(study, parameters, sampled, kept, steps, start, lost)


def size_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Size a study for one share of its samples.

    Parameters
    ----------
    context : of the study, with its optimum as ``design``
    payload : ``share`` (1 for every sample), ``samples``, ``shrunk`` (place of an input that was
        measured, -1 for none), ``start`` (a design; empty for that of few samples)
    """
    share, count, shrunk = payload["share"], payload["samples"], payload["shrunk"]
    if share < CERTAIN:
        count = max(count, min(round(TAIL / (1.0 - share)), MOST))
    ready = _ready(context, count, shrunk)
    if share > 1.0 - ready.lost.mean() and share < CERTAIN:
        return _columns(ready, None, share)
    given = np.asarray(payload["start"], dtype=float)
    z = (
        ready.study.scaled(given)
        if given.size
        else _coarse(context, min(count, COARSE), shrunk, min(share, COARSEST))
    )
    spare = spare_of(ready, share)
    if ready.study.trimmed.size:
        return _columns(ready, trimmed_for(ready, z, spare), share)
    return _columns(ready, settle(ready.sampled, z, spare), share)


@lru_cache(maxsize=8)
def _coarse(context: str, count: int, shrunk: int, share: float) -> Floats:
    """Design of few samples, to start from."""
    ready = _ready(context, count, shrunk)
    return settle(ready.sampled, ready.start, round((1.0 - share) * count)).z


def spare_of(ready: Ready, share: float) -> int:
    """Samples that may fail where a share of all others shall hold.

    A design that is fitted to its samples fails more often in others: by some of its variables over
    the number of samples (Campi and Garatti, Journal of Optimization Theory and Applications 148,
    2011, 257, from memory: at most all of them; half was seen).
    """
    if share == CERTAIN:
        return 0
    fitted = round(FITTED * ready.start.size)
    return max(round((1.0 - share) * ready.sampled.size) - fitted, 0)


def trimmed_for(ready: Ready, z: Floats, spare: int) -> Sized:
    """Design that holds in all samples but so many, each with settings of its own, by turns.

    Sized with settings held, then trimmed anew at the design: no turn makes it worse.
    """
    study, settings, best = ready.study, None, None
    for _ in range(TURNS):
        settings = study.settings(z, ready.parameters, settings)
        sized = settle(study.sampled(ready.parameters, settings)[0], z, spare)
        if best is not None and sized.objective > best.objective * (1.0 - GAINED) and best.holds:
            break
        best, z = sized, sized.z
    assert best is not None
    return best


def _columns(ready: Ready, sized: Sized | None, share: float) -> Columns:
    """One line: the design, what it holds, what each group of rows and each input has."""
    study = ready.study
    z = ready.start if sized is None else sized.z
    if sized is None:
        rows = ready.sampled.rows(z, np.arange(ready.sampled.size))
        held, failing = rows.min(axis=1) >= -FEASIBLE, ready.lost
    else:
        rows, held, failing = sized.rows, sized.held, ~sized.held
    nominal = study.nominal(z, ready.kept)
    line: dict[str, float] = {
        "share": share, "mass": nominal.objective if sized else np.nan,
        "first_mass": study.nominal(ready.start, ready.kept).objective,
        "holds": float(bool(sized and sized.holds)), "held": float(held.mean()),
        "samples": ready.sampled.size, "rounds": sized.rounds if sized else 0,
        "price": sized.multiplier if sized else np.nan,
        "unmoved": float(ready.lost.mean()),
    }  # fmt: skip
    line |= {f"x.{n}": value for n, value in enumerate(study.design(z))}
    groups = np.array([study.problem.rows.labels[n].group for n in ready.kept])
    for group in dict.fromkeys(groups.tolist()):
        own = rows[:, groups == group].min(axis=1)
        line[f"margin.{group}"] = float(nominal.rows[groups == group].min())
        line[f"deviation.{group}"] = float(own.std())
        line[f"fails.{group}"] = float((own < -ROUGHLY).mean())
    spent = np.full(len(study.inputs), np.nan)
    if sized is not None and sized.holds and share < CERTAIN:
        spent = mass_spent(ready, sized, share)
    line |= {f"spent.{n}": value for n, value in enumerate(spent)}
    line |= {f"pushed.{n}": value for n, value in enumerate(_pushed(ready.steps, failing))}
    return {name: np.array([value]) for name, value in line.items()}


def _pushed(steps: Floats, failing: Booleans) -> Floats:
    """How far inputs stand from their mean where a design fails, in their deviations."""
    if not failing.any():
        return np.zeros(steps.shape[1])
    deviation = np.maximum(steps.std(axis=0), STILL)
    return np.asarray((steps[failing].mean(axis=0) - steps.mean(axis=0)) / deviation)


def mass_spent(ready: Ready, sized: Sized, share: float) -> Floats:
    """Mass that a design spends on each input, to first order [kg].

    What the least mass falls by, per share that the spread of the input about the study's value
    shrinks by: the price of the quantile times the slopes of the rows that carry it, each taken
    where the samples are in which it does. Slopes are exact.
    """
    deviation = deviations(sized.rows)
    varies = np.flatnonzero(deviation > ROUGHLY)
    ordered = order_weights(len(sized.rows), 1.0 - share)
    worst = worst_of(sized.rows[:, varies], deviation[varies], ordered)
    spent = np.zeros(len(ready.study.inputs))
    for row in np.unique(worst.row):
        own = np.where(worst.row == row, worst.weights, 0.0)
        weight = own.sum()
        if weight >= CARRIES:
            steps = own @ ready.steps / weight
            place = ready.kept[varies[row] : varies[row] + 1]
            slopes = ready.study.input_slopes(sized.z, steps, place)[:, 0]
            spent -= weight * slopes * steps / deviation[varies[row]]
    return np.asarray(sized.multiplier * spent)


def try_chunk(context: str, payload: Mapping[str, Any]) -> Columns:
    """Whether a design holds in samples of the judged inputs, some requirements turned.

    Parameters
    ----------
    context : of the study, with its ``axes``
    payload : ``design``, ``count``, ``offset`` (added to the seed), ``first`` and ``last`` sample,
        and ``points`` of the axes, shape (n, axes)
    """
    problem = problem_in(context)
    study = _study(context)
    every = _drawn(context, payload["count"], payload["offset"])
    steps = every[payload["first"] : payload["last"]]
    theta = study.theta(steps)
    axes = ParametricProblem.of_context(context)
    z, every_row = study.scaled(np.asarray(payload["design"])), np.arange(problem.rows.counts.size)
    held = []
    for point in np.atleast_2d(payload["points"]):
        turned = axes.theta(point[None])[0] - np.asarray(problem.theta) if point.size else 0.0
        parameters = study.of_theta(theta + turned)
        rows = study.rows(z, parameters, every_row)
        holds = np.where(parameters.counts, rows, np.inf).min(axis=1) >= -FEASIBLE
        if study.trimmed.size and not holds.all():
            failing = np.flatnonzero(~holds)
            holds[failing] = _holds_trimmed(study, z, parameters.take(failing))
        held.append(holds)
    return {f"held.{n}": one.astype(float) for n, one in enumerate(held)}


def _holds_trimmed(study: StudySamples, z: Floats, parameters: Parameters) -> Booleans:
    """Whether a design holds in samples, each with settings of its own."""
    own, _ = study.sampled(parameters, study.settings(z, parameters))
    rows = own.rows(z, np.arange(own.size))
    return np.asarray(rows.min(axis=1) >= -FEASIBLE)


@lru_cache(maxsize=2)
def _drawn(context: str, count: int, offset: int) -> Floats:
    problem = problem_in(context)
    return drawn_steps(problem, _study(context).inputs, count, problem.study.seed + offset)
