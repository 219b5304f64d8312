"""Words and page of a log, from its tables alone: what is said follows what was found."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from mdo.bench.comparison import compare
from mdo.bench.fit import fit
from mdo.bench.identify import separations
from mdo.bench.tables import comparison_tables, fit_tables
from mdo.report.pages.log_page import log_page
from mdo.report.words.bench_log import headline, verdict_lines
from mdo.results.columns import column_facts
from tests.bench.first_order import PARAMETERS, Faults, log_of, replay_of

NOMINAL = [one.value for one in PARAMETERS]
STUDY = {"study": {"name": "bench", "title": "A bench"}}
Tables = dict[str, pd.DataFrame]


def tables_of(faults: Faults, *, shift: float = 0.0, repairs: tuple[str, ...] = ()) -> Tables:
    values = [NOMINAL[0] + shift, *NOMINAL[1:]]
    log = log_of(values, faults, seed=1)._replace(name="run7.csv", repairs=repairs)
    replay = replay_of(log)
    found = fit(replay, ["film", "bay"])
    same = {"the same log once more": found.slopes}
    return {
        **comparison_tables(replay, compare(replay)),
        **fit_tables(found, separations(found, same)),
    }


@pytest.fixture(scope="module")
def shifted() -> Tables:
    faults = Faults(noise=0.005, zero={"measured_angle": 0.2})
    return tables_of(faults, shift=0.1, repairs=("column T1 <b>, 1 cells: mended",))


def test_verdict_says_what_agrees_and_what_would_explain_the_rest(shifted: Tables) -> None:
    said = " ".join(verdict_lines(shifted))
    assert headline(shifted) in said
    assert re.search(r"A zero of Fold angle that is off by 1\d\.\d deg would explain it", said)
    assert "film higher by 0." in said
    assert "The log was mended before: column T1 <b>, 1 cells: mended" in said
    assert "intervals were widened" in said
    assert said.endswith("on logs that it made itself.")
    us = " ".join(verdict_lines(shifted, "us"))
    assert "degF" in us
    assert "degC" not in us


def test_log_that_is_predicted_leaves_only_its_noise() -> None:
    said = " ".join(verdict_lines(tables_of(Faults(noise=0.01))))
    assert "agrees with the prediction in all 2 channels" in said
    assert "What is left between both is the noise of the log." in said
    assert "would explain it" not in said


def test_band_too_wide_to_judge_is_said_with_its_width() -> None:
    said = " ".join(verdict_lines(tables_of(Faults(noise=0.002), shift=0.08)))
    assert "in 1 the band is too wide to judge" in said
    assert re.search(
        r"Fold angle is inside the band, but the band is too wide to judge "
        r"\(RMS width \d+(\.\d+)? deg, against \d+(\.\d+)? deg that the prediction moves\)",
        said,
    )


def test_page_shows_every_channel_and_escapes_what_the_log_says(shifted: Tables) -> None:
    page = log_page(STUDY, shifted)
    for words in ("Fold angle", "Tube temperature 1", "predicted band", "run7.csv", "Residual"):
        assert words in page
    assert "T1 &lt;b&gt;" in page
    assert "what is called measured is what the log says" in page
    assert "nothing was measured" not in page
    assert page == log_page(STUDY, shifted)


def test_every_number_has_a_unit(shifted: Tables) -> None:
    for name, frame in shifted.items():
        for column in frame.columns:
            assert column_facts(name, column, frame)[0] != "?", (name, column)
