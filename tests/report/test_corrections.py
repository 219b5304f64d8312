"""Table, words and figure of the corrections by which an optimum was found."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from mdo.defend.tables.design import corrections_tables
from mdo.optimise.levels.trust_region import CORRECTED, DIRECT, Step
from mdo.report.figures.defence import LEAST, corrections_figure
from mdo.report.words.printed import corrections_words
from mdo.report.words.summary_data import corrections_dict
from mdo.report.words.table import shown_table, terminal_lines
from mdo.results.columns import columns_table

STEPS = (
    Step(1, 1, 61.0, 0.03, 1.0, 0.5, 0.0, 0.0, 0.0, True, 0, 0.02),
    Step(2, 1, 61.0, 0.03, 1.0, 0.5, 0.5, 3.0, -1.0, False, 0, 0.02),
    Step(3, 2, 60.0, 0.0, 1e-7, 0.15, 0.1, 2.0, 2.1, True, -1, 0.0),
)


def optimum(way: str) -> SimpleNamespace:
    ended = SimpleNamespace(
        steps=STEPS, way=way, evaluations=3, gradients=2,
    )  # fmt: skip
    return SimpleNamespace(corrections=ended, kkt_residual=1e-7, violation=0.0)


@pytest.fixture
def table(medium) -> pd.DataFrame:
    return corrections_tables(replace(medium, optimum=optimum(CORRECTED)))["corrections"]


def test_there_is_no_table_where_nothing_is_corrected(medium):
    assert corrections_tables(medium) == {}
    assert set(corrections_dict(None).values()) == {None}


def test_every_step_has_a_line_with_the_dear_models_own_numbers(table):
    assert list(table["dear_evaluations"]) == [1, 2, 3]
    assert list(table["dear_gradients"]) == [1, 1, 2]
    assert list(table["system_mass"]) == [61.0, 61.0, 60.0]
    assert list(table["taken"]) == [True, False, True]
    assert table["most_moved"].iloc[0]
    assert not table["most_moved"].iloc[2]


def test_every_number_of_the_table_says_its_unit(table):
    facts = columns_table({"corrections": table})
    numbers = facts[~facts["column"].isin(["taken", "most_moved", "way"])]
    assert (numbers["meaning"] != "").all()
    assert "?" not in set(numbers["unit"])


def test_words_say_what_it_took_and_where_corrections_did_not_carry(medium):
    said = [
        corrections_words(corrections_tables(replace(medium, optimum=optimum(way)))["corrections"])
        for way in (CORRECTED, DIRECT)
    ]
    assert said[0].startswith("Ended by corrections, 1 taken and 1 refused")
    assert "did not carry: minimised directly" in said[1]
    assert all("3 designs evaluated, 2 of them with slopes" in text for text in said)


def test_summary_has_what_the_dear_model_said():
    summary = corrections_dict(optimum(CORRECTED))
    assert summary == {
        "dear_evaluations": 3, "dear_gradients": 2, "dear_kkt_residual": 1e-7,
        "dear_violation": 0.0, "dear_way": CORRECTED,
    }  # fmt: skip


def test_figure_has_mass_violation_and_residual_over_evaluations(table):
    figure = corrections_figure(table)
    assert [trace.name for trace in figure.data] == ["mass [kg]", "violation", "KKT residual"]
    for trace in figure.data:
        assert list(trace.x) == [1, 2, 3]
        assert list(trace.marker.symbol) == ["circle", "circle-open", "circle"]
    assert list(figure.data[0].y) == [61.0, 61.0, 60.0]
    assert min(figure.data[1].y) == LEAST  # zero has no logarithm
    assert figure.layout.yaxis2.type == figure.layout.yaxis3.type == "log"
    domains = [figure.layout[f"yaxis{n}"].domain for n in ("", "2", "3")]
    assert domains[0][0] > domains[1][1] > domains[1][0] > domains[2][1]


def test_page_and_terminal_show_the_table(table):
    assert len(shown_table("corrections", table).rows) == 3
    assert any("61.000000 kg" in line for line in terminal_lines("corrections", table, "si"))
