"""Read ``[study]``, ``[supply]``, ``[requirements]``, ``[actuator]`` and ``[analysis]``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mdo.study.alloy_name import check_alloy
from mdo.study.choices import BATTERY_HIGH, BATTERY_LOW, BUSES
from mdo.study.exploring import PLANS
from mdo.study.read_defence import read_defence
from mdo.study.read_exploring import read_exploring
from mdo.study.reader import Reader, nearest, shown
from mdo.study.sections import (
    ANALYSES,
    DEFAULT_ANALYSES,
    Actuator,
    Analysis,
    DefenceOptions,
    EvaluateOptions,
    Head,
    OptimumOptions,
    Requirements,
    Supply,
)

_OPTIONS = {"evaluate": EvaluateOptions, "optimum": OptimumOptions}
_BLOWER_SPEED = 8.0  # m/s, judged; of the same order as in published cooled-tube studies


def read_head(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[study]``."""
    table = reader.table(given, "study")
    if table is None:
        return {}
    values = reader.section(Head, table, "study", also=["analyses"])
    asked = table.get("analyses", list(DEFAULT_ANALYSES))
    if not isinstance(asked, list | tuple) or not all(isinstance(one, str) for one in asked):
        reader.problem(
            "study.analyses", f"wrong type, got {shown(asked)}, expected a list such as {ANALYSES}"
        )
        return values
    if not asked:
        reader.problem(
            "study.analyses",
            f"empty, got a list of 0, expected one or more of {', '.join(ANALYSES)}",
        )
    for one in asked:
        if one not in ANALYSES:
            reader.problem("study.analyses", f"unknown analysis, {nearest(one, ANALYSES)}")
    values["analyses"] = tuple(dict.fromkeys(asked))
    return values


def read_supply(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[supply]``, voltages filled by the kind of bus."""
    table = reader.table(given, "supply")
    if table is None:
        return {}
    values = reader.section(Supply, table, "supply")
    if not values.get("bus"):
        return values
    bus = BUSES[values["bus"]]
    battery = values.get("source") == "battery"
    low = BATTERY_LOW if battery else bus.low / bus.nominal
    high = BATTERY_HIGH if battery else bus.high / bus.nominal
    whence = "voltage of a battery over its discharge, judged" if battery else bus.provenance
    origin: Any = "judgement" if battery else "default"
    for name, value in (("low_voltage_ratio", low), ("high_voltage_ratio", high)):
        reader.derive(Supply, values, "supply", name, value, origin=origin, provenance=whence)
    for name, value in (("nominal_voltage", bus.nominal), ("allowed_drop", bus.allowed_drop)):
        reader.derive(Supply, values, "supply", name, value, provenance=bus.provenance)
    if battery and values["bus"] == "115 V ac":
        reader.contradiction(
            "supply.source", table["source"], 'beside bus = "115 V ac"', '"generator" or a dc bus'
        )
    return values


def read_requirements(reader: Reader, given: object) -> dict[str, Any]:
    """Return the values of ``[requirements]``."""
    table = reader.table(given, "requirements")
    if table is None:
        return {}
    values = reader.section(Requirements, table, "requirements")
    check_bay(reader, values, table, "requirements")
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
    table = reader.table(given, "actuator")
    if table is None:
        return {}
    values = reader.section(Actuator, table, "actuator", also=["hinge_moment"])
    _check_configuration(reader, values, table)
    if values.get("alloy"):
        check_alloy(reader, values["alloy"], folder, "actuator.alloy")
    speed = 0.0
    if values.get("cooling") == "passive":
        reader.not_allowed(table, "actuator", ["cooling_air_speed"], "beside passive cooling")
    elif values.get("cooling") == "blower":
        speed = _BLOWER_SPEED
    reader.derive(Actuator, values, "actuator", "cooling_air_speed", speed, origin="judgement")
    return values


def _check_configuration(
    reader: Reader, values: Mapping[str, Any], table: Mapping[str, Any]
) -> None:
    """Note choices that the configuration rules out, and a missing side of a one-set form."""
    configuration = values.get("configuration")
    if configuration == "opposed":
        reader.not_allowed(
            table, "actuator", ["drive_side"], 'beside configuration = "opposed" (two sets)'
        )
    elif configuration is not None:
        if "drive_side" not in table:
            reader.problem(
                "actuator.drive_side", f'missing, expected "up" or "down" (for {configuration})'
            )
        if values.get("return_mode") == "cool_then_retwist":
            reader.contradiction(
                "actuator.return_mode",
                "cool_then_retwist",
                f"beside configuration = {shown(configuration)}",
                '"cool_under_load" (only a pair can re-twist) or configuration = "opposed"',
            )


def read_analysis(reader: Reader, given: object, folder: Path) -> dict[str, dict[str, Any]]:
    """Return the options of every analysis, by its name."""
    table = reader.table(given, "analysis") or {}
    reader.unknown(table, "analysis", ANALYSES)
    options = {}
    for name, cls in _OPTIONS.items():
        path = f"analysis.{name}"
        options[name] = reader.section(cls, reader.table(table.get(name, {}), path) or {}, path)
    options["defence"] = read_defence(reader, table.get("defence", {}), folder)
    return options | read_exploring(reader, table, folder)


def build_analysis(options: dict[str, dict[str, Any]]) -> Analysis:
    """Build the options from sound values."""
    plain = {name: cls(**options[name]) for name, cls in _OPTIONS.items()}
    explored = {name: plan(**options[name]) for name, plan in PLANS.items()}
    return Analysis(**plain, defence=DefenceOptions(**options["defence"]), **explored)
