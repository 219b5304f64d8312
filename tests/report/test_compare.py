"""Results side by side: numbers of the tables, differences, and whatever one of them lacks."""

from __future__ import annotations

import json
import math
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from mdo.cli import main as cli
from mdo.report.pages import results_compared as figures
from mdo.report.pages.comparison_of_results import (
    Comparison,
    Group,
    Line,
    compare_results,
)
from mdo.report.pages.results_compared import comparison_page
from mdo.report.words.results_compared import (
    comparison_dict,
    comparison_text,
    line_values,
    shown_difference,
    shown_unit,
)
from mdo.results import ResultStore, StoreError, open_result
from mdo.run.analyses import Outcome, run_study

from .outline import LIMIT, Outline, outline_of, own

SMALL = Path(__file__).parents[2] / "studies" / "deck_small.toml"
HOSTILE = "<script>alert('x')</script> & \"more\""
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def runs(small_outcome: Outcome, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Results: as shipped, one input changed, and that with fewer cases and a hostile title."""
    root = tmp_path_factory.mktemp("compared")
    shipped = small_outcome.done[0].folder
    assert shipped is not None
    changes = {"requirements.fold_time": "70 s", "study.name": "faster"}
    changed = small_outcome.study.with_values(changes)
    run_study(replace(changed, analyses=("evaluate",)), results_root=root)
    found = {"deck_small": shipped, "faster": root / "faster" / "evaluate"}
    found["fewer"] = rewritten(found["deck_small"], root, "fewer", without_dash)
    return found


def without_dash(tables: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Tables without the cases whose name starts with ``dash``, under a hostile title."""
    inputs = tables["inputs"]
    inputs.loc[inputs["path"] == "study.title", "words"] = HOSTILE
    return {
        **tables,
        "inputs": inputs[~inputs["path"].str.startswith("case.dash")],
        **{
            name: tables[name][~tables[name]["leg"].str.startswith("dash")]
            for name in ("torque", "times")
        },
    }


@pytest.fixture(scope="module")
def found(runs: dict[str, Path]) -> Comparison:
    return compare_results([runs["deck_small"], runs["faster"], runs["fewer"]])


def group(found: Comparison, name: str) -> Group:
    return next(one for one in found.groups if one.name == name)


def rewritten(folder: Path, root: Path, name: str, change: Any) -> Path:
    """Write a result anew with its tables changed."""
    result = open_result(folder)
    tables = change({table: result.table(table) for table in result.tables})
    manifest = result.manifest
    writer = ResultStore(root, name).begin(manifest.analysis, "text", "0" * 64, 1)
    assert writer is not None
    with writer:
        for table, frame in tables.items():
            writer.table(table, frame)
        return writer.finish({"feasible": 1}, {})


class TestNumbers:
    def test_are_those_of_the_tables(self, runs: dict[str, Path], found: Comparison) -> None:
        masses = [open_result(folder).table("masses") for folder in runs.values()]
        totals = tuple(float(one.iloc[-1]["total"]) for one in masses)
        assert group(found, "main").lines[0].numbers == totals
        for line in group(found, "lines").lines:
            for number, table in zip(line.numbers, masses, strict=True):
                mine = table[table["line"] == line.name]["total"]
                assert number == float(mine.iloc[0]) or math.isnan(number)
        torque = open_result(runs["deck_small"]).table("torque")
        for line in group(found, "least").lines:
            part = torque[torque["leg"] == line.name]["torque_margin"]
            least = float(part.min(skipna=True))
            assert line.numbers[0] == least or (math.isnan(least) and math.isnan(line.numbers[0]))

    def test_a_leg_that_one_lacks_is_empty_there(self, found: Comparison) -> None:
        line = next(one for one in group(found, "least").lines if one.name == "dash_fold, fold")
        assert math.isfinite(line.numbers[0])
        assert math.isnan(line.numbers[2])
        assert line_values(line, "si")[2] == "-"
        assert shown_difference(line, 2, "si") == "-"

    def test_only_inputs_that_differ_are_listed_and_not_those_of_lone_cases(
        self, found: Comparison
    ) -> None:
        paths = {line.path for line in found.inputs}
        assert "requirements.fold_time" in paths
        assert "vehicle.mass" not in paths
        assert not any(path.startswith("case.dash") for path in paths)
        line = next(one for one in found.inputs if one.path == "requirements.fold_time")
        assert [value[0] for value in line.numbers if value] == [180.0, 70.0, 180.0]

    @pytest.mark.parametrize(
        ("numbers", "unit", "units", "shown", "less"),
        [
            ((10.0, 11.0), "kg", "si", ["10.00", "11.00"], "+1.00 (+10.0 %)"),
            ((10.0, 30.0), "kg", "si", ["10.00", "30.00"], "+20.0 (+200 %)"),
            ((10.0, 10.0 + 1e-9), "kg", "si", ["10.00", "10.00"], "0"),
            ((300.0, 310.0), "K", "si", ["26.9", "36.9"], "+10.0"),
            ((300.0, 310.0), "K", "us", ["80.3", "98.3"], "+18.0"),
            ((0.5, 0.25), "1", "si", ["0.5000", "0.2500"], "-0.250"),
            ((2.0, math.inf), "kg", "si", ["2.000", "none left"], "-"),
            ((1.0, -1e-15), "m", "si", ["1000", "0"], "-1000 (-100 %)"),
        ],
    )
    def test_differences_are_in_the_unit_of_the_line(
        self, numbers: tuple[float, float], unit: str, units: str, shown: list[str], less: str
    ) -> None:
        line = Line("x", unit, "", numbers, False)
        assert line_values(line, units) == shown
        assert shown_difference(line, 1, units) == less

    def test_all_numbers_of_a_line_have_one_unit(self) -> None:
        line = Line("length", "m", "", (0.5, 3.0), False)
        assert shown_unit(line, "si") == "m"
        assert line_values(line, "si") == ["0.5000", "3.000"]


class TestNotes:
    def test_say_what_is_not_alike(self, found: Comparison) -> None:
        notes = " ".join(found.notes)
        assert "Different studies: A deck_small, B faster, C fewer." in notes
        assert "Different analyses" not in notes
        assert "Cases only in A and B: dash_fold, dash_hold." in notes

    def test_say_which_is_infeasible(self, found: Comparison) -> None:
        for side in found.sides:
            said = any(note.startswith(f"{side.letter} is infeasible") for note in found.notes)
            assert said is (side.verdict == "infeasible")
        assert any(side.verdict == "infeasible" for side in found.sides)

    def test_say_that_only_one_has_costs(self, runs: dict[str, Path], tmp_path: Path) -> None:
        costs = pd.DataFrame(
            [("Fold time", "s", 0.05), ("Factor on life", "1", math.inf)],
            columns=["title", "per", "tightening"],
        )
        with_costs = rewritten(
            runs["faster"], tmp_path, "costly", lambda tables: {**tables, "costs": costs}
        )
        found = compare_results([runs["deck_small"], with_costs])
        assert any(note.startswith("Only B has what its requirements") for note in found.notes)
        figure = figures.costs_figure(found, "si")
        assert figure is not None
        assert [one.name for one in figure.data] == ["B"]
        assert list(figure.data[0].x) == [0.05]
        assert "none left" in comparison_text(found)
        json.dumps(comparison_dict(found), allow_nan=False)


def test_a_result_without_any_of_the_tables_is_no_error(
    runs: dict[str, Path], tmp_path: Path
) -> None:
    bare = rewritten(
        runs["faster"], tmp_path, "bare", lambda _: {"other": pd.DataFrame({"a": [1]})}
    )
    odd = rewritten(
        runs["faster"], tmp_path, "odd",
        lambda tables: {name: frame.iloc[:0, :1] for name, frame in tables.items()},
    )  # fmt: skip
    for first, second in ((bare, runs["faster"]), (runs["faster"], odd), (bare, odd)):
        found = compare_results([first, second])
        assert "no verdict" in comparison_text(found)
        assert checked(comparison_page(found)).ids


# ---- text, data, page


def checked(page: str) -> Outline:
    """Outline of a page that loads nothing, with links that lead somewhere and ids of their own."""
    outline = outline_of(page)
    assert outline.loaded == []
    assert len(set(outline.ids)) == len(outline.ids)
    assert {link.removeprefix("#") for link in outline.links} <= set(outline.ids)
    return outline


def test_page_is_whole_escaped_and_the_same_every_time(found: Comparison) -> None:
    page = comparison_page(found)
    assert comparison_page(found) == page
    outline = checked(page)
    assert {"results", "values", "torque", "mass", "margins", "inputs"} <= set(outline.ids)
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page
    assert not re.search(r"https?://|@import|url\(", own(page))
    assert len(page.encode()) < LIMIT


def test_page_says_which_result_lacks_a_leg(found: Comparison) -> None:
    page = comparison_page(found)
    assert page.count('<p class="soft">Not in C.</p>') == len(
        [leg for leg in figures.torque_legs(found) if leg.startswith("dash")]
    )


def test_torque_of_each_result_lies_over_the_others(
    runs: dict[str, Path], found: Comparison
) -> None:
    figure = figures.torque_figure(found, "stow_wind, fold", "si")
    for number, folder in enumerate(runs.values()):
        torque = open_result(folder).table("torque")
        part = torque[torque["leg"] == "stow_wind, fold"].sort_values("fold_angle")
        available, required = figure.data[2 * number], figure.data[2 * number + 1]
        assert np.allclose(available.y, part["available_moment"])
        assert np.allclose(required.y, part["required_moment"])
        assert (available.line.dash, required.line.dash) == ("solid", "dash")
        assert available.line.color == required.line.color == figures.COLOURS[number]
    assert len(figures.torque_figure(found, "dash_fold, fold", "si").data) == 4


def test_bars_of_mass_add_up_to_the_mass(found: Comparison) -> None:
    figure = figures.mass_figure(found, "us")
    bars = [one for one in figure.data if one.type == "bar"]
    assert len(bars) == len(figures.PARTS) + 1
    masses = np.array(group(found, "main").lines[0].numbers) / 0.45359237
    assert np.allclose(np.sum([bar.x for bar in bars], axis=0), masses)


def test_margins_have_one_mark_for_each_result(found: Comparison) -> None:
    figure = figures.margins_figure(found)
    assert [one.name for one in figure.data] == ["A", "B", "C"]
    assert len({one.marker.symbol for one in figure.data}) == 3
    compliance = found.sides[0].tables["compliance"]
    worst = float(compliance[compliance["standing"] == "required"]["row"].min())
    assert min(figure.data[0].customdata) <= worst
    assert float(np.nanmin(np.asarray(figure.data[0].x, dtype=float))) >= -1.0


def test_text_fits_and_blocks_always_hold_the_first(runs: dict[str, Path], tmp_path: Path) -> None:
    folders = [runs["deck_small"]]
    folders += [Path(shutil.copytree(runs["faster"], tmp_path / str(n))) for n in range(7)]
    found = compare_results(folders)
    text = comparison_text(found)
    for letter in "BCDEFGH":
        assert f"{letter} - A" in text
    heads = re.findall(r"^ +(A +[B-H] .*?)$", text, re.MULTILINE)
    blocks = ["A B B - A C C - A", "A D D - A E E - A", "A F F - A G G - A", "A H H - A"]
    assert list(dict.fromkeys(" ".join(head.split()) for head in heads)) == blocks


def test_data_for_scripts_hold_numbers_and_differences(found: Comparison) -> None:
    data = json.loads(json.dumps(comparison_dict(found), allow_nan=False))
    mass = data["groups"]["Mass and power"][0]
    assert mass["unit"] == "kg"
    assert mass["differences"][0] == 0.0
    assert mass["differences"][1] == mass["values"][1] - mass["values"][0]
    assert [one["letter"] for one in data["results"]] == ["A", "B", "C"]
    assert data["results"][2]["title"] == HOSTILE


# ---- the verb


def test_verb_prints_text_json_and_writes_a_page(
    runs: dict[str, Path], tmp_path: Path, capsys: Capture
) -> None:
    pair = [str(runs["deck_small"]), str(runs["faster"])]
    assert cli.main(["compare", *pair, "--units", "us"]) == 0
    told = capsys.readouterr()
    assert " lb, aircraft" in told.out
    assert told.err == ""
    file = tmp_path / "páge.html"
    assert cli.main(["compare", *pair, "--json", "--output", str(file)]) == 0
    told = capsys.readouterr()
    assert len(json.loads(told.out)["results"]) == 2
    assert told.err == f"page: {file}\n"
    assert file.read_text(encoding="utf-8") == comparison_page(compare_results(pair))


def test_verb_says_what_is_wrong(runs: dict[str, Path], tmp_path: Path, capsys: Capture) -> None:
    one = str(runs["deck_small"])
    spoiled = Path(shutil.copytree(runs["faster"], tmp_path / "spoiled"))
    (spoiled / "torque.parquet").write_bytes(b"no table")
    bare = Path(shutil.copytree(runs["faster"], tmp_path / "bare"))
    manifest = json.loads((bare / "manifest.json").read_text(encoding="utf-8"))
    (bare / "manifest.json").write_text(json.dumps({**manifest, "tables": {}}), encoding="utf-8")
    wrong = {
        "got 1 result, expected 2 to 8": [one],
        "expected 2 to 8 folders": [one] * 9,
        "is named twice": [one, str(runs["faster"]), one],
        "no such folder": [one, str(tmp_path / "none")],
        "changed since written: torque.parquet": [one, str(spoiled)],
        "bare: has no tables, expected those that a run writes; run the study": [one, str(bare)],
    }
    for words, folders in wrong.items():
        assert cli.main(["compare", *folders]) == cli.BAD_INPUT
        told = capsys.readouterr()
        assert words in told.err
        assert told.out == ""


def test_a_table_that_is_none_but_has_its_fingerprint_is_an_error_not_a_fault(
    runs: dict[str, Path], tmp_path: Path
) -> None:
    import hashlib

    spoiled = Path(shutil.copytree(runs["faster"], tmp_path / "spoiled"))
    (spoiled / "torque.parquet").write_bytes(b"no table")
    manifest = json.loads((spoiled / "manifest.json").read_text(encoding="utf-8"))
    manifest["files"]["torque.parquet"] = hashlib.sha256(b"no table").hexdigest()
    (spoiled / "manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    with pytest.raises(StoreError, match="a table cannot be read"):
        compare_results([runs["deck_small"], spoiled])
