"""The small study as a problem, and a design with room where its requirements are eased."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from mdo.explore.sweeps import sweep
from mdo.explore.sweeps.space import Space, space_of
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.quantities import QUANTITIES
from mdo.study import load_study
from mdo.study.units import as_written

STUDY = Path(__file__).parents[3] / "studies" / "deck_small.toml"
# Room to every requirement at a torque margin of 0.1 and a fold time of 300 s.
BASE = (
    0.00326, 0.376, 0.132, 1.27, 1.465, 116020000.0, 115330000.0, 0.5125,
    1.2694, 1.2457, 62.0, 62.0, 472.62, 0.0021, 3.6434, 0.23194,
)  # fmt: skip
SHIPPED_BATCH = sweep.BATCH
SWEPT = ("tube_outer_radius", "tube_length", "tube_count.up", "hot_temperature")


@pytest.fixture(scope="package", autouse=True)
def narrow() -> Iterator[None]:
    """Batches of the size of a chunk of these tests: a batch is filled up, with 2,000 designs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sweep, "BATCH", 40)
        yield


@pytest.fixture(scope="session")
def small() -> DesignProblem:
    return make_problem(load_study(STUDY))


def around(problem: DesignProblem, share: float) -> dict[str, tuple[float, float]]:
    """Ranges around the base design."""
    places = {label: problem.labels.index(label) for label in SWEPT}
    return {label: (BASE[at] * (1 - share), BASE[at] * (1 + share)) for label, at in places.items()}


@pytest.fixture(scope="session")
def with_axes(small: DesignProblem) -> Space:
    axes = {"fold_time": ["180 s", "300 s"], "torque_margin": [0.1, 0.3]}
    plan = {"designs": 90, "chunk": 40, "variables": written(around(small, 0.01)), "axes": axes}
    return space_of(planned(small, seed=4, **plan), BASE)


def planned(problem: DesignProblem, *, seed: int = 0, **plan: object) -> DesignProblem:
    """Study with another plan of its sweep."""
    changes = {f"analysis.sweep.{name}": value for name, value in plan.items()}
    return make_problem(problem.study.with_values({"study.seed": seed, **changes}))


def written(ranges: dict[str, tuple[float, float]]) -> dict[str, list[str | float]]:
    """Ranges of design variables as a study file writes them."""
    units = {label: QUANTITIES[label.partition(".")[0]].unit for label in ranges}
    return {
        label: [as_written(end, units[label]) for end in ends] for label, ends in ranges.items()
    }


def same(one: object, other: object) -> None:
    np.testing.assert_array_equal(np.asarray(one), np.asarray(other))
