"""The command line: exit codes, what goes to which stream, and no heavy import before its need."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import types
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mdo.cli import main as cli
from mdo.cli.text import as_json, input_value, number_text, quantity_text, table
from mdo.results import StoreError
from mdo.study import Input, load_study
from mdo.study.schema import json_schema

STUDIES = Path(__file__).parents[1] / "studies"
SMALL = STUDIES / "deck_small.toml"
CARDS = Path(cli.__file__).parents[1] / "alloys" / "cards"
HEAVY = ("jax", "numpy", "openmdao", "pandas", "pint", "plotly", "pyarrow", "rich", "scipy")
Capture = pytest.CaptureFixture[str]


def command(*arguments: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    line = [sys.executable, "-m", "mdo.cli.main", *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, check=False, **options)


def shipped_alloy() -> str:
    """Alloy of the small study as its file has it, quotes included."""
    found = re.search(r'^alloy = ("[^"]+")', SMALL.read_text(encoding="utf-8"), re.MULTILINE)
    assert found
    return found.group(1)


def changed(folder: Path, *changes: tuple[str, str], name: str = "study.toml") -> Path:
    """Write the small study with texts replaced."""
    text = SMALL.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


class TestHelp:
    def test_names_the_verbs_and_exit_codes(self) -> None:
        told = command("--help")
        assert told.returncode == 0
        for word in (
            "run",
            "check",
            "alloys",
            "schema",
            "--version",
            "no feasible design",
            "130",
            "141",
            "143",
        ):
            assert word in told.stdout

    def test_imports_nothing_heavy(self) -> None:
        program = (
            "import sys; from mdo.cli.main import main\n"
            "try: main(['run', '--help'])\n"
            "except SystemExit as end: assert end.code == 0\n"
            f"print('loaded:', sorted(set({HEAVY!r}) & set(sys.modules)))"
        )
        told = subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True
        )
        assert told.stdout.splitlines()[-1] == "loaded: []"

    @pytest.mark.parametrize("verb", ["run", "check", "alloys", "schema"])
    def test_every_verb_has_its_own(self, verb: str, capsys: Capture) -> None:
        with pytest.raises(SystemExit) as end:
            cli.main([verb, "--help"])
        assert end.value.code == 0
        assert f"fold-mdo {verb}" in capsys.readouterr().out

    def test_version(self, capsys: Capture) -> None:
        with pytest.raises(SystemExit) as end:
            cli.main(["--version"])
        assert end.value.code == 0
        assert capsys.readouterr().out.startswith("fold-mdo 0.")

    @pytest.mark.parametrize(
        "arguments", [[], ["size"], ["run"], ["run", "x.toml", "--units", "cgs"], ["check", "--x"]]
    )
    def test_unknown_arguments_are_bad_input(self, arguments: list[str]) -> None:
        with pytest.raises(SystemExit) as end:
            cli.main(arguments)
        assert end.value.code == cli.BAD_INPUT


class TestCheck:
    def test_alone_prints_a_short_verdict(self, capsys: Capture) -> None:
        assert cli.main(["check", str(SMALL)]) == 0
        told = capsys.readouterr()
        lines = told.out.splitlines()
        assert lines[1] == "the study is valid"
        assert "warnings: none" in lines
        assert lines[-1].endswith("fold-mdo check --all")
        assert len(lines) < 12
        origins = [one.origin for one in load_study(SMALL).inputs]
        given, judged = origins.count("file"), origins.count("judgement")
        assert f"inputs: {given} given, {origins.count('default')} by default, {judged} judged" in (
            told.out
        )

    def test_json_holds_the_verdict_and_warnings_for_scripts(self, capsys: Capture) -> None:
        assert cli.main(["check", str(SMALL), "--json"]) == 0
        said = json.loads(capsys.readouterr().out)
        assert (said["valid"], said["study"], said["cases"]) == (True, "deck_small", 14)
        assert said["warnings"] == []
        assert sum(said["inputs"].values()) == len(load_study(SMALL).inputs)

    def test_json_holds_every_problem_of_a_wrong_study(
        self, tmp_path: Path, capsys: Capture
    ) -> None:
        bad = changed(tmp_path, ('mass = "45 kg"', 'mass = "45 m"\ncolour = "red"'))
        assert cli.main(["check", str(bad), "--json"]) == cli.BAD_INPUT
        told = capsys.readouterr()
        said = json.loads(told.out)
        assert said["valid"] is False
        assert said["problems"] == told.err.splitlines()
        assert len(said["problems"]) == 2

    def test_prints_every_input_with_unit_and_origin(self, capsys: Capture) -> None:
        assert cli.main(["check", "--all", str(SMALL)]) == 0
        rows = [line.split() for line in capsys.readouterr().out.splitlines()]
        assert ["vehicle.mass", "45", "kg", "file"] in rows
        assert ["supply.wire_rating", "200", "degC", "default"] in rows
        assert ["requirements.dead_time", "1", "s", "judgement", "0.5", "to", "3", "s"] in rows
        assert ["requirements.bay_cold", "-20", "degC", "file"] in rows
        shown = {row[0] for row in rows if row}
        assert {one.path for one in load_study(SMALL).inputs} <= shown

    def test_columns_are_aligned(self, capsys: Capture) -> None:
        cli.main(["check", "--all", str(SMALL)])
        lines = capsys.readouterr().out.splitlines()
        rule = next(line for line in lines if line.startswith("---"))
        at = rule.rindex("  ", 0, rule.rindex("  ")) + 2
        start = lines.index(rule) + 1
        rows = lines[start : lines.index("", start)]
        assert {row[at:].split()[0] for row in rows} == {"file", "default", "judgement"}

    def test_prints_trade_units_of_the_us(self, capsys: Capture) -> None:
        assert cli.main(["check", "--all", str(SMALL), "--units", "us"]) == 0
        rows = [line.split() for line in capsys.readouterr().out.splitlines()]
        assert ["vehicle.mass", "99.208", "lb", "file"] in rows
        assert ["requirements.bay_hot", "131", "degF", "file"] in rows

    @pytest.mark.parametrize("units", ["si", "us"])
    def test_differences_of_temperature_stay_in_kelvin(self, units: str, capsys: Capture) -> None:
        cli.main(["check", "--all", str(SMALL), "--units", units])
        rows = [line.split() for line in capsys.readouterr().out.splitlines()]
        assert ["requirements.lot_tolerance", "10", "K"] in [row[:3] for row in rows]
        assert ["assumptions.thermal.hold_temperature_margin", "10", "K"] in [r[:3] for r in rows]

    def test_lists_all_problems_at_once_without_traceback(self, tmp_path: Path) -> None:
        bad = changed(tmp_path, ('mass = "45 kg"', 'mass = "45 m"\ncolour = "red"'))
        told = command("check", bad)
        assert told.returncode == cli.BAD_INPUT
        assert told.stdout == ""
        assert "vehicle.mass: wrong dimension" in told.stderr
        assert "vehicle.colour: unknown key" in told.stderr
        assert "Traceback" not in told.stderr

    def test_plans_of_explorations_are_checked(self, tmp_path: Path, capsys: Capture) -> None:
        plan = '[analysis.map.axes]\nfoldtime = ["60 s", "90 s"]\n'
        bad = tmp_path / "study.toml"
        bad.write_text(SMALL.read_text(encoding="utf-8") + plan, encoding="utf-8")
        assert cli.main(["check", str(bad)]) == cli.BAD_INPUT
        told = capsys.readouterr()
        assert "analysis.map.axes.foldtime: no number that can be turned" in told.err
        assert "did you mean fold_time" in told.err
        assert told.out == ""

    @pytest.mark.parametrize("name", ["missing.toml", "."])
    def test_file_that_cannot_be_read_is_bad_input(self, name: str, capsys: Capture) -> None:
        assert cli.main(["check", name]) == cli.BAD_INPUT
        assert len(capsys.readouterr().err.splitlines()) == 1

    def test_card_that_lacks_fields_is_named_with_them(
        self, tmp_path: Path, capsys: Capture
    ) -> None:
        study = changed(tmp_path, (shipped_alloy(), '"ni60ti40"'))
        assert cli.main(["check", str(study)]) == cli.BAD_INPUT
        told = capsys.readouterr()
        assert "alloy 'ni60ti40' (actuator) cannot be run: it does not give" in told.err
        assert told.out == ""

    def test_warnings_go_to_the_error_stream(self, tmp_path: Path, capsys: Capture) -> None:
        card = (CARDS / "ref1.toml").read_text(encoding="utf-8")
        assert 'value = "7 MPa/K"' in card
        one, _, rest = card.partition('value = "7 MPa/K"')
        (tmp_path / "mine.toml").write_text(f'{one}value = "8 MPa/K"{rest}', encoding="utf-8")
        study = changed(tmp_path, (shipped_alloy(), '"mine.toml"'))
        assert cli.main(["check", str(study)]) == 0
        told = capsys.readouterr()
        assert "warning: " in told.err
        assert "differ: the hysteresis changes with stress" in told.err
        assert "differ" not in told.out
        assert "warnings: 1 (on the error stream)" in told.out

    def test_terminal_of_another_encoding_shows_a_question_mark(self, tmp_path: Path) -> None:
        study = changed(tmp_path, ("Wing fold of a 45 kg", "Flügelfaltung \N{ROCKET} 45 kg"))
        for encoding in ("ascii", "cp1252"):
            told = subprocess.run(
                [sys.executable, "-m", "mdo.cli.main", "check", str(study)],
                capture_output=True,
                env={**os.environ, "PYTHONIOENCODING": encoding},
                check=False,
            )
            assert told.returncode == 0
            assert b"gelfaltung ? 45 kg" in told.stdout


class TestAlloys:
    def test_lists_the_cards(self, capsys: Capture) -> None:
        assert cli.main(["alloys"]) == 0
        rows = [line.split() for line in capsys.readouterr().out.splitlines()]
        assert ["niti_actuator", "actuator", "yes"] in [row[:3] for row in rows]
        assert ["niti_brinson", "verification", "no,", "lacks"] in [row[:4] for row in rows]

    def test_card_shows_value_range_standing_and_source(self, capsys: Capture) -> None:
        assert cli.main(["alloys", "niti_actuator"]) == 0
        out = capsys.readouterr().out
        rows = [line.split() for line in out.splitlines()]
        assert ["martensite_start", "71", "66", "76", "degC", "memory"] in [r[:6] for r in rows]
        judged = next(row for row in rows if row[:1] == ["strain_min"])
        assert judged[1:6] == ["0", "0", "0.01", "judgement", "*"]
        assert "published data list of NiTi properties" in out

    def test_card_in_units_of_the_us(self, capsys: Capture) -> None:
        assert cli.main(["alloys", "niti_actuator", "--units", "us"]) == 0
        rows = [line.split() for line in capsys.readouterr().out.splitlines()]
        assert ["martensite_start", "159.8", "150.8", "168.8", "degF"] in [r[:5] for r in rows]

    def test_card_that_cannot_be_run_says_what_it_lacks(self, capsys: Capture) -> None:
        assert cli.main(["alloys", "niti_textbook"]) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert "cannot be run: it does not give" in out

    def test_own_card_by_path(self, capsys: Capture) -> None:
        assert cli.main(["alloys", str(CARDS / "ref1.toml")]) == 0
        assert capsys.readouterr().out.startswith("ref1 (synthetic)")

    def test_unknown_name_is_bad_input_with_the_choices(self, capsys: Capture) -> None:
        assert cli.main(["alloys", "niti_actuatr"]) == cli.BAD_INPUT
        assert "did you mean 'niti_actuator'" in capsys.readouterr().err
        assert cli.main(["alloys", "niti"]) == cli.BAD_INPUT  # the one that can be run
        assert "did you mean 'niti_actuator'" in capsys.readouterr().err


def test_schema_is_that_of_the_study_file(capsys: Capture) -> None:
    assert cli.main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(json_schema()))


class Outcome:
    """What a run gives, as the command line needs it."""

    exit_code = 0

    def summary_text(self, units: str) -> str:
        return f"sized in {units}"

    def summary(self) -> dict[str, object]:
        return {"mass": 1.5, "margins": (1.0, float("inf"))}


@pytest.fixture
def explore(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[Any]]:
    """Put a stand-in in the place of the runner; returns the arguments that it was called with."""

    def install(outcome: object = None, *, error: BaseException | None = None) -> list[Any]:
        calls: list[Any] = []
        asked: list[Any] = []

        def run_study(
            study: object, *, results_root: object, progress: Any, **means: object
        ) -> object:
            calls.append((study, results_root))
            asked.append(means)
            progress("half way")
            if error:
                raise error
            return outcome or Outcome()

        module = types.ModuleType("mdo.run.analyses")
        module.run_study = run_study  # type: ignore[attr-defined]
        module.asked = asked  # type: ignore[attr-defined]
        module.NotWrittenError = NotWrittenError  # type: ignore[attr-defined]
        monkeypatch.setitem(sys.modules, "mdo.run.analyses", module)
        return calls

    return install


class NotWrittenError(StoreError):
    """As that of the module."""


class TestRun:
    def test_scheduler_and_workers_are_passed_on(self, explore: Any) -> None:
        explore()
        cli.main(["run", str(SMALL), "--scheduler", "serial", "--workers", "3"])
        (means,) = sys.modules["mdo.run.analyses"].asked  # type: ignore[attr-defined]
        assert means == {"scheduler": "serial", "workers": 3}

    def test_prints_the_summary_and_shows_progress_beside_it(
        self, explore: Any, tmp_path: Path, capsys: Capture
    ) -> None:
        calls = explore()
        assert cli.main(["run", str(SMALL), "--results", str(tmp_path), "--units", "us"]) == 0
        told = capsys.readouterr()
        assert (told.out, told.err) == ("sized in us\n", "half way\n")
        assert [(study.name, root) for study, root in calls] == [("deck_small", tmp_path)]

    def test_results_go_to_results_by_default(self, explore: Any) -> None:
        calls = explore()
        cli.main(["run", str(SMALL)])
        assert calls[0][1] == Path("results")

    def test_quiet_shows_no_progress(self, explore: Any, capsys: Capture) -> None:
        explore()
        assert cli.main(["run", str(SMALL), "--quiet"]) == 0
        assert capsys.readouterr().err == ""

    def test_json_is_all_of_the_output(self, explore: Any, capsys: Capture) -> None:
        explore()
        assert cli.main(["run", str(SMALL), "--json"]) == 0
        assert json.loads(capsys.readouterr().out) == {"mass": 1.5, "margins": [1.0, None]}

    def test_exit_code_is_that_of_the_outcome(self, explore: Any) -> None:
        outcome = Outcome()
        outcome.exit_code = 3
        explore(outcome)
        assert cli.main(["run", str(SMALL)]) == 3

    def test_folder_that_cannot_be_written_is_bad_input(
        self, explore: Any, capsys: Capture
    ) -> None:
        explore(error=StoreError("results: cannot write: No space left on device"))
        assert cli.main(["run", str(SMALL), "--quiet"]) == cli.BAD_INPUT
        assert capsys.readouterr().err == "results: cannot write: No space left on device\n"

    def test_fault_of_the_tool_says_how_to_report_it(self, explore: Any, capsys: Capture) -> None:
        explore(error=RuntimeError("bracket\nlost"))
        assert cli.main(["run", str(SMALL), "--quiet"]) == cli.INTERNAL
        told = capsys.readouterr().err
        assert "internal error: RuntimeError: bracket lost" in told
        assert "Please report it" in told
        assert "Traceback" not in told

    def test_debug_shows_the_traceback(self, explore: Any, capsys: Capture) -> None:
        explore(error=RuntimeError("lost"))
        assert cli.main(["run", str(SMALL), "--debug"]) == cli.INTERNAL
        assert "Traceback" in capsys.readouterr().err

    def test_ctrl_c_is_130(self, explore: Any, capsys: Capture) -> None:
        explore(error=KeyboardInterrupt())
        assert cli.main(["run", str(SMALL), "--quiet"]) == cli.INTERRUPTED
        assert capsys.readouterr().err == "interrupted\n"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_reader_that_has_gone_is_no_error() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "mdo.cli.main", "schema"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait() == cli.PIPE_CLOSED


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_output_that_finds_no_room_is_one_message() -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        told = subprocess.run(
            [sys.executable, "-m", "mdo.cli.main", "alloys"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert told.returncode == cli.INTERNAL
    assert told.stderr == "fold-mdo: cannot write its output: No space left on device\n"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (31.2e9, "3.12e+10"), (7e6, "7000000"), (1234567.8, "1234568"), (1e-10, "1e-10")],
)
def test_number_has_six_digits_and_no_needless_exponent(value: float, text: str) -> None:
    assert number_text(value) == text


@pytest.mark.parametrize(
    ("value", "unit", "units", "shown"),
    [
        (0.0254, "m", "us", ("1", "in")),  # one inch, exact by definition
        (6096.0, "m", "us", ("20000", "ft")),  # 20,000 ft, exact by definition
        (6096.0, "m", "si", ("6096", "m")),
        (1.5, "m", "si", ("1500", "mm")),
        (0.25, "1", "us", ("0.25", "")),
        (273.15, "K", "si", ("0", "degC")),
    ],
)
def test_quantity_is_shown_in_trade_units(
    value: float, unit: str, units: str, shown: tuple[str, str]
) -> None:
    assert quantity_text(value, unit, units) == shown


@pytest.mark.parametrize(
    ("value", "shown"), [(None, "none"), (True, "true"), ("word " * 20, "word " * 6 + "...")]
)
def test_input_that_is_no_number_is_shown_as_a_word(value: Any, shown: str) -> None:
    assert input_value(Input("a.b", value, "1", "file", ""), "si") == (shown, "")


def test_table_is_aligned() -> None:
    assert table(("a", "b", "c"), [("x\ny", "1", ""), ("z", "22", "w")], right=(1,)) == [
        "a     b  c",
        "---  --  -",
        "x y   1",
        "z    22  w",
    ]


def test_json_takes_arrays_and_nests() -> None:
    import numpy as np

    given = {"a": np.array([1.0, np.nan]), "b": [{"c": np.float64(2.0), 3: np.bool_(True)}]}
    assert json.loads(as_json(given)) == {"a": [1.0, None], "b": [{"c": 2.0, "3": True}]}
