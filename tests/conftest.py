"""An optimum of a shipped study and a feasible design with room to every limit, shared by tests."""

from __future__ import annotations

import gc
import mmap
import os
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from mdo.model.layout import join_design
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.study.study import Study, load_study

if TYPE_CHECKING:
    from mdo.run.analyses import Outcome

# Most functions that tests compile are called a few times: so they take two fifths of the time, and
# in one piece a fifth less, since other cores are busy. The package adds options of its own.
CHEAP = {
    "xla_backend_optimization_level": "0",
    "xla_cpu_use_fusion_emitters": "false",
    "xla_cpu_parallel_codegen_split_count": "1",
}
STUDIES = Path(__file__).parents[1] / "studies"
STUDY = STUDIES / "deck_medium.toml"
FEW_ROUNDS = 3  # of marching and optimising; the small study takes 12
ROOM = {
    "requirements.fold_time": "700 s",
    "case.cold_start.fold_time": "800 s",
    "requirements.return_time": "2000 s",
    "requirements.torque_margin": 0.2,
    "vehicle.skin_thickness": "1 mm",
}
DESIGN = {
    "tube_outer_radius": 0.00724,
    "wall_ratio": 0.66,
    "tube_length": 0.579,
    "tube_count": [4.5, 5.65],
    "operating_stress": [1.165e8, 1.235e8],
    "gear_ratio": 0.93,
    "pre_twist": [2.92, 2.73],
    "heater_power": [930.0, 1150.0],
    "hot_temperature": 473.0,
    "insulation_thickness": 0.0027,
    "spring_moment": 1.0,
    "spring_rate": 0.0,
}


# Tests that compile chains of studies run in one process, which compiles each once: these folders
# and what lies beside them, but for what starts processes of its own or compiles nothing.
CHAINS = ("defend", "edge", "explore", "model", "optimise", "report", "study")
APART = (
    "edge/test_interrupts.py", "edge/test_places.py", "edge/test_progress.py", "test_api.py",
    "test_cli.py", "test_docs.py", "test_double_precision.py", "test_quantities.py",
)  # fmt: skip
CHAINED = (
    "disciplines/tube/test_stroke_loss.py", "disciplines/kept_numbers/test_kept_numbers.py",
)  # fmt: skip


def share_chains(file: str) -> bool:
    """Whether tests of a file, by its path in this folder, compile chains of studies."""
    folder, *inside = file.split("/")
    return (folder in CHAINS or not inside or file in CHAINED) and file not in APART


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What shares chains first, as it is the longest; pages last: what makes them is compiled."""
    here = f"{Path(__file__).parent.as_posix()}/"

    def turn(item: pytest.Item) -> int:
        file = item.path.as_posix().removeprefix(here)
        return 2 if file.startswith("browser/") else 1 - share_chains(file)

    items.sort(key=turn)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Send what shares chains to one process, and of the others each file to the next one free."""
    from xdist.scheduler import LoadScopeScheduling

    class ByChains(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.split("::", maxsplit=1)[0].removeprefix("tests/")
            return "chains" if share_chains(file) else file

    config.option.loadscopereorder = False  # else the files with most tests come first
    return ByChains(config, log)


def pytest_configure() -> None:
    """Compile cheaply, in this process and in those that tests start.

    The compiler reads its flags when it is first used, and ends the process at one that it lacks.
    """
    package = find_spec("jaxlib")
    assert package is not None
    assert package.origin is not None
    found = set()
    for path in Path(package.origin).parent.glob("*.so"):
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as code:
            found |= {name for name in CHEAP if code.find(name.encode()) >= 0}
    flags = " ".join(f"--{name}={CHEAP[name]}" for name in sorted(found))
    os.environ.setdefault("XLA_FLAGS", flags)
    gc.set_threshold(100_000, 20, 20)  # tracing makes many objects and little garbage


@dataclass(frozen=True)
class MediumCase:
    """The study and a way to appraise it changed, at the design changed."""

    study: Study

    def appraise(self, changes: dict[str, Any] | None = None, **design: Any) -> Appraisal:
        problem = make_problem(self.study.with_values(changes) if changes else self.study)
        x = join_design({**DESIGN, **design})
        return Appraisal("evaluate", problem, x, problem.values(x), None, "fixed")


@pytest.fixture(scope="session")
def medium_case() -> MediumCase:
    return MediumCase(load_study(STUDY).with_values(ROOM))


@pytest.fixture(scope="session")
def medium(medium_case: MediumCase) -> Appraisal:
    return medium_case.appraise()


@pytest.fixture(scope="session")
def optimum():
    """Appraisal of the optimum of the medium study, from two starts."""
    from mdo.optimise.problem import make_problem
    from mdo.run.design_analyses import optimum_analysis
    from mdo.study import load_study

    study = load_study(STUDY)
    problem = make_problem(study.with_values({"analysis.optimum.starts": 2}))
    return optimum_analysis(problem, lambda _: None)


@pytest.fixture(scope="session")
def small_outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """Run of the small study: evaluated, and its optimum from one start. Copy what you spoil.

    Its march is fed back in few rounds: tests of results say nothing of where it comes to rest.
    """
    from mdo.run.analyses import run_study

    root = tmp_path_factory.mktemp("résults of a run")
    study = load_study(STUDIES / "deck_small.toml").with_values({"analysis.optimum.starts": 1})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("mdo.optimise.verify.ROUNDS", FEW_ROUNDS)
        return run_study(replace(study, analyses=("evaluate", "optimum")), results_root=root)
