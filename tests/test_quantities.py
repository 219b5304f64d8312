"""The table of names is complete, sorted, and agrees in units with whatever declares a unit."""

from __future__ import annotations

import ast
import csv
import dataclasses
import importlib
import pkgutil
import re
import typing
from pathlib import Path

import pint
import pytest

import mdo
import mdo.disciplines
import mdo.quantities
from mdo.alloys.fields import CARD_FIELDS, TRAINED_FIELD, UNITS
from mdo.disciplines import records
from mdo.disciplines.levels import LEVELS, SHIPPED
from mdo.disciplines.mass.conventional import geared_hinge, hydraulic_hinge
from mdo.model.declaration import is_record
from mdo.model.requirements import REQUIREMENTS
from mdo.model.system import declare_system
from mdo.optimise.knob_list import ANGLES, FLIGHT_LOAD, FOLDS, WIND
from mdo.quantities import QUANTITIES
from mdo.study import analyses, cases, sections
from mdo.study.fields import Field, declared
from mdo.study.read_sections import assumption_fields

TITLE_LETTERS = 40
NUMERIC = ("quantity", "difference", "integer", "variable")


def system_names() -> set[str]:
    systems = [
        declare_system(levels=SHIPPED._replace(**{discipline: level}))
        for discipline, levels in LEVELS.items()
        for level in levels
    ]
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
    """Every number of a study file, those in lists and tables too, under its name in the table."""
    kinds = [
        kind
        for module in (sections, cases, analyses)
        for kind in vars(module).values()
        if dataclasses.is_dataclass(kind) and kind.__module__ == module.__name__
    ]
    assert kinds
    found: list[tuple[str, Field]] = []

    def walk(fields: dict[str, Field]) -> None:
        for name, field in fields.items():
            walk(dict(field.fields))
            if field.item:
                walk({name: field.item})
            elif field.kind in NUMERIC:
                found.append((field.quantity, field))

    for kind in kinds:
        walk(declared(kind))
    return found


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
    known |= {*analyses.OBJECTIVES, FOLDS, ANGLES, FLIGHT_LOAD, WIND, TRAINED_FIELD}
    assert sorted(QUANTITIES.keys() - known) == []


def lines_of_the_table(*, head: bool = False) -> list[str]:
    path = Path(mdo.quantities.__file__).with_suffix(".csv")
    return path.read_text(encoding="utf-8").splitlines()[0 if head else 1 :]


def test_table_is_sorted_without_duplicates() -> None:
    names = [line.partition(",")[0] for line in lines_of_the_table()]
    assert names == sorted(set(names))


def test_table_has_one_line_for_each_quantity() -> None:
    assert len(lines_of_the_table()) == len(QUANTITIES)


def test_titles_are_short_and_of_one_thing_each() -> None:
    titles = [quantity.title for quantity in QUANTITIES.values()]
    assert [title for title in titles if not 0 < len(title) <= TITLE_LETTERS] == []
    assert [title for title in titles if not title[0].isupper() or title.endswith(".")] == []
    twice = {title for title in titles if titles.count(title) > 1}
    assert twice == set()
    written = {
        line["name"]: line["title"] for line in csv.DictReader(lines_of_the_table(head=True))
    }
    plain = [name for name, title in written.items() if title == plain_title(name)]
    assert plain == [], "leave out a title that the name says"


def plain_title(name: str) -> str:
    return name.replace("_", " ").capitalize()


def test_ranges_are_whole_and_in_order() -> None:
    for name, field in study_fields():
        low, high = field.range_si()
        assert low is not None, name
        assert high is not None, name
        assert low < high, name


@pytest.mark.parametrize("package", ["study", "optimise", "results", "report", "explore"])
def test_no_module_says_again_what_the_table_says(package: str) -> None:
    """Titles and meanings of the table stand in no source: nothing is declared twice."""
    said = {quantity.meaning for quantity in QUANTITIES.values()}
    said |= {quantity.title for quantity in QUANTITIES.values() if len(quantity.title) > 12}
    again = []
    for path in sorted((Path(mdo.__file__).parent / package).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        again += [
            f"{path.name}:{node.lineno}: {node.value}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and node.value in said
        ]
    assert again == []


@pytest.mark.parametrize(
    "unit", sorted({quantity.unit for quantity in QUANTITIES.values()} - {"1"})
)
def test_unit_is_known_and_coherent_si(unit: str) -> None:
    coherent = pint.get_application_registry().Quantity(1.0, unit).to_base_units()
    assert coherent.magnitude == pytest.approx(1.0, rel=1e-12)


def test_every_quantity_has_a_meaning_that_fits_one_line() -> None:
    bad = [
        q.name
        for q in QUANTITIES.values()
        if not q.meaning or q.meaning.endswith(".") or "\n" in q.meaning
    ]
    assert bad == []
    assert [q.name for q in QUANTITIES.values() if not (q.meaning + q.symbol).isascii()] == []


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


def test_units_of_the_alloy_cards_are_those_of_the_table() -> None:
    assert {QUANTITIES[name].unit for name in CARD_FIELDS} == UNITS.keys()


@pytest.mark.parametrize("unit", UNITS)
def test_units_of_a_card_convert_as_a_units_library_does(unit: str) -> None:
    quantity = pint.get_application_registry().Quantity
    for name, conversion in UNITS[unit].items():
        given = {"": "dimensionless", "1": "dimensionless", "%": "percent", "W/mK": "W/m/K",
                 "J/kgK": "J/kg/K"}.get(name, name)  # fmt: skip
        given = re.sub(r"(m)3", r"\1**3", given)
        wanted = quantity(2.0, given).to("" if unit == "1" else unit).magnitude
        assert 2.0 * conversion.factor + conversion.offset == pytest.approx(wanted, rel=1e-12), name


def test_every_field_of_a_card_has_a_range() -> None:
    lacking = [name for name in CARD_FIELDS if not (QUANTITIES[name].low and QUANTITIES[name].high)]
    assert lacking == []


def test_constraint_rows_are_the_requirements_and_no_quantities() -> None:
    rows = next(item for item in declare_system().disciplines if item.name == "constraints")
    assert rows.outputs == tuple(REQUIREMENTS)
    assert REQUIREMENTS.keys().isdisjoint(QUANTITIES)


def test_table_imports_nothing_of_the_package_but_what_reads_files() -> None:
    tree = ast.parse(Path(mdo.quantities.__file__).read_text(encoding="utf-8"))
    imported = [
        alias.name if isinstance(node, ast.Import) else node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    ]
    assert [name for name in imported if str(name).split(".")[0] == "mdo"] == ["mdo.data_files"]
