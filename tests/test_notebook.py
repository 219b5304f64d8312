"""The example notebook runs from top to bottom, and an outcome shows itself in one."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from typing import Any

import pytest

EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
NOTEBOOK = EXAMPLES / "first_answer.ipynb"


def cells() -> list[str]:
    """Code of the notebook."""
    book = json.loads(NOTEBOOK.read_text(encoding="utf-8"))
    assert (book["nbformat"], book["nbformat_minor"]) == (4, 5)
    code = [cell for cell in book["cells"] if cell["cell_type"] == "code"]
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in code)
    return ["".join(cell["source"]) for cell in code]


def value_of(code: str, names: dict[str, Any]) -> Any:
    """Run a cell as a notebook does: what its last line is worth is shown."""
    *before, last = ast.parse(code).body
    exec(compile(ast.Module(before, []), str(NOTEBOOK), "exec"), names)
    assert isinstance(last, ast.Expr), "a cell ends with what it shows"
    return eval(compile(ast.Expression(last.value), str(NOTEBOOK), "eval"), names)


def test_notebook_runs_and_shows_its_outcome(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES)
    names: dict[str, Any] = {}
    (inputs, warnings), outcome, (mass, active), saved = [value_of(cell, names) for cell in cells()]
    assert inputs > 100
    assert warnings == ()
    assert outcome.exit_code == 0
    page = outcome._repr_html_()
    shown = " ".join(re.sub(r"<[^>]*>", " ", page).split())
    assert "feasible with open items" in shown
    assert f"{mass:.2f} kg" in shown
    assert re.search(r"least torque margin [\d.]+ %, 25\.0 % needed: raise, fold at", shown)
    assert "fold time, raise, fold 180 s of 180 s" in shown
    assert re.findall(r"<(\w+)[^>]*>", page)[0] == "div"
    assert active
    assert saved < 0.0  # more time asks for less power
