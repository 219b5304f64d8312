"""First studies: short, sound, in the user's units, and never over a file that is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from mdo.analysis_names import FIRST_STUDIES
from mdo.cli.main import BAD_INPUT, OK, main
from mdo.study import StudyError, load_study
from mdo.study.first import first_study

LINES_MAX = 60


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("kind", FIRST_STUDIES)
def test_first_study_is_short_sound_and_commented(kind: str, units: str, tmp_path: Path) -> None:
    file = tmp_path / f"my_{kind}.toml"
    first_study(file, kind, units)
    text = file.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LINES_MAX
    assert max(map(len, text.splitlines())) <= 116
    assert text.count("#") >= 20
    study = load_study(file)
    assert study.name == f"my_{kind}"
    assert study.warnings == ()
    assert (study.bench is not None) == (kind == "bench")
    wanted = {"deck": {"deck"}, "flight": {"air"}, "both": {"deck", "air"}, "bench": {"deck"}}
    assert {case.location for case in study.cases} == wanted[kind]


@pytest.mark.parametrize("kind", FIRST_STUDIES)
def test_trade_units_say_the_same(kind: str, tmp_path: Path) -> None:
    texts = []
    for units in ("si", "us"):
        file = tmp_path / f"{units}.toml"
        first_study(file, kind, units)
        texts.append(file.read_text(encoding="utf-8"))
    assert not re.search(r'"[-\d.]+ (kg|m|mm|cm|degC|N\*m)"', texts[1])
    si, us = (load_study(tmp_path / f"{units}.toml") for units in ("si", "us"))
    for given, other in zip(si.inputs, us.inputs, strict=True):
        if isinstance(given.value, float) and given.path != "study.name":
            assert other.value == pytest.approx(given.value, rel=1e-3, abs=1e-9), given.path


def test_a_file_that_is_there_is_never_touched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    assert main(["new", str(file), "--kind", "bench"]) == OK
    told = capsys.readouterr().out
    assert all(f"fold-mdo {verb} {file}" in told for verb in ("check", "check --all", "run"))
    before = file.read_bytes()
    assert main(["new", str(file), "--kind", "deck"]) == BAD_INPUT
    assert "is there already and is not touched" in capsys.readouterr().err
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    "name", ["no ending", "two words.toml", "con.toml", "x.txt", "gone/a.toml"]
)
def test_a_name_that_no_study_can_have_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"not a name for a study|cannot be written"):
        first_study(tmp_path / name, "deck")
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
@pytest.mark.parametrize("kind", FIRST_STUDIES)
def test_first_study_runs_to_a_feasible_design(kind: str, tmp_path: Path) -> None:
    file = tmp_path / f"my_{kind}.toml"
    assert main(["new", str(file), "--kind", kind]) == OK
    assert main(["run", str(file), "--results", str(tmp_path), "--quiet"]) == OK
