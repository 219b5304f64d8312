"""The validation table cites tests that are there, of functions that a run reaches."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

from mdo.defend.validation import validation, validation_table

ROOT = Path(__file__).parents[2]
STARTS = ("mdo.cli.main.main", "mdo.api.")
CHECKS = validation().checks


@cache
def modules() -> dict[str, ast.Module]:
    """Syntax of every module of the package by name."""
    trees = {}
    for path in sorted((ROOT / "mdo").rglob("*.py")):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        trees[name] = ast.parse(path.read_text(encoding="utf-8"))
    return trees


def imported(tree: ast.AST) -> dict[str, str]:
    """Full name of everything that a module imports of the package, by its name there."""
    names = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("mdo"):
            names |= {a.asname or a.name: f"{node.module}.{a.name}" for a in node.names}
    return names


@cache
def definitions() -> dict[str, tuple[str, ast.stmt]]:
    """Functions and classes of the package by full name, with their module."""
    return {
        f"{module}.{node.name}": (module, node)
        for module, tree in modules().items()
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    }


@cache
def imports_of(module: str) -> dict[str, str]:
    return imported(modules()[module])


def origin(name: str) -> str:
    """Full name where a thing is defined, of one that packages pass on."""
    module, _, last = name.rpartition(".")
    while name not in definitions() and module in modules() and last in imports_of(module):
        name = imports_of(module)[last]
        module, _, last = name.rpartition(".")
    return name


def mentions(module: str, node: ast.AST) -> set[str]:
    """Functions and classes of the package that a piece of a module mentions."""
    table, found = imports_of(module), set()
    for part in ast.walk(node):
        if isinstance(part, ast.Name):
            found.add(origin(table.get(part.id, f"{module}.{part.id}")))
        elif isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name):
            found.add(origin(f"{table.get(part.value.id)}.{part.attr}"))
        elif isinstance(part, ast.Constant) and str(part.value).startswith(("mdo.", ":")):
            # the worker of a chunk, by its name or that in its own module
            found.add(
                origin(f"{module * part.value.startswith(':')}{part.value}".replace(":", "."))
            )
    return found & definitions().keys()


@cache
def reached() -> frozenset[str]:
    """What command line and Python interface reach; tables of functions at module level count."""
    todo = {name for name in definitions() if name.startswith(STARTS)}
    for module, tree in modules().items():
        for node in tree.body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Import | ast.ImportFrom):
                todo |= mentions(module, node)
    done: set[str] = set()
    while todo:
        name = todo.pop()
        done.add(name)
        todo |= mentions(*definitions()[name]) - done
    return frozenset(done)


def test_there_are_checks_and_what_is_missing_is_said():
    table = validation_table()
    assert len(table) == len(CHECKS) + len(validation().unchecked) + 1
    assert list(table.columns) == ["model", "checked_against", "source", "test"]
    assert table.iloc[-1]["checked_against"] == "measured data: none"
    assert validation().not_modelled


@pytest.mark.parametrize("check", CHECKS, ids=[check.model for check in CHECKS])
def test_cited_test_is_there_and_names_what_it_checks(check):
    path, _, name = check.test.partition("::")
    text = (ROOT / path).read_text(encoding="utf-8")
    functions = {node.name for node in ast.parse(text).body if isinstance(node, ast.FunctionDef)}
    assert name in functions
    beside = [one for one in (ROOT / path).parent.glob("*_case.py") if one.name in text]
    texts = [text, *(one.read_text(encoding="utf-8") for one in beside)]
    assert check.functions
    for function in check.functions:
        assert any(function.rpartition(".")[2] in part for part in texts), function


@pytest.mark.parametrize("check", CHECKS, ids=[check.model for check in CHECKS])
def test_functions_that_a_check_cites_are_reached_by_a_run(check):
    for function in check.functions:
        assert function in definitions()
        assert function in reached()


def test_reach_tells_what_is_called_from_what_is_not():
    assert "mdo.disciplines.tube.hot.hot_strain" in reached()
    assert "mdo.model.kept.kept" in reached()
    # nothing of the package mentions the driver of its attribute look-up
    assert "mdo.__getattr__" not in reached()
