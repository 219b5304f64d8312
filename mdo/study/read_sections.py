"""Read supply, requirements, actuator, analyses, assumptions: fields, and what depends on what."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import make_dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mdo.alloys import cards_meant, list_cards
from mdo.study.analyses import Analysis
from mdo.study.choices import BATTERY_HIGH, BATTERY_LOW, BUSES
from mdo.study.fields import Field, Origin, number, section
from mdo.study.part import Need, Part, Rule
from mdo.study.reader import Reader, values_of
from mdo.study.sections import Actuator, Head, Requirements, Supply
from mdo.study.text import FileError, file_name, small_text, too_deep
from mdo.study.values import nearest, shown

AXES_WANTED = 'expected one axis or more, such as fold_time = ["200 s", "600 s"]'
COMBINATIONS_MAX = 10_000
_BLOWER_SPEED = 8.0  # m/s, judged; of the same order as in published cooled-tube studies
_ONE_SET = ("load_return", "spring_return")
_RULES = (
    Rule(("drive_side",), "configuration", ("opposed",), "beside configuration = {} (two sets)"),
    Rule(("cooling_air_speed",), "cooling", ("passive",), "beside passive cooling"),
    Need(("drive_side",), "configuration", _ONE_SET, '"up" or "down" (for {})'),
    Rule(("return_mode",), "configuration", _ONE_SET, "beside configuration = {}",
         '"cool_under_load" (only a pair can re-twist) or configuration = "opposed"',
         ("cool_then_retwist",)),
)  # fmt: skip
_BATTERY = Rule(("source",), "bus", ("115 V ac",), "beside bus = {}",
                '"generator" or a dc bus', ("battery",))  # fmt: skip


_LINE = ("nominal_voltage", "low_voltage_ratio", "allowed_drop")
_DROP_MOST = 0.25  # of the lowest line voltage; wire tables allow 4 to 14 % (common practice)


def read_head(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[study]``; a table of cases has been read before."""
    values = Part.read(reader, Head, given, "study").values
    values.pop("cases", None)
    return values


def read_supply(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[supply]``, voltages filled by the kind of bus."""
    supply = Part.read(reader, Supply, given, "supply")
    if not supply.values.get("bus"):
        return supply.values
    bus = BUSES[supply.values["bus"]]
    battery = supply.values.get("source") == "battery"
    low = BATTERY_LOW if battery else bus.low / bus.nominal
    high = BATTERY_HIGH if battery else bus.high / bus.nominal
    whence = "voltage of a battery over its discharge, judged" if battery else bus.provenance
    origin: Origin = "judgement" if battery else "default"
    supply.derive("low_voltage_ratio", low, whence, origin=origin)
    supply.derive("high_voltage_ratio", high, whence, origin=origin)
    supply.derive("nominal_voltage", bus.nominal, bus.provenance)
    supply.derive("allowed_drop", bus.allowed_drop, bus.provenance)
    supply.follow([_BATTERY])
    values = supply.values
    nominal, ratio, drop = (values.get(name) for name in _LINE)
    if nominal and ratio and drop and drop > _DROP_MOST * nominal * ratio:
        reason = f"beside a lowest line voltage of {nominal * ratio:.4g} V"
        supply.contradiction("allowed_drop", reason, f"at most {_DROP_MOST:g} of that")
    return supply.values


def read_requirements(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[requirements]``."""
    requirements = Part.read(reader, Requirements, given, "requirements")
    check_bay(requirements)
    dead, fold = (requirements.values.get(name) for name in ("dead_time", "fold_time"))
    if dead and fold and dead >= fold:
        reader.warn(
            "requirements.dead_time",
            f"{dead:g} s leave nothing of a fold_time of {fold:g} s: no design can be feasible",
        )
    return requirements.values


def check_bay(part: Part) -> None:
    """Note a coldest bay that is hotter than the hottest."""
    cold, hot = part.values.get("bay_cold"), part.values.get("bay_hot")
    if cold is not None and hot is not None and cold > hot:
        name = "bay_cold" if "bay_cold" in part.given else "bay_hot"
        reason = f"with bay_cold {cold:.5g} K above bay_hot {hot:.5g} K"
        part.contradiction(name, reason, "bay_cold at most bay_hot")


def read_actuator(reader: Reader, given: object, folder: Path) -> dict[str, Any]:
    """Return the values of ``[actuator]``; paths count from the folder of the study."""
    if isinstance(given, Mapping):  # refused with the line to write instead: fidelity.py
        given = {key: value for key, value in given.items() if key != "hinge_moment"}
    actuator = Part.read(reader, Actuator, given, "actuator")
    actuator.follow(_RULES)
    if actuator.values.get("alloy"):
        check_alloy(reader, actuator.values["alloy"], folder, "actuator.alloy")
    speed = _BLOWER_SPEED if actuator.values.get("cooling") == "blower" else 0.0
    actuator.derive("cooling_air_speed", speed, origin="judgement")
    return actuator.values


def read_analysis(reader: Reader, given: object, folder: Path) -> dict[str, Any]:
    """Return the options of every analysis, by its name."""
    analysis = Part.read(reader, Analysis, given, "analysis")
    for name, option in analysis.values.items():
        values, table = values_of(option), analysis.given.get(name)
        path = f"analysis.{name}"
        if isinstance(table, Mapping) and values.get("sample") == "list" and "file" not in table:
            reader.problem(f"{path}.file", 'missing, expected a CSV file (for sample = "list")')
        _check_choices(reader, values.get("choices") or {}, folder, f"{path}.choices")
    if "map" in analysis.given and values_of(analysis.values.get("map")).get("axes") == {}:
        analysis.problem("map.axes", f"empty, {AXES_WANTED}")
    stock = values_of(values_of(analysis.values.get("defence")).get("stock"))
    for diameter, wall in stock.get("tubes", ()):
        if 2.0 * wall >= diameter:
            analysis.problem(
                "defence.stock.tubes",
                f"no bore, got {diameter:g} m x {wall:g} m, expected wall < diameter / 2",
            )
    return analysis.values


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
        hint = nearest(alloy, known, cards_meant(alloy))
        reader.problem(path, f"unknown alloy, {hint}; or the path of a card of your own")
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
                name, default=entry["value"], low=entry.get("low"), high=entry.get("high"),
                origin="judgement" if entry["origin"] == "judgement" else "default",
                provenance=entry["provenance"],
            )
            for name, entry in tables.items()
        }  # fmt: skip
    return MappingProxyType(groups)


@lru_cache(maxsize=1)
def _assumptions() -> type:
    """Return the section of all assumptions, a table for each group."""
    groups = assumption_fields().items()
    return make_dataclass("Assumptions", [(name, Any, section(of)) for name, of in groups])


def read_assumptions(reader: Reader, given: object) -> Mapping[str, Mapping[str, float]]:
    """Resolve all assumptions: defaults, with those of ``[assumptions]`` over them.

    Returns
    -------
    SI values by group and name.
    """
    tables = reader.table(given, "assumptions") or {}
    values = reader.section_once(_assumptions(), tables, "assumptions")
    return MappingProxyType({name: MappingProxyType(of) for name, of in values.items()})
