"""A requirement is declared once: row, mask, table, verdict and unit follow from its entry."""

from __future__ import annotations

import numpy as np
import pytest

from mdo.defend.tables.design import active_table, compliance_table
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.model.chain import Chain
from mdo.model.layout import DESIGN_SIZES, split_design
from mdo.model.requirements import (
    AT_MOST,
    KELVIN,
    LEGS,
    LOGARITHM,
    REQUIREMENTS,
    SCALAR,
    STATICS,
    Requirement,
)
from mdo.model.rows import names_read, read_row
from mdo.optimise import problem as problem_module
from mdo.quantities import QUANTITIES

AIR = Requirement(
    "air", "Air that a moving leg may meet", "air_temperature", AT_MOST, 280.0, KELVIN, LEGS, "K",
    counts=lambda s: s.moves,
)  # fmt: skip
MASS = Requirement(
    "mass_kept", "Mass as it is", "system_mass", AT_MOST, lambda system_mass: 1.0 * system_mass,
    LOGARITHM, SCALAR, "kg", "aircraft",
)  # fmt: skip


@pytest.fixture
def extended(medium_case, monkeypatch):
    """The medium design with two made-up requirements, each one entry of the table."""
    for entry in (AIR, MASS):
        monkeypatch.setitem(REQUIREMENTS, entry.name, entry)
    monkeypatch.setattr(problem_module, "_CHAINS", {})
    # made up in memory only: no trace of it may be kept
    monkeypatch.setattr(Chain, "_identity", lambda *_: None)
    return medium_case.appraise()


def test_an_entry_is_all_that_a_requirement_takes(extended):
    assert names_read()[-2:] == ("air_temperature", "system_mass")
    legs = extended.problem.assembled.legs
    air = extended.values["air_temperature"]
    rows = [row for row in extended.rows if row.label.group == "air"]
    moving = [n for n, leg in enumerate(legs) if extended.known["legs"].moves[n] > 0.5]
    assert 0 < len(moving) < len(legs)
    assert [row.label.leg for row in rows] == moving
    assert [row.value for row in rows] == pytest.approx((280.0 - air[moving]) / 10.0)
    assert rows[0].text == f"Air that a moving leg may meet ({legs[moving[0]].label})"

    lines = compliance_table(extended).set_index("group")
    ours = lines.loc["air"]
    assert list(ours["leg"]) == [legs[n].label for n in moving]
    assert set(ours["requirement"]) == {AIR.title}
    assert set(ours["unit"]) == {"K"}
    assert list(ours["value"]) == pytest.approx(air[moving])
    assert list(ours["margin"]) == pytest.approx(280.0 - air[moving])
    assert list(ours["holds"]) == list(air[moving] <= 280.0)
    assert set(ours["holds"]) == {True, False}  # both answers occur

    verdict = judge(extended)
    hottest = moving[int(np.argmax(air[moving]))]
    assert verdict.level == INFEASIBLE
    assert verdict.causes == (f"Air that a moving leg may meet ({legs[hottest].label})",)

    # a row at its limit has the title and the unit of its entry too
    active = active_table(extended).set_index("group")
    assert active.loc["mass_kept", "requirement"] == "Mass as it is"
    assert active.loc["mass_kept", "unit_of_row"] == "factor e"
    assert active.loc["mass_kept", "per"] == "kg"
    line = compliance_table(extended).set_index("group").loc["mass_kept"]
    assert (line["margin"], line["row"], line["holds"], line["of"]) == (0.0, 0.0, True, "aircraft")


def test_every_entry_reads_what_exists_and_says_its_unit():
    known = set(QUANTITIES) | set(DESIGN_SIZES)
    records = {"requirements", "legs", "choices", "alloy", "vehicle", "bundle_assumptions",
               "supply", "planform"}  # fmt: skip
    assert set(names_read()) - known == records
    units = {quantity.unit for quantity in QUANTITIES.values()} | {"fraction"}  # shown in per cent
    for name, entry in REQUIREMENTS.items():
        assert entry.name == name
        assert entry.title
        assert entry.unit in units


def test_sign_of_every_row_is_that_of_its_margin(medium_case, medium):
    problem = medium.problem
    real = len(problem.assembled.legs), len(problem.assembled.statics)
    generator = np.random.default_rng(12)
    signs: dict[str, set[bool]] = {}
    for number in range(40):
        factors = np.exp(generator.uniform(-0.6, 0.6, medium.x.size))
        x = np.clip(medium.x * (factors if number else 1.0), problem.lower, problem.upper)
        values = problem.values(x)
        known = {**medium.known, **values, **split_design(x)}
        rows = problem.rows_of(values)
        for label, row in zip(problem.rows.labels, rows, strict=True):
            if label.leg >= real[label.requirement.over == STATICS]:
                continue  # a leg or case that only fills
            margin = read_row(label, known).margin
            # a thick wall is relieved of buckling, and a driver is there with no margin to spare
            if label.group in {"buckling", "driver"} or abs(row) < 1e-9:
                continue
            assert (margin > 0.0) == (row > 0.0), (label, margin, row)
            signs.setdefault(label.group, set()).add(bool(row > 0.0))
    assert signs.keys() == REQUIREMENTS.keys() - {"buckling", "driver"}
    assert sum(len(seen) == 2 for seen in signs.values()) > 12  # both answers occur
