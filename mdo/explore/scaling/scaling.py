"""The analysis `scaling`: a family by three laws, optimised, its exponents against theory."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from mdo.explore.exploration import Exploration
from mdo.explore.scaling.exponents import fit, theory
from mdo.explore.scaling.family import FEASIBLE, FULL, FUNCTION, PURE, QUANTITIES
from mdo.optimise.problem import DesignProblem
from mdo.optimise.problem_text import problem_context
from mdo.quantities import title_of
from mdo.results.work import Task, Work
from mdo.study.fields import number
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import LAWS, scaled
from mdo.study.units import UnitError
from mdo.study.values import number_in

if TYPE_CHECKING:
    import pandas as pd

Say = Callable[[str], None]
MODES = (PURE, FULL)
SIZES = tuple(float(size) for size in np.geomspace(0.25, 4.0, 9))
SIZE = number("vehicle_size")
CHANGE_COLUMNS = ("law", "mode", "size", "appears", "vanishes")
AGREES = 0.01  # difference to theory that counts as agreement, pure mode
NAMED = 3  # requirements of a sentence on why a size is infeasible
EXACT = 1e-6  # half of an interval below which it is not said


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
    exponents = pd.DataFrame(exponent_rows(points))
    changes = pd.DataFrame(
        change_rows(points), columns=["law", "mode", "size", "appears", "vanishes"]
    )
    counts = {str(name): int(count) for name, count in points["status"].value_counts().items()}
    return Exploration(
        kind="scaling",
        problem=problem,
        tables={
            "scaling_points": points,
            "scaling_exponents": exponents,
            "scaling_changes": changes,
        },
        lines=lines(points, exponents, changes),
        status_counts=counts,
    )


def check(problem: DesignProblem, options: ScalingOptions) -> None:
    """Raise every fault of the options at once.

    Raises
    ------
    StudyError
        With one line per fault.
    """
    source = str(problem.study.path) if problem.study.path else "study"
    at = f"{source}: analysis.scaling"
    problems = [
        f"{at}.{name}: got {value}, expected some of {', '.join(known)}"
        for name, given, known in (
            ("laws", options.laws, tuple(LAWS)),
            ("modes", options.modes, MODES),
        )
        for value in given
        if value not in known
    ]
    for size in options.sizes:
        try:
            number_in(SIZE, size)
        except UnitError as error:
            problems.append(f"{at}.sizes: {error}")
    problems += [
        f"{at}.{name}: empty, expected at least one"
        for name in ("laws", "sizes", "modes")
        if not getattr(options, name)
    ]
    if problems:
        raise StudyError(problems)
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


def lines(points: pd.DataFrame, exponents: pd.DataFrame, changes: pd.DataFrame) -> tuple[str, ...]:
    """What came out, one sentence each."""
    said: list[str] = []
    for (law, mode), family in points.groupby(["law", "mode"], sort=False):
        own = exponents[(exponents["law"] == law) & (exponents["mode"] == mode)]
        name = f"{str(law).replace('_', ' ')}, {mode}"
        good = family[family["status"] == FEASIBLE]
        said.append(f"{name}: {len(good)} of {len(family)} sizes have a feasible optimum.")
        if len(good) > 1:
            said.append(_slope_line(name, own))
        if mode == PURE and len(good) > 1:
            said.append(_theory_line(name, own))
        said += _edges(name, family)
        own_changes = changes[(changes["law"] == law) & (changes["mode"] == mode)]
        said += [
            f"{name}: from size {row['size']:.3g} on {_change_words(row)}."
            for row in own_changes.to_dict("records")
        ]
    return tuple(said)


def _slope_line(name: str, own: pd.DataFrame) -> str:
    words = []
    for quantity in ("system_mass", "required_moment_max", "peak_power"):
        row = own[own["quantity"] == quantity].iloc[0]
        half = 0.5 * (row["high"] - row["low"])
        band = f" ± {half:.2g}" if half > EXACT else ""
        words.append(f"{row['title'].lower()} {row['exponent']:.3f}{band}")
    return f"{name}: exponents of the size (95 % interval): {', '.join(words)}."


def _theory_line(name: str, own: pd.DataFrame) -> str:
    known = own[own["theory"].notna()]
    off = (known["exponent"] - known["theory"]).abs()
    worst = known.loc[off.idxmax()]
    agrees = "agrees" if off.max() <= AGREES else "does not agree"
    return (
        f"{name}: {agrees} with theory within {AGREES:g}: the largest difference is "
        f"{off.max():.2g}, of {worst['title'].lower()}."
    )


def _edges(name: str, family: pd.DataFrame) -> list[str]:
    """Say what stops the family above its largest and below its smallest feasible size."""
    ordered = family.sort_values("size")
    good = np.flatnonzero(ordered["status"] == FEASIBLE)
    if good.size == 0:
        return []
    said = []
    for place, word in ((good[0] - 1, "below"), (good[-1] + 1, "above")):
        if 0 <= place < len(ordered):
            edge = ordered.iloc[place]
            last = ordered.iloc[place + 1 if word == "below" else place - 1]
            what = f"{edge['status']}: {_first(str(edge['reason']))}"
            said.append(f"{name}: {word} size {last['size']:.3g} the next one is {what}.")
    return said


def _first(reason: str) -> str:
    """First requirements of a reason, and how many more there are."""
    titles = reason.split("; ")
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    return ", ".join(titles[:NAMED]) + more


def _change_words(row: dict[str, object]) -> str:
    """Say what limits the optimum from a size on, and what no more."""
    words = {"the optimum is limited by": row["appears"], "no more by": row["vanishes"]}
    return ", ".join(
        f"{said} {str(titles).replace('; ', ', ')}" for said, titles in words.items() if titles
    )
