"""The live trade page of a map: requirements on sliders, the lightest design with them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.explore.maps.trade import (
    HELD_OUT,
    NEIGHBOURS,
    UNSURE,
    YES,
    Stretched,
    Technology,
    Trade,
    trade_of,
)
from mdo.report.drawings.bundle_numbers import DRAWN, form_of
from mdo.report.pages.parts import Head
from mdo.report.templates import render
from mdo.report.words.exploration_columns import (
    Column,
    Columns,
    Tables,
    design_columns,
    numbers,
    values_table,
    with_texts_filled,
)
from mdo.report.words.table import Table
from mdo.study.number_text import percent

MASS = "system_mass"
OUTPUTS = (
    "peak_power", "sortie_energy", "fold_time_longest", "return_time_longest", "bundle_length",
    "bundle_height",
)  # fmt: skip
TIMES = {"fold_time_longest": "Longest fold time, any case",
         "return_time_longest": "Longest return time, any case"}  # fmt: skip
LEAST_STEPS, MOST_STEPS = 50, 250  # of a slider
DIGITS = 12  # of a weight
PLACES = 4  # of an error that is listed
MOST_LISTED = 200


def trade_page(head: Head, tables: Tables) -> str | None:
    """Return the live trade page of a map as one self-contained file; None without map or optima.

    Parameters
    ----------
    head : the map and its study; its seed draws the points that are held out
    tables : of the map, by name, SI
    """
    if "map_fields" not in tables:  # no map, or one of an older run
        return None
    tables = with_texts_filled(tables)
    trade = trade_of(tables["map_points"], tables["map_axes"], head.seed)
    if trade is None:
        return None
    columns = Columns(tables)
    axes = [columns.of(str(name)) for name in tables["map_axes"]["axis"]]
    optima = pd.concat([one.optima for one in trade.technologies])
    places = _places(optima, trade)
    start = places[((places - 0.5) ** 2).sum(axis=1).argmin()]  # nearest to the middle of the map
    sliders = [
        _slider(axis, line, share, tables["map_fields"])
        for axis, line, share in zip(axes, tables["map_axes"].itertuples(), start, strict=True)
    ]
    built = tables["map_choices"].set_index("choice")
    there = [name for name in (*OUTPUTS, *design_columns(optima, built)) if optima[name].any()]
    shown = [
        Column(name, TIMES[name], "s") if name in TIMES else columns.of(name) for name in there
    ]
    masses = optima[MASS]
    return render(
        "trade.html", **head.shown(": live trade page of its map"), whose="aircraft",
        axes=sliders, columns=shown,
        outputs=sum(name in OUTPUTS for name in there),
        technologies=[one.words for one in trade.technologies],
        masses=f"{masses.min():.3g} to {masses.max():.3g} kg on a logarithmic scale",
        trust=[
            *_trust(trade), *_others(trade, tables["map_points"], there),
            f"Levels of fidelity: {built['levels'].iloc[0]}.",
        ],
        checked=_held_table(trade, axes), origin=_origin(head, trade),
        data={
            "axes": sliders,
            "choices": [_technology(one, shown, built.loc[one.words])
                        for one in trade.technologies],
            "columns": [dict(zip(("factor", "offset", "unit"),
                                 column.scale(float(optima[column.name].abs().max())),
                                 strict=True)) for column in shown],
            "neighbours": NEIGHBOURS * (len(axes) + 1),
            "drawn": {key: there.index(name) if name in there else None
                      for key, name in DRAWN.items()},
        },
    )  # fmt: skip


def _places(points: pd.DataFrame, trade: Trade) -> Floats:
    """Places of points as shares of the axes."""
    shares = (points[list(trade.axes)].to_numpy(float) - trade.low) / (trade.high - trade.low)
    return np.asarray(shares)


def _slider(axis: Column, line: Any, share: float, fields: pd.DataFrame) -> dict[str, Any]:
    """Slider of an axis in the unit that is shown, from a share of it on, with what follows it."""
    factor, offset, unit = axis.scale(max(abs(line.low), abs(line.high)))
    first, last = (factor * end + offset for end in (line.low, line.high))
    steps, places = slider_steps(first, last)
    return {
        "title": axis.title, "ends": [axis.level(line.low), axis.level(line.high)],
        "low": line.low, "high": line.high, "from": first, "to": last, "unit": unit,
        "places": places, "steps": steps, "start": round(steps * share),
        "fields": _fields(fields, axis.name),
    }  # fmt: skip


def slider_steps(low: float, high: float) -> tuple[int, int]:
    """Return how many steps a slider has, of one digit each where that goes, and their decimals."""
    span = high - low
    counts = range(MOST_STEPS, LEAST_STEPS, -1)
    tidy = [n for n in counts if abs(float(f"{span / n:.1g}") - span / n) < 1e-9 * span]
    count = tidy[0] if tidy else MOST_STEPS
    return count, max(0, (0 if tidy else 1) - int(np.floor(np.log10(span / count) + 1e-9)))


def _fields(fields: pd.DataFrame, axis: str) -> list[dict[str, Any]]:
    """Fields of the study that follow an axis, each under the head of its table."""
    return [
        dict(zip(("head", "key"), head_and_key(str(line.field)), strict=True))
        | {"unit": str(line.unit).replace("percent", "%"), "low": float(line.low),
           "high": float(line.high), "power": bool(line.power)}
        for line in fields[fields["axis"] == axis].itertuples()
    ]  # fmt: skip


def head_and_key(path: str) -> tuple[str, str]:
    """Return the head of the table in a study that has a field, and its name there."""
    table, _, key = path.rpartition(".")
    first, _, rest = table.partition(".")
    if first == "case":
        case, _, inner = rest.partition(".")
        head = f'[[case]]\nid = "{case}"'
        return (head, key) if not inner else (head, f"{inner}.{key}")
    if first == "alloy" or "[" in table:
        return f"# {table}, not a line that can be pasted:", f"# {key}"
    return f"[{table}]", key


def _technology(one: Technology, shown: Sequence[Column], built: pd.Series) -> dict[str, Any]:
    """What the script needs of a technology."""
    texts = sorted({*one.optima["active"], *one.lost["reason"]})
    where = {text: at for at, text in enumerate(texts)}
    found: dict[str, Any] = {
        "words": one.words, "lines": str(built["lines"]), "texts": texts,
        "form": form_of(built),
        "lost": [where[text] for text in one.lost["reason"]],
        "mass": None, "edge": None, "band": one.band,
    }  # fmt: skip
    if one.edge is not None:
        found["edge"] = _surface(one.edge)
    if one.mass is not None:
        surface, logarithmic = one.others([column.name for column in shown])
        masses = one.optima[MASS]
        found |= {
            "mass": _surface(one.mass), "errors": numbers(one.errors, 6),
            "apart": numbers(one.apart, 6),
            "active": [where[text] for text in one.optima["active"]],
            "range": [float(masses.min()), float(masses.max())],
            "columns": [
                {"values": numbers(values, DIGITS), "plane": numbers(plane, DIGITS), "log": log}
                if np.isfinite(plane[0]) else None
                for values, plane, log in zip(
                    surface.weights.T, surface.plane.T, logarithmic, strict=True
                )
            ],
        }  # fmt: skip
    return found


def _surface(of: Stretched) -> dict[str, Any]:
    """Numbers of a surface of one column."""
    own = of.surface
    parts = {"by": of.by, "centres": own.centres, "values": own.weights[:, 0],
             "slopes": own.leans[..., 0], "plane": own.plane[:, 0]}  # fmt: skip
    return {name: numbers(part, DIGITS) for name, part in parts.items()}


def _trust(trade: Trade) -> Iterable[str]:
    """Say what the points that were left out show."""
    held = trade.held
    yield (
        f"Every number is interpolated between {trade.kept:,} optima and infeasible points of the "
        f"map. {len(held):,} of its {trade.whole:,} points, drawn with seed {trade.seed}, were "
        "left out of the interpolation and compared with it."
    )
    few = ", ".join(one.words for one in trade.technologies if one.mass is None)
    if few:
        yield f"Not on this page, since too few points of the map are feasible: {few}."
    both = held[held["feasible"] & held["mass"].notna()]
    if len(both):
        off = both["error"].abs()
        inside = (off <= np.maximum(both["stated"], 0.01)).mean()
        yield (
            f"Mass at these points: off by {percent(off.median())} in the middle, "
            f"{percent(off.quantile(0.95))} at 95 %, {percent(off.max())} at most; within 1 % or "
            f"the error stated beside it at {percent(inside)}. Stated in the middle: "
            f"{percent(both['stated'].median())}."
        )
    sure = held[held["verdict"] != UNSURE]
    if len(sure):
        right = ((sure["verdict"] == YES) == sure["feasible"]).mean()
        yield (
            f"Verdict at these points: right at {percent(right)} of those that it is sure of; "
            f"unsure at {percent(1.0 - len(sure) / len(held))}."
        )
    yield (
        "Near the edge, and where another requirement takes over, run the study: a point of the "
        "map is an optimum that was solved, a place between them is not."
    )


def _others(trade: Trade, points: pd.DataFrame, names: Sequence[str]) -> Iterable[str]:
    """Say how far off the other outputs are at the optima that were left out."""
    outputs = [name for name in names if name in OUTPUTS]
    left_out = points[points["point"].isin(trade.held["point"]) & points[MASS].notna()]
    off = []
    for one in trade.technologies:
        own = left_out[left_out["choice"] == one.words]
        if one.mass is not None and len(own):
            here = one.others_at(outputs, _places(own, trade))
            off.append((here / own[outputs].to_numpy(float) - 1.0).ravel())
    known = np.abs(np.concatenate([*off, np.zeros(0)]))
    known = known[np.isfinite(known)]
    if known.size:
        middle, most = map(percent, np.quantile(known, (0.5, 0.95)))
        yield (
            f"Power, energy, times and size at these points: off by {middle} in the middle, {most} "
            "at 95 %. The numbers of the whole design jump where what is active changes, and are a "
            "guide there."
        )


def _held_table(trade: Trade, axes: Sequence[Column]) -> Table:
    """Points that were left out: what was solved there, and what the page says."""
    numbers = [
        Column("solved", "solved", "kg"), Column("mass", "here", "kg"),
        Column("error", "off by", "1", percent=True), Column("stated", "stated", "1", percent=True),
    ]  # fmt: skip
    held = trade.held.round({"error": PLACES, "stated": PLACES})
    return values_table(
        held, [*axes, *numbers], most=MOST_LISTED, what="points",
        words={"verdict": "here"}, first={"point": "point"},
    )  # fmt: skip


def _origin(head: Head, trade: Trade) -> Table:
    """Where the page comes from."""
    rows = [
        ("hash of the study", head.study_hash), ("seed of the points left out", str(trade.seed)),
        ("share of the points left out", percent(HELD_OUT)), *head.versions.items(),
    ]  # fmt: skip
    return Table(("what", "value"), rows)
