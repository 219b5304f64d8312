"""The analysis `assurance`: sizing so that all requirements hold with a wanted probability.

The judged inputs of the study are drawn from their ranges; the lightest design whose share of
samples in which every requirement holds is the wanted one is found for each probability, and tried
on samples of another seed. Loads, tubes and heat stand at the levels that the study optimises with,
what the paths of the tubes take is that of the study's verified optimum in every sample. The mass
is that at the study's values.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import wilson
from mdo.defend.sensitivity.measurement_plan import method_of
from mdo.explore.assurance.judged import judged_inputs
from mdo.explore.assurance.worker import CERTAIN, CONFIRM, SIZE, TRY
from mdo.explore.exploration import Exploration, Say, refuse
from mdo.explore.maps.map import axes_table
from mdo.model.layout import design_labels
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.axes import Axis, axes_of, written_axes
from mdo.optimise.newton_end import at_bounds
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import FEASIBLE, INFEASIBLE
from mdo.results.work import Task, Work

if TYPE_CHECKING:
    from mdo.defend.uncertain import Uncertain

STARTS = 4
PART = 1024  # samples of one piece of work
MAIN = 0.9  # the design that inputs and map are told of is the one nearest to this probability
MAP_SAMPLES = 512
MOST_AXES = 2
LEAST = 1e-12  # sum of slopes [kg] below which nothing is spent
WORDS = str.maketrans("_.", "  ")  # of the label of a variable
NAMED = 3  # requirements named as what stands in the way, and inputs
STANDS_OUT = 0.5  # deviations by which an input stands apart where a design fails


class AssuranceFacts(NamedTuple):
    """What the sentences tell: inputs, samples of sizing and trial, mass of the optimum, seed."""

    inputs: int
    distribution: str
    samples: int
    confirmation: int
    optimum: float
    main: float
    seed: int
    trimmed: tuple[str, ...] = ()


class Setting(NamedTuple):
    """What every stage needs."""

    problem: DesignProblem
    inputs: tuple[Uncertain, ...]
    context: str
    work: Work
    say: Say


def check(problem: DesignProblem) -> tuple[Axis, ...]:
    """Axes of the plan, all of it checked.

    Raises
    ------
    StudyError
        If inputs, probabilities or axes do not serve.
    """
    plan = problem.study.analysis.assurance
    judged_inputs(problem)
    axes = axes_of(problem, plan.axes, "analysis.assurance.axes") if plan.axes else ()
    over = len(axes) > MOST_AXES
    refuse(problem, "assurance", [f"axes: got {len(axes)}, expected two at most"] if over else [])
    return axes


def run_assurance(problem: DesignProblem, work: Work, say: Say) -> Exploration:
    """Size a study for every wanted probability, and say what the mass is spent on.

    Parameters
    ----------
    problem : the study
    work : who does the chunks
    say : told what is being done

    Raises
    ------
    StudyError
        If the plan is wrong or the study judges no input.
    """
    plan, axes = problem.study.analysis.assurance, check(problem)
    say("Assurance: the optimum at the study's values")
    best = find_optimum(problem, starts=STARTS)
    options = {"design": best.design.tolist(), "left": plan.left, "axes": written_axes(axes)}
    setting = Setting(
        problem, judged_inputs(problem), problem_context(problem, options), work, say
    )  # fmt: skip
    wanted = [(one, plan.samples) for one in plan.probabilities]
    if plan.fixed_samples:
        wanted.append((CERTAIN, plan.fixed_samples))
    sized = _sized(setting, "sized", [_task(*one) for one in wanted])
    held = _confirmed(setting, sized)
    found = sized[(sized["holds"] > 0.0) & (sized["share"] < CERTAIN)]
    tables = {"assurance_designs": _designs(setting, sized, held)}
    tables["assurance_margins"] = _margins(sized)
    main = np.nan
    if len(found):
        row = found.loc[(found["share"] - MAIN).abs().idxmin()]
        main = float(row["share"])
        tables["assurance_inputs"] = _inputs(setting, row, _measured(setting, row))
        if axes:
            tables["assurance_map"] = _map(setting, axes, row)
            tables["assurance_axes"] = axes_table(axes)
    counts = tables["assurance_designs"]["status"].value_counts()
    facts = AssuranceFacts(
        len(setting.inputs), plan.distribution, plan.samples, plan.confirmation,
        best.mass if best.feasible else np.nan, main, problem.study.seed,
        plan.trimmed,
    )  # fmt: skip
    known = {str(status): int(count) for status, count in counts.items()}
    whole = {name: pd.DataFrame(table) for name, table in tables.items()}
    return Exploration("assurance", problem, whole, known, facts)


def _task(share: float, count: int, shrunk: int = -1, start: Sequence[float] = ()) -> Task:
    payload = {"share": share, "samples": count, "shrunk": shrunk, "start": np.asarray(start)}
    what = f"p{share:.6g}".replace(".", "_")
    return Task(f"{what}-{count}-{shrunk + 1}", payload)


def _sized(setting: Setting, stage: str, tasks: list[Task]) -> pd.DataFrame:
    """Lines of :func:`mdo.explore.assurance.worker.size_chunk`."""
    titles = {"sized": "Sizing", "measured": "Sizing with an input measured"}
    chunks = setting.work.do(
        stage, SIZE, setting.context, tasks, setting.say, title=titles[stage]
    )  # fmt: skip
    return chunks.frame()


def _design(row: Any) -> Floats:
    return np.array([row[f"x.{n}"] for n in range(len(design_labels()))])


def _confirmed(setting: Setting, sized: pd.DataFrame) -> list[float]:
    """Share of samples of another seed in which each design holds; NaN where there is none.

    Of a design that misses its share too: it is what was reached.
    """
    count = setting.problem.study.analysis.assurance.confirmation
    found = np.isfinite(sized["mass"])
    tasks = [
        _try(f"d{n}-{first}", _design(row), (count, first, min(first + PART, count)), CONFIRM)
        for n, row in sized[found].iterrows()
        for first in range(0, count, PART)
    ]
    if not tasks:
        return [np.nan] * len(sized)
    chunks = setting.work.do(
        "confirmed", TRY, setting.context, tasks, setting.say, title="Confirming by another seed"
    )
    held = iter(chunks.frame()["held.0"].to_numpy().reshape(-1, count).mean(axis=1))
    return [float(next(held)) if one else np.nan for one in found]


def _try(
    key: str, design: Floats, samples: tuple[int, int, int], offset: int, points: Any = ((),)
) -> Task:
    count, first, last = samples
    return Task(key, {
        "design": design, "count": count, "first": first, "last": last, "offset": offset,
        "points": np.asarray(points, dtype=float),
    })  # fmt: skip


def _designs(setting: Setting, sized: pd.DataFrame, held: Sequence[float]) -> pd.DataFrame:
    """One line for each probability."""
    lines = []
    count = setting.problem.study.analysis.assurance.confirmation
    for confirmed, (_, row) in zip(held, sized.iterrows(), strict=True):
        holds = bool(row["holds"] > 0.0)
        low, high = wilson(confirmed, count) if np.isfinite(confirmed) else (np.nan, np.nan)
        lines.append({
            "probability": row["share"], "status": FEASIBLE if holds else INFEASIBLE,
            "system_mass": row["mass"] if holds else np.nan,
            "added": row["mass"] - row["first_mass"] if holds else np.nan,
            "held": row["held"], "confirmed": confirmed, "confirmed_low": low,
            "confirmed_high": high, "price": row["price"] if holds else np.nan,
            "samples": int(row["samples"]), "rounds": int(row["rounds"]),
            "reason": "" if holds else _stands_against(setting, row, confirmed),
        } | dict(zip(design_labels(), _design(row), strict=True)))  # fmt: skip
    return pd.DataFrame(lines)


def _stands_against(setting: Setting, row: Any, confirmed: float) -> str:
    """What fails most where the wanted share of samples is not reached, and with which inputs."""
    shares = {
        name.removeprefix("fails."): value
        for name, value in row.items()
        if str(name).startswith("fails.") and value > 0.0
    }
    worst = sorted(shares, key=lambda name: -shares[name])[:NAMED]
    named = "; ".join(f"{REQUIREMENTS[name].title} ({shares[name]:.0%})" for name in worst)
    pushed = {one: float(row[f"pushed.{n}"]) for n, one in enumerate(setting.inputs)}
    far = sorted(pushed, key=lambda one: -abs(pushed[one]))[:NAMED]
    with_what = ", ".join(
        f"{'high' if pushed[one] > 0.0 else 'low'} {one.meaning} ('{one.path}')"
        for one in far
        if abs(pushed[one]) > STANDS_OUT
    )
    mostly = f". Those samples have mostly: {with_what}" if with_what else ""
    if row["share"] > 1.0 - row["unmoved"] and row["share"] < CERTAIN:
        most = 1.0 - row["unmoved"]
        return (
            f"No mass buys more than {most:.1%}: in {row['unmoved']:.1%} of the samples a "
            f"requirement fails that no variable moves{mostly}. At the optimum fail: {named}"
        )
    ends = _at_bounds(setting.problem, _design(row))
    stand = f" ({', '.join(ends)})" if ends else ""
    return (
        f"Reached {row['held']:.1%} of the samples and {confirmed:.1%} of those of another seed, "
        f"with {row['mass']:.4g} kg; no design that was tried within the bounds of the variables"
        f"{stand} misses less. In the others fail: {named}{mostly}"
    )


def _at_bounds(problem: DesignProblem, design: Floats) -> list[str]:
    """Variables that stand at an end of their range, in words."""
    names = [problem.labels[n].translate(WORDS) for n in np.flatnonzero(problem.active)]
    return [
        f"{names[n]} at its {side} one"
        for side, there in zip(("lower", "upper"), at_bounds(problem, design), strict=True)
        for n in np.flatnonzero(there)
    ]


def _margins(sized: pd.DataFrame) -> list[dict[str, Any]]:
    """What each requirement has: margin at the study's values, over the samples, and failures."""
    lines = []
    for _, row in sized[sized["holds"] > 0.0].iterrows():
        for name in row.index:
            if str(name).startswith("margin."):
                group = str(name).removeprefix("margin.")
                deviation = row[f"deviation.{group}"]
                lines.append({
                    "probability": row["share"], "group": group,
                    "title": REQUIREMENTS[group].title, "margin": row[name],
                    "deviation": deviation, "failing": row[f"fails.{group}"],
                })  # fmt: skip
    return lines


def _measured(setting: Setting, row: Any) -> dict[int, float]:
    """Mass of the main design with one input at a time measured, those most is spent on."""
    plan = setting.problem.study.analysis.assurance
    spent = np.array([row[f"spent.{n}"] for n in range(len(setting.inputs))])
    first = [int(n) for n in np.argsort(-spent, kind="stable")[: plan.measured] if spent[n] > 0.0]
    if not first:
        return {}
    start = _design(row).tolist()
    tasks = [_task(float(row["share"]), plan.samples, n, start) for n in first]
    again = _sized(setting, "measured", tasks)
    masses = np.where(again["holds"] > 0.0, again["mass"], np.nan)
    return {n: float(mass) for n, mass in zip(first, masses, strict=True)}


def _inputs(setting: Setting, row: Any, measured: dict[int, float]) -> pd.DataFrame:
    """What the mass of the main design is spent on, the most first."""
    slopes = np.array([row[f"spent.{n}"] for n in range(len(setting.inputs))])
    rising = np.maximum(slopes, 0.0)
    spent = (row["mass"] - row["first_mass"]) * rising / max(rising.sum(), LEAST)
    lines = [
        {
            "input": one.path, "title": one.meaning, "unit": one.unit, "value": one.value,
            "low": one.low, "high": one.high, "probability": row["share"], "spent": spent[n],
            "slope": slopes[n],
            "saved": float(row["mass"]) - measured[n] if n in measured else np.nan,
            "measure": (method := method_of(one.field)).measure, "kind": method.kind,
        }
        for n, one in enumerate(setting.inputs)
    ]  # fmt: skip
    return pd.DataFrame(lines).sort_values("spent", ascending=False, kind="stable")


def _map(setting: Setting, axes: tuple[Axis, ...], row: Any) -> pd.DataFrame:
    """Probability of the main design over one or two requirements."""
    levels = [
        np.linspace(axis.low, axis.high, setting.problem.study.analysis.assurance.steps)
        for axis in axes
    ]
    points = np.array(list(product(*levels)))
    tasks = [
        _try(f"m{n}", _design(row), (MAP_SAMPLES, 0, MAP_SAMPLES), CONFIRM, point[None])
        for n, point in enumerate(points)
    ]
    chunks = setting.work.do(
        "map", TRY, setting.context, tasks, setting.say, title="Probability over requirements"
    )
    held = chunks.frame()["held.0"].to_numpy().reshape(len(points), -1).mean(axis=1)
    columns = {axis.name: points[:, n] for n, axis in enumerate(axes)}
    return pd.DataFrame(columns | {"confirmed": held})
