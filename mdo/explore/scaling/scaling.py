"""The analysis `scaling`: a family by three laws, optimised, its exponents against theory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from mdo.explore.exploration import Exploration, Say, counted
from mdo.explore.scaling.exponents import fit, theory
from mdo.explore.scaling.family import FUNCTION, QUANTITIES
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import FEASIBLE
from mdo.quantities import title_of
from mdo.results.work import Task, Work
from mdo.study.analyses import MODES
from mdo.study.scaling_laws import scaled

CHANGE_COLUMNS = ["law", "mode", "size", "appears", "vanishes"]


def run_scaling(
    problem: DesignProblem, work: Work, say: Say, modes: Sequence[str] = ()
) -> Exploration:
    """Scale a vehicle by laws, optimise every size, fit exponents.

    Parameters
    ----------
    problem : the given vehicle
    work : who does the chunks, one for each law and mode
    say : told what is being done
    modes : ``full`` and ``pure``; those of the plan where there are none

    Raises
    ------
    StudyError
        If the study cannot be scaled at all.
    """
    check(problem)
    plan = problem.study.analysis.scaling
    sizes = np.sort(np.unique(np.asarray(plan.sizes, dtype=float)))
    tasks = [
        Task(f"{law}-{mode}", {"law": law, "mode": mode, "sizes": sizes})
        for mode in modes or (MODES if plan.checks else MODES[:1])
        for law in plan.laws
    ]
    context = problem_context(problem, {})
    points = work.do("scaling", FUNCTION, context, tasks, say, title="Families").frame()
    tables = {
        "scaling_points": points,
        "scaling_exponents": pd.DataFrame(exponent_rows(points)),
        "scaling_changes": pd.DataFrame(change_rows(points), columns=CHANGE_COLUMNS),
    }
    return Exploration("scaling", problem, tables, counted(points["status"]))


def check(problem: DesignProblem) -> None:
    """Refuse a study that cannot be scaled at all.

    Raises
    ------
    StudyError
        With the reason.
    """
    scaled(problem.study, problem.study.analysis.scaling.laws[0], 1.0)


def exponent_rows(points: pd.DataFrame) -> list[dict[str, object]]:
    """Fitted exponent of every quantity of every law and mode, over the feasible sizes."""
    rows: list[dict[str, object]] = []
    for (law, mode), family in points.groupby(["law", "mode"], sort=False):
        good = family[family["status"] == FEASIBLE]
        for quantity in ("vehicle_mass", *QUANTITIES):
            slope = fit(np.asarray(good["size"]), np.asarray(good[quantity], dtype=float))
            rows.append(
                {"law": law, "mode": mode, "quantity": quantity, "title": title_of(quantity),
                 "exponent": slope.exponent, "low": slope.low, "high": slope.high,
                 "theory": theory(str(law), str(mode), quantity), "sizes": slope.sizes}
            )  # fmt: skip
    return rows


def change_rows(points: pd.DataFrame) -> list[dict[str, object]]:
    """Sizes at which rows become active or leave, from one feasible size to the next larger."""
    rows: list[dict[str, object]] = []
    for (law, mode), family in points.groupby(["law", "mode"], sort=False):
        good = family[family["status"] == FEASIBLE].sort_values("size")
        sets = [set(filter(None, text.split("; "))) for text in good["active"]]
        for size, before, after in zip(good["size"][1:], sets, sets[1:], strict=False):
            if before != after:
                rows.append(
                    {"law": law, "mode": mode, "size": float(size),
                     "appears": "; ".join(sorted(after - before)),
                     "vanishes": "; ".join(sorted(before - after))}
                )  # fmt: skip
    return rows
