"""Numbers as they are kept: a few of each field, and how far those of today are from them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

FILE = Path(__file__).with_name("numbers.json")
FEW = 4  # a field with more numbers is kept as sums over them
SCALE = 1e-8  # of the largest number of a field: what counts as moved
# What a difference of nearly equal numbers may be off by beside that, in its unit.
NOISE = {
    "ledger_residual": 1e-9, "residual": 1e-3, "strain": 1e-9, "wall_difference": 1e-5,
    "motion_time": 1e-11,
}  # fmt: skip
NOTHING = 1e-16  # in any unit
FAR = 1e-6  # of the largest: smaller numbers may be what round-off leaves of nought
MANY = 1e25  # a number beyond it stands for one that does not exist

Fields = Mapping[str, Any]
Kept = dict[str, dict[str, list[float]]]


class Moved(NamedTuple):
    """A field that is not what is kept: by how much of its largest number."""

    place: str
    field: str
    by: float


def numbers_of(field: Any) -> list[float]:
    """What is kept of a field.

    Itself where it is small; else its largest magnitude, two sums over all its numbers, with
    weights that no symmetry and no exchange cancels, and how many are not there (infinite or not a
    number). The second is over shares v / (|v| + median |v|) of the largest: it sees small numbers
    beside large ones.
    """
    values = np.atleast_1d(np.asarray(field, dtype=float)).ravel()
    there = np.abs(np.nan_to_num(values, nan=np.inf)) < MANY
    known = np.where(there, values, 0.0)
    if values.size <= FEW:
        return [*known.tolist(), *([float((~there).sum())] if not there.all() else [])]
    largest = float(np.abs(known).max())
    middle = max(float(np.median(np.abs(known))), FAR * largest) or 1.0
    at = np.arange(values.size)
    first, second = 1.0 + 0.5 * np.cos(2.3 * at), 1.0 + 0.5 * np.cos(1.7 * at + 0.9)
    shares = known / (np.abs(known) + middle)
    sums = [float(np.mean(first * known)), largest * float(np.mean(second * shares))]
    return [largest, *sums, float((~there).sum())]


def kept_of(places: Mapping[str, Fields]) -> Kept:
    """What is kept of all fields of all places."""
    return {
        place: {name: numbers_of(field) for name, field in sorted(fields.items())}
        for place, fields in places.items()
    }


def moved_between(kept: Kept, now: Kept) -> list[Moved]:
    """Every field that is not what is kept, the farthest first; infinitely far what is in one."""
    return sorted(_moved(kept, now), key=lambda one: -one.by)


def _moved(kept: Kept, now: Kept) -> Iterator[Moved]:
    for place in sorted({*kept, *now}):
        old, new = kept.get(place, {}), now.get(place, {})
        for field in sorted({*old, *new}):
            by = _distance(old.get(field), new.get(field), NOISE.get(field, NOTHING))
            if by > SCALE:
                yield Moved(place, field, by)


def _distance(old: list[float] | None, new: list[float] | None, noise: float) -> float:
    """Largest difference over the largest magnitude that is kept."""
    if old is None or new is None or len(old) != len(new):
        return float("inf")
    off = max(abs(a - b) for a, b in zip(old, new, strict=True))
    largest = max(map(abs, old))
    if off <= noise:
        return 0.0
    return off / largest if largest else float("inf")


def read() -> Kept:
    """What is kept."""
    found: Kept = json.loads(FILE.read_text(encoding="utf-8"))
    return found


def write(kept: Kept) -> None:
    """Keep other numbers: a line for each field, twelve digits."""
    places = []
    for place, fields in kept.items():
        lines = [
            f" {json.dumps(name)}: [{', '.join(f'{number:.12g}' for number in numbers)}]"
            for name, numbers in fields.items()
        ]
        places.append(json.dumps(place) + ": {\n" + ",\n".join(lines) + "\n}")
    FILE.write_text("{\n" + ",\n".join(places) + "\n}\n", encoding="utf-8")


def table(moved: list[Moved], most: int) -> str:
    """What moved and by how much of its largest number, a line for each field, the farthest first.

    One field that moved in many places stands once, where it moved most.
    """
    if not moved:
        return "no number moved"
    fields: dict[str, list[Moved]] = {}
    for one in moved:
        fields.setdefault(one.field, []).append(one)
    lines = [
        "| field | moved by (of its largest) | places | most in |",
        "| --- | --- | --- | --- |",
    ]
    for field, own in list(fields.items())[:most]:
        lines.append(f"| {field} | {own[0].by:.2g} | {len(own)} | {own[0].place} |")
    if len(fields) > most:
        lines.append(f"| and {len(fields) - most} more | less | | |")
    return "\n".join(lines)
