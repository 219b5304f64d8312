"""Docstrings of the physics: every argument with its unit, a source, and examples that run.

What is held: each public function of :mod:`mdo.disciplines` says what it is in one sentence, names
every argument with a unit in SI (that of :mod:`mdo.quantities` where the name stands there), gives
the unit of its result and the source of its equation; most have an example, and each example runs.
"""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
import typing
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any, NamedTuple

import pint
import pytest

import mdo.disciplines
from mdo.disciplines.wiring import is_gathered
from mdo.model.declaration import is_record
from mdo.quantities import QUANTITIES

HEADING = re.compile(r"^(\w+)\n-{3,}$", re.MULTILINE)
UNIT = re.compile(r"\[([^\[\]]+)\]")
CODE = re.compile(r">>>.*|:math:`[^`]*`|``[^`]*``")
WITHOUT = re.compile(r"\bany unit\b|\b(in the |its )?unit of\b")  # of whatever unit the caller has
SOURCE = re.compile(
    r"\b1[6-9]\d\d\b|\b20\d\d\b|\b14 CFR\b|\b[Dd]erived\b|\b[Jj]udgement\b|from\s+memory|no source"
    r"|:func:|:mod:"
)
NUMBER = re.compile(r"[-+]?\d+(?:\.(\d*))?(?:e[-+]?\d+)?")
# What has the name of a quantity and is something else: a span of temperature, a chord fraction. A
# row has the name of what it is about: the row `wall` is not the wall.
OTHER = {"span", "station"}
TABLE = {
    quantity.name: quantity.unit
    for quantity in QUANTITIES.values()
    if not quantity.meaning.startswith("Row:") and quantity.name not in OTHER
}
WITH_EXAMPLE = 0.6  # share of the functions


class Physics(NamedTuple):
    """A public function of the physics and its docstring, cut at the headings."""

    function: Callable[..., Any]
    sections: dict[str, str]

    def arguments(self) -> dict[str, Any]:
        """Type of each argument."""
        hints = typing.get_type_hints(self.function)
        return {name: hints[name] for name in inspect.signature(self.function).parameters}

    def described(self) -> dict[str, str]:
        """Text below each argument."""
        return texts_below(self.sections.get("Parameters", ""))


def texts_below(section: str) -> dict[str, str]:
    """Text below each name; names that share a text stand on one line."""
    texts: dict[str, str] = {}
    names: list[str] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            names = [name.strip() for name in line.split(",")]
            texts |= dict.fromkeys(names, "")
        else:
            texts |= {name: texts[name] + line + "\n" for name in names}
    return texts


def check_described(texts: dict[str, str], kinds: dict[str, Any]) -> None:
    """Every name is described, what is not a record or a count with its unit in SI."""
    assert sorted(texts) == sorted(kinds)
    for name, kind in kinds.items():
        if is_record(kind) or kind in (bool, int) or typing.get_origin(kind) is Callable:
            continue
        given = units(texts[name])
        assert given or WITHOUT.search(texts[name]), f"{name} has no unit"
        if given and name in TABLE:
            assert given[0] == TABLE[name], name


def modules() -> Iterator[ModuleType]:
    for module in pkgutil.walk_packages(mdo.disciplines.__path__, "mdo.disciplines."):
        yield importlib.import_module(module.name)


def cut(docstring: str) -> dict[str, str]:
    """Sections of a docstring by heading; the summary under an empty name."""
    first, *rest = HEADING.split(docstring)
    return {"": first, **{rest[i]: rest[i + 1].strip("\n") for i in range(0, len(rest), 2)}}


def is_public_function(module: ModuleType, name: str) -> bool:
    thing = vars(module)[name]
    return (
        inspect.isfunction(thing)
        and thing.__module__ == module.__name__
        and not name.startswith("_")
        and not hasattr(thing, "__wrapped__")  # made of another one, which is held
    )


PHYSICS = {
    f"{module.__name__.removeprefix('mdo.disciplines.')}.{name}": Physics(
        function, cut(inspect.getdoc(function) or "")
    )
    for module in modules()
    for name, function in vars(module).items()
    if is_public_function(module, name)
}
# What wires levels together is no physics.
WIRING = re.compile(r"levels\.|wiring\.|(heat|tube)\.entries\.level_by|tube\.section_law\.")
PHYSICS = {name: item for name, item in PHYSICS.items() if not WIRING.match(name)}
every_function = pytest.mark.parametrize("physics", PHYSICS.values(), ids=PHYSICS.keys())


def units(text: str) -> list[str]:
    """Units in brackets, those of code left out."""
    return UNIT.findall(CODE.sub("", text))


@every_function
def test_it_says_in_one_sentence_what_it_is(physics: Physics) -> None:
    first = physics.sections[""].splitlines()[0]
    assert first.endswith(".")
    assert not first.startswith(" ")


@every_function
def test_every_argument_is_named_with_its_unit(physics: Physics) -> None:
    check_described(physics.described(), physics.arguments())


GATHERED = {
    f"{module.__name__.removeprefix('mdo.disciplines.')}.{name}": record
    for module in modules()
    for name, record in vars(module).items()
    if is_record(record) and is_gathered(record) and record.__module__ == module.__name__
}


@pytest.mark.parametrize("record", GATHERED.values(), ids=GATHERED.keys())
def test_every_field_that_is_wired_by_its_name_has_its_unit(record: type) -> None:
    fields = cut(inspect.getdoc(record) or "").get("Attributes", "")
    check_described(texts_below(fields), typing.get_type_hints(record))


@every_function
def test_units_are_those_of_the_si(physics: Physics) -> None:
    registry = pint.get_application_registry()
    for unit in units(physics.sections["Parameters"] + physics.sections["Returns"]):
        assert registry.Quantity(1.0, unit).to_base_units().magnitude == pytest.approx(1.0), unit


@every_function
def test_the_result_has_a_unit(physics: Physics) -> None:
    result = typing.get_type_hints(physics.function)["return"]
    fields = set(getattr(result, "_fields", ()))
    text = physics.sections["Returns"] + (inspect.getdoc(result) or "" if fields else "")
    assert units(text) or WITHOUT.search(text) or (fields and fields <= QUANTITIES.keys())


@every_function
def test_the_equation_has_a_source(physics: Physics) -> None:
    assert SOURCE.search(physics.sections["References"])


def test_most_have_an_example() -> None:
    shown = [item for item in PHYSICS.values() if ">>>" in item.sections.get("Examples", "")]
    assert len(shown) >= WITH_EXAMPLE * len(PHYSICS)


class AsWritten(doctest.OutputChecker):
    """Numbers agree to the last digit written, one half up or down; all else letter by letter."""

    def check_output(self, want: str, got: str, optionflags: int) -> bool:
        if NUMBER.sub("#", want).split() != NUMBER.sub("#", got).split():
            return False
        pairs = zip(NUMBER.finditer(want), NUMBER.finditer(got), strict=True)
        return all(
            abs(float(a[0]) - float(b[0])) <= 0.5001 * 10.0 ** -len(a[1] or "") for a, b in pairs
        )


EXAMPLES = [
    test
    for module in modules()
    for test in doctest.DocTestFinder(exclude_empty=True).find(module)
    if test.examples
]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name.split(".", 2)[-1])
def test_the_example_gives_what_it_says(example: doctest.DocTest) -> None:
    said: list[str] = []
    failed = doctest.DocTestRunner(AsWritten(), verbose=False).run(example, out=said.append).failed
    assert not failed, "".join(said)


@pytest.mark.parametrize(
    ("want", "got", "same"),
    [
        ("4.40", "4.3974", True),
        ("4.40", "4.394", False),
        ("(1.5, 2.0)", "(1.5000000001, 2.0)", True),
        ("-0.5", "0.5", False),
        ("Array(1.0)", "1.0", False),
    ],
)
def test_numbers_count_to_the_digits_written(want: str, got: str, same: bool) -> None:
    assert AsWritten().check_output(want, got, 0) is same
