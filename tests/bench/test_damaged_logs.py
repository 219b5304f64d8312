"""No log, however damaged, ends in a traceback: it is repaired, and that is said, or refused."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from mdo.bench.log import read_log
from mdo.study import StudyError
from tests.bench.damage import DECLARED, HEADER, sound, write_damaged

GIB = 2**30
WHERE = ("line", "row", "column", "log.", "damaged", "empty", "schema")
NOT_TO_BE_TOLD = {"none", "milliseconds", "short", "cut short"}  # such a log may as well be sound


def written(folder: Path, text: str | bytes, declared: str = DECLARED) -> Path:
    path = folder / "log.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    path.with_suffix(".toml").write_text(declared, encoding="utf-8")
    return path


def csv(rows: list[list[str]], delimiter: str = ",") -> str:
    return "\n".join(delimiter.join(row) for row in [HEADER, *rows])


def refusal(path: Path) -> str:
    with pytest.raises(StudyError) as caught:
        read_log(path)
    return str(caught.value)


def judge(folder: Path, seed: int) -> None:
    path, names = write_damaged(folder, seed)
    try:
        log = read_log(path)
    except StudyError as error:
        for problem in error.problems:
            assert path.stem in problem, names
            assert problem.isprintable(), names
            assert any(word in problem for word in WHERE), (names, problem)
        return
    assert (np.diff(log.time) > 0).all(), names
    for name in ("commanded_angle", "heater_power"):
        assert np.isfinite(log.channels[name]).all(), names
    sound = {
        "none",
        "milliseconds",
        "short",
        "cut short",
    }  # nothing in them tells that they are not
    assert log.repairs or set(names) & sound or len(log.time) >= 118, names


@pytest.mark.parametrize("seed", range(200))
def test_damaged_log_is_repaired_or_refused_in_words(tmp_path: Path, seed: int) -> None:
    judge(tmp_path, seed)


@pytest.mark.slow
def test_two_thousand_damaged_logs(tmp_path: Path) -> None:
    for seed in range(200, 2200):
        judge(tmp_path, seed)


def test_sound_log_is_read_in_si_without_repairs(tmp_path: Path) -> None:
    log = read_log(written(tmp_path, csv(sound())))
    assert log.repairs == ()
    assert log.time[-1] == pytest.approx(59.5)
    assert log.channels["commanded_angle"][-1] == pytest.approx(np.pi / 3)
    assert log.channels["tube_temperature"][0] == pytest.approx([293.15, 294.15])
    assert len(log.digest) == 64


@pytest.mark.parametrize(
    ("row", "cell", "text", "message"),
    [
        (3, 4, "ERR", 'column T1, 1 cells, the first in line 5: no number, got "ERR"; taken as'),
        (3, 4, "9999", "column T1, 1 cells, the first in line 5: out of range, got 9999 degC"),
        (3, 0, "0", "column t, 1 rows, the first in line 5: time runs backward; left out"),
        (3, 0, "1", "column t, 1 rows, the first in line 5: time repeats; left out"),
        (3, 0, "nan", "column t, 1 rows, the first in line 5: no time; left out"),
    ],
)
def test_repair_names_line_and_column(
    tmp_path: Path, row: int, cell: int, text: str, message: str
) -> None:
    rows = sound()
    rows[row][cell] = text
    assert any(message in repair for repair in read_log(written(tmp_path, csv(rows))).repairs)


def test_time_that_starts_again_is_refused_where_it_does(tmp_path: Path) -> None:
    message = refusal(written(tmp_path, csv(sound(60) + sound(60))))
    assert "log.csv: line 62, column t: time " in message


def test_wrong_units_are_refused(tmp_path: Path) -> None:
    rows = sound()
    header = csv(rows).replace("T1", "T1 [K]", 1)
    assert 'line 1, column T1: wrong unit, the header says "K", [log] says "degC"' in refusal(
        written(tmp_path, header)
    )
    for row in rows:
        row[2] = f"{np.radians(float(row[2])):.6f}"
    assert "column angle: wrong unit, its span is 1/57" in refusal(written(tmp_path, csv(rows)))
    rows = sound()
    for row in rows:
        row[4], row[5] = f"{float(row[4]) + 273.15}", f"{float(row[5]) + 273.15}"
    assert "column T1: wrong unit, tubes are above 250" in refusal(written(tmp_path, csv(rows)))


def test_decimal_commas_are_read_and_stated(tmp_path: Path) -> None:
    rows = [[cell.replace(".", ",") for cell in row] for row in sound()]
    comma = read_log(written(tmp_path, csv(rows, ";")))
    point = read_log(written(tmp_path, csv(sound())))
    assert comma.repairs == ("decimals follow a comma",)
    for name, values in point.channels.items():
        np.testing.assert_array_equal(comma.channels[name], values)
    assert "decimal commas between commas" in refusal(written(tmp_path, csv(rows)))


def test_commas_that_may_part_thousands_are_asked_about(tmp_path: Path) -> None:
    rows = [[f"{n},{n + 100}", *row[1:]] for n, row in enumerate(sound(), 1)]
    rows = [[cell.partition(".")[0] if n else cell for n, cell in enumerate(row)] for row in rows]
    path = written(tmp_path, csv(rows, ";"))
    assert 'line 2, column t: got "1,101", decimals or thousands' in refusal(path)
    path.with_suffix(".toml").write_text(DECLARED + 'decimal = "comma"\n', encoding="utf-8")
    assert read_log(path).time[1] == pytest.approx(1.001)


def test_preamble_and_row_of_units_are_passed_over(tmp_path: Path) -> None:
    lines = csv(sound()).splitlines()
    text = "\n".join(["bench 4, run 7", "", lines[0], "s,deg,deg,N*m,degC,degC,W", *lines[1:]])
    assert read_log(written(tmp_path, text)).repairs == ()


def test_dead_sensor_and_gap_are_stated(tmp_path: Path) -> None:
    rows = sound()
    for row in rows:
        row[5] = "21.5"
    log = read_log(written(tmp_path, csv(rows[:50] + rows[70:])))
    assert log.channels["tube_temperature"].shape == (100, 1)
    said = " ".join(log.repairs)
    assert "column T2: 21.5 degC in every row from line 2; a dead sensor, left out" in said
    assert "1 gap(s) of 10.5 s together, the first after line 51" in said
    assert log.gaps[0] == pytest.approx((24.5, 35.0))


@pytest.mark.parametrize(
    ("text", "declared", "message"),
    [
        ("", DECLARED, "empty"),
        ("\n\n \n", DECLARED, "empty"),
        ("a,b\n1,2\n", DECLARED, "no line names the columns"),
        (csv([]), DECLARED, "no rows"),
        (b"PK\x03\x04" + bytes(100), DECLARED, "a workbook or an archive"),
        (b"PAR1" + bytes(100), DECLARED, "damaged Parquet"),
        ("x" * 300_000, DECLARED, "longer than 100000"),
        (csv(sound()), "[log", "not TOML"),
        (csv(sound()), "", "log.time: missing"),
        (csv(sound()), '[log]\ntime = "t"\n', "expected a column and its unit"),
        (csv(sound()), '[log]\ntime = "t [kg]"\n', "wrong dimension"),
        (csv(sound()), '[log]\ntime = "t [s]"\n', "nothing that was measured"),
        (csv(sound()), DECLARED + 'speed = "v [m/s]"\n', "unknown key"),
        (csv(sound()), "[log]\ntime = 3\n", "wrong type"),
        (csv(sound()), DECLARED.replace("angle [deg]", "command [deg]", 1), "named twice"),
        (csv(sound()).replace("T2", "T1", 1), DECLARED, "column T1: there twice"),
    ],
)
def test_what_is_no_log_is_refused(
    tmp_path: Path, text: str | bytes, declared: str, message: str
) -> None:
    assert message in refusal(written(tmp_path, text, declared))


def test_log_without_its_declaration_or_of_another_kind_is_refused(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(csv(sound()))
    assert "log.toml: cannot be read" in refusal(tmp_path / "log.csv")
    assert "got ending" in refusal(tmp_path / "log.xlsx")
    (tmp_path / "none.toml").write_text(DECLARED)
    assert "no such file" in refusal(tmp_path / "none.csv")


def test_parquet_says_the_same_as_csv(tmp_path: Path) -> None:
    plain = read_log(written(tmp_path, csv(sound())))
    columns = np.asarray(sound(), dtype=float).T
    path = tmp_path / "log.parquet"
    pq.write_table(pa.table(dict(zip(HEADER, columns, strict=True))), path)
    for name, values in read_log(path).channels.items():
        np.testing.assert_array_equal(values, plain.channels[name])
    pq.write_table(pa.table({name: [[1.0]] * 20 for name in HEADER}), path)
    assert "column t: holds list<" in refusal(path)


@pytest.mark.slow
def test_a_million_rows_take_less_than_two_gib(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.with_suffix(".toml").write_text(DECLARED, encoding="utf-8")
    rows = np.column_stack([np.arange(1e6) * 1e-3, np.random.default_rng(1).random((10**6, 6))])
    np.savetxt(path, rows, delimiter=",", header=",".join(HEADER), comments="", fmt="%.7g")
    program = (
        "import resource, sys; from pathlib import Path; from mdo.bench.log import read_log; "
        "log = read_log(Path(sys.argv[1])); assert len(log.time) == 10**6; "
        "own = Path('/proc/self/status'); used = resource.getrusage(resource.RUSAGE_SELF); "
        "print(own.read_text().split('VmHWM:')[1].split()[0] if own.exists() else used.ru_maxrss)"
    )  # Linux counts into ru_maxrss what the process that started this one holds; not into VmHWM
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True
    )
    unit = 1 if sys.platform == "darwin" else 1024
    assert int(done.stdout) * unit < 2 * GIB
