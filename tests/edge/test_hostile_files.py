"""Files that no study should be: huge, deep, of another kind, hostile; each is refused in words.

The case `unit of powers` once took all time, `key of many parts` all memory.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
from pathlib import Path

import pytest

from mdo.cli import main as cli
from mdo.study import StudyError, load_study

ROOT = Path(__file__).parents[2]
SMALL = (ROOT / "studies" / "deck_small.toml").read_text(encoding="utf-8")
CARD = (ROOT / "mdo" / "alloys" / "cards" / "nitihf20_set1.toml").read_text(encoding="utf-8")
PATIENCE = 20.0  # [s] for what takes a fraction of one
Capture = pytest.CaptureFixture[str]
LEVEL = '[fidelity]\noptimise = { hinge_moment = "table" }\n\n'


def changed(old: str, new: str) -> str:
    assert old in SMALL
    return SMALL.replace(old, new, 1)


def mass(text: str) -> str:
    return changed('mass = "45 kg"', f'mass = "{text}"')


HUGE: list[tuple[str, str, str]] = [
    ("10 MB", SMALL + "#" * 10_000_000, "too large, got more than 1 MB"),
    ("many keys", "".join(f"a{n} = 1\n" for n in range(80_000)), "more unknown keys"),
    ("many cases", SMALL + "[[case]]\n" * 80_000, "case: too many"),
    ("many stations", SMALL + "[[vehicle.wing]]\n" * 40_000, "vehicle.wing: too many"),
    ("key of many parts", "a." * 200_000 + "a = 1", "nested too deeply at line 1"),
    ("quoted parts", '"a".' * 100_000 + "a = 1", "nested too deeply at line 1"),
    ("head of many parts", "\n[" + "a." * 100_000 + "a]", "nested too deeply at line 2"),
    ("deep lists", "a = " + "[" * 300_000, "nested too deeply"),
    ("deep tables", "a = " + "{a = " * 30_000, "nested too deeply"),
    ("deep case", "case = " + "[" * 400 + "]" * 400, "expected"),
    ("long key", '"' + "k" * 500_000 + '" = 1', "unknown key"),
    ("long integer", "a = " + "1" * 100_000, "not TOML: "),
    ("integer", changed("seed = 1 ", f"seed = {'9' * 4000} "), "study.seed: out of range"),
    ("number of digits", mass("4" * 900_000 + " kg"), "vehicle.mass: not a finite number"),
    ("number of commas", mass("1," * 400_000 + " kg"), "vehicle.mass: not a quantity"),
    ("blanks", mass(" " * 900_000 + "x"), "vehicle.mass: not a quantity"),
    ("unit of powers", mass("45 kg**9**9**9**9"), "vehicle.mass: unknown unit"),
    ("unit of a power", mass("45 kg**(9**9**9)"), "vehicle.mass: unknown unit"),
    ("unit of brackets", mass("45 " + "(" * 39), "vehicle.mass: unknown unit"),
    ("unit of a program", mass("45 __import__('os')"), "vehicle.mass: unknown unit"),
]


@pytest.mark.parametrize(("text", "message"), [row[1:] for row in HUGE], ids=[r[0] for r in HUGE])
def test_huge_or_hostile_study_is_refused_soon_and_in_few_words(
    tmp_path: Path, capsys: Capture, text: str, message: str
) -> None:
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    began = time.perf_counter()
    assert cli.main(["check", str(path)]) == cli.BAD_INPUT
    assert time.perf_counter() - began < PATIENCE
    told = capsys.readouterr()
    assert message in told.err
    assert told.out == ""
    assert len(told.err) < 30_000


def test_many_problems_are_counted_not_listed(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    heads = "".join(f'[[case]]\nid = "c{n}"\nx = 1\n' for n in range(200))
    path.write_text(heads, encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        load_study(path)
    lines = str(caught.value).splitlines()
    assert len(lines) == 101
    assert re.fullmatch(r"and \d+ more problems \(mend these first, then check again\)", lines[-1])
    assert len(caught.value.problems) > 500


PATHS = (
    "../none.toml", "/dev/zero.toml", "x" * 3000 + ".toml", "~/none.toml", "C:\\\\none.toml",
    "\\\\\\\\server\\\\share.toml", "/", "./", "con.toml", "a\\nb.toml", "folder.toml", "",
)  # fmt: skip


@pytest.mark.parametrize("name", PATHS)
@pytest.mark.parametrize("field", ["alloy", "table"])
def test_path_that_leads_to_no_file_is_refused(
    tmp_path: Path, capsys: Capture, field: str, name: str
) -> None:
    (tmp_path / "folder.toml").mkdir()
    old = 'alloy = "nitihf20_set1"' if field == "alloy" else "[actuator]"
    new = f'alloy = "{name}"' if field == "alloy" else f'{LEVEL}[actuator]\ntable = "{name}"'
    path = tmp_path / "study.toml"
    path.write_text(changed(old, new), encoding="utf-8")
    assert cli.main(["check", str(path)]) == cli.BAD_INPUT
    lines = capsys.readouterr().err.splitlines()
    assert lines
    assert all("expected" in line and len(line) < 400 for line in lines)
    assert any(line.startswith(f"{path}: actuator.{field}: ") for line in lines)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
@pytest.mark.parametrize("kind", ["pipe", "loop", "device"])
def test_what_is_no_plain_file_is_not_waited_for(
    tmp_path: Path, capsys: Capture, kind: str
) -> None:
    other = tmp_path / "other.toml"
    if kind == "pipe":
        os.mkfifo(other)
    else:
        other.symlink_to(other if kind == "loop" else "/dev/zero")
    path = tmp_path / "study.toml"
    for old, new, field in (
        ('alloy = "nitihf20_set1"', 'alloy = "other.toml"', "alloy"),
        ("[actuator]", f'{LEVEL}[actuator]\ntable = "other.toml"', "table"),
    ):
        path.write_text(changed(old, new), encoding="utf-8")
        assert cli.main(["check", str(path)]) == cli.BAD_INPUT
        assert f"actuator.{field}: " in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs /dev/zero")
def test_study_without_an_end_is_too_large() -> None:
    with pytest.raises(StudyError, match="too large, got more than 1 MB"):
        load_study("/dev/zero")


CARDS: list[tuple[str, bytes, str]] = [
    ("deep", b"a = " + b"[" * 100_000, "cannot be read as TOML"),
    ("parts", b"a." * 100_000 + b"a = 1", "nested too deeply"),
    ("integer", b"a = " + b"1" * 5000, "cannot be read as TOML"),
    ("utf-16", CARD.encode("utf-16"), "save the file again as UTF-8"),
    ("huge", CARD.encode() + b"#" * 2_000_000, "expected a card of at most 1 MB"),
    ("keys", b"".join(b"a%d = 1\n" % n for n in range(50_000)), "at most 200"),
    ("empty", b"", "expected a text"),
]


@pytest.mark.parametrize(("data", "message"), [row[1:] for row in CARDS], ids=[r[0] for r in CARDS])
def test_hostile_card_is_refused_in_words(
    tmp_path: Path, capsys: Capture, data: bytes, message: str
) -> None:
    (tmp_path / "own.toml").write_bytes(data)
    path = tmp_path / "study.toml"
    path.write_text(changed('"nitihf20_set1"', '"own.toml"'), encoding="utf-8")
    assert cli.main(["check", str(path)]) == cli.BAD_INPUT
    assert message in capsys.readouterr().err


def test_card_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("\ufeff" + CARD, encoding="utf-8")
    path = tmp_path / "study.toml"
    path.write_text(changed('"nitihf20_set1"', '"own.toml"'), encoding="utf-8")
    assert cli.main(["check", str(path)]) == cli.OK


def test_hidden_characters_of_a_card_do_not_reach_the_terminal(
    tmp_path: Path, capsys: Capture
) -> None:
    own = tmp_path / "own.toml"
    own.write_text(CARD.replace('title = "', 'title = "\\u001b[31m\\u202e', 1), encoding="utf-8")
    assert cli.main(["alloys", str(own)]) == cli.OK
    out = capsys.readouterr().out
    assert "?[31m?" in out
    assert not {"\x1b", "\u202e"} & set(out)


@pytest.mark.skipif(sys.platform == "win32", reason="names that Windows does not allow")
def test_hidden_characters_of_a_name_do_not_reach_the_terminal(
    tmp_path: Path, capsys: Capture
) -> None:
    path = tmp_path / "a\x1b[31m\nb.toml"
    path.write_text("x = 1", encoding="utf-8")
    assert cli.main(["check", str(path)]) == cli.BAD_INPUT
    lines = capsys.readouterr().err.splitlines()
    assert all(line.startswith(f"{tmp_path}{os.sep}a?[31m?b.toml: ") for line in lines)


EXAMPLES = ROOT / "docs" / "examples"
TABLE = (EXAMPLES / "deck_light_loads.csv").read_text(encoding="utf-8-sig")
LINES = TABLE.splitlines()
CELLS = LINES[1].split(",")


def with_cell(number: int, text: str) -> str:
    cells = [*CELLS[:number], text, *CELLS[number + 1 :]]
    return "\n".join([LINES[0], ",".join(cells), *LINES[2:]])


TABLES: list[tuple[str, bytes, str]] = [
    ("empty", b"", "empty"),
    ("semicolons", TABLE.replace(",", ";").encode(), "unknown column"),
    ("utf-16", TABLE.encode("utf-16"), "save the file again as UTF-8"),
    ("latin-1", (TABLE + "Größe").encode("latin-1"), "save the file again as UTF-8"),
    ("huge", b"x" * 2_000_000, "at most 1 MB"),
    ("no unit", TABLE.replace("[N*m]", "").encode(), "missing unit"),
    ("other unit", TABLE.replace("[N*m]", "[kg]").encode(), "wrong dimension"),
    ("powers", TABLE.replace("[N*m]", "[N*m**9**9**9**9]").encode(), "unknown unit"),
    ("nan", with_cell(3, "nan").encode(), "minimum: not a finite number"),
    ("huge moment", with_cell(4, "1e30").encode(), 'out of range, got "1e30 N*m"'),
    ("huge angle", with_cell(2, "1e6").encode(), 'out of range, got "1e6 deg"'),
    ("crossed", with_cell(3, "1e6").encode(), "minimum above maximum"),
    ("other leg", with_cell(1, "up").encode(), "expected one of: fold, return"),
    ("other case", with_cell(0, "nowhere").encode(), "expected one of"),
    ("escape", with_cell(5, "a\x1b[31m").encode(), "U+001B"),
    ("fewer cells", TABLE.encode() + b"a,b\n", "got 2 cells"),
    ("cut", TABLE[: len(TABLE) // 2].encode(), "expected"),
    ("quote", TABLE.encode() + b'"open', "not CSV"),
    ("nul", TABLE.encode() + b"\0", "expected"),
    ("bad rows", (LINES[0] + "\n" + "a,b\n" * 5000).encode(), "expected fewer problems"),
]


@pytest.mark.parametrize(("data", "message"), [r[1:] for r in TABLES], ids=[r[0] for r in TABLES])
def test_wrong_table_of_loads_is_refused_in_words(
    tmp_path: Path, capsys: Capture, data: bytes, message: str
) -> None:
    shutil.copy(EXAMPLES / "deck_light.toml", tmp_path)
    (tmp_path / "deck_light_loads.csv").write_bytes(data)
    path = tmp_path / "deck_light.toml"
    assert cli.main(["check", str(path)]) == cli.BAD_INPUT
    lines = capsys.readouterr().err.splitlines()
    assert any(message in line for line in lines), lines
    assert all(line.startswith(f"{path}: actuator.table: ") for line in lines)
    assert all("expected" in line for line in lines)
    assert len(lines) < 40


def test_table_names_the_fields_whose_air_load_it_replaces(tmp_path: Path, capsys: Capture) -> None:
    assert cli.main(["check", str(EXAMPLES / "deck_light.toml")]) == cli.OK
    told = capsys.readouterr().err
    study = (EXAMPLES / "deck_light.toml").read_text(encoding="utf-8")
    assert "wind_speed in stow_wind, parked_gale; see to it that the table holds" in told
    assert not re.search("gust_speed|sideslip|load_factor|deck_roll", told)
    shutil.copy(EXAMPLES / "deck_light_loads.csv", tmp_path)
    plain = re.sub(r"(?m)^(wind_speed|gust_speed|sideslip) = .*$", "", study)
    (tmp_path / "study.toml").write_text(plain, encoding="utf-8")
    assert cli.main(["check", str(tmp_path / "study.toml")]) == cli.OK
    assert "loads of the air" not in capsys.readouterr().err
