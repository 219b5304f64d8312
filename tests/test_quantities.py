"""The table of names is complete, sorted, and agrees in units with whatever declares a unit."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import typing
from pathlib import Path

import pint
import pytest

import mdo.disciplines
import mdo.quantities
from mdo.alloys.fields import RULES, UNITS
from mdo.disciplines import records
from mdo.disciplines.loads.levels import LOADS_LEVELS
from mdo.disciplines.mass.conventional import geared_hinge, hydraulic_hinge
from mdo.model.declaration import is_record
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import declare_system
from mdo.quantities import QUANTITIES, TABLE
from mdo.study import cases, design, sections
from mdo.study.assumptions import assumption_fields
from mdo.study.fields import Field, declared

NUMERIC = ("quantity", "difference", "integer", "variable")
UNIT_OF_DIMENSION = {  # SI unit of each dimension that an alloy card may hold
    "number": "1",
    "temperature": "K",
    "stress": "Pa",
    "stress per kelvin": "Pa/K",
    "per stress": "1/Pa",
    "density": "kg/m**3",
    "conductivity": "W/(m*K)",
    "specific heat": "J/(kg*K)",
    "specific energy": "J/kg",
}


def system_names() -> set[str]:
    systems = [declare_system(hinge_level=level) for level in LOADS_LEVELS]
    disciplines = [item for system in systems for item in system.disciplines]
    names = {name for item in disciplines for name in (*item.quantities, *item.outputs)}
    return names - REQUIREMENTS.keys()  # rows: their own table has their words


def record_names() -> set[str]:
    assumptions = [
        importlib.import_module(module.name)
        for module in pkgutil.walk_packages(mdo.disciplines.__path__, "mdo.disciplines.")
        if module.name.endswith("assumptions")
    ]
    assert assumptions
    names = set()
    for module in (records, *assumptions):
        for kind in vars(module).values():
            if is_record(kind) and kind.__module__ == module.__name__:
                hints = typing.get_type_hints(kind)
                names |= {name for name in kind._fields if not is_record(hints[name])}
    return names


def baseline_names() -> set[str]:
    names: set[str] = set()
    for function in (geared_hinge, hydraulic_hinge):
        hints = typing.get_type_hints(function)
        names |= set(hints.pop("return")._fields)
        names |= {name for name, hint in hints.items() if not is_record(hint)}
    return names


def study_fields() -> list[tuple[str, Field]]:
    kinds = [
        kind
        for module in (sections, cases, design)
        for kind in vars(module).values()
        if dataclasses.is_dataclass(kind) and kind.__module__ == module.__name__
    ]
    assert kinds
    return [
        (name, field)
        for kind in kinds
        for name, field in declared(kind).items()
        if field.kind in NUMERIC
    ]


def same_unit(first: str, second: str) -> bool:
    registry = pint.get_application_registry()
    ratio = registry.Quantity(1.0, first) / registry.Quantity(1.0, second)
    return bool(ratio.dimensionless) and abs(ratio.to("").magnitude - 1.0) < 1e-12


def test_every_name_of_the_system_is_in_the_table() -> None:
    assert sorted(system_names() - QUANTITIES.keys()) == []


def test_every_field_of_the_records_is_in_the_table() -> None:
    assert sorted(record_names() - QUANTITIES.keys()) == []


def test_every_name_of_the_baselines_is_in_the_table() -> None:
    assert sorted(baseline_names() - QUANTITIES.keys()) == []


def test_every_numeric_field_of_a_study_is_in_the_table() -> None:
    assert sorted({name for name, _ in study_fields()} - QUANTITIES.keys()) == []


def test_table_names_nothing_that_does_not_exist() -> None:
    known = system_names() | record_names() | baseline_names()
    known |= {name for name, _ in study_fields()}
    assert sorted(QUANTITIES.keys() - known) == []


def test_table_is_sorted_without_duplicates() -> None:
    names = [quantity.name for quantity in TABLE]
    assert names == sorted(set(names))


def test_table_has_one_line_for_each_quantity() -> None:
    lines = Path(mdo.quantities.__file__).read_text(encoding="utf-8").splitlines()
    named = [line.split('"')[1] for line in lines if line.startswith('    Quantity("')]
    assert named == [quantity.name for quantity in TABLE]
    assert all(line.endswith("),") for line in lines if line.startswith("    Quantity("))


@pytest.mark.parametrize("unit", sorted({quantity.unit for quantity in TABLE} - {"1"}))
def test_unit_is_known_and_coherent_si(unit: str) -> None:
    coherent = pint.get_application_registry().Quantity(1.0, unit).to_base_units()
    assert coherent.magnitude == pytest.approx(1.0, rel=1e-12)


def test_every_quantity_has_a_meaning_that_fits_one_line() -> None:
    bad = [q.name for q in TABLE if not q.meaning or q.meaning.endswith(".") or "\n" in q.meaning]
    assert bad == []
    assert [q.name for q in TABLE if not (q.meaning + q.symbol).isascii()] == []


def test_units_agree_with_the_study_file() -> None:
    differing = {
        name: (QUANTITIES[name].unit, field.unit)
        for name, field in study_fields()
        if not same_unit(QUANTITIES[name].unit, field.unit)
    }
    assert differing == {}


def test_units_agree_with_the_defaults_of_the_assumptions() -> None:
    differing = {
        f"{group}.{name}": (QUANTITIES[name].unit, field.unit)
        for group, fields in assumption_fields().items()
        for name, field in fields.items()
        if not same_unit(QUANTITIES[name].unit, field.unit)
    }
    assert differing == {}


def test_units_agree_with_the_alloy_cards() -> None:
    assert UNIT_OF_DIMENSION.keys() == UNITS.keys()
    differing = {
        name: (QUANTITIES[name].unit, rule.dimension)
        for name, rule in RULES.items()
        if QUANTITIES[name].unit != UNIT_OF_DIMENSION[rule.dimension]
    }
    assert differing == {}


def test_constraint_rows_are_the_requirements_and_no_quantities() -> None:
    rows = next(item for item in declare_system().disciplines if item.name == "constraints")
    assert rows.outputs == tuple(REQUIREMENTS)
    assert REQUIREMENTS.keys().isdisjoint(QUANTITIES)


def test_table_imports_nothing_of_the_package() -> None:
    tree = ast.parse(Path(mdo.quantities.__file__).read_text(encoding="utf-8"))
    imported = [
        alias.name if isinstance(node, ast.Import) else node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    ]
    assert not [name for name in imported if str(name).split(".")[0] == "mdo"]
