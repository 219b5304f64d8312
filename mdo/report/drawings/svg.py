"""Pieces of a drawing: elements of an SVG, to one scale in both axes, coloured by the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup, escape

from mdo.model.layout import SET_NAMES
from mdo.study.number_text import figure

WIDTH = 960.0  # [px] of every drawing, scaled down to the page
LETTER = 7.4  # [px] mean width of a letter, to keep labels apart
LINE = 18.0  # [px] from one line of text to the next
TICK = 4.0  # [px] half of the slanted tick at the end of a dimension
SET_KINDS = ("up", "down")
SET_LETTERS = ("U", "D")
Point = tuple[float, float]


def plain(value: float) -> str:
    """Return a coordinate as text, to a hundredth of a pixel."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def element(tag: str, *content: str, **attributes: object) -> Markup:
    """Return an element; attributes and text are escaped, elements in it are not.

    ``_`` in a name is ``-``; a trailing one keeps names of Python apart (``class_``).
    """
    given = "".join(
        f' {name.rstrip("_").replace("_", "-")}="'
        f'{plain(value) if isinstance(value, float) else escape(value)}"'
        for name, value in attributes.items()
        if value is not None
    )
    inside = "".join(escape(part) for part in content)
    return Markup(f"<{tag}{given}>{inside}</{tag}>" if inside else f"<{tag}{given}/>")


def label(
    x: float, y: float, words: str, *, anchor: str | None = None, kind: str | None = None
) -> Markup:
    """Return a line of text; the anchor is ``start``, ``middle`` or ``end``."""
    return element("text", words, x=x, y=y, text_anchor=anchor, class_=kind)


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> Markup:
    """Return a straight line."""
    return element("path", d=path([(x1, y1), (x2, y2)]), class_=kind)


def path(points: Sequence[Point], *, closed: bool = False) -> str:
    """Return the outline through points."""
    first, *rest = (f"{plain(x)} {plain(y)}" for x, y in points)
    return f"M{first}" + "".join(f"L{point}" for point in rest) + ("Z" if closed else "")


def length(value: float) -> str:
    """Return a length [m] as it is written beside a dimension line: millimetres throughout."""
    return f"{figure(1e3 * value, 3)} mm".replace("-", "−")


def words_width(words: str) -> float:
    """Width of a line of text, about [px]."""
    return LETTER * len(words)


def lines_below(
    x: float, y: float, texts: Sequence[str], *, anchor: str | None = None, kind: str | None = None
) -> Markup:
    """Return lines of text one below the other."""
    rows = (
        label(x, y + LINE * at, text, anchor=anchor, kind=kind) for at, text in enumerate(texts)
    )
    return Markup().join(rows)


def moved(origin: Point, *parts: Markup) -> Markup:
    """Return parts that are drawn about an origin, moved there [px]."""
    return element("g", *parts, transform=f"translate({plain(origin[0])} {plain(origin[1])})")


def across(x1: float, x2: float, y: float, words: str, *, start: float) -> Markup:
    """Return a horizontal dimension at ``y`` between two places, with lines from ``start`` [px]."""
    reach = 5.0 if y > start else -5.0
    fits = x2 - x1 > words_width(words)
    place = ((x1 + x2) / 2.0, y - 5.0) if fits else (x2 + 7.0, y + 4.0)
    return Markup().join([
        *(line(x, start, x, y + reach, "thin") for x in (x1, x2)), line(x1, y, x2, y, "thin"),
        _tick(x1, y), _tick(x2, y), label(*place, words, anchor="middle" if fits else "start"),
    ])  # fmt: skip


def upright(
    x: float, y1: float, y2: float, words: Sequence[str], *, start: float, kind: str = "thin"
) -> Markup:
    """Return a vertical dimension at ``x`` with its words on the side away from ``start`` [px]."""
    way, anchor = (1.0, "start") if x >= start else (-1.0, "end")
    top = (y1 + y2) / 2.0 + 4.0 - LINE * (len(words) - 1) / 2.0
    return Markup().join([
        *(line(start, y, x + 5.0 * way, y, kind) for y in (y1, y2)), line(x, y1, x, y2, kind),
        _tick(x, y1), _tick(x, y2), lines_below(x + 9.0 * way, top, words, anchor=anchor),
    ])  # fmt: skip


def _tick(x: float, y: float) -> Markup:
    return line(x - TICK, y + TICK, x + TICK, y - TICK, "ink")


def spread(
    places: Sequence[float], widths: Sequence[float], low: float, high: float
) -> list[float]:
    """Move the middles of labels apart along a line, in order, between two ends [px]."""
    moved: list[float] = []
    edge = low
    for place, width in zip(places, widths, strict=True):
        moved.append(max(place, edge + width / 2.0))
        edge = moved[-1] + width / 2.0
    edge = high
    for at in reversed(range(len(moved))):
        moved[at] = min(moved[at], edge - widths[at] / 2.0)
        edge = moved[at] - widths[at] / 2.0
    return moved


def called_out(
    parts: Sequence[tuple[str, float, float]], y: float, low: float, high: float
) -> Markup:
    """Return names on a line at ``y``, each with a leader to its part.

    Parameters
    ----------
    parts : words, and the place of the part that they name [px]; from left to right
    y : base line of the names, above or below all parts [px]
    low, high : ends of the line of names [px]
    """
    widths = [words_width(words) + 14.0 for words, _, _ in parts]
    middles = spread([x for _, x, _ in parts], widths, low, high)
    drawn = []
    for (words, x, part), middle in zip(parts, middles, strict=True):
        drawn.append(line(middle, y + (5.0 if part > y else -12.0), x, part, "thin"))
        drawn.append(element("circle", cx=x, cy=part, r=1.8, class_="ink"))
        drawn.append(label(middle, y, words, anchor="middle"))
    return Markup().join(drawn)


def scale_bar(x: float, y: float, scale: float) -> Markup:
    """Return a bar of a round length, at most 100 px long, with its length (``scale`` in px/m)."""
    round_ = (digit * 10.0**power for power in range(-4, 3) for digit in (1.0, 2.0, 5.0))
    size = max(length for length in round_ if length * scale <= 100.0)
    end = x + size * scale
    bar = path([(x, y - 4.0), (x, y), (end, y), (end, y - 4.0)])
    words = f"{size * 1e3:g} mm"
    return element("path", d=bar, class_="ink") + label(x + 5.0, y - 4.0, words, kind="soft")


def set_key(x: float, y: float, counts: Mapping[int, int]) -> Markup:
    """Return the key to the sets: a swatch, the letter and the number of tubes of each."""
    parts = []
    for side, count in counts.items():
        words = f"{SET_LETTERS[side]}: {SET_NAMES[side]} set, {count} tube{'s' * (count > 1)}"
        swatch = Sheet(x, y - 4.0, 1.0)
        swatch.set_box(0.0, 0.0, 26.0, 12.0, side)
        parts += [*swatch.parts, label(x + 34.0, y, words)]
        x += 60.0 + words_width(words)
    return Markup().join(parts)


@dataclass(frozen=True)
class Sheet:
    """Part of a drawing to one scale: from metres (to the right, up) to pixels.

    Attributes
    ----------
    left, middle
        Pixels at which both coordinates are zero.
    scale
        Pixels per metre, the same in both axes.
    parts
        What has been drawn, in order.
    """

    left: float
    middle: float
    scale: float
    parts: list[Markup] = field(default_factory=list)

    def x(self, value: float) -> float:
        """Horizontal place [px] of a length [m]."""
        return self.left + self.scale * value

    def y(self, value: float) -> float:
        """Vertical place [px] of a height [m]."""
        return self.middle - self.scale * value

    def add(self, *parts: Markup) -> None:
        """Draw on top of what is there."""
        self.parts.extend(parts)

    def box(self, x: float, y: float, wide: float, high: float, kind: str, **more: object) -> None:
        """Rectangle from its left end and its middle height [m]."""
        size: dict[str, object] = {"width": self.scale * wide, "height": self.scale * high}
        place = {"x": self.x(x), "y": self.y(y + high / 2.0)}
        self.add(element("rect", **place, **size, class_=kind, **more))

    def set_box(self, x: float, y: float, wide: float, high: float, side: int) -> None:
        """Rectangle of a set, as :meth:`box`; the down set hatched."""
        self.box(x, y, wide, high, SET_KINDS[side])
        if side == 1:
            self.curve([(x, y), (x + wide, y)], "hatch", stroke_width=self.scale * high)

    def circle(self, x: float, y: float, radius: float, kind: str, **more: object) -> None:
        """Circle [m]."""
        place = {"cx": self.x(x), "cy": self.y(y), "r": self.scale * radius}
        self.add(element("circle", **place, class_=kind, **more))

    def curve(
        self, points: Sequence[Point], kind: str, *, closed: bool = False, **more: object
    ) -> None:
        """Line through points [m]."""
        pixels = [(self.x(x), self.y(y)) for x, y in points]
        self.add(element("path", d=path(pixels, closed=closed), class_=kind, **more))


def drawing(name: str, title: str, description: str, height: float, *content: str) -> Markup:
    """Return the whole drawing: an image with a title and a description for who cannot see it.

    Parameters
    ----------
    name : id of the drawing, unique on the page
    title, description : text
    height : [px]
    content : elements
    """
    return element(
        "svg",
        element("title", title, id=f"{name}-title"),
        element("desc", description, id=f"{name}-text"),
        *content,
        id=name, class_="drawing", role="img", viewBox=f"0 0 {WIDTH:g} {plain(height)}",
        aria_labelledby=f"{name}-title {name}-text",
    )  # fmt: skip
