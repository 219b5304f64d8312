"""The folding wing from the front, to scale, with a slider over the fold angle and its moments."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from markupsafe import Markup

from mdo.defend.tables.legs import driving_point, torque_table
from mdo.defend.tables.requirements import Facts
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings.svg import WIDTH, Sheet, drawing, element, label, length, line, plain
from mdo.report.figures.style import BLUE, RUST
from mdo.report.words.printed import signed
from mdo.study.number_text import figure

NAME = "fold-front"
NEAR = 0.5  # [deg] within which an angle counts as one that a leg passes
DIGITS = 6  # of the numbers in the page
WIDEST = 130.0  # [deg] of the arrow of the largest moment
TALLEST = 470.0  # [px] of the whole travel
NONE = "This leg does not pass this angle."
RADII = {"required": 0.72, "available": 0.56}  # [panel span] of the arrows
COLOURS = {"required": RUST, "available": BLUE}


Point = tuple[float, float]


class Wing(NamedTuple):
    """Fold station and span of the panel [m], outlines of both parts over the span [m]."""

    fold: float
    panel: float
    inboard: list[Point]
    outboard: list[Point]


def wing_of(appraisal: Appraisal) -> Wing:
    """Wing of a design at its greatest thickness, as it is drawn from the front."""
    planform = Facts(appraisal).planform
    fold = float(planform.fold_station)
    wing = appraisal.study.vehicle.wing
    station = [part.station for part in wing]
    thick = [part.thickness_ratio * part.chord for part in wing]
    middle = (fold, float(np.interp(fold, station, thick)))

    def closed(points: list[Point]) -> list[Point]:
        upper = [(place, depth / 2.0) for place, depth in points]
        return upper + [(place, -depth) for place, depth in reversed(upper)]

    points = list(zip(station, thick, strict=True))
    return Wing(
        fold,
        float(planform.panel_span),
        closed([*(point for point in points if point[0] < fold), middle]),
        closed([middle, *(point for point in points if point[0] > fold)]),
    )


class Leg(NamedTuple):
    """Moments of one leg over the fold angle; angles in degrees, moments of one wing [N*m].

    ``sense`` is 1 where the driver pushes the panel up. ``available`` is None where no heated set
    drives.
    """

    name: str
    driver: str
    sense: int
    wanted: float
    angles: list[float]
    required: list[float]
    available: list[float] | None

    def at(self, angle: float) -> tuple[float, float | None] | None:
        """Moments at a fold angle [deg], linear between those of the table; None outside."""
        if not self.angles[0] - NEAR <= angle <= self.angles[-1] + NEAR:
            return None
        required = float(np.interp(angle, self.angles, self.required))
        if self.available is None:
            return required, None
        return required, float(np.interp(angle, self.angles, self.available))


class State(NamedTuple):
    """What is shown: fold angle [deg], number of the leg (None: no leg), its moments [N*m]."""

    angle: int
    leg: int | None
    required: float
    available: float | None


def fold_legs(appraisal: Appraisal) -> list[Leg]:
    """Legs with the numbers of the table ``torque``, as the page holds them."""
    facts = Facts(appraisal)
    legs = []
    for place, (name, part) in enumerate(torque_table(facts).groupby("leg", sort=False)):
        ordered = part.sort_values("fold_angle", kind="stable")
        if np.ptp(ordered["fold_angle"]) == 0.0:
            ordered = ordered.iloc[:1]
        driven = bool(ordered["available_moment"].notna().all())
        legs.append(
            Leg(
                str(name),
                str(ordered["driver"].iloc[0]),
                1 if facts.up[place] else -1,
                float(ordered["torque_margin_required"].iloc[0]),
                _short(np.degrees(ordered["fold_angle"])),
                _short(ordered["required_moment"]),
                _short(ordered["available_moment"]) if driven else None,
            )
        )
    return legs


def _short(values: pd.Series) -> list[float]:
    return [float(f"{value:.{DIGITS}g}") for value in values]


def worst_leg(legs: list[Leg], angle: float) -> int | None:
    """Number of the leg with the least margin over what it needs at an angle, None for none.

    Legs that are pushed by the load alone come last.
    """
    found = []
    for number, leg in enumerate(legs):
        moments = leg.at(angle)
        if moments is not None:
            required, available = moments
            spare = math.inf
            if available is not None and required > 0.0:
                spare = available / required - 1.0 - leg.wanted
            found.append((spare, number))
    return min(found)[1] if found else None


def state_at(legs: list[Leg], angle: int, leg: int | None = None) -> State:
    """What is shown at an angle [deg] for a leg, or for the worst one there."""
    chosen = worst_leg(legs, angle) if leg is None else leg
    moments = None if chosen is None else legs[chosen].at(angle)
    if chosen is None or moments is None:
        return State(angle, None, 0.0, None)
    return State(angle, chosen, *moments)


def arrow(
    angle: float, moment: float, sense: int, radius: float, largest: float
) -> tuple[str, str]:
    """Return arc and head of a moment about the hinge at the origin, its length by the moment [px].

    Parameters
    ----------
    angle : of the panel, where the arrow starts [deg]
    moment : [N*m], negative turns the arrow round
    sense : 1 where a positive moment turns the panel up
    radius : of the arrow [px]
    largest : moment of the longest arrow [N*m]
    """
    sweep = sense * WIDEST * moment / largest
    if abs(sweep) < 1.0:
        return "", ""
    first, last = math.radians(angle), math.radians(angle + sweep)
    head = min(12.0, radius * abs(math.radians(sweep)))
    turn = math.copysign(1.0, sweep)
    neck = last - turn * head / radius
    points = [
        ((radius + off) * math.cos(at), -(radius + off) * math.sin(at))
        for at, off in ((first, 0.0), (neck, 0.0), (neck, 5.0), (last, 0.0), (neck, -5.0))
    ]
    start, end, *barbs = (f"{plain(x)} {plain(y)}" for x, y in points)
    flags = f"{int(abs(sweep) > 180.0)} {int(turn < 0.0)}"
    arc = f"M{start}A{plain(radius)} {plain(radius)} 0 {flags} {end}"
    return arc, f"M{'L'.join(barbs)}Z"


def moment_text(moment: float | None) -> str:
    """Return a moment with three significant digits, a dash where there is none."""
    return "–" if moment is None else f"{figure(moment, 3)} N·m".replace("-", "−")


def share_text(share: float) -> str:
    """Return a share in per cent as the script writes it."""
    return f"{100.0 * share:.1f} %".replace("-", "−")


def state_text(legs: list[Leg], state: State) -> str:
    """Say what is shown in one sentence."""
    if state.leg is None:
        return NONE
    leg = legs[state.leg]
    if state.available is None:
        load = "held back by" if state.required > 0.0 else "which gives"
        return f"{leg.name}: {leg.driver}, {load} {moment_text(abs(state.required))}."
    said = (
        f"{leg.name} ({leg.driver}): required {moment_text(state.required)}, available "
        f"{moment_text(state.available)}"
    )
    if state.required <= 0.0:
        return f"{said}; the load assists."
    margin = state.available / state.required - 1.0
    words = share_text(margin) if margin > -1.0 else "none, A < 0"
    return f"{said}; margin {words}, {share_text(leg.wanted)} needed."


def front_view(appraisal: Appraisal) -> dict[str, Any]:
    """Front view of the folding wing with a slider over its travel, as its template prints it.

    One drawing per page. Moments are those of the table ``torque``, linear between its angles; the
    slider starts at the driving point. Without a script, and in print, it shows that point.
    """
    facts = Facts(appraisal)
    legs = fold_legs(appraisal)
    low = math.ceil(math.degrees(float(facts.v["travel_low"])) - 1e-6)
    high = math.floor(math.degrees(float(facts.v["travel_high"])) + 1e-6)
    point = driving_point(appraisal)
    angle = round(math.degrees(point.fold_angle)) if point is not None else round(legs[0].angles[0])
    state = state_at(legs, min(max(angle, low), high))
    wing = wing_of(appraisal)
    picture, radii = _picture(wing, legs, state, (low, high))
    return {
        "low": low,
        "high": high,
        "angle": state.angle,
        "angle_text": signed(f"{state.angle}°"),
        "legs": legs,
        "drawing": picture,
        "said": state_text(legs, state),
        "data": {
            "legs": [leg._asdict() for leg in legs],
            "near": NEAR,
            "none": NONE,
            "widest": WIDEST,
            "largest": largest_moment(legs),
            "radii": radii,
        },
    }


def largest_moment(legs: list[Leg]) -> float:
    """Largest moment of all legs [N*m], that of the longest arrow."""
    every: list[float] = []
    for leg in legs:
        every += [abs(one) for one in (*leg.required, *(leg.available or ()))]
    return max([*every, 1e-9])


def _picture(
    wing: Wing, legs: list[Leg], state: State, travel: tuple[int, int]
) -> tuple[Markup, dict[str, float]]:
    """Wing, panel and arrows in their first state, and the radii of the arrows [px]."""
    fold, panel = wing.fold, wing.panel
    above, below = (
        panel * max(RADII["required"], *(max(0.0, sign * math.sin(one)) for one in _sweep(travel)))
        for sign in (1.0, -1.0)
    )
    scale = min((WIDTH - 56.0) / (fold + panel), TALLEST / (above + below))
    left = (WIDTH - scale * (fold + panel)) / 2.0
    sheet = Sheet(left, 40.0 + scale * above, scale)
    floor = 40.0 + scale * (above + below)
    x, y = sheet.x(fold), sheet.y(0.0)
    radii = {name: round(scale * panel * share, 1) for name, share in RADII.items()}
    sheet.curve(wing.inboard, "panel", closed=True)
    sheet.curve(wing.outboard, "faint dashed", closed=True)
    sheet.add(
        label(left + 38.0, 66.0, "right wing, seen from behind", kind="soft"),
        line(left, 44.0, left, floor, "thin axis"),
        _travel(x, y, scale * panel, travel),
        _panel(sheet, wing.outboard, fold, state.angle),
        _arrows(legs, state, radii, (x, y)),
        _words(state, left),
        label(x, floor + 36.0, f"fold at {length(fold)}", anchor="middle", kind="soft"),
        line(x, floor + 22.0, x, floor + 14.0, "thin"),
        label(WIDTH - left, floor + 36.0, f"semi-span {length(fold + panel)}", anchor="end",
              kind="soft"),
        label(left, floor + 36.0, "plane of symmetry", kind="soft"),
    )  # fmt: skip
    words = (
        f"Right wing seen from behind, semi-span {length(fold + panel)}, panel {length(panel)}, "
        f"turned to a fold angle between {travel[0]} and {travel[1]} degrees. First shown: "
        f"{state.angle} degrees. {state_text(legs, state)}"
    )
    return drawing(NAME, "Folding wing", words, floor + 46.0, *sheet.parts), radii


def _sweep(travel: tuple[int, int]) -> list[float]:
    """Angles of the travel [rad], one per degree."""
    return [math.radians(one) for one in range(travel[0], travel[1] + 1)]


def _panel(sheet: Sheet, outline: list[tuple[float, float]], fold: float, angle: int) -> Markup:
    """Panel about the hinge at the origin of its group, its root rounded to turn freely."""
    about = Sheet(0.0, 0.0, sheet.scale)
    about.circle(0.0, 0.0, outline[0][1], "panel")
    about.curve([(x - fold, y) for x, y in outline], "panel", closed=True)
    about.circle(0.0, 0.0, 0.3 * outline[0][1], "metal")
    turned = element("g", *about.parts, id=f"{NAME}-panel", transform=f"rotate({-angle})")
    return element(
        "g", turned, transform=f"translate({plain(sheet.x(fold))} {plain(sheet.y(0.0))})"
    )


def _travel(x: float, y: float, radius: float, travel: tuple[int, int]) -> Markup:
    """Path of the tip over the travel."""
    points = [(radius * math.cos(one), -radius * math.sin(one)) for one in _sweep(travel)]
    (x1, y1), (x2, y2) = points[0], points[-1]
    flag = int(travel[1] - travel[0] > 180)
    around = f"A{plain(radius)} {plain(radius)} 0 {flag} 0"
    arc = f"M{plain(x1)} {plain(y1)}{around} {plain(x2)} {plain(y2)}"
    drawn = [element("path", d=arc, class_="faint dashed")]
    for (end_x, end_y), angle in zip((points[0], points[-1]), travel, strict=True):
        words = f"{angle}°".replace("-", "−")
        off = 1.0 + 12.0 / radius
        drawn.append(label(end_x * off, end_y * off + 4.0, words, anchor="middle", kind="soft"))
    return element("g", *drawn, transform=f"translate({plain(x)} {plain(y)})")


def _arrows(
    legs: list[Leg], state: State, radii: dict[str, float], hinge: tuple[float, float]
) -> Markup:
    """Arrows of both moments about the hinge."""
    drawn = []
    for name, colour in COLOURS.items():
        moment = getattr(state, name)
        arc = head = ""
        if state.leg is not None and moment is not None:
            sense = legs[state.leg].sense * (-1 if name == "required" else 1)
            arc, head = arrow(state.angle, moment, sense, radii[name], largest_moment(legs))
        dash = "7 3" if name == "required" else None
        drawn.append(
            element(
                "path", d=arc, id=f"{NAME}-{name}", fill="none", stroke=colour, stroke_width=3,
                stroke_dasharray=dash,
            )
        )  # fmt: skip
        drawn.append(element("path", d=head, id=f"{NAME}-{name}-head", fill=colour))
    return element("g", *drawn, transform=f"translate({plain(hinge[0])} {plain(hinge[1])})")


def _words(state: State, left: float) -> Markup:
    """Key to the arrows with the moments."""
    drawn = []
    for at, (name, colour) in enumerate(COLOURS.items()):
        y = 24.0 + 20.0 * at
        moment = None if state.leg is None else getattr(state, name)
        dash = "7 3" if name == "required" else None
        swatch = f"M{plain(left)} {plain(y - 4.0)}h30"
        drawn.append(
            element("path", d=swatch, stroke=colour, stroke_width=3, stroke_dasharray=dash)
        )
        words = f"{name} {moment_text(moment)}"
        drawn.append(element("text", words, x=left + 38.0, y=y, id=f"{NAME}-{name}-words"))
    return Markup().join(drawn)
