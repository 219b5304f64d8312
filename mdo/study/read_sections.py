"""Read supply, requirements, actuator, analyses, assumptions: fields, and what depends on what."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mdo.alloys import list_cards
from mdo.study.analyses import Analysis
from mdo.study.choices import BATTERY_HIGH, BATTERY_LOW, BUSES
from mdo.study.fields import Field, Origin, number
from mdo.study.reader import Reader, Rule, values_of
from mdo.study.sections import Actuator, Head, Requirements, Supply
from mdo.study.text import FileError, file_name, small_text, too_deep
from mdo.study.values import nearest, shown

COMBINATIONS_MAX = 10_000
_BLOWER_SPEED = 8.0  # m/s, judged; of the same order as in published cooled-tube studies
_ONE_SET = ("load_return", "spring_return")
_RULED_OUT = (
    Rule(("drive_side",), "configuration", ("opposed",), "beside configuration = {} (two sets)"),
    Rule(("cooling_air_speed",), "cooling", ("passive",), "beside passive cooling"),
)
_CLASHES = (
    Rule(("return_mode",), "configuration", _ONE_SET, "beside configuration = {}",
         ("cool_then_retwist",),
         '"cool_under_load" (only a pair can re-twist) or configuration = "opposed"'),
)  # fmt: skip
_NO_BATTERY = (
    Rule(("source",), "bus", ("115 V ac",), "beside bus = {}", ("battery",),
         '"generator" or a dc bus'),
)  # fmt: skip
_ASKED_FOR = (Rule(("drive_side",), "configuration", _ONE_SET, '"up" or "down" (for {})'),)
_FILE = (Rule(("file",), "sample", ("list",), 'a CSV file (for sample = "list")'),)


def read_plain(reader: Reader, cls: type, given: object, path: str) -> dict[str, Any]:
    """Return the values of a section that depends on no other."""
    table = reader.table(given, path)
    return {} if table is None else reader.section(cls, table, path)


def read_head(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[study]``; a table of cases has been read before."""
    values = read_plain(reader, Head, given, "study")
    values.pop("cases", None)
    return values


def read_supply(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[supply]``, voltages filled by the kind of bus."""
    values = read_plain(reader, Supply, given, "supply")
    if not values.get("bus"):
        return values
    bus = BUSES[values["bus"]]
    battery = values.get("source") == "battery"
    low = BATTERY_LOW if battery else bus.low / bus.nominal
    high = BATTERY_HIGH if battery else bus.high / bus.nominal
    whence = "voltage of a battery over its discharge, judged" if battery else bus.provenance
    origin: Origin = "judgement" if battery else "default"
    for name, value in (("low_voltage_ratio", low), ("high_voltage_ratio", high)):
        reader.derive(Supply, values, "supply", name, value, origin=origin, provenance=whence)
    for name, value in (("nominal_voltage", bus.nominal), ("allowed_drop", bus.allowed_drop)):
        reader.derive(Supply, values, "supply", name, value, provenance=bus.provenance)
    reader.clashes(_NO_BATTERY, values, "supply")
    return values


def read_requirements(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[requirements]``."""
    values = read_plain(reader, Requirements, given, "requirements")
    if values and isinstance(given, Mapping):
        check_bay(reader, values, given, "requirements")
    return values


def check_bay(
    reader: Reader, values: Mapping[str, Any], table: Mapping[str, Any], path: str
) -> None:
    """Note a coldest bay that is hotter than the hottest."""
    cold, hot = values.get("bay_cold"), values.get("bay_hot")
    if cold is not None and hot is not None and cold > hot:
        name = "bay_cold" if "bay_cold" in table else "bay_hot"
        reader.contradiction(
            f"{path}.{name}",
            table.get(name),
            f"with bay_cold {cold:.5g} K above bay_hot {hot:.5g} K",
            "bay_cold at most bay_hot",
        )


def read_actuator(reader: Reader, given: object, folder: Path) -> dict[str, Any]:
    """Return the values of ``[actuator]``; paths count from the folder of the study."""
    if isinstance(given, Mapping):  # refused with the line to write instead: fidelity.py
        given = {key: value for key, value in given.items() if key != "hinge_moment"}
    values = read_plain(reader, Actuator, given, "actuator")
    if not values or not isinstance(given, Mapping):
        return values
    reader.ruled_out(_RULED_OUT, values, given, "actuator")
    reader.asked_for(_ASKED_FOR, values, given, "actuator")
    reader.clashes(_CLASHES, values, "actuator")
    if values.get("alloy"):
        check_alloy(reader, values["alloy"], folder, "actuator.alloy")
    speed = _BLOWER_SPEED if values.get("cooling") == "blower" else 0.0
    reader.derive(Actuator, values, "actuator", "cooling_air_speed", speed, origin="judgement")
    return values


def read_analysis(reader: Reader, given: object, folder: Path) -> dict[str, Any]:
    """Return the options of every analysis, by its name."""
    tables = reader.table(given, "analysis") or {}
    options = reader.section(Analysis, tables, "analysis")
    for name, option in options.items():
        values = values_of(option)
        if isinstance(tables.get(name), Mapping):
            reader.asked_for(_FILE, values, tables[name], f"analysis.{name}")
        _check_choices(reader, values.get("choices") or {}, folder, f"analysis.{name}.choices")
    if "map" in tables and values_of(options.get("map")).get("axes") == {}:
        reader.problem(
            "analysis.map.axes",
            'empty, expected one axis or more, such as fold_time = ["200 s", "600 s"]',
        )
    for diameter, wall in values_of(values_of(options.get("defence")).get("stock")).get(
        "tubes", ()
    ):
        if 2.0 * wall >= diameter:
            reader.problem(
                "analysis.defence.stock.tubes",
                f"no bore, got {diameter:g} m x {wall:g} m, expected wall < diameter / 2",
            )
    return options


def _check_choices(
    reader: Reader, choices: Mapping[str, tuple[Any, ...]], folder: Path, path: str
) -> None:
    """Note alloys without a card, and more combinations than anybody could wait for."""
    for place, alloy in enumerate(choices.get("alloy") or (), 1):
        check_alloy(reader, alloy, folder, f"{path}.alloy[{place}]")
    count = math.prod(len(values or ()) or 1 for values in choices.values())
    if count > COMBINATIONS_MAX:
        reader.problem(path, f"too many, got {count} combinations, expected {COMBINATIONS_MAX}")


def check_alloy(reader: Reader, alloy: str, folder: Path, path: str) -> None:
    """Note an alloy that has no card, or one whose file is no text of a card's size."""
    known = list(list_cards())
    if alloy in known:
        return
    if not (alloy.endswith(".toml") or "/" in alloy or "\\" in alloy):
        reader.problem(
            path, f"unknown alloy, {nearest(alloy, known)}; or the path of a card of your own"
        )
        return
    try:
        deep = too_deep(small_text(folder / file_name(alloy), "a card", shown(alloy)))
    except FileError as fault:
        reader.problem(path, str(fault))
    else:
        if deep:
            reader.problem(path, f"nested too deeply, got {shown(alloy)}, expected a card")


_DEFAULTS = Path(__file__).parent / "defaults"


@lru_cache(maxsize=1)
def assumption_fields() -> Mapping[str, Mapping[str, Field]]:
    """Return the fields of every group of assumptions (aero, thermal, ...), by name."""
    groups = {}
    for path in sorted(_DEFAULTS.glob("*.toml")):
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        groups[path.stem] = {
            name: number(
                name,
                default=entry["value"],
                low=entry.get("low"),
                high=entry.get("high"),
                origin="judgement" if entry["origin"] == "judgement" else "default",
                provenance=entry["provenance"],
            )
            for name, entry in tables.items()
        }
    return MappingProxyType(groups)


def read_assumptions(reader: Reader, given: object) -> Mapping[str, Mapping[str, float]]:
    """Resolve all assumptions: defaults, with those of ``[assumptions]`` over them.

    Returns
    -------
    SI values by group and name.
    """
    groups = {
        name: Field(kind="section", fields=fields) for name, fields in assumption_fields().items()
    }
    tables = reader.table(given, "assumptions") or {}
    values = reader.section(groups, tables, "assumptions")
    return MappingProxyType({name: MappingProxyType(of) for name, of in values.items()})
