"""A log beside a result from the command line: refusals in words, and (slow) all of it once."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from mdo.alloys import load_card
from mdo.cli import main as cli
from mdo.defend.record import record_text
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.results.store import ResultStore
from mdo.run.analyses import SUMMARIES
from mdo.run.design_analyses import RECORD
from mdo.study import load_study
from tests.bench.damage import DECLARED, HEADER, sound
from tests.bench_wing import DESIGN, STUDY

Capture = pytest.CaptureFixture[str]


def stored(root: Path, analysis: str, texts: dict[str, str], text: str) -> Path:
    writer = ResultStore(root, "bench_500_45_45").begin(analysis, text, "0" * 64, 0)
    assert writer is not None
    with writer:
        writer.table("some", pd.DataFrame({"time": [0.0]}))
        for name, content in texts.items():
            writer.text(name, content)
        return writer.finish({"feasible": 1}, {})


def log_in(folder: Path, declared: str = DECLARED) -> Path:
    path = folder / "run.csv"
    path.write_text("\n".join(",".join(row) for row in [HEADER, *sound()]), encoding="utf-8")
    path.with_suffix(".toml").write_text(declared, encoding="utf-8")
    return path


def refused(capsys: Capture, *arguments: Any) -> str:
    assert cli.main(["bench", *map(str, arguments)]) == cli.BAD_INPUT
    return " ".join(capsys.readouterr().err.split())


def test_result_without_motion_is_refused_with_what_to_run(tmp_path: Path, capsys: Capture) -> None:
    text = STUDY.read_text(encoding="utf-8")
    optimum = stored(tmp_path, "optimum", {}, text)
    told = refused(capsys, optimum, log_in(tmp_path))
    assert "result of 'optimum', no result of 'motion' of the same study is beside it" in told
    assert "fold-mdo run STUDY --analysis optimum --analysis motion" in told
    stored(tmp_path, "motion", {}, text.replace("600 W", "700 W"))  # of a study that was changed
    assert "no result of 'motion' of the same study" in refused(capsys, optimum, log_in(tmp_path))


def test_motion_without_its_design_is_refused(tmp_path: Path, capsys: Capture) -> None:
    motion = stored(tmp_path, "motion", {}, STUDY.read_text(encoding="utf-8"))
    told = refused(capsys, motion)
    assert "no result of 'optimum or defence or evaluate' of the same study is beside it" in told


def test_log_of_another_study_is_refused(tmp_path: Path, capsys: Capture) -> None:
    motion = stored(tmp_path, "motion", {}, STUDY.read_text(encoding="utf-8"))
    log = log_in(tmp_path, DECLARED + 'study = "deck_small"\n')
    told = refused(capsys, motion, log)
    assert "result of study 'bench_500_45_45', but run.csv is of 'deck_small'" in told


def test_options_that_do_not_go_together_are_refused(tmp_path: Path, capsys: Capture) -> None:
    assert "--fit: got no LOG" in refused(capsys, tmp_path, "--fit", "film_factor")
    assert "--card: got no --fit" in refused(
        capsys, tmp_path, log_in(tmp_path), "--card", tmp_path / "card.toml"
    )
    assert "no such folder" in refused(capsys, tmp_path / "none", log_in(tmp_path))


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Result of the design with that of a motion beside it."""
    root = tmp_path_factory.mktemp("results")
    problem = make_problem(load_study(STUDY))
    x = np.array(DESIGN)
    appraisal = Appraisal("evaluate", problem, x, problem.values(x), None, "fixed")
    texts = dict.fromkeys(SUMMARIES.values(), "-") | {RECORD: record_text(appraisal)}
    stored(root, "evaluate", texts, problem.study.text)
    return stored(root, "motion", {}, problem.study.text)


@pytest.mark.slow
def test_own_card_beside_the_study_is_that_of_the_coupons(tmp_path: Path, capsys: Capture) -> None:
    # a card as a user has it, 4 K warmer; the study and the card are gone when the bench asks
    own = tmp_path / "own"
    own.mkdir()
    text = STUDY.read_text(encoding="utf-8").replace('"nitihf20_set1"', '"cards/mine.toml"')
    (own / STUDY.name).write_text(text, encoding="utf-8")
    shutil.copy(STUDY.with_name("bench_500_45_45_loads.csv"), own)
    card = load_card("nitihf20_set1").path.read_text(encoding="utf-8")
    warmer = card.replace(
        '[martensite_start]\nvalue = "146 degC"', '[martensite_start]\nvalue = "150 degC"'
    )
    assert warmer != card
    (own / "cards").mkdir()
    (own / "cards" / "mine.toml").write_text(warmer, encoding="utf-8")
    problem = make_problem(load_study(own / STUDY.name))
    values = problem.values(np.array(DESIGN), "system_mass")
    appraisal = Appraisal("evaluate", problem, np.array(DESIGN), values, None, "fixed")
    texts = dict.fromkeys(SUMMARIES.values(), "-") | {RECORD: record_text(appraisal)}
    root = tmp_path / "results"
    stored(root, "evaluate", texts, problem.study.text)
    motion = stored(root, "motion", {}, problem.study.text)
    shutil.rmtree(own)
    assert cli.main(["bench", str(motion), "--quiet"]) == 0
    told = capsys.readouterr().out
    assert "martensite_start read as" in told
    assert "card 150" in told
    assert "--analysis defence" in told  # nothing is stored that says kilograms


@pytest.mark.slow
def test_made_log_is_compared_fitted_and_makes_a_card(
    result: Path, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mdo.bench.assembly.DEMONSTRATION", 400)
    log = tmp_path / "made.csv"
    assert cli.main(["bench", str(result), "--make", str(log), "--quiet"]) == 0
    card = tmp_path / "fitted.toml"
    names = "martensite_start,load_factor"
    command = ["bench", str(result), str(log), "--fit", names, "--card", str(card), "--quiet"]
    assert cli.main(command) == 0
    told = capsys.readouterr().out
    assert "The log agrees with the prediction in" in told
    assert "Nothing here has been validated against a real bench" in told
    folder = result.parent / "bench"
    fitted = pd.read_parquet(folder / "bench_fit.parquet").set_index("parameter")
    made = {
        name: float(rest.split()[0])
        for name, _, rest in (
            line[2:].partition(" = ")
            for line in log.with_suffix(".toml").read_text(encoding="utf-8").splitlines()
            if line.startswith("# ") and " = " in line
        )
    }
    # the unit differs in all other inputs too, so intervals are widened: the truth lies in them
    load = fitted.loc["load_factor"]
    assert load["low"] <= made["load_factor"] <= load["high"]
    assert pd.read_parquet(folder / "bench_errors.parquet")["widened"].iloc[0] > 1.0
    page = (folder / "report.html").read_bytes()
    assert cli.main(["report", str(folder)]) == 0
    assert (folder / "report.html").read_bytes() == page
    assert "fitted to made.csv (SHA-256 " in card.read_text(encoding="utf-8")
    load_card(card)
    copy = shutil.copy(STUDY, tmp_path / "study.toml")
    shutil.copy(STUDY.with_name("bench_500_45_45_loads.csv"), tmp_path)
    text = Path(copy).read_text(encoding="utf-8").replace('"nitihf20_set1"', '"fitted.toml"')
    Path(copy).write_text(text, encoding="utf-8")
    capsys.readouterr()
    assert cli.main(["check", str(copy)]) == 0
    study = load_study(copy).with_values({"analysis.optimum.starts": 1})

    found = find_optimum(make_problem(study), starts=1)
    assert found.feasible
