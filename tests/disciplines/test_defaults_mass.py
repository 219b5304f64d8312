"""Defaults of the mass roll-up and of the baselines: complete, in range, with their standing."""

import tomllib
from pathlib import Path

import pandas as pd
import pytest

import mdo
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.conventional_assumptions import BaselineAssumptions

GROWTH_TABLE = pd.read_csv(Path(__file__).with_name("growth_table.csv"), index_col=0).T.to_dict()
FOLDER = Path(mdo.__file__).parent / "study" / "defaults"
RECORDS = {"mass": MassAssumptions, "baseline": BaselineAssumptions}


def number(entry):
    if isinstance(entry, str):
        figure, unit = entry.split(" ", 1)
        return float(figure), unit
    return float(entry), ""


def tables(name):
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", RECORDS)
def test_tables_are_the_fields_of_the_record(name):
    assert list(tables(name)) == list(RECORDS[name]._fields)


@pytest.mark.parametrize("name", RECORDS)
def test_every_default_lies_in_its_range_and_says_where_it_comes_from(name):
    for field, table in tables(name).items():
        assert set(table) == {"value", "low", "high", "origin", "provenance"}, field
        (low, unit_low), (value, unit), (high, unit_high) = (
            number(table[key]) for key in ("low", "value", "high")
        )
        assert unit_low == unit == unit_high, field
        assert low <= value <= high, field
        assert low < high, field
        assert table["origin"] in {"judgement", "source"}
        assert ("judgement" in table["provenance"]) == (table["origin"] == "judgement"), field


def test_growth_defaults_are_the_row_of_estimated_maturity():
    growth = {f: t["value"] for f, t in tables("mass").items() if f.startswith("growth_")}
    assert growth == GROWTH_TABLE["E1"]


def test_application_density_is_a_quarter_pound_per_cubic_inch():
    # the source's factor gives pounds: 0.25 lb/in3 (pound and inch exact) is 6920 kg/m3
    density, unit = number(tables("mass")["gear_application_density"]["value"])
    assert unit == "kg/m**3"
    assert density == pytest.approx(0.25 * 0.45359237 / 0.0254**3, rel=1e-4)
