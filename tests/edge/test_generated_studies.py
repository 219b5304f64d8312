"""Generated studies: a wrong one is refused in words, a right one accepted as it was written.

A wrong study must be refused with exit code 2 and a message that names file, field, value and what
was expected; a right one must be accepted with the value that was written.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from mdo.cli import main as cli
from mdo.study import load_study

from .study_mutations import RIGHT, WRONG, mutation

Capture = pytest.CaptureFixture[str]


def complaint(path: Path, made: Any, capture: Capture) -> str:
    """What is wrong with what the tool says of a mutation; empty if nothing is."""
    path.write_bytes(made.data)
    code = cli.main(["check", "--json", str(path)])
    told = capture.readouterr()
    said: dict[str, Any] = json.loads(told.out)
    lines = told.err.splitlines()
    if "Traceback" in told.err or "internal error" in told.err:
        return told.err
    if made.needles is None:
        return _complaint_right(path, made, code, told.err)
    if code != cli.BAD_INPUT or said["valid"] or said["problems"] != lines:
        return f"accepted though wrong, or another code: {code}: {told.err}"
    if not all(line.startswith(f"{path}: ") and "expected" in line for line in lines):
        return f"a line without file or what is expected: {told.err}"
    if not any(all(needle in line for needle in made.needles) for line in lines):
        return f"no line with {made.needles}: {told.err}"
    return ""


def _complaint_right(path: Path, made: Any, code: int, told: str) -> str:
    """The same for a right study: it is accepted, with the value that was written."""
    if code != cli.OK:
        return f"refused though right: {told}"
    if made.value is not None:
        where, wanted = made.value
        values = {one.path: one.value for one in load_study(path).inputs}
        if values.get(where) != pytest.approx(wanted, rel=1e-9, abs=1e-12):
            return f"{where}: read {values.get(where)}, written {wanted}"
    return ""


def failures(seeds: range, folder: Path, capture: Capture) -> list[str]:
    """Everything that goes wrong over a range of seeds."""
    found = []
    for seed in seeds:
        made = mutation(seed)
        told = complaint(folder / "study.toml", made, capture)
        if told:
            found.append(f"seed {seed}, {made.what}: {told[:600]}")
    return found


def test_sample_of_generated_studies_is_judged_rightly(tmp_path: Path, capsys: Capture) -> None:
    found = failures(range(120), tmp_path, capsys)
    assert not found, "\n".join(found)


@pytest.mark.slow
def test_two_thousand_bad_studies_are_judged_rightly(tmp_path: Path, capsys: Capture) -> None:
    seeds = range(120, 2620)
    assert sum(mutation(seed).needles is not None for seed in seeds) >= 2000
    found = failures(seeds, tmp_path, capsys)
    assert not found, "\n".join(found)


def test_every_kind_of_change_is_made() -> None:
    made = {mutation(seed).what.partition(" ")[0] for seed in range(1500)}
    assert {name.partition("_")[0] for name in (*WRONG, *RIGHT)} <= made
