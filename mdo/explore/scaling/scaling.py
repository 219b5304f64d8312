"""The analysis `scaling`: a family by three laws, optimised, its exponents against theory."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import t as student

from mdo.arrays import Floats
from mdo.explore.exploration import Exploration, Say, counted
from mdo.explore.scaling.family import FULL, FUNCTION, QUANTITIES
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import FEASIBLE
from mdo.quantities import title_of
from mdo.results.work import Task, Work
from mdo.study.analyses import MODES
from mdo.study.scaling_laws import LAWS, scaled

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


CONFIDENCE = 0.95
LEAST = 2  # sizes of a slope; of an interval one more


class Slope(NamedTuple):
    """Fitted exponent with the ends of its interval."""

    exponent: float
    low: float
    high: float
    sizes: int


def fit(sizes: Floats, values: Floats) -> Slope:
    """Exponent of positive values over sizes; NaN with fewer than two, no interval below three."""
    good = np.isfinite(values) & (values > 0.0)
    x, y = np.log(sizes[good]), np.log(values[good])
    n = int(good.sum())
    if n < LEAST or np.ptp(x) == 0.0:
        return Slope(np.nan, np.nan, np.nan, n)
    off = x - x.mean()
    slope = float(off @ y / (off @ off))
    if n == LEAST:
        return Slope(slope, np.nan, np.nan, n)
    residual = y - y.mean() - slope * off
    error = float(np.sqrt(residual @ residual / (n - 2) / (off @ off)))
    half = float(student.ppf(0.5 + CONFIDENCE / 2.0, n - 2)) * error
    return Slope(slope, slope - half, slope + half, n)


def theory(law: str, mode: str, quantity: str) -> float:
    """Exponent that the law demands; NaN where it demands none.

    In full mode it is that of the law, with times at their limits: what the optima would have if
    nothing in them had a size of its own. In pure mode times and powers are those of a body that
    stores heat in its volume and loses it through its surface.
    """
    rule = LAWS[law]
    length = rule.moment / 3.0
    known = {"vehicle_mass": rule.mass, "leg_work_density_max": 0.0}
    as_moment = ("required_moment_max", "actuator_work_max", "system_mass", "alloy_mass",
                 "sortie_energy")  # fmt: skip
    known |= dict.fromkeys(as_moment, rule.moment)
    if mode == FULL:
        known |= {"peak_power": rule.power, "fold_time": rule.time, "return_time": rule.time}
    else:
        known |= {
            "peak_power": 2.0 * length, "fold_time": length, "return_time": length,
            "tube_count": 0.0, "tube_outer_radius": length, "tube_length": length,
            "bundle_length": length, "gear_ratio": 0.0,
        }  # fmt: skip
    return known.get(quantity, float("nan"))
