"""A sound log of a fold, written as CSV or Parquet, and ways to damage it (common on benches)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

DECLARED = """[log]
time = "t [s]"
commanded_angle = "command [deg]"
measured_angle = "angle [deg]"
torque = "torque [N*m]"
tube_temperature = ["T1 [degC]", "T2 [degC]"]
heater_power = "power [W]"
"""
HEADER = ["t", "command", "angle", "torque", "T1", "T2", "power"]
Rows = list[list[str]]
Damage = Callable[[Rows, np.random.Generator], Rows]


def sound(samples: int = 120) -> Rows:
    time = np.arange(samples) * 0.5
    command = np.where(time > 5, 60.0, 0.0)
    rise = 1 - np.exp(-np.maximum(time - 5, 0) / 15)
    columns = [time, command, 60 * rise, 40 + 20 * rise, 20 + 120 * rise, 21 + 118 * rise,
               np.where(command > 0, 200.0, 0.0)]  # fmt: skip
    return [[f"{value:.6g}" for value in row] for row in zip(*columns, strict=True)]


def _cells(text: str | Callable[[str], str], most: int = 8) -> Damage:
    def damage(rows: Rows, rng: np.random.Generator) -> Rows:
        for _ in range(rng.integers(1, most)):
            row, cell = rng.integers(len(rows)), rng.integers(len(HEADER))
            rows[row][cell] = text if isinstance(text, str) else text(rows[row][cell])
        return rows

    return damage


def _column(change: Callable[[str, int], str], among: tuple[int, ...] = tuple(range(7))) -> Damage:
    def damage(rows: Rows, rng: np.random.Generator) -> Rows:
        cell = int(rng.choice(among))
        for n, row in enumerate(rows):
            row[cell] = change(row[cell], n)
        return rows

    return damage


def gap(rows: Rows, rng: np.random.Generator) -> Rows:
    start, end = sorted(rng.choice(np.arange(1, len(rows)), 2, replace=False))
    return rows[:start] + rows[end:]


def backward(rows: Rows, rng: np.random.Generator) -> Rows:
    for _ in range(rng.integers(1, 4)):
        a, b = rng.integers(len(rows), size=2)
        rows[a], rows[b] = rows[b], rows[a]
    return rows


def repeated(rows: Rows, rng: np.random.Generator) -> Rows:
    at = int(rng.integers(len(rows)))
    return rows[:at] + [list(rows[at])] * int(rng.integers(1, 9)) + rows[at:]


def restarted(rows: Rows, rng: np.random.Generator) -> Rows:
    at = int(rng.integers(10, len(rows)))
    return [*rows[:at], *sound(int(rng.integers(2, 60)))]


def torn(rows: Rows, rng: np.random.Generator) -> Rows:
    for _ in range(rng.integers(1, 6)):
        at = int(rng.integers(len(rows)))
        rows[at] = rows[at][: int(rng.integers(0, 7))] + ["x"] * int(rng.integers(0, 3)) * 4
    return rows


def short(rows: Rows, rng: np.random.Generator) -> Rows:
    return rows[: int(rng.integers(0, 12))]


def untouched(rows: Rows, rng: np.random.Generator) -> Rows:
    return rows


DAMAGES: dict[str, Damage] = {
    "none": untouched, "gap": gap, "backward": backward, "repeated": repeated, "torn": torn,
    "restarted": restarted, "short": short,
    "nan": _cells("NaN"), "blank": _cells(""), "text": _cells("OVERFLOW"),
    "hidden": _cells("\x1b[2J\x00"), "infinite": _cells("1e999"), "quote": _cells('"12'),
    "break": _cells("1\n2"), "other digits": _cells("\u0661\u0662"), "long": _cells("9" * 5000),
    "spike": _cells(lambda text: text + "e7"), "formula": _cells("=A1+B2"),
    "decimal comma": _column(lambda text, _: text.replace(".", ",")),
    "stuck": _column(lambda *_: "20.0"), "words": _column(lambda *_: "error"),
    "empty column": _column(lambda *_: ""), "radians": _column(
        lambda text, _: f"{float(text) / 57.29578:.6g}", (1, 2)),
    "kelvin": _column(lambda text, _: f"{float(text) + 273.15:.6g}", (4, 5)),
    "milliseconds": _column(lambda text, _: f"{float(text) * 1000:.6g}", (0,)),
    "dates": _column(lambda _, n: f"2026-11-29T12:00:{n % 60:02d}", (0,)),
    "half missing": _column(lambda text, n: text if n % 2 else "nan"),
}  # fmt: skip
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1", "cp037")


def write_damaged(folder: Path, seed: int) -> tuple[Path, list[str]]:
    """Write one damaged log with its declaration; returns its path and what was done to it."""
    rng = np.random.default_rng(seed)
    names = [list(DAMAGES)[seed % len(DAMAGES)]]
    names += [str(rng.choice(list(DAMAGES)))] if rng.random() < 0.4 else []
    rows = sound()
    for name in names:
        try:
            rows = DAMAGES[name](rows, rng) if rows else rows
        except (ValueError, IndexError):  # the first damage left nothing that the second may hurt
            continue
    declared = DECLARED
    if rng.random() < 0.1:  # a declaration that names another unit or column
        old, new = [("degC", "kg"), ("T2", "T9"), ("[s]", ""), ("torque", "moment")][
            int(rng.integers(4))
        ]
        declared = declared.replace(old, new)
        names.append(f"declared {new}")
    path = folder / f"log{seed}.{'parquet' if rng.random() < 0.15 else 'csv'}"
    path.with_suffix(".toml").write_text(declared, encoding="utf-8")
    width = len(HEADER)
    if path.suffix == ".parquet":
        frame = pd.DataFrame([(row + [""] * width)[:width] for row in rows], columns=HEADER)
        frame.apply(_numeric).to_parquet(path)
        data = path.read_bytes()
    else:
        delimiter = str(rng.choice([",", ";", "\t"]))
        units = rng.choice(["", "degC", "[\u00b0C]"])
        header = delimiter.join(HEADER).replace("T1", f"T1 {units}".strip())
        text = "\n".join([header, *(delimiter.join(row) for row in rows)])
        data = text.encode(str(rng.choice(ENCODINGS)), errors="replace")
    if rng.random() < 0.1:
        data = data[: int(rng.integers(len(data)))]
        names.append("cut short")
    path.write_bytes(data)
    return path, names


def _numeric(column: pd.Series) -> pd.Series:
    try:
        return pd.to_numeric(column)
    except (ValueError, TypeError):
        return column
