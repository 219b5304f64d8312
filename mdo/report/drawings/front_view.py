"""The folding wing from the front, to scale; a script turns its panel and draws its moments."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from markupsafe import Markup

from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import driving_point, torque_table
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings.svg import WIDTH, Sheet, drawing, element, label, length, line, moved, path
from mdo.report.figures.style import BLUE, RUST
from mdo.report.words.exploration_columns import numbers
from mdo.report.words.printed import signed

NAME = "fold-front"
DIGITS = 6  # of the numbers in the page
TALLEST = 470.0  # [px] of the whole travel
ARROWS = {  # radius in spans of the panel, colour, dash
    "required": (0.72, RUST, "7 3"),
    "available": (0.56, BLUE, None),
}
Points = list[tuple[float, float]]


def front_view(appraisal: Appraisal) -> dict[str, Any]:
    """Front view of the folding wing with a slider over its travel, as its template prints it.

    One drawing per page. Moments are those of the table ``torque``, linear between its angles; the
    slider starts at the driving point.
    """
    facts = Facts(appraisal)
    ends = np.degrees([float(facts.v[f"travel_{end}"]) for end in ("low", "high")])
    low, high = math.ceil(ends[0] - 1e-6), math.floor(ends[1] + 1e-6)
    legs = fold_legs(facts)
    point = driving_point(appraisal)
    start = legs[0]["angles"][0] if point is None else math.degrees(point.fold_angle)
    angle = min(max(round(start), low), high)
    moments = [abs(m) for leg in legs for m in (*leg["required"], *(leg["available"] or ()))]
    picture, radii = _picture(*wing_outlines(appraisal), angle, (low, high))
    data = {"legs": legs, "largest": max([*moments, 1e-9]), "radii": radii}
    return {"low": low, "high": high, "angle": angle, "angle_text": signed(f"{angle}°"),
            "legs": legs, "drawing": picture, "data": data}  # fmt: skip


def fold_legs(facts: Facts) -> list[dict[str, Any]]:
    """Legs with the numbers of the table ``torque``; angles in degrees, moments of one wing [N*m].

    ``sense`` is 1 where the driver pushes the panel up. ``available`` is None where no heated set
    drives.
    """
    legs = []
    for place, (name, part) in enumerate(torque_table(facts).groupby("leg", sort=False)):
        rows = part.sort_values("fold_angle", kind="stable")
        rows = rows if np.ptp(rows["fold_angle"]) > 0.0 else rows.iloc[:1]
        first, available = rows.iloc[0], rows["available_moment"]
        legs.append({
            "name": str(name),
            "driver": str(first["driver"]),
            "sense": 1 if facts.up[place] else -1,
            "wanted": float(first["torque_margin_required"]),
            "angles": numbers(np.degrees(rows["fold_angle"]), DIGITS),
            "required": numbers(rows["required_moment"], DIGITS),
            "available": numbers(available, DIGITS) if available.notna().all() else None,
        })  # fmt: skip
    return legs


def wing_outlines(appraisal: Appraisal) -> tuple[float, float, Points, Points]:
    """Fold station and panel span, outlines inboard and outboard at greatest thickness [m]."""
    planform = Facts(appraisal).planform
    fold = float(planform.fold_station)
    wing = appraisal.study.vehicle.wing
    stations = [part.station for part in wing]
    halves = [part.thickness_ratio * part.chord / 2.0 for part in wing]
    cut = (fold, float(np.interp(fold, stations, halves)))
    upper = list(zip(stations, halves, strict=True))
    inboard = [*(at for at in upper if at[0] < fold), cut]
    outboard = [cut, *(at for at in upper if at[0] > fold)]
    return fold, float(planform.panel_span), _mirrored(inboard), _mirrored(outboard)


def _mirrored(upper: Points) -> Points:
    return [*upper, *((x, -y) for x, y in reversed(upper))]


def _picture(
    fold: float, panel: float, inboard: Points, outboard: Points, angle: int,
    travel: tuple[int, int],
) -> tuple[Markup, dict[str, float]]:  # fmt: skip
    """Wing with its panel at an angle and empty arrows; the radii of the arrows [px]."""
    sines = np.sin(np.radians(np.arange(travel[0], travel[1] + 1)))
    least = ARROWS["required"][0]
    above, below = panel * max(least, sines.max()), panel * max(least, -sines.min())
    scale = min((WIDTH - 56.0) / (fold + panel), TALLEST / (above + below))
    left = (WIDTH - scale * (fold + panel)) / 2.0
    sheet = Sheet(left, 40.0 + scale * above, scale)
    floor = sheet.y(-below)
    hinge = (sheet.x(fold), sheet.y(0.0))
    radii = {name: round(scale * panel * share, 1) for name, (share, *_) in ARROWS.items()}
    sheet.curve(inboard, "panel", closed=True)
    sheet.curve(outboard, "faint dashed", closed=True)
    sheet.add(
        label(left + 38.0, 66.0, "right wing, seen from behind", kind="soft"),
        line(left, 44.0, left, floor, "thin axis"),
        moved(hinge, *_travel(scale * panel, travel), _panel(scale, outboard, fold, angle),
              *(element("path", id=f"{NAME}-{name}{head}", **look)
                for name, (_, colour, dash) in ARROWS.items()
                for head, look in (("", _stroke(colour, dash)), ("-head", {"fill": colour})))),
        *_key(left),
        label(hinge[0], floor + 36.0, f"fold at {length(fold)}", anchor="middle", kind="soft"),
        line(hinge[0], floor + 22.0, hinge[0], floor + 14.0, "thin"),
        # a line lower: the panel may be narrower than its words
        label(WIDTH - left, floor + 58.0, f"semi-span {length(fold + panel)}", anchor="end",
              kind="soft"),
        label(left, floor + 36.0, "plane of symmetry", kind="soft"),
    )  # fmt: skip
    words = (
        f"Right wing seen from behind, semi-span {length(fold + panel)}, panel {length(panel)}, "
        f"turned to a fold angle between {travel[0]} and {travel[1]} degrees, first {angle}."
    )
    return drawing(NAME, "Folding wing", words, floor + 68.0, *sheet.parts), radii


def _stroke(colour: str, dash: str | None) -> dict[str, object]:
    return {"fill": "none", "stroke": colour, "stroke_width": 3, "stroke_dasharray": dash}


def _panel(scale: float, outline: Points, fold: float, angle: int) -> Markup:
    """Panel about the hinge at the origin, its root rounded to turn freely."""
    about = Sheet(0.0, 0.0, scale)
    about.circle(0.0, 0.0, outline[0][1], "panel")
    about.curve([(x - fold, y) for x, y in outline], "panel", closed=True)
    about.circle(0.0, 0.0, 0.3 * outline[0][1], "metal")
    return element("g", *about.parts, id=f"{NAME}-panel", transform=f"rotate({-angle})")


def _travel(radius: float, travel: tuple[int, int]) -> list[Markup]:
    """Path of the tip about the hinge over the travel, a point per degree, with its ends named."""
    angles = np.radians(np.arange(travel[0], travel[1] + 1))
    x, y = radius * np.cos(angles), -radius * np.sin(angles)
    off = 1.0 + 12.0 / radius
    names = [
        label(x[at] * off, y[at] * off + 4.0, signed(f"{travel[at]}°"), anchor="middle",
              kind="soft")
        for at in (0, -1)
    ]  # fmt: skip
    return [element("path", d=path([*zip(x, y, strict=True)]), class_="faint dashed"), *names]


def _key(left: float) -> list[Markup]:
    """Key to the arrows; the script adds the moments."""
    drawn = []
    for y, (name, (_, colour, dash)) in zip((24.0, 44.0), ARROWS.items(), strict=True):
        swatch = path([(left, y - 4.0), (left + 30.0, y - 4.0)])
        drawn += [element("path", d=swatch, **_stroke(colour, dash)),
                  element("text", name, x=left + 38.0, y=y, id=f"{NAME}-{name}-words")]  # fmt: skip
    return drawn
