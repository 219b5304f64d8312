"""The analysis `scaling`: a family by three laws, optimised, its exponents against theory."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from mdo.explore.exploration import Exploration, Say, counted, refuse
from mdo.explore.scaling.exponents import fit, theory
from mdo.explore.scaling.family import FULL, FUNCTION, PURE, QUANTITIES
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.optimise.status import FEASIBLE
from mdo.quantities import title_of
from mdo.results.work import Task, Work
from mdo.study.fields import number
from mdo.study.scaling_laws import LAWS, scaled
from mdo.study.units import UnitError
from mdo.study.values import number_in

if TYPE_CHECKING:
    import pandas as pd

MODES = (PURE, FULL)
SIZES = tuple(float(size) for size in np.geomspace(0.25, 4.0, 9))
SIZE = number("vehicle_size")
CHANGE_COLUMNS = ["law", "mode", "size", "appears", "vanishes"]


@dataclass(frozen=True, kw_only=True)
class ScalingOptions:
    """``[analysis.scaling]``.

    Attributes
    ----------
    laws
        Keys of :data:`mdo.study.scaling_laws.LAWS`.
    sizes
        Lengths over those of the given vehicle.
    modes
        ``pure`` and ``full``.
    """

    laws: tuple[str, ...] = tuple(LAWS)
    sizes: tuple[float, ...] = SIZES
    modes: tuple[str, ...] = MODES


def run_scaling(
    problem: DesignProblem, options: ScalingOptions, work: Work, say: Say
) -> Exploration:
    """Scale a vehicle by laws, optimise every size, fit exponents.

    Parameters
    ----------
    problem : the given vehicle
    options : laws, sizes, modes
    work : who does the chunks, one for each law and mode
    say : told what is being done

    Raises
    ------
    StudyError
        If an option is wrong, or the study cannot be scaled at all.
    """
    import pandas as pd

    check(problem, options)
    sizes = np.sort(np.unique(np.asarray(options.sizes, dtype=float)))
    tasks = [
        Task(f"{law}-{mode}", {"law": law, "mode": mode, "sizes": sizes})
        for mode in options.modes
        for law in options.laws
    ]
    context = problem_context(problem, {})
    done = work.do("scaling", FUNCTION, context, tasks, say, title="Families")
    points = done.frame()
    tables = {
        "scaling_points": points,
        "scaling_exponents": pd.DataFrame(exponent_rows(points)),
        "scaling_changes": pd.DataFrame(change_rows(points), columns=CHANGE_COLUMNS),
    }
    return Exploration("scaling", problem, tables, counted(points["status"]))


def check(problem: DesignProblem, options: ScalingOptions) -> None:
    """Raise every fault of the options at once.

    Raises
    ------
    StudyError
        With one line per fault, or if the study cannot be scaled at all.
    """
    faults = [
        f"{name}: got {value}, expected some of {', '.join(known)}"
        for name, known in (("laws", tuple(LAWS)), ("modes", MODES))
        for value in getattr(options, name)
        if value not in known
    ]
    for size in options.sizes:
        try:
            number_in(SIZE, size)
        except UnitError as error:
            faults.append(f"sizes: {error}")
    faults += [
        f"{name}: empty, expected at least one"
        for name in ("laws", "sizes", "modes")
        if not getattr(options, name)
    ]
    refuse(problem, "scaling", faults)
    scaled(problem.study, options.laws[0], 1.0)


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
