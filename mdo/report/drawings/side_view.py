"""The bundle lengthwise, to scale: in the wing section at the fold, and enlarged with its parts."""

from __future__ import annotations

import math

import numpy as np
from markupsafe import Markup

from mdo.defend.tables.requirements import Facts
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import NO_HEIGHT
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings.layout import Layout, Tube, bundle_layout, half_thickness
from mdo.report.drawings.svg import (
    LINE,
    SET_KINDS,
    WIDTH,
    Sheet,
    across,
    called_out,
    drawing,
    element,
    label,
    length,
    line,
    plain,
    scale_bar,
    set_key,
    upright,
)

POINTS = 81  # of the outline of the section, closer at both ends
LEFT, RIGHT = 34.0, 150.0  # [px] kept free beside both parts
DIFFERS = 0.005  # share of a number from which what is drawn is said to differ
TALLEST = 230.0  # [px] of the enlarged bundle


def bundle_side_view(appraisal: Appraisal) -> Markup:
    """Side view of the bundle of one wing, SVG: in its wing section, and enlarged.

    Each part is to one scale. The section is that of the study (four-digit or biconvex) with skins
    and clearances; the bundle lies where both its ends see the same height. Whole tubes.
    """
    facts = Facts(appraisal)
    layout = bundle_layout(appraisal)
    section, at = section_part(facts, layout)
    enlarged, height = enlarged_part(layout, at + 18.0)
    words = (
        f"Wing section at the fold, chord {length(float(facts.planform.fold_chord))}, with the "
        f"bundle of one wing along the chord: {length(layout.extent)} long, "
        f"{length(layout.height)} high, {room_words(layout)}. {count_words(layout)}."
    )
    return drawing("bundle-side", "Bundle, side view", words, height, *section, *enlarged)


def room_words(layout: Layout) -> str:
    """Height that the wing leaves, in words."""
    if layout.height_available <= 0.0:
        return NO_HEIGHT
    return f"{length(layout.height_available)} available at its ends"


def count_words(layout: Layout) -> str:
    """Whole tubes of each set, in words."""
    parts = [
        f"{count} tube{'s' if count > 1 else ''} of the {SET_NAMES[side]} set"
        for side, count in layout.counts.items()
    ]
    return " and ".join(parts)


def section_part(facts: Facts, layout: Layout) -> tuple[list[Markup], float]:
    """Wing section with the bundle in place, and where it ends [px]."""
    chord = float(facts.planform.fold_chord)
    thickness = float(facts.planform.fold_thickness)
    ahead = max(0.0, -layout.front)
    behind = max(0.0, layout.front + layout.extent - chord)
    scale = (WIDTH - LEFT - RIGHT) / (ahead + chord + behind)
    half = max(thickness, layout.height, layout.height_available) / 2.0
    sheet = Sheet(LEFT + scale * ahead, 40.0 + scale * half, scale)
    _outline(sheet, facts, chord, thickness)
    sheet.box(layout.front, 0.0, layout.extent, layout.height, "metal")
    middle, rear = sheet.y(0.0), sheet.x(layout.front + layout.extent)
    sheet.add(
        line(sheet.x(0.0) - 14.0, middle, sheet.x(chord) + 14.0, middle, "thin axis"),
        label(
            LEFT, 15.0, f"Wing section at the fold, greatest thickness {length(thickness)}; seen "
            "from the root, nose to the left", kind="soft",
        ),
        label(sheet.x(layout.front + layout.extent / 2.0), middle + 4.5, "bundle", anchor="middle"),
        _heights(sheet, layout, rear),
    )  # fmt: skip
    floor = sheet.y(-half)
    sheet.add(
        across(
            sheet.x(layout.front), rear, floor + 24.0, f"bundle {length(layout.extent)}",
            start=sheet.y(-layout.height / 2.0),
        ),
        across(
            sheet.x(0.0), sheet.x(chord), floor + 48.0, f"chord {length(chord)}", start=middle
        ),
        scale_bar(WIDTH - RIGHT + 34.0, floor + 48.0, scale),
    )  # fmt: skip
    return sheet.parts, floor + 54.0


def _outline(sheet: Sheet, facts: Facts, chord: float, thickness: float) -> None:
    """Outside of the section, inside of its skins, and the clearance under them."""
    station = (1.0 - np.cos(np.linspace(0.0, math.pi, POINTS))) / 2.0
    upper = half_thickness(station, thickness, biconvex=float(facts.vehicle.section_form) > 0.5)
    outline = [(float(x), float(y)) for x, y in zip(chord * station, upper, strict=True)]
    sheet.curve([*outline, *((x, -y) for x, y in reversed(outline))], "panel", closed=True)
    skin, clearance = float(facts.vehicle.skin_thickness), float(facts.vehicle.clearance)
    for depth, kind in ((skin, "thin"), (skin + clearance, "faint dashed")):
        inside = [(x, y - depth) for x, y in outline if y > depth]
        for sign in (1.0, -1.0) if len(inside) > 1 else ():
            sheet.curve([(x, sign * y) for x, y in inside], kind)


def _heights(sheet: Sheet, layout: Layout, rear: float) -> Markup:
    """Height available at the ends of the bundle, beside the trailing edge."""
    x, room = WIDTH - RIGHT + 28.0, layout.height_available
    if room <= 0.0:
        words = ("no height left", "at its ends")
        return Markup().join(
            label(x, sheet.y(0.0) - 18.0 + LINE * at, one, kind="strong")
            for at, one in enumerate(words)
        )
    kind = "thin" if room >= layout.height * (1.0 - DIFFERS) else "bad"
    words = ("available", length(room))
    return upright(x, sheet.y(room / 2.0), sheet.y(-room / 2.0), words, start=rear, kind=kind)


def enlarged_part(layout: Layout, top: float) -> tuple[list[Markup], float]:
    """Bundle alone, its parts named and measured, and where the drawing ends [px]."""
    shown = layout.shown
    long = layout.extent * shown / layout.modules
    scale = min((WIDTH - LEFT - RIGHT) / long, TALLEST / layout.height)
    half = scale * layout.height / 2.0
    sheet = Sheet(LEFT, top + 46.0 + half, scale)
    sheet.box(0.0, 0.0, long, layout.height, "panel")
    for module in range(shown):
        _module(sheet, layout, module)
    middle, end = sheet.y(0.0), sheet.x(long)
    sheet.add(
        line(LEFT - 16.0, middle, end + 16.0, middle, "thin axis"),
        called_out(_named(sheet, layout), top + 14.0, 10.0, WIDTH - 10.0),
    )
    floor = middle + half
    last = (shown - 1) * layout.module_length
    heated = (sheet.x(last + layout.ends.whole), sheet.x(last + layout.ends.whole + layout.active))
    sheet.add(across(*heated, floor + 26.0, f"heated {length(layout.active)}", start=floor))
    if layout.face > 0.0:
        words = length(layout.face)
        sheet.add(
            across(
                sheet.x(last + layout.overall), sheet.x(last + layout.module_length), floor + 26.0,
                f"{layout.lanes} × {words}" if layout.lanes > 1 else words, start=floor,
            )
        )  # fmt: skip
    sheet.add(
        across(LEFT, end, floor + 50.0, f"bundle {length(long)}", start=floor)
        if shown == layout.modules
        else label(LEFT, floor + 50.0, f"First {shown} of {layout.modules}, one behind the other"),
        upright(
            end + 24.0, middle - half, floor, ("height", length(layout.height)), start=end
        ),
        scale_bar(WIDTH - RIGHT + 34.0, floor + 76.0, scale),
        set_key(LEFT, floor + 76.0, layout.counts),
    )  # fmt: skip
    notes = [
        label(LEFT, floor + 96.0 + LINE * at, words, kind="soft")
        for at, words in enumerate(_notes(layout))
    ]
    sheet.add(*notes)
    return sheet.parts, floor + 90.0 + LINE * len(notes)


def _module(sheet: Sheet, layout: Layout, module: int) -> None:
    """One module: the farthest tubes first, the wheels in the middle of them."""
    start = module * layout.module_length
    own = sorted((tube for tube in layout.tubes if tube.module == module), key=lambda one: one.x)
    if layout.topology == "nested":
        own = own[:1]
    # the nearest of those one behind the other hides the rest
    nearest = {(round(tube.y, 5), tube.lane): tube for tube in reversed(own)}
    tubes = sorted(nearest.values(), key=lambda tube: -tube.x)
    for tube in (one for one in tubes if one.x > 0.0):
        _tube(sheet, layout, tube, start)
    for lane in range(layout.lanes if layout.wheel > 0.0 else 0):
        at = start + layout.overall + lane * layout.face
        _gear(sheet, layout, at, 0.0, layout.wheel)
    for tube in (one for one in tubes if one.x <= 0.0):
        _tube(sheet, layout, tube, start)


def _tube(sheet: Sheet, layout: Layout, tube: Tube, start: float) -> None:
    """One tube: fittings and cold parts at both ends, heated length, shaft and pinion."""
    ends, kind = layout.ends, SET_KINDS[tube.side]
    fitted = ends.grip + ends.spline
    inside = start + layout.overall - ends.whole
    wide = 2.0 * tube.radius
    sheet.box(start + fitted, tube.y, layout.overall - 2.0 * fitted, wide, "paper")
    sheet.box(start + fitted, tube.y, layout.overall - 2.0 * fitted, wide, f"{kind} empty")
    sheet.box(start + ends.whole, tube.y, layout.active, wide, kind)
    if tube.side == 1:
        middle = sheet.y(tube.y)
        hatched = f"M{plain(sheet.x(start + ends.whole))} {plain(middle)}H{plain(sheet.x(inside))}"
        sheet.add(element("path", d=hatched, class_="hatch", stroke_width=sheet.scale * wide))
    high = layout.height if layout.topology == "nested" else 2.0 * layout.fitting
    for at in (start, start + layout.overall - fitted):
        sheet.box(at, tube.y, fitted, high, "metal")
    if layout.pinion > 0.0:
        lane = min(tube.lane, layout.lanes - 1)
        end = start + layout.overall + lane * layout.face
        if lane > 0:
            sheet.box(start + layout.overall, tube.y, lane * layout.face, tube.radius, "metal")
        _gear(sheet, layout, end, tube.y, layout.pinion)


def _gear(sheet: Sheet, layout: Layout, start: float, y: float, radius: float) -> None:
    """A gear from the side: its face with teeth."""
    sheet.box(start, y, layout.face, 2.0 * radius, "metal")
    middle = f"M{plain(sheet.x(start + layout.face / 2.0))} "
    middle += f"{plain(sheet.y(y + radius))}V{plain(sheet.y(y - radius))}"
    wide = sheet.scale * layout.face
    sheet.add(element("path", d=middle, class_="teeth", stroke_width=wide))


def _named(sheet: Sheet, layout: Layout) -> list[tuple[str, float, float]]:
    """Names of the parts of the first module, with a place on each, from left to right."""
    highest = max((one for one in layout.tubes if one.module == 0), key=lambda one: one.y)
    ends, y = layout.ends, sheet.y(highest.y)
    fitted = ends.grip + ends.spline
    parts = [
        (f"fixed end {length(ends.whole)}", fitted / 2.0, y),
        ("cold part", ends.whole - ends.cold / 2.0, y),
        ("heated length", ends.whole + layout.active * 0.4, y),
        ("hinge line", ends.whole + layout.active * 0.75, sheet.y(0.0)),
        ("fitting", layout.overall - fitted / 2.0, y),
    ]
    if layout.face > 0.0:
        lane = min(highest.lane, layout.lanes - 1)
        words = "pinions and wheels" if layout.lanes > 1 else "pinions and wheel"
        parts.append((words, layout.overall + (lane + 0.5) * layout.face, y))
    if layout.topology == "knuckle":
        parts[-1] = ("knuckle", *parts[-1][1:])
    return [(words, sheet.x(x), place) for words, x, place in parts]


def _notes(layout: Layout) -> list[str]:
    """Sizes of the parts, and where whole tubes differ from the continuous design."""
    wall = layout.radius - layout.bore
    if layout.topology == "nested":
        outermost = length(2.0 * layout.tubes[0].radius)
        sizes = f"Coaxial tubes, the outermost {outermost}, wall {length(wall)}"
    else:
        sizes = f"Tube {length(2.0 * layout.radius)} × {length(wall)} wall, "
        sizes += f"bore {length(2.0 * layout.bore)}"
    sizes += f", {length(layout.overall)} overall"
    if layout.pinion > 0.0:
        sizes += f"; pitch diameters: pinion {length(2.0 * layout.pinion)}, "
        sizes += f"wheel {length(2.0 * layout.wheel)}"
    notes = [f"{sizes}."]
    if layout.modules > 1 and layout.topology == "geared":
        notes.append(f"{layout.modules} modules one behind the other, each fixed at its front end.")
    if layout.modules * layout.module_length < layout.length * (1.0 - DIFFERS):
        notes.append("The continuous design counts a little more than whole lanes: an empty end.")
    if abs(layout.extent / layout.length - 1.0) > DIFFERS:
        notes.append(f"Length of the continuous design: {length(layout.length)}.")
    notes.append(
        "Outline: envelope, inside its housing. Which end is the fixed one is not decided."
    )
    return notes
