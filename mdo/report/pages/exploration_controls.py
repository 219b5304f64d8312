"""What can be chosen on the page of an exploration: planes, axes, the design behind a point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from mdo.report.templates.pieces import escaped, script_safe, table
from mdo.report.words.exploration_columns import Column, rounded, short

MOST_PARALLEL = 10  # axes beside each other


def data_block(name: str, data: object) -> str:
    """Return data for the script of the page."""
    return f'<script type="application/json" id="{name}-data">{script_safe(data)}</script>\n'


def _choice(name: str, words: str, options: Sequence[str], chosen: int = 0) -> str:
    listed = "".join(
        f'<option value="{place}"{" selected" if place == chosen else ""}>{escaped(text)}</option>'
        for place, text in enumerate(options)
    )
    return f'<label for="{name}">{escaped(words)}</label> <select id="{name}">{listed}</select>\n'


def plane_controls(
    name: str, pairs: Sequence[str], held: Sequence[Sequence[str]],
    figures: Mapping[str, Sequence[Sequence[Mapping[str, object]]]], texts: Mapping[int, str],
) -> str:  # fmt: skip
    """Return selects that change the plane which some figures show.

    Parameters
    ----------
    name : of the block
    pairs : words of each pair of axes
    held : by pair, words of each slice
    figures : by figure, pair and slice: ``traces`` (what changes, by trace) and ``layout``
    texts : labels of points, by their row
    """
    choices = _choice(f"{name}-pair", "Axes", pairs)
    slices = _choice(f"{name}-held", "The other axes at", held[0]) if any(held[0]) else ""
    data = {"held": held, "figures": figures, "texts": texts}
    return (
        f'<div class="controls" data-planes="{name}">\n{choices}{slices}</div>\n'
        f'<p class="soft" id="{name}-said" role="status">'
        f"{escaped(plane_words(pairs[0], held[0][0]))}</p>\n" + data_block(name, data)
    )  # fmt: skip


def plane_words(pair: str, held: str) -> str:
    """Return which plane is shown."""
    return f"{pair}; {held}." if held else f"{pair}."


def axis_controls(
    name: str, figures: Mapping[str, Sequence[np.ndarray]], frame: pd.DataFrame,
    columns: Sequence[Column], chosen: Mapping[str, int],
) -> str:  # fmt: skip
    """Return selects of the columns that some figures of points show.

    Parameters
    ----------
    name : of the block
    figures : by figure, the rows of each trace
    frame : the points, SI
    columns : to choose from
    chosen : ``x`` and perhaps ``y``: number of the column at first
    """
    words = {"x": "Axis to the right", "y": "Axis upwards"}
    selects = "".join(
        _choice(f"{name}-{axis}", words[axis], [one.title for one in columns], place)
        for axis, place in chosen.items()
    )
    drawn = [one.drawn(frame[one.name]) for one in columns]
    data = {
        "columns": [{"title": title, "values": _values(values)} for values, title in drawn],
        "figures": {key: [rows.tolist() for rows in each] for key, each in figures.items()},
    }
    return f'<div class="controls" data-axes="{name}">\n{selects}</div>\n' + data_block(name, data)


def chosen_block(
    name: str, frame: pd.DataFrame, said: Sequence[str], columns: Sequence[Column],
    figures: Mapping[str, Mapping[str, object]], start: int, labels: Sequence[str] = (),
) -> str:  # fmt: skip
    """Return the panel of the design behind a point, moved by click, by key or by its slider.

    Parameters
    ----------
    name : of the block
    frame : designs of the points, SI
    said : one line for each point
    columns : that are listed
    figures : by figure, the number of the ``trace`` that marks the point, and its ``x``, ``y``
        and perhaps ``z`` for every point; empty where none is marked
    start : point that is shown at first
    labels : labels of the points in the figures, where they do not carry the point's number
    """
    records = frame.to_dict("records")
    active = [str(text) or "nothing" for text in frame["active"]]
    data = {
        "said": list(said),
        "values": [[one.text(float(line[one.name])) for one in columns] for line in records],
        "active": active,
        "figures": figures,
        "labels": list(labels),
    }
    line = frame.iloc[start]
    rows = [(one.title, one.text(float(line[one.name]))) for one in columns]
    last = len(frame) - 1
    return (
        f'<div class="chosen" data-chosen="{name}">\n<p class="controls">'
        f'<label for="{name}-slider">Point</label> '
        f'<input type="range" id="{name}-slider" min="0" max="{last}" value="{start}" step="1" '
        f'aria-valuetext="{escaped(said[start])}"></p>\n'
        f'<p class="level" id="{name}-said" role="status">{escaped(said[start])}</p>\n'
        f'<div id="{name}-values">{table(("the design", "of the point"), rows, kind="tight")}</div>'
        f'\n<p class="soft"><b>Active:</b> <span id="{name}-active">'
        f"{escaped(active[start])}</span></p>\n</div>\n{data_block(name, data)}"
    )  # fmt: skip


def parallel_block(
    name: str, frame: pd.DataFrame, columns: Sequence[Column], *, lead: Column, met: np.ndarray,
    alternative: str,
) -> str:  # fmt: skip
    """Return parallel coordinates: a line for each design, brushed by range fields or the pointer.

    Parameters
    ----------
    name : of the block
    frame : designs that are drawn, SI
    columns : axes from left to right
    lead : column by whose quarters the lines are coloured
    met : which designs are feasible; the others are dashed
    alternative : what it shows, for who cannot see it
    """
    shown = columns[:MOST_PARALLEL]
    drawn = [one.drawn(frame[one.name]) for one in shown]
    units = [one.scale(_largest(frame[one.name]))[2] for one in shown]
    data = {
        "axes": [
            {"title": short(one.title), "unit": unit, "values": _values(values)}
            for one, unit, (values, _) in zip(shown, units, drawn, strict=True)
        ],
        "groups": _quarters(frame[lead.name].to_numpy(float), met),
    }  # fmt: skip
    fields = "".join(
        _range(name, place, one.title, unit)
        for place, (one, unit) in enumerate(zip(shown, units, strict=True))
    )
    quarters = ("lightest quarter", "second", "third", "heaviest quarter")
    key = "".join(
        f'<span><i class="group-{number}"></i>{words}</span>'
        for number, words in enumerate((*quarters, "not feasible (dashed)"))
    )
    return (
        f'<div class="parallel" data-parallel="{name}">\n<p class="key">{key}</p>\n'
        f'<div class="plot"><svg id="{name}" role="img" aria-label="{escaped(alternative)}"></svg>'
        f'</div>\n<p class="soft"><output id="{name}-count" role="status"></output> '
        f'<button type="button" id="{name}-clear">Show all</button></p>\n'
        f'<fieldset class="brush"><legend>Ranges: lines outside are left out</legend>\n{fields}'
        f"</fieldset>\n<details><summary>Designs within the ranges</summary>\n"
        f'<div class="wide tight"><table><thead><tr id="{name}-head"></tr></thead>'
        f'<tbody id="{name}-rows"></tbody></table></div></details>\n</div>\n'
        + data_block(name, data)
    )


def _range(name: str, place: int, title: str, unit: str) -> str:
    """Two fields for the ends of the range of an axis."""
    words = escaped(f"{title} [{unit}]" if unit else title)
    fields = "".join(
        f'<input type="number" step="any" id="{name}-{end}-{place}" '
        f'aria-label="{words}, {said}">{between}'
        for end, said, between in (("low", "at least", " to "), ("high", "at most", ""))
    )
    return f'<p><span aria-hidden="true">{words}</span> {fields}</p>\n'


def _quarters(values: np.ndarray, met: np.ndarray) -> list[int]:
    """Quarter of each feasible design by its value, 4 for the others."""
    good = met & np.isfinite(values)
    ends = np.quantile(values[good], [0.25, 0.5, 0.75]) if good.any() else np.zeros(3)
    return [
        int(np.searchsorted(ends, value, side="right")) if here else 4
        for value, here in zip(values, good, strict=True)
    ]


def _largest(values: pd.Series) -> float:
    sizes = np.abs(values.to_numpy(float))
    return float(np.max(sizes[np.isfinite(sizes)], initial=0.0))


def _values(values: np.ndarray) -> list[float | None]:
    return [float(one) if np.isfinite(one) else None for one in rounded(values)]


def telling(frame: pd.DataFrame, columns: Sequence[Column], most: int) -> list[Column]:
    """Return the columns that differ most between designs, in their order."""
    spread = {}
    for one in columns:
        values = frame[one.name].to_numpy(float)
        values = values[np.isfinite(values)]
        size = float(np.max(np.abs(values), initial=0.0))
        spread[one.name] = float(np.std(values)) / size if size > 0.0 else 0.0
    kept = sorted(spread, key=lambda name: -spread[name])[:most]
    return [one for one in columns if one.name in kept and spread[one.name] > 1e-6]
