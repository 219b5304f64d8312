"""Traces kept on disk: read instead of found again, never for another function, never damaged."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import pytest

import mdo
from mdo.model import kept as module
from mdo.model.chain import Chain
from mdo.model.kept import kept
from mdo.optimise.problem import make_problem
from mdo.study import load_study

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(module, "use_persistent_cache", lambda: tmp_path)
    return tmp_path / module.FOLDER / module.surroundings()


def squares(x: Any, more: dict[str, Any]) -> dict[str, Any]:
    return {"sum": (x**2).sum() + more["one"], "parts": (x, more["one"] * 2.0)}


def never(*_: Any) -> Any:
    raise AssertionError("traced again")


def test_a_kept_trace_is_read_and_not_found_again(folder: Path) -> None:
    x, more = np.array([1.0, 2.0, 3.0]), {"one": np.float64(4.0)}
    first = kept(squares, "squares")(x, more)
    assert len(list(folder.iterdir())) == 1
    again = kept(never, "squares")(x, more)
    assert float(again["sum"]) == float(first["sum"]) == 18.0
    assert float(again["parts"][1]) == 8.0


def test_another_name_or_shape_is_another_trace(folder: Path) -> None:
    kept(jnp.sum, "sum")(np.ones(3))
    with pytest.raises(AssertionError, match="traced again"):
        kept(never, "product")(np.ones(3))
    with pytest.raises(AssertionError, match="traced again"):
        kept(never, "sum")(np.ones(4))
    assert float(kept(jnp.sum, "sum")(np.ones(4))) == 4.0
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("data", [b"", b"damaged", None])
def test_a_damaged_file_is_replaced(folder: Path, data: bytes | None) -> None:
    kept(jnp.sum, "sum")(np.ones(3))
    (path,) = folder.iterdir()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2] if data is None else data)
    assert float(kept(jnp.sum, "sum")(np.ones(3))) == 3.0
    assert path.read_bytes() == whole


def test_nothing_is_kept_without_a_name_or_a_folder(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert float(kept(jnp.sum, None)(np.ones(3))) == 3.0
    assert not folder.exists()
    monkeypatch.setattr(module, "use_persistent_cache", lambda: None)
    assert float(kept(jnp.sum, "sum")(np.ones(3))) == 3.0


def test_a_folder_that_cannot_be_written_costs_nothing_else(folder: Path) -> None:
    folder.parent.write_text("a file in its place", encoding="utf-8")
    assert float(kept(jnp.sum, "sum")(np.ones(3))) == 3.0


def test_traces_of_the_last_versions_of_the_sources_are_kept(folder: Path) -> None:
    for number in range(8):
        old = folder.parent / f"version{number}"
        old.mkdir(parents=True)
        os.utime(old, (1e9 + number, 1e9 + number))
    kept(jnp.sum, "sum")(np.ones(3))
    kept_of = {one.name for one in folder.parent.iterdir()}
    assert kept_of == {folder.name, *(f"version{number}" for number in (4, 5, 6, 7))}


@pytest.mark.parametrize("part", module.UNTRACED)
def test_a_trace_outlives_changes_only_of_what_knows_no_jax(part: str) -> None:
    place = Path(mdo.__file__).parent / part
    sources = [place] if place.is_file() else sorted(place.rglob("*.py"))
    assert sources
    assert not [
        path
        for path in sources
        if re.search(r"^\s*(import|from) jax", path.read_text(), re.MULTILINE)
    ]


def test_a_trace_outlives_changes_of_pages_and_not_of_physics(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "PACKAGE", tmp_path)
    hashes = []
    for place in ("disciplines/a.py", "report/a.py", "disciplines/b.py", "optimise/a.py"):
        path = tmp_path / place
        path.parent.mkdir(exist_ok=True)
        path.write_text("")
        module.surroundings.cache_clear()
        hashes.append(module.surroundings())
    module.surroundings.cache_clear()
    assert hashes[0] == hashes[1]
    assert len(set(hashes)) == 3


def test_chain_keeps_what_its_own_package_computes() -> None:
    """The same values as without a trace; a discipline from elsewhere is traced every time."""
    problem = make_problem(load_study(STUDY))
    chain = problem.chain
    assert chain.identity is not None
    x = problem.unscale(0.5 * (problem.scale(problem.lower) + problem.scale(problem.upper)))
    point, _ = chain.point_and_gradient(x, problem.theta, problem.prelude)
    plain = jax.jit(chain.evaluate_point)(x, problem.theta, problem.prelude)
    np.testing.assert_allclose(point.rows, plain.rows, rtol=1e-12, atol=1e-12)
    assert float(point.objective) == pytest.approx(float(plain.objective), rel=1e-13)
    first, *rest = chain.system.disciplines
    foreign = chain.system._replace(disciplines=(first._replace(compute=never), *rest))
    assert Chain(foreign, problem.assembled.parameters, objective="system_mass",
                 rows="constraints").identity is None  # fmt: skip
