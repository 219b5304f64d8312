"""The bundle lengthwise, to scale: in the wing section at the fold, and enlarged with its parts."""

from __future__ import annotations

import math

import numpy as np
from markupsafe import Markup

from mdo.defend.tables.facts import Facts
from mdo.model.layout import SET_NAMES
from mdo.model.parts import relative_thickness
from mdo.model.requirements import NO_HEIGHT
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings import svg
from mdo.report.drawings.layout import Layout, Tube, bundle_layout

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
    section, at = _section(facts, layout)
    enlarged, height = _enlarged(layout, at + 18.0)
    words = (
        f"Wing section at the fold, chord {svg.length(float(facts.planform.fold_chord))}, with the "
        f"bundle of one wing along the chord: {svg.length(layout.extent)} long, "
        f"{svg.length(layout.height)} high, {room_words(layout)}. {count_words(layout)}."
    )
    return svg.drawing("bundle-side", "Bundle, side view", words, height, *section, *enlarged)


def room_words(layout: Layout) -> str:
    """Height that the wing leaves, in words."""
    if layout.height_available <= 0.0:
        return NO_HEIGHT
    return f"{svg.length(layout.height_available)} available at its ends"


def count_words(layout: Layout) -> str:
    """Whole tubes of each set, in words."""
    return " and ".join(
        f"{count} tube{'s' * (count > 1)} of the {SET_NAMES[side]} set"
        for side, count in layout.counts.items()
    )


def room_beside(sheet: svg.Sheet, layout: Layout, x: float, start: float) -> Markup:
    """Height available at the ends of the bundle, measured at ``x`` from ``start`` [px]."""
    room = layout.height_available
    if room <= 0.0:
        return svg.lines_below(x, sheet.y(0.0), ("no height left", "at its ends"), kind="strong")
    kind = "thin" if room >= layout.height * (1.0 - DIFFERS) else "bad"
    words = ("available", svg.length(room))
    return svg.upright(x, sheet.y(room / 2.0), sheet.y(-room / 2.0), words, start=start, kind=kind)


def _section(facts: Facts, layout: Layout) -> tuple[list[Markup], float]:
    """Wing section with the bundle in place, and where it ends [px]."""
    chord = float(facts.planform.fold_chord)
    thickness = float(facts.planform.fold_thickness)
    first, last = layout.front, layout.front + layout.extent
    ahead, behind = max(0.0, -first), max(0.0, last - chord)
    scale = (svg.WIDTH - LEFT - RIGHT) / (ahead + chord + behind)
    half = max(thickness, layout.height, layout.height_available) / 2.0
    sheet = svg.Sheet(LEFT + scale * ahead, 40.0 + scale * half, scale)
    _outline(sheet, facts, chord, thickness)
    sheet.box(first, 0.0, layout.extent, layout.height, "metal")
    middle, floor = sheet.y(0.0), sheet.y(-half)
    title = (
        f"Wing section at the fold, greatest thickness {svg.length(thickness)}; seen from the root"
    )
    sheet.add(
        svg.line(sheet.x(0.0) - 14.0, middle, sheet.x(chord) + 14.0, middle, "thin axis"),
        svg.label(LEFT, 15.0, f"{title}, nose to the left", kind="soft"),
        svg.label(sheet.x((first + last) / 2.0), middle + 4.5, "bundle", anchor="middle"),
        room_beside(sheet, layout, svg.WIDTH - RIGHT + 28.0, sheet.x(last)),
        svg.across(sheet.x(first), sheet.x(last), floor + 24.0,
                   f"bundle {svg.length(layout.extent)}", start=sheet.y(-layout.height / 2.0)),
        svg.across(sheet.x(0.0), sheet.x(chord), floor + 48.0, f"chord {svg.length(chord)}",
                   start=middle),
        svg.scale_bar(svg.WIDTH - RIGHT + 34.0, floor + 48.0, scale),
    )  # fmt: skip
    return sheet.parts, floor + 54.0


def _outline(sheet: svg.Sheet, facts: Facts, chord: float, thickness: float) -> None:
    """Outside of the section, inside of its skins, and the clearance under them."""
    station = (1.0 - np.cos(np.linspace(0.0, math.pi, POINTS))) / 2.0
    given = float(facts.vehicle.section_form)
    form = relative_thickness(station, biconvex=given > 0.5)
    if given > 1.5:  # the envelope of a bench
        form = np.ones_like(station)
    outline = [*zip(chord * station, thickness / 2.0 * form, strict=True)]
    sheet.curve([*outline, *((x, -y) for x, y in reversed(outline))], "panel", closed=True)
    skin, clearance = float(facts.vehicle.skin_thickness), float(facts.vehicle.clearance)
    for depth, kind in ((skin, "thin"), (skin + clearance, "faint dashed")):
        inside = [(x, y - depth) for x, y in outline if y > depth]
        for sign in (1.0, -1.0) if len(inside) > 1 else ():
            sheet.curve([(x, sign * y) for x, y in inside], kind)


def _enlarged(layout: Layout, top: float) -> tuple[list[Markup], float]:
    """Bundle alone, its parts named and measured, and where the drawing ends [px]."""
    shown = layout.shown
    long = layout.extent * shown / layout.modules
    scale = min((svg.WIDTH - LEFT - RIGHT) / long, TALLEST / layout.height)
    sheet = svg.Sheet(LEFT, top + 46.0 + scale * layout.height / 2.0, scale)
    sheet.box(0.0, 0.0, long, layout.height, "panel")
    for module in range(shown):
        _module(sheet, layout, module)
    middle, end = sheet.y(0.0), sheet.x(long)
    ceiling, floor = sheet.y(layout.height / 2.0), sheet.y(-layout.height / 2.0)
    last = (shown - 1) * layout.module_length
    heated = sheet.x(last + layout.end), sheet.x(last + layout.end + layout.active)
    gears = sheet.x(last + layout.overall), sheet.x(last + layout.module_length)
    faces = f"{layout.lanes} × " * (layout.lanes > 1) + svg.length(layout.face)
    notes = _notes(layout)
    sheet.add(
        svg.line(LEFT - 16.0, middle, end + 16.0, middle, "thin axis"),
        svg.called_out(_named(sheet, layout), top + 14.0, 10.0, svg.WIDTH - 10.0),
        svg.across(*heated, floor + 26.0, f"heated {svg.length(layout.active)}", start=floor),
        svg.across(*gears, floor + 26.0, faces, start=floor) if layout.face > 0.0 else Markup(),
        svg.across(LEFT, end, floor + 50.0, f"bundle {svg.length(long)}", start=floor)
        if shown == layout.modules
        else svg.label(
            LEFT, floor + 50.0, f"First {shown} of {layout.modules}, one behind the other"
        ),
        svg.upright(end + 24.0, ceiling, floor, ("height", svg.length(layout.height)), start=end),
        svg.scale_bar(svg.WIDTH - RIGHT + 34.0, floor + 76.0, scale),
        svg.set_key(LEFT, floor + 76.0, layout.counts),
        svg.lines_below(LEFT, floor + 96.0, notes, kind="soft"),
    )
    return sheet.parts, floor + 90.0 + svg.LINE * len(notes)


def _module(sheet: svg.Sheet, layout: Layout, module: int) -> None:
    """One module: the farthest tubes first, the wheels in the middle of them."""
    start = module * layout.module_length
    own = sorted((tube for tube in layout.tubes if tube.module == module), key=lambda tube: -tube.x)
    if layout.topology == "nested":
        own = own[-1:]
    # the nearest of those one behind the other hides the rest
    nearest = {(round(tube.y, 5), tube.lane): tube for tube in own}
    tubes = sorted(nearest.values(), key=lambda tube: -tube.x)
    for tube in tubes:
        if tube.x > 0.0:
            _tube(sheet, layout, tube, start)
    for lane in range(layout.lanes if layout.wheel > 0.0 else 0):
        at = start + layout.overall + lane * layout.face
        _gear(sheet, layout, at, 0.0, layout.wheel)
    for tube in tubes:
        if tube.x <= 0.0:
            _tube(sheet, layout, tube, start)


def _tube(sheet: svg.Sheet, layout: Layout, tube: Tube, start: float) -> None:
    """One tube: fittings and cold parts at both ends, heated length, shaft and pinion."""
    fitted, wide, gears = layout.fitted, 2.0 * tube.radius, start + layout.overall
    for kind in ("paper", f"{svg.SET_KINDS[tube.side]} empty"):
        sheet.box(start + fitted, tube.y, layout.overall - 2.0 * fitted, wide, kind)
    sheet.set_box(start + layout.end, tube.y, layout.active, wide, tube.side)
    high = layout.height if layout.topology == "nested" else 2.0 * layout.fitting
    for at in (start, gears - fitted):
        sheet.box(at, tube.y, fitted, high, "metal")
    if layout.pinion > 0.0:
        before = min(tube.lane, layout.lanes - 1) * layout.face
        if before > 0.0:
            sheet.box(gears, tube.y, before, tube.radius, "metal")
        _gear(sheet, layout, gears + before, tube.y, layout.pinion)


def _gear(sheet: svg.Sheet, layout: Layout, start: float, y: float, radius: float) -> None:
    """A gear from the side: its face with teeth."""
    middle, wide = start + layout.face / 2.0, sheet.scale * layout.face
    sheet.box(start, y, layout.face, 2.0 * radius, "metal")
    sheet.curve([(middle, y + radius), (middle, y - radius)], "teeth", stroke_width=wide)


def _named(sheet: svg.Sheet, layout: Layout) -> list[tuple[str, float, float]]:
    """Names of the parts of the first module, with a place on each, from left to right."""
    highest = max((tube for tube in layout.tubes if tube.module == 0), key=lambda tube: tube.y)
    y, lane = sheet.y(highest.y), min(highest.lane, layout.lanes - 1)
    fitting = "knuckle" if layout.topology == "knuckle" and layout.face <= 0.0 else "fitting"
    parts = [
        (f"fixed end {svg.length(layout.end)}", layout.fitted / 2.0, y),
        ("cold part", layout.end - layout.cold / 2.0, y),
        ("heated length", layout.end + layout.active * 0.4, y),
        ("hinge line", layout.end + layout.active * 0.75, sheet.y(0.0)),
        (fitting, layout.overall - layout.fitted / 2.0, y),
    ]
    if layout.face > 0.0:
        words = f"pinions and wheel{'s' * (layout.lanes > 1)}"
        parts.append((words, layout.overall + (lane + 0.5) * layout.face, y))
    return [(words, sheet.x(x), place) for words, x, place in parts]


def _notes(layout: Layout) -> list[str]:
    """Sizes of the parts, and where whole tubes differ from the continuous design."""
    wall = svg.length(layout.radius - layout.bore)
    if layout.topology == "nested":
        outermost = svg.length(2.0 * layout.tubes[0].radius)
        sizes = f"Coaxial tubes, the outermost {outermost}, wall {wall}"
    else:
        outer, bore = (svg.length(2.0 * radius) for radius in (layout.radius, layout.bore))
        sizes = f"Tube {outer} × {wall} wall, bore {bore}"
    sizes += f", {svg.length(layout.overall)} overall"
    if layout.pinion > 0.0:
        pinion, wheel = (svg.length(2.0 * radius) for radius in (layout.pinion, layout.wheel))
        sizes += f"; pitch diameters: pinion {pinion}, wheel {wheel}"
    notes = [f"{sizes}."]
    if layout.modules > 1 and layout.topology == "geared":
        notes.append(f"{layout.modules} modules one behind the other, each fixed at its front end.")
    if layout.modules * layout.module_length < layout.length * (1.0 - DIFFERS):
        notes.append("The continuous design counts a little more than whole lanes: an empty end.")
    if abs(layout.extent / layout.length - 1.0) > DIFFERS:
        notes.append(f"Length of the continuous design: {svg.length(layout.length)}.")
    housing = "Outline: envelope, inside its housing. Which end is the fixed one is not decided."
    return [*notes, housing]
