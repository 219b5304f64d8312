"""Figures of any design: pure functions of a table of the result (SI units), in trade units."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from mdo.defend.tables.never import NEVER
from mdo.report.figures import style
from mdo.report.words.printed import kilograms
from mdo.study.number_text import figure, quantity

CLIP = (-1.0, 2.0)  # normalised margins beyond are drawn at the end
CURVES = (  # column, name, colour, dash, mark of a leg that only holds
    ("required_moment_upper_band", "required, load model at its upper band", style.RUST, "dot",
     "line-ew"),
    ("required_moment", "required", style.RUST, "dash", "square"),
    ("available_moment", "available", style.BLUE, "solid", "circle"),
)  # fmt: skip


def torque_figure(
    torque: pd.DataFrame, leg: str, *, driving_angle: float | None = None
) -> go.Figure:
    """Required against available moment of one leg over the fold angle, one wing [N*m, deg].

    Parameters
    ----------
    torque : the table ``torque`` of a result
    leg : name of the leg
    driving_angle : fold angle of the point that sizes the tubes [rad], if it lies in this leg
    """
    part = leg_rows(torque, leg)
    holds = len(part) == 1
    angle = np.degrees(part["fold_angle"])
    result = go.Figure()
    style.add_band(result, angle, part["load_low"], part["load_high"], name="load envelope")
    for column, name, colour, dash, symbol in CURVES:
        style.add_line(
            result, angle, part[column], name, colour, dash, width=1.3 if dash == "dot" else 2.2,
            mode="markers" if holds else "lines", hover="%{y:.1f} N·m at %{x:.0f}°, " + name,
            marker={"color": colour, "size": 9, "symbol": symbol,
                    "line": {"width": 2, "color": colour}},
        )  # fmt: skip
    if driving_angle is not None:
        point = part.iloc[int(np.argmin(np.abs(part["fold_angle"] - driving_angle)))]
        both = [point["required_moment"], point["available_moment"]]
        look = {"symbol": "diamond-open", "size": 13, "color": style.AMBER, "line": {"width": 2.5}}
        style.add_marks(result, [np.degrees(point["fold_angle"])] * 2, both, "driving point", look)
    middle = float(angle.iloc[0])
    return style.quiet(
        result, height=230, y={"title": {"text": "moment [N·m]"}, "rangemode": "tozero"},
        x={"title": {"text": "fold angle [deg], tip-up positive"},
           "range": [middle - 10.0, middle + 10.0] if holds else None},
    )  # fmt: skip


def leg_rows(torque: pd.DataFrame, leg: str) -> pd.DataFrame:
    """Return the lines of a leg by their angle, one where it only holds, none where it is not."""
    part = torque[torque["leg"] == leg].sort_values("fold_angle", kind="stable")
    moves = part["fold_angle"].max() > part["fold_angle"].min()
    return part if moves else part.iloc[:1]


def mass_figure(masses: pd.DataFrame) -> go.Figure:
    """Mass lines of the aircraft, basic and growth, largest on top [kg]."""
    lines = masses[(masses["line"] != "total") & (masses["total"] > 0.0)][::-1]
    bars = [
        style.bars(lines[column], colour, "%{y}: %{x:.3f} kg", column)
        for column, colour in (("basic", style.BLUE), ("growth", style.AMBER))
    ]
    return style.bar_figure(
        lines["line"], bars, axis="mass of the aircraft (both wings) [kg]", left=185, letters=12,
        words=[kilograms(value) for value in lines["total"]], ends=lines["total"],
        span=[0, 1.12 * max(lines["total"], default=1.0)],
    ).update_layout(barmode="stack")  # fmt: skip


def worst_per_group(compliance: pd.DataFrame) -> pd.DataFrame:
    """Worst required line of each group, with ``scaled``: its margin in the scale of the model."""
    lines = compliance[compliance["standing"] == "required"].copy()
    lines["scaled"] = lines["row"].where(lines["row"].notna(), lines["margin"])
    lines = lines[lines["scaled"].notna()]
    order = lines.sort_values("scaled", kind="stable")
    return order.drop_duplicates("group").reset_index(drop=True)


def margins_figure(compliance: pd.DataFrame) -> go.Figure:
    """Worst margin of each kind of requirement, in the scale of the model, clipped at both ends."""
    lines = worst_per_group(compliance)[::-1]
    lines = lines[(lines["group"] != "driver") | ~lines["holds"].astype(bool)]
    scaled = lines["scaled"].to_numpy(dtype=float)
    failed = scaled < -style.AT_LIMIT
    colours = np.select(
        [failed, scaled <= style.AT_LIMIT], [style.RUST, style.AMBER], style.GREEN
    ).tolist()
    words = [
        "at the limit" if abs(line.scaled) <= style.AT_LIMIT else _margin(line.margin, line.unit)
        for line in lines.itertuples()
    ]
    pointed = [
        said + _of_limit(line.margin, line.limit) * (line.unit in {"1", "fraction"})
        for said, line in zip(words, lines.itertuples(), strict=True)
    ]
    sizes = np.clip(scaled, *CLIP)
    bars = style.bars(sizes, colours, "%{y}: %{customdata}", customdata=pointed)
    result = style.bar_figure(
        style.row_names(lines["requirement"]), [bars], words=words, ends=np.maximum(sizes, 0.0),
        axis="margin (0: at the limit), drawn up to 2", left=305,
        span=[-1.05 if failed.any() else -0.05, 3.1],
    )  # fmt: skip
    return result.update_xaxes(tickvals=[-1, 0, 1, 2])


def _margin(margin: float, unit: str) -> str:
    """Margin in its own unit."""
    text = quantity(margin, unit, digits=3, difference=True).replace("**2", "²").replace("*", "·")
    return text.replace("-", "−")


def _of_limit(margin: float, limit: float) -> str:
    """A pure number says little: how much of its limit it is."""
    return f" ({100.0 * margin / abs(limit):.3g} % of the limit)" if limit else ""


def times_figure(times: pd.DataFrame) -> go.Figure:
    """Fold and return times of each leg against their limits [s]."""
    lines = times[times["time"].notna()][::-1].copy()
    never = lines["status"] != ""
    lines["time"] = lines["time"].where(~never, 2.0 * lines["time_limit"])  # drawn, not printed
    late = lines["time"] > lines["time_limit"] * (1.0 + style.AT_LIMIT)
    back = lines["what"] == "return time"
    colours = np.select([late, back], [style.RUST, style.GREEN], style.BLUE).tolist()
    ends = np.maximum(lines["time"], lines["time_limit"])
    bars = style.bars(lines["time"], colours, "%{y}: %{x:.1f} s", width=0.62)
    words = [
        f" {NEVER if line.status else figure(line.time, 3)} of {line.time_limit:.4g} s"
        for line in lines.itertuples()
    ]
    result = style.bar_figure(
        lines["leg"], [bars], axis="time [s]", left=160, letters=12, words=words, ends=ends,
        span=[0, 1.25 * max(ends, default=1.0)],
    )  # fmt: skip
    grey = {"color": style.GREY}
    look = {"symbol": "line-ns", "size": 17, **grey, "line": {"width": 3, **grey}}
    style.add_marks(result, lines["time_limit"], lines["leg"], "limit", look,
                    hovertemplate="limit %{x:.0f} s<extra></extra>")  # fmt: skip
    return result
