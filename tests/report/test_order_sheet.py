"""Order sheet: whole tubes that were evaluated, bands that hold, quantities, safe Markdown."""

from __future__ import annotations

import csv
import io
import math
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from mdo.cli import main as cli
from mdo.defend.alloy_window import WindowLine
from mdo.defend.order.sheet import (
    BORNE,
    CAUTIONS,
    COUNTS,
    TESTS,
    TUBE,
    WINDOW,
    _band,
    acceptance_tests,
    order_sheet_table,
    ordered_design,
    ordered_words,
    rounded_up,
)
from mdo.defend.order.tubes import GATES, borne_shifts, deviations, shifted_alloy
from mdo.defend.tables.design import order_table, result_tables
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.optimum import find_optimum
from mdo.optimise.problem import make_problem
from mdo.report import Source
from mdo.report.pages.design_page import PARTS, section
from mdo.report.pages.order_sheet import (
    Quantities,
    markdown_text,
    order_sheet_markdown,
    order_sheet_parts,
    ordered_table,
    wanted_tubes,
)
from mdo.report.templates import render
from mdo.report.words.summary import summary_text
from mdo.results.columns import columns_table
from mdo.run.analyses import Outcome
from mdo.run.design_analyses import appraise_design
from mdo.study import load_study
from mdo.study.study import study_from_dict

SMALL = Path(__file__).parents[2] / "studies" / "deck_small.toml"
LOT = 10.0  # [K] of the small study
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def whole(small_outcome: Outcome) -> Appraisal:
    """Optimum of the small study in whole tubes."""
    found = small_outcome.appraisal
    assert found is not None
    return found


@pytest.fixture(scope="module")
def small(whole: Appraisal) -> Appraisal:
    """Its bound, counts not whole."""
    return whole.continuous


@pytest.fixture(scope="module")
def tight() -> Appraisal:
    """Continuous optimum of a study whose design does not work with its counts rounded up."""
    path = SMALL.with_name("deck_small_niti_blower.toml")
    problem = make_problem(load_study(path))
    optimum = find_optimum(problem, starts=1)
    values = problem.values(optimum.design)
    return Appraisal("optimum", problem, optimum.design, values, optimum, "one start")


@pytest.fixture(scope="module")
def roomy() -> Appraisal:
    """An optimum in a wing with room to spare: it still works with its counts rounded up."""
    own = load_study(SMALL)
    wing = [{**one, "thickness_ratio": 0.21} for one in own.content["vehicle"]["wing"]]
    vehicle = {**own.content["vehicle"], "wing": wing}
    study = study_from_dict({**own.content, "vehicle": vehicle}, folder=SMALL.parent)
    problem = make_problem(study.with_values({"supply.power_available": "5 kW"}))
    design = find_optimum(make_problem(own), starts=1).design
    return appraise_design(problem, design, "given")


@pytest.fixture(scope="module")
def sheet(small: Appraisal) -> pd.DataFrame:
    return order_sheet_table(small)


@pytest.fixture(scope="module")
def uneven(small: Appraisal) -> pd.DataFrame:
    """Sheet of two tubes up and three down."""
    x = np.array(small.x)
    x[small.problem.labels.index("tube_count.down")] = 3.0
    return order_sheet_table(appraise_design(small.problem, x, "given"))


def line(sheet: pd.DataFrame, section: str, item: str) -> Any:
    found = sheet[(sheet["section"] == section) & (sheet["item"] == item)]
    assert len(found) == 1
    return found.iloc[0]


class TestDesign:
    def test_counts_are_whole_and_each_tube_keeps_its_heater(self, small: Appraisal) -> None:
        x, labels = rounded_up(small), list(small.problem.labels)
        for side in ("up", "down"):
            count, power = (labels.index(f"{n}.{side}") for n in ("tube_count", "heater_power"))
            assert x[count] == math.ceil(small.x[count])
            assert x[power] / x[count] == pytest.approx(small.x[power] / small.x[count], rel=1e-12)
        others = [
            n for n, label in enumerate(labels) if "count" not in label and "heat" not in label
        ]
        assert np.array_equal(x[others], small.x[others])

    def test_says_that_rounding_up_breaks_the_optimum(self, tight: Appraisal) -> None:
        rows = tight.problem.values_only(rounded_up(tight))[1]
        assert rows.min() < -FEASIBLE
        assert ordered_words(tight).startswith("Evaluated as ordered, it does not meet")
        worst = tight.problem.counting_labels[int(rows.argmin())]
        assert tight.problem.describe(worst) in ordered_words(tight)
        note = order_sheet_table(tight).iloc[2]["note"]
        assert note.startswith("NOT FOR ORDERING: the analysis 'optimum' looks for one in whole")

    def test_a_nearest_miss_in_whole_tubes_is_not_for_ordering(self, whole: Appraisal) -> None:
        x = np.array(whole.x)
        x[whole.problem.labels.index("operating_stress.up")] *= 1.2
        missed = appraise_design(whole.problem, x, "given")
        assert missed.violated
        assert np.array_equal(ordered_design(missed)[0].x, x)
        assert order_sheet_table(missed).iloc[2]["note"].startswith("NOT FOR ORDERING")

    def test_an_infeasible_design_is_not_for_ordering_whatever_its_counts(
        self, small: Appraisal
    ) -> None:
        x = np.array(small.x)
        x[small.problem.labels.index("tube_length")] *= 1.5
        broken = appraise_design(small.problem, x, "given")
        assert "already the design itself" in order_sheet_table(broken).iloc[2]["note"]

    def test_says_that_it_works_where_it_does(self, roomy: Appraisal) -> None:
        rows = roomy.problem.values_only(rounded_up(roomy))[1]
        assert rows.min() >= -FEASIBLE
        assert ordered_words(roomy) == "Evaluated as ordered, it meets every requirement."
        assert not order_sheet_table(roomy)["note"].str.contains("NOT FOR ORDERING").any()

    def test_design_in_whole_tubes_is_the_one_described(self, whole: Appraisal) -> None:
        design, words = ordered_design(whole)
        assert design is whole
        assert words == "whole tubes and stock sizes, the rest optimised again"
        assert np.array_equal(rounded_up(whole), whole.x)
        note = line(order_sheet_table(whole), "basis", "requirements")
        assert note["words"] == "Evaluated as ordered, it meets every requirement."
        assert note["note"] == ""
        assert "nothing optimised again" in ordered_design(whole.continuous)[1]

    def test_order_of_whole_tubes_names_stock_sizes(self, whole: Appraisal) -> None:
        items = order_table(whole).set_index("item")
        stock = whole.study.analysis.defence.stock
        assert items.loc["tubes, up set", "value"] == whole.design["tube_count"][0]
        assert items.loc["tubes", "value"] == 2 * whole.design["tube_count"].sum()
        assert items.loc["tube outer diameter", "note"] == "stock size"
        sizes = items.loc[["tube outer diameter", "tube wall"], "value"].tolist()
        assert any(sizes == pytest.approx(tube) for tube in stock.tubes)
        assert items.loc["insulating sleeve", "value"] in stock.sleeves
        assert items.loc["feeder wire of one wing", "words"].startswith("AWG")
        assert items.loc["sheet, housing", "value"] in stock.sheets
        assert not items["note"].str.contains("rounded up").any()

    def test_summary_says_it_beside_the_bundle(self, small: Appraisal) -> None:
        text = " ".join(summary_text(small).split())
        assert ordered_words(small) in text


class TestSheet:
    def test_drawing_values_are_those_of_the_design(
        self, small: Appraisal, sheet: pd.DataFrame
    ) -> None:
        radius, ratio, length = (
            float(small.design[name]) for name in ("tube_outer_radius", "wall_ratio", "tube_length")
        )
        assert line(sheet, TUBE, "outer diameter")["value"] == pytest.approx(2.0 * radius)
        assert line(sheet, TUBE, "wall")["value"] == pytest.approx(radius * ratio)
        bore = line(sheet, TUBE, "bore diameter")["value"]
        assert bore == pytest.approx(2.0 * radius * (1.0 - ratio))
        assert line(sheet, TUBE, "active length")["value"] == length
        assert line(sheet, TUBE, "length over diameter")["band_high"] == pytest.approx(
            small.study.requirements.length_to_diameter_max
        )
        total = line(sheet, COUNTS, "tubes")["value"]
        assert total == 2 * sum(math.ceil(n) for n in small.design["tube_count"])

    def test_deviations_are_those_of_the_model(self, roomy: Appraisal) -> None:
        basis, _ = ordered_design(roomy)
        x = np.array(basis.x)
        x[basis.problem.labels.index("wall_ratio")] *= 0.99
        tried = basis.problem.values(x)
        heated = tried["heated"] > 0.5
        least = 100.0 * float(tried["torque_margin"][heated].min())
        assert f"to {least:.1f} %" in deviations(basis)["wall"].partition(". 1 % more")[0]

    def test_shift_that_is_said_to_be_borne_is_borne_and_no_more(self, roomy: Appraisal) -> None:
        basis, _ = ordered_design(roomy)
        assert not basis.violated

        def broken(shift: float) -> bool:
            problem = shifted_alloy(basis.problem, shift)
            rows = problem.rows_of(problem.values(basis.x))[problem.counting]
            own = [label.group not in GATES for label in problem.counting_labels]
            return bool((rows[own] < -FEASIBLE).any())

        down, up = borne_shifts(basis, LOT)
        assert -LOT <= down <= 0.0 <= up <= LOT
        for end, sign in ((down, -1.0), (up, 1.0)):
            assert not broken(end)
            assert abs(end) == LOT or broken(end + sign * 0.02 * LOT)
        assert up < LOT  # the hot temperature of an optimum has nothing to spare

    def test_bands_are_the_lot_tolerance_and_what_is_borne_is_said(
        self, small: Appraisal, sheet: pd.DataFrame
    ) -> None:
        alloy = small.problem.assembled.parameters["alloy"]
        basis, _ = ordered_design(small)
        for symbol, value in (
            ("Ms", alloy.martensite_start),
            ("Mf", alloy.martensite_finish),
            ("As", alloy.austenite_start),
            ("Af", alloy.austenite_finish),
        ):
            found = line(sheet, WINDOW, symbol)
            assert found["value"] == float(value)
            assert (found["band_low"], found["band_high"]) == (value - LOT, value + LOT)
        down, up = borne_shifts(basis, LOT)
        found = line(sheet, WINDOW, BORNE)
        assert (found["band_low"], found["band_high"]) == (down, up)
        assert "the lot tolerance is in the gates alone" in found["note"]

    def test_band_ends_where_the_cases_stop_the_alloy(self) -> None:
        window = WindowLine("Af", None, 451.0, "structure", 450.0)
        assert _band(450.0, LOT, window)[:2] == (440.0, 451.0)
        low, high, note = _band(450.0, LOT, WindowLine("As", 455.0, None, "soak", 450.0))
        assert (low, high) == (445.0, 460.0)
        assert note.startswith("nominal lies below what the cases demand")

    def test_cautions_say_what_it_is_not(self, sheet: pd.DataFrame) -> None:
        words = " ".join(sheet[sheet["section"] == CAUTIONS]["words"])
        assert "not released for manufacture" in words
        assert "licensed practice" in words

    @pytest.mark.parametrize(
        ("alloy", "covered"),
        [("nitihf20_set1 NiTiHf20", False), ("niti_actuator 55-NiTi (Ni49.9Ti50.1)", True),
         ("ni60ti40 60-NiTi (Ni60Ti40 by weight)", False), ("mine NiTiPd25", False)],
    )  # fmt: skip
    def test_standards_are_those_of_the_alloy(
        self, small: Appraisal, alloy: str, covered: bool
    ) -> None:
        name, title = alloy.split(" ", 1)
        assembled = small.problem.assembled
        card = replace(assembled.card, name=name, title=title)
        problem = replace(small.problem, assembled=replace(assembled, card=card))
        found = list(acceptance_tests(replace(small, problem=problem)))
        standards = {one.item for one in found}
        assert {"ASTM F2004", "ASTM F2082", "ASTM E143", "ASTM E8/E8M"} <= standards
        assert ("ASTM F2063" in standards) is covered
        assert not any("F2516" in one.item for one in found)  # of superelastic alloys
        assert all("from memory" in one.note for one in found if "ASTM" in one.item)

    def test_is_a_table_of_every_result_and_its_columns_are_explained(
        self, small: Appraisal, sheet: pd.DataFrame
    ) -> None:
        tables = result_tables(small)
        pd.testing.assert_frame_equal(tables["order_sheet"], sheet)
        columns = columns_table(tables)
        assert not (columns["unit"] == "?").any(), columns[columns["unit"] == "?"]
        for one in columns[columns["unit"] == "see column unit"].itertuples():
            assert "unit" in tables[one.table].columns, (one.table, one.column)
        known = columns.set_index(["table", "column"])["unit"]
        assert known["times", "time"] == "s"
        assert known["torque", "required_moment"] == "N*m"
        assert known["verdict", "text"] == ""


class TestQuantities:
    def test_spares_are_of_each_set_and_shares_round_up(self, uneven: pd.DataFrame) -> None:
        up, down, every = wanted_tubes(uneven, Quantities(3, 2, 0.15))
        assert (up.needed, up.spare, up.total) == (12, 2 + 2, 16)
        assert (down.needed, down.spare, down.total) == (18, 2 + 3, 23)
        assert every.total == 39
        assert wanted_tubes(uneven)[-1].spare == 0

    def test_csv_has_them_at_its_end(self, uneven: pd.DataFrame) -> None:
        table = ordered_table(uneven, Quantities(1, 1))
        assert list(table.columns) == list(uneven.columns)
        found = line(table, "quantities", "all tubes, total")
        assert found["value"] == 2 * (2 + 3) + 2


class TestText:
    @pytest.mark.parametrize(
        ("text", "shown"),
        [("a | b", r"a \| b"), ("two\nlines", "two lines"), ("<script>", "&lt;script&gt;"),
         ("[x](y)", r"\[x\](y)"), ("deck_small", r"deck\_small"), ("A & B", "A &amp; B")],
    )  # fmt: skip
    def test_nothing_is_taken_for_markdown_or_a_tag(self, text: str, shown: str) -> None:
        assert markdown_text(text) == shown

    def test_rows_of_a_hostile_title_stay_rows(self, small: Appraisal) -> None:
        title = 'x | y\n\n# <img src=x onerror="alert(1)">'
        study = replace(small.study, title=title)
        hostile = replace(small, problem=replace(small.problem, study=study))
        tables = {"order_sheet": order_sheet_table(hostile)}
        text = order_sheet_markdown(tables)
        assert "<img" not in text
        tame = order_sheet_markdown({"order_sheet": order_sheet_table(small)})
        heads, tame_heads = (
            [one for one in every.splitlines() if one.startswith("#")] for every in (text, tame)
        )
        assert heads == tame_heads
        parts = order_sheet_parts(tables["order_sheet"])
        assert "<img" not in render("design/order-sheet.html", parts=parts)

    def test_units_are_those_asked_for(self, sheet: pd.DataFrame) -> None:
        assert " mm |" in order_sheet_markdown({"order_sheet": sheet}, "si")
        text = order_sheet_markdown({"order_sheet": sheet}, "us")
        assert " in |" in text
        assert "degF" in text
        assert " mm |" not in text

    def test_a_result_without_it_has_no_section(self, small: Appraisal) -> None:
        plans = [plan for part in PARTS for plan in part["section"]]
        (plan,) = (plan for plan in plans if plan["anchor"] == "order-sheet")
        assert section(Source(small, {}), **plan) is None


@pytest.fixture(scope="module")
def folder(small_outcome: Outcome, tmp_path_factory: pytest.TempPathFactory) -> Path:
    evaluated = small_outcome.done[0].folder
    assert evaluated is not None
    place = tmp_path_factory.mktemp("order") / "deck_small" / "evaluate"
    return Path(shutil.copytree(evaluated, place))


class TestVerb:
    def test_prints_what_the_run_wrote(self, folder: Path, capsys: Capture) -> None:
        assert cli.main(["order", str(folder)]) == 0
        assert capsys.readouterr().out == (folder / "order_sheet.md").read_text(encoding="utf-8")

    def test_writes_csv_with_the_quantities(
        self, folder: Path, tmp_path: Path, capsys: Capture
    ) -> None:
        file = tmp_path / "order.csv"
        asked = ["order", str(folder), "--aircraft", "2", "--spares", "10%", "--output", str(file)]
        assert cli.main(asked) == 0
        assert capsys.readouterr().out == f"order sheet: {file}\n"
        text = file.read_bytes().decode("utf-8-sig")
        lines = [
            one
            for one in csv.DictReader(io.StringIO(text, newline=""))
            if one["section"] == "quantities"
        ]
        wanted = {one["item"]: float(one["value"]) for one in lines}
        needed, spare, total = (wanted[f"tubes, up set, {n}"] for n in ("needed", "spare", "total"))
        assert spare == math.ceil(0.1 * needed)
        assert total == needed + spare

    @pytest.mark.parametrize(
        "asked",
        [["--spares", "-1"], ["--spares", "many"], ["--spares", "1.5"], ["--aircraft", "0"]],
    )
    def test_refuses_odd_quantities(self, asked: list[str], capsys: Capture) -> None:
        with pytest.raises(SystemExit) as end:
            cli.main(["order", "nowhere", *asked])
        assert end.value.code == cli.BAD_INPUT
        assert "expected a whole number" in capsys.readouterr().err

    def test_an_edited_table_is_refused(self, folder: Path, capsys: Capture) -> None:
        path = folder / "order_sheet.parquet"
        data = path.read_bytes()
        path.write_bytes(data + b"x")
        try:
            assert cli.main(["order", str(folder)]) == cli.BAD_INPUT
            assert "changed since written: order_sheet.parquet" in capsys.readouterr().err
        finally:
            path.write_bytes(data)


def test_every_section_has_its_heading(sheet: pd.DataFrame) -> None:
    text = order_sheet_markdown({"order_sheet": sheet})
    for heading in ("Basis", "Tube", "Counts", "Quantities for 1 aircraft", "Acceptance tests"):
        assert f"\n## {heading}" in text
    assert len(sheet[sheet["section"] == TESTS]) >= 6
