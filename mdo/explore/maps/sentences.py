"""What a map says, in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from mdo.model.system import OBJECTIVE
from mdo.optimise.many.chunk import FEASIBLE, OPEN, SETTLED
from mdo.study.units import to_trade

if TYPE_CHECKING:
    import pandas as pd

FEW = 3


def map_lines(tables: Mapping[str, pd.DataFrame]) -> tuple[str, ...]:
    """Sentences of a requirement map."""
    points, axes = tables["map_points"], tables["map_axes"]
    best, choices = tables["map_best"], tables["map_choices"]
    good = best[OBJECTIVE].notna()
    titles = ", ".join(axes["title"])
    several = f" for each of {len(choices)} combinations of choices" if len(choices) > 1 else ""
    covered = f"{len(best)} points of {len(axes)} axes ({titles}){several}"
    lines = [f"{covered}: {int(good.sum())} have a feasible optimum."]
    if good.any():
        lines.append(_lightest(points, axes, best))
    kinked = points[(points["status"] == FEASIBLE) & (points["kkt_residual"] > SETTLED)]
    if not kinked.empty:
        lines.append(
            f"At {len(kinked)} of them the conditions of an optimum hold only to "
            f"{kinked['kkt_residual'].max():.1g}; two starts agree on each."
        )
    still = int((points["status"] == OPEN).sum())
    if still:
        lines.append(f"At {still} the optimiser did not settle: they count as neither.")
    if len(choices) > 1:
        lines.append(_winners(choices))
    lines += _dearest(points, axes)
    lines += _reasons(points)
    return tuple(lines)


def _lightest(points: pd.DataFrame, axes: pd.DataFrame, best: pd.DataFrame) -> str:
    masses = best[OBJECTIVE]
    where = int(masses.idxmin())
    row = points[points["point"] == best["point"][where]].iloc[0]
    said = ", ".join(
        f"{title.lower()} {_shown(float(row[name]), unit)}"
        for name, title, unit in zip(axes["axis"], axes["title"], axes["unit"], strict=True)
    )
    return (
        f"System mass of the aircraft from {masses.min():.4g} to {masses.max():.4g} kg; the least "
        f"at {said}."
    )


def _shown(value: float, unit: str) -> str:
    number, trade = to_trade(value, unit)
    return f"{number:.4g}" + ("" if trade == "1" else f" {trade}")


def _winners(choices: pd.DataFrame) -> str:
    order = choices.sort_values(["wins", "choice"], ascending=[False, True], kind="stable")
    won = [f"{row.choice} at {row.wins}" for row in order.itertuples() if row.wins]
    return "Lightest: " + ("; ".join(won) if won else "none") + "."


def _dearest(points: pd.DataFrame, axes: pd.DataFrame) -> list[str]:
    """Median cost of one step of each axis, dearest first."""
    good = points[points["status"] == FEASIBLE]
    if good.empty:
        return []
    costs = []
    for row in axes.itertuples():
        median = float(good[f"cost.{row.axis}"].abs().median()) * float(row.step)
        costs.append((median, f"{row.title.lower()} {median:.3g} kg per {row.per}"))
    costs.sort(key=lambda pair: -pair[0])
    return ["Median cost: " + "; ".join(words for _, words in costs) + "."]


def _reasons(points: pd.DataFrame) -> list[str]:
    failed = points[points["status"] != FEASIBLE]
    groups: dict[str, int] = {}
    for text in failed["reason"]:
        for one in str(text).split("; "):
            groups[one] = groups.get(one, 0) + 1
    most = sorted(groups.items(), key=lambda pair: (-pair[1], pair[0]))[:FEW]
    if not most:
        return []
    said = "; ".join(f"{words} ({count})" for words, count in most)
    return [f"What stands against each other most often where nothing is feasible: {said}."]
