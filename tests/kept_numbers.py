"""Fence of kept numbers: what functions give at some inputs, held against a file of before.

The numbers of such a file are the tool's own. They prove nothing right, which is what tests with a
source are for: they show that a change moves something, what, and by how much, so that it is meant
and stands in CHANGELOG.md. A test module gives its parts by name, functions without arguments that
return any tree of records, and is its own maker: run it as a program to write its file anew and to
see what moved.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

RELATIVE = 1e-8  # of the largest number of an array: far above what another processor changes
NOTHING = 1e-15  # that counts as zero in any unit
PLACES = 10  # after the first digit of the largest number of an array


def flatten(record: Any, name: str = "") -> dict[str, np.ndarray]:
    """Arrays of a tree of records, mappings and sequences by the names on the way to them."""
    if record is None:
        return {}
    if hasattr(record, "_asdict"):
        record = record._asdict()
    elif isinstance(record, list | tuple):
        record = dict(enumerate(record))
    if isinstance(record, Mapping):
        return {
            below: array
            for key, value in record.items()
            for below, array in flatten(value, f"{name}.{key}" if name else str(key)).items()
        }
    array = np.asarray(record)
    if np.iscomplexobj(array):
        return {f"{name}.real": array.real, f"{name}.imag": array.imag}
    return {name: array.astype(float)}


def moved(kept: Mapping[str, Any], now: Mapping[str, np.ndarray], relative: float) -> list[str]:
    """A line for each array that is new, gone, of another shape, or further off than allowed."""
    lines = [f"{name}: not in the file" for name in now if name not in kept]
    lines += [f"{name}: gone" for name in kept if name not in now]
    for name in (name for name in kept if name in now):
        before, after = np.asarray(kept[name], float), now[name]
        if before.shape != after.shape:
            lines.append(f"{name}: shape {before.shape} -> {after.shape}")
            continue
        finite = before[np.isfinite(before)]
        scale = np.abs(finite).max(initial=0.0)
        same = np.isclose(after, before, rtol=0.0, atol=relative * scale + NOTHING, equal_nan=True)
        if not same.all():
            with np.errstate(invalid="ignore"):
                off = np.where(same, 0.0, np.nan_to_num(np.abs(after - before), nan=np.inf))
            place = np.unravel_index(np.argmax(off), off.shape)
            share = off[place] / scale if scale else np.inf
            where = list(map(int, place)) or ""
            lines.append(
                f"{name}{where}: {before[place]:.12g} -> {after[place]:.12g}, {share:.1e} of the"
                f" largest; {np.sum(~same)} of {same.size} moved"
            )
    return lines


def hold(file: Path, part: str, record: Any, relative: float = RELATIVE) -> None:
    """Fail where numbers of a part are not those of its file."""
    lines = moved(json.loads(file.read_text(encoding="utf-8"))[part], flatten(record), relative)
    assert not lines, (
        f"{part}: {len(lines)} arrays are not those of {file.name}. If that is meant, run this test"
        " module as a program and state in CHANGELOG.md what moved:\n" + "\n".join(lines)
    )


def main(file: Path, parts: Mapping[str, Callable[[], Any]]) -> None:
    """Write a file of numbers anew and print what moved, at the tolerance of the tests."""
    old = json.loads(file.read_text(encoding="utf-8")) if file.exists() else {}
    text = []
    for part, compute in parts.items():
        now = flatten(compute())
        lines = moved(old.get(part, {}), now, RELATIVE)
        sys.stdout.write(f"{part}: {len(lines)} of {len(now)} arrays moved\n")
        sys.stdout.writelines(f"  {line}\n" for line in lines)
        rows = [f"  {json.dumps(name)}: {_written(array)}" for name, array in now.items()]
        text.append(f" {json.dumps(part)}: {{\n" + ",\n".join(rows) + "\n }")
    file.write_text("{\n" + ",\n".join(text) + "\n}\n", encoding="utf-8")
    sys.stdout.write(f"{file}: {file.stat().st_size / 1e3:.0f} kB\n")


def _written(array: np.ndarray) -> str:
    scale = np.abs(array[np.isfinite(array)]).max(initial=0.0)
    places = PLACES - int(np.floor(np.log10(scale))) if scale else 0
    rows = json.dumps([round(float(value), places) for value in array.ravel()])
    flat = [part.removesuffix(".0") for part in rows[1:-1].split(", ")]
    return _nested(flat, array.shape)


def _nested(flat: list[str], shape: tuple[int, ...]) -> str:
    if not shape:
        return flat[0]
    width = len(flat) // max(shape[0], 1)
    inner = [_nested(flat[i * width : (i + 1) * width], shape[1:]) for i in range(shape[0])]
    return f"[{','.join(inner)}]"
