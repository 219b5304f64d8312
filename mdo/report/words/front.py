"""What a front says, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pandas as pd

from mdo.explore.exploration import Exploration
from mdo.explore.fronts.study_front import Objective
from mdo.optimise.knob_list import PLAIN
from mdo.optimise.status import SETTLED
from mdo.study.number_text import quantity
from mdo.study.study import Study

KNEE = "The knee, the point farthest from the chord between the ends in normalised objectives"
NAMED = 4  # rows that are named where there is no design


def front_sentences(exploration: Exploration) -> Iterator[str]:
    """Ends, knee and gaps of every front, and which choice is best where."""
    objectives, tables = exploration.facts, exploration.tables
    points = tables["front_points"]
    if not points["overall"].any():
        yield (
            "The front has no point: even with the loosest bounds no design meets the requirements."
        )
        for row in tables["front_summary"].to_dict("records"):
            yield f"{_head(row['front'])}{_short(row['reason'])}."
        return
    yield "Masses of a front are bounds: counts of tubes are free; 'optimum' gives whole tubes."
    fronts = points.groupby("front", sort=False)
    for name, own in fronts:
        yield from _of_one_front(objectives, own, tables["front_gaps"], str(name))
    if len(fronts) > 1:
        yield from _winners(objectives, points[points["overall"]])
    yield from _own_times(exploration.study, objectives)


def _head(front: str) -> str:
    return f"{front}: " if front else ""


def _of_one_front(
    objectives: Sequence[Objective], every: pd.DataFrame, gaps: pd.DataFrame, name: str
) -> Iterator[str]:
    head = _head(name)
    points = every[every["place"] >= 0]
    if points.empty:
        yield f"{head}no design even with the loosest bounds: {every['reason'].iloc[0]}."
        return
    count = "1 exact point" if len(points) == 1 else f"{len(points)} exact points"
    yield f"{head}{count}: {'; '.join(_span(one, points) for one in objectives)}."
    knee = points[points["knee"]]
    if len(points) > 2 and knee.empty:
        yield f"{head}The front has no knee: it bulges nowhere towards the better side."
    elif len(points) > 2:
        at = (f"{one.title.lower()} {_said(one, knee[one.name].iloc[0])}" for one in objectives)
        yield f"{head}{KNEE}: {', '.join(at)}."
    if "mass_bound" in points and (points["mass_bound"] > 0.0).any():
        share = points["mass_bound"] / points["system_mass"]
        yield (
            f"{head}Rows are corrected to the high-fidelity levels; the bound on the error of mass "
            f"is {100.0 * share.median():.2g} % at the median, {100.0 * share.max():.2g} % at most."
        )
    yield from (f"{head}{words}" for words in rough_words(points))
    for row in gaps[gaps["front"] == name].to_dict("records"):
        spans = " and ".join(
            _from_to(one, row[f"{one.name}_from"], row[f"{one.name}_to"]) for one in objectives[1:]
        )
        yield f"{head}No point of the front with {spans}: {_short(row['reason'])}."


def rough_words(points: pd.DataFrame) -> Iterator[str]:
    """Say how far from optimal the feasible points are that did not settle closely, if any."""
    rough = points.loc[points["kkt_residual"] > SETTLED, "kkt_residual"]
    if len(rough):
        yield (
            f"At {len(rough)} of them the conditions of an optimum hold only to {rough.max():.1g}; "
            "two starts agree on each."
        )


def _short(reason: str) -> str:
    """The first of several conflicting requirements."""
    rows = reason.split("; ")
    more = len(rows) - NAMED
    return "; ".join(rows[:NAMED]) + (f"; and {more} more" if more > 0 else "")


def _winners(objectives: Sequence[Objective], best: pd.DataFrame) -> Iterator[str]:
    """Which choice is on the front of all of them, and where."""
    for name, part in best.groupby("front", sort=False):
        spans = " and ".join(_span(one, part) for one in objectives[1:])
        yield (
            f"{name} is on the front of all choices at {len(part)} of {len(best)} points, with "
            f"{spans}."
        )


def _own_times(study: Study, objectives: Sequence[Objective]) -> Iterator[str]:
    """Say which cases keep a time of their own while the one of the study is turned."""
    plain = {knob.name for knob in PLAIN}
    given = {field.path for field in study.inputs if field.origin == "file"}
    for one in objectives:
        own = [c.title or c.id for c in study.cases if f"case.{c.id}.{one.name}" in given]
        if one.axis is not None and one.name in plain and own:
            yield (
                f"{one.title} is that of [requirements]; these cases keep their own: "
                f"{', '.join(own)}."
            )


def _span(one: Objective, points: pd.DataFrame) -> str:
    return _from_to(one, points[one.name].min(), points[one.name].max())


def _from_to(one: Objective, low: float, high: float) -> str:
    return f"{one.title.lower()} from {_said(one, low)} to {_said(one, high)}"


def _said(one: Objective, value: float) -> str:
    return quantity(float(value), one.unit)
