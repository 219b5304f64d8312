"""The bundle cut across the chord, to scale: its tubes as circles, gears, skins and room."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from mdo.defend.tables.facts import Facts
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings import svg
from mdo.report.drawings.layout import Layout, Tube, bundle_layout
from mdo.report.drawings.side_view import DIFFERS, count_words, room_beside, room_words

WIDEST, TALLEST = 560.0, 290.0  # [px] of the bundle
LARGEST = 14e3  # [px/m] that a small bundle is drawn at
TURN = 0.9  # [rad] from the letter of a coaxial tube to that of the next
NOTES = {
    "nested": "Coaxial tubes in the envelope of their end fittings; hinge line in the middle.",
    "knuckle": "One of {count} tubes in a row on the hinge line; a knuckle to wing and panel each.",
    "plated": "Tubes between two plates that turn about the middle, the hinge line.",
}


def bundle_end_view(appraisal: Appraisal) -> Markup:
    """End view of the bundle of one wing, SVG: cut across the chord, seen from behind.

    The skins are those at the ends of the bundle, where the wing has least height. Whole tubes;
    circles show tube, bore and sleeve, dashed ones pitch circles.
    """
    facts = Facts(appraisal)
    layout = bundle_layout(appraisal)
    skin, clearance = float(facts.vehicle.skin_thickness), float(facts.vehicle.clearance)
    outside = max(layout.height, layout.height_available + 2.0 * (skin + clearance))
    half = max(layout.half_width, layout.height / 2.0)
    scale = min(WIDEST / (2.0 * half), TALLEST / outside, LARGEST)
    sheet = svg.Sheet(svg.WIDTH / 2.0, 46.0 + scale * outside / 2.0, scale)
    reach = half + 24.0 / scale
    _skins(sheet, layout, reach, skin, clearance)
    sheet.box(-layout.width / 2.0, 0.0, layout.width, layout.height, "ink dashed")
    PARTS[layout.topology](sheet, layout)
    sheet.add(
        svg.label(24.0, 15.0, "Cut across the chord at the ends of the bundle, seen from behind",
                  kind="soft"),
        svg.label(sheet.x(-reach), 36.0, "← root", kind="soft"),
        svg.label(sheet.x(reach), 36.0, "tip →", anchor="end", kind="soft"),
    )  # fmt: skip
    height = _measured(sheet, layout, reach, outside)
    words = (
        f"Bundle of one wing cut across: {svg.length(layout.width)} wide, "
        f"{svg.length(layout.height)} high, {room_words(layout)}. {count_words(layout)}."
    )
    return svg.drawing("bundle-end", "Bundle, end view", words, height, *sheet.parts)


def _skins(sheet: svg.Sheet, layout: Layout, reach: float, skin: float, clearance: float) -> None:
    """Both skins at the ends of the bundle, and the clearance under them."""
    inner = layout.height_available / 2.0 + clearance
    if inner + skin <= 0.0:
        return
    for sign in (1.0, -1.0):
        sheet.box(-reach, sign * (inner + skin / 2.0), 2.0 * reach, skin, "metal")
        y = sheet.y(sign * layout.height_available / 2.0)
        sheet.add(svg.line(sheet.x(-reach), y, sheet.x(reach), y, "faint dashed"))


def _measured(sheet: svg.Sheet, layout: Layout, reach: float, outside: float) -> float:
    """Add dimensions, key and notes; where the drawing ends [px]."""
    top, floor = sheet.y(layout.height / 2.0), sheet.y(-layout.height / 2.0)
    left, right = sheet.x(-layout.width / 2.0), sheet.x(layout.width / 2.0)
    base, notes = sheet.y(-outside / 2.0), _notes(layout)
    size = ("bundle", svg.length(layout.height))
    sheet.add(
        svg.upright(sheet.x(-reach) - 18.0, top, floor, size, start=left),
        room_beside(sheet, layout, sheet.x(reach) + 18.0, sheet.x(reach)),
        svg.across(left, right, base + 28.0, f"width {svg.length(layout.width)}", start=floor),
        svg.set_key(24.0, base + 58.0, layout.counts),
        svg.scale_bar(svg.WIDTH - 130.0, base + 58.0, sheet.scale),
        svg.lines_below(24.0, base + 80.0, notes, kind="soft"),
    )
    return base + 74.0 + svg.LINE * len(notes)


def _draw_tube(sheet: svg.Sheet, layout: Layout, tube: Tube, bore: float) -> None:
    """One tube cut across, with its sleeve; the down set hatched."""
    kind = svg.SET_KINDS[tube.side]
    sheet.circle(tube.x, tube.y, tube.radius + layout.dressed - layout.radius, "paper thin")
    sheet.circle(tube.x, tube.y, tube.radius, kind)
    if tube.side == 1:
        wall = sheet.scale * (tube.radius - bore)
        sheet.circle(tube.x, tube.y, (tube.radius + bore) / 2.0, "hatch", stroke_width=wall)
    sheet.circle(tube.x, tube.y, bore, f"paper {kind}-edge")


def _add_letter(sheet: svg.Sheet, tube: Tube, x: float, y: float, size: float) -> None:
    """Letter of the set at a place, of a size [m], neither too small nor too large to read."""
    pixels = min(15.0, max(8.0, sheet.scale * size))
    sheet.add(
        svg.element("text", svg.SET_LETTERS[tube.side], x=sheet.x(x), y=sheet.y(y) + 0.36 * pixels,
                    text_anchor="middle", class_="strong", font_size=pixels)
    )  # fmt: skip


def _add_tubes(sheet: svg.Sheet, layout: Layout, tubes: Sequence[Tube]) -> None:
    for tube in tubes:
        _draw_tube(sheet, layout, tube, layout.bore)
        _add_letter(sheet, tube, tube.x, tube.y, 0.9 * tube.radius)


def _geared(sheet: svg.Sheet, layout: Layout) -> None:
    """Wheel, pitch circles of the pinions, tubes of the first module."""
    tubes = [tube for tube in layout.tubes if tube.module == 0]
    sheet.circle(0.0, 0.0, layout.wheel, "metal")
    for tube in tubes:
        sheet.circle(tube.x, tube.y, layout.pinion, "thin dashed")
    _axis(sheet, layout.wheel)
    _add_tubes(sheet, layout, tubes)


def _nested(sheet: svg.Sheet, layout: Layout) -> None:
    """Coaxial tubes inside their envelope."""
    wall = layout.radius - layout.bore
    sheet.circle(0.0, 0.0, layout.height / 2.0, "thin")
    whole = [tube for tube in layout.tubes if tube.radius > wall]
    for tube in whole:
        _draw_tube(sheet, layout, tube, tube.radius - wall)
    for at, tube in enumerate(whole):
        middle, angle = tube.radius - wall / 2.0, math.pi / 2.0 - TURN * at
        place = (middle * math.cos(angle), middle * math.sin(angle))
        _add_letter(sheet, tube, *place, 1.1 * wall)


def _knuckle(sheet: svg.Sheet, layout: Layout) -> None:
    """One tube of the row in its two knuckles: one to the inboard wing, one to the panel."""
    outer = layout.height / 2.0
    for end in (-1.2 * outer, 1.2 * outer):
        arm = [(0.0, outer), (end, outer), (end, 0.4 * outer), (0.0, 0.4 * outer)]
        sheet.curve(arm, "metal", closed=True)
    sheet.circle(0.0, 0.0, outer, "metal")
    _add_tubes(sheet, layout, layout.tubes[:1])


def _plated(sheet: svg.Sheet, layout: Layout) -> None:
    """End plate with its tubes."""
    sheet.circle(0.0, 0.0, layout.height / 2.0, "metal")
    _axis(sheet, 0.1 * layout.height)
    _add_tubes(sheet, layout, layout.tubes)


PARTS = {"geared": _geared, "nested": _nested, "knuckle": _knuckle, "plated": _plated}


def _axis(sheet: svg.Sheet, size: float) -> None:
    """Cross at the hinge line."""
    x, y, reach = sheet.x(0.0), sheet.y(0.0), sheet.scale * size + 5.0
    for across_, up in ((reach, 0.0), (0.0, reach)):
        sheet.add(svg.line(x - across_, y - up, x + across_, y + up, "thin axis"))


def _notes(layout: Layout) -> list[str]:
    """What the circles are, and where whole tubes do not fit the continuous design."""
    if layout.topology == "geared":
        return _gear_notes(layout)
    notes = [NOTES[layout.topology].format(count=layout.total)]
    short = sum(tube.radius <= layout.radius - layout.bore for tube in layout.tubes)
    if layout.topology == "nested" and short:
        notes.append(f"No bore is left for the {short} innermost of them: not drawn.")
    return notes


def _gear_notes(layout: Layout) -> list[str]:
    first = [min(tube.lane, layout.lanes - 1) for tube in layout.tubes if tube.module == 0]
    counts = [str(first.count(lane)) for lane in range(layout.lanes) if lane in first]
    lanes = f"{len(counts)} lanes" if len(counts) > 1 else "one lane"
    lanes = f"{lanes} of {' + '.join(counts)} tubes"
    notes = [f"Wheel on the hinge line; dashed: pitch circles of the pinions; {lanes}."]
    if any(tube.lane > 0 for tube in layout.tubes):
        notes.append(
            "Tubes outside the ring reach a wheel behind this one over idlers, which are not drawn."
        )
    if layout.modules > 1:
        drawn = sum(tube.module == 0 for tube in layout.tubes)
        notes.append(f"First of {layout.modules} modules: {drawn} of {layout.total} tubes.")
    slots = layout.modules * layout.lanes * layout.capacity
    if layout.total > len(layout.tubes):
        notes.append(f"Only {len(layout.tubes)} of {layout.total} tubes are drawn.")
    elif layout.total > slots * (1.0 + DIFFERS):
        notes.append(
            f"The sizing takes {layout.capacity:.1f} tubes to a lane, no whole number; with "
            f"{layout.total} whole tubes the bundle is {svg.length(2.0 * layout.half_width)} wide."
        )
    return notes
