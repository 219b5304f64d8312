"""Read the cases: their own fields, what they inherit, and what a return leg changes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from mdo.disciplines.atmosphere import SEA_LEVEL_SPEED_OF_SOUND, standard_pressure
from mdo.study.cases import RETURN_KEYS, Case
from mdo.study.choices import ZERO_CELSIUS
from mdo.study.fields import declared
from mdo.study.part import Need, Part, Rule
from mdo.study.read_sections import check_bay
from mdo.study.reader import Reader
from mdo.study.values import NAME, shown

_HOT_STORAGE = 71.0 + ZERO_CELSIUS
_ANGLES = ("fold_from", "fold_to")
_IN_AIR = (
    "mach", "airspeed_equivalent", "gust_speed", "roll_rate", "roll_acceleration", "sideslip",
)  # fmt: skip
_ON_DECK = ("wind_speed", "deck_roll")
_SPEEDS = ("mach", "airspeed_equivalent")
_PRESCRIBED_BAY = ("bay_cold", "bay_hot")
_MODELLED_BAY = ("bay_soak_factor", "structure_temperature")
_INHERITED = ("torque_margin", "fold_time", "return_time", *_PRESCRIBED_BAY, "cooling_air_speed")
_HELD = ("hold", "jam", "heat_loss")
_STILL = (*_HELD, "soak")
_RULES = (
    Rule(("fold_at",), "kind", ("fold",), "beside kind = {}"),
    Rule(_ANGLES, "kind", _HELD, "beside kind = {} (use fold_at)"),
    Rule((*_ANGLES, "fold_at"), "kind", ("soak",), "beside kind = {}"),
    Rule(("reacted_by",), "kind", ("soak",), "beside kind = {} (temperatures only)"),
    Rule(("soak_temperature",), "kind", ("fold", *_HELD), 'beside another kind than "soak"'),
    Rule(("fold_time", "return_time", "other_set"), "kind", _STILL, "without a motion"),
    Rule(_IN_AIR, "location", ("deck",), "beside location = {}"),
    Rule(_ON_DECK, "location", ("air",), "beside location = {}"),
    Rule(("reacted_by",), "kind", ("fold",), "for a motion",
         '"actuator" (a lock cannot move)', ("lock",)),
    Rule(("reacted_by",), "kind", ("jam", "heat_loss"), "for kind = {}",
         '"lock" (no heat, no drive)', ("actuator",)),
    Rule(("lock_state",), "kind", ("fold",), "for a motion", '"unlocked"', ("locked",)),
    Rule(("returns",), "kind", _STILL, "beside kind = {}", 'kind = "fold"', (True,)),
    Rule(("return",), "returns", (False, None), "without a return", "returns = true beside it"),
    Need(_ANGLES, "kind", ("fold",), 'an angle such as "90 deg"'),
    Need(("fold_at",), "kind", _HELD, 'an angle such as "45 deg"'),
    Need(("reacted_by",), "kind", ("hold",), '"actuator" or "lock" (for a hold)'),
    Need(("folds_per_life",), "kind", ("fold",), "a number of folds"),
)  # fmt: skip

Values = dict[str, Any]


def read_cases(
    reader: Reader, given: object, requirements: Values, actuator: Values
) -> list[tuple[Values, Values | None]]:
    """Return for each case its values and, if it returns, those of its return leg."""
    tables = reader.tables(given, "case")
    if not tables:
        reader.problem("case", "missing, expected one or more cases ([[case]])")
    sources = {"requirements": requirements, "actuator": actuator}
    cases = [
        _read_case(reader, table, f"case.{label}", sources)
        for label, table in zip(_labels(reader, tables), tables, strict=True)
    ]
    kinds = [values.get("kind", "fold") for values, _ in cases]
    if tables and "fold" not in kinds:
        reader.problem("case", 'no case of kind "fold", expected at least one motion to size for')
    return cases


def _labels(reader: Reader, tables: list[Mapping[str, Any]]) -> list[str]:
    """Name each case by its id, or by its number where the id is unusable or taken."""
    labels: list[str] = []
    for number, table in enumerate(tables, 1):
        name = table.get("id")
        usable = isinstance(name, str) and NAME.fullmatch(name) is not None
        label = str(name) if usable else f"[{number}]"
        if label in labels:
            reader.problem(
                f"case.[{number}].id", f"duplicate, got {shown(name)}, expected an id of its own"
            )
            label = f"[{number}]"
        labels.append(label)
    return labels


def _read_case(
    reader: Reader, table: Mapping[str, Any], path: str, sources: Mapping[str, Values]
) -> tuple[Values, Values | None]:
    """Read one case and its return leg."""
    case = _read_state(reader, table, path, sources)
    where = f"{path}.return"
    given = reader.table(table.get("return", {}), where) or {}
    _set_other(case, sources["actuator"])
    if not case.values.get("returns"):
        case.not_allowed(["hold_time"], "without a return")
        return case.values, None
    reader.unknown(given, where, RETURN_KEYS)
    own = {key: value for key, value in given.items() if key in RETURN_KEYS}
    back = _read_state(Reader(reader.source), _overridden(table, own), where, sources)
    known = set(reader.problems)
    reader.problems += [
        line
        for line in back.reader.problems
        if line.replace(f": {where}.", f": {path}.", 1) not in known
    ]
    reader.inputs |= {
        name: line for name, line in back.reader.inputs.items() if name.rpartition(".")[2] in own
    }
    back.reader, back.given = reader, own
    _set_other(back, sources["actuator"], hold=case.values.get("hold_time"))
    angles = {"fold_from": back.values.get("fold_to"), "fold_to": back.values.get("fold_from")}
    return case.values, back.values | angles | {"returns": False}


def _read_state(
    reader: Reader, table: Mapping[str, Any], path: str, sources: Mapping[str, Values]
) -> Part:
    """Read the fields of a case itself."""
    case = Part.read(reader, Case, table, path, also=["return"])
    values = case.values
    case.follow(_RULES)
    start, end = (values.get(name) for name in _ANGLES)
    if values.get("kind") == "fold" and start is not None and start == end:
        case.contradiction("fold_to", "equal to fold_from", "another angle")
    _fill_reaction(case)
    if values.get("location") == "deck":
        values.update(dict.fromkeys(_SPEEDS))
    elif values.get("location") == "air":
        case.only_one(*_SPEEDS)
    _inherit(case, sources)
    _finish(values)
    return case


def _set_other(case: Part, actuator: Values, *, hold: float | None = None) -> None:
    """State of the set that does not drive: a fold after rest and a late return find it cold.

    A pair that cools and is then re-twisted has its state by that mode.
    """
    configuration = actuator.get("configuration")
    if configuration != "opposed":
        reason = f"beside configuration = {shown(configuration)}"
        case.not_allowed(["other_set", "hold_time"], reason)
    if case.values.get("kind") != "fold" or configuration != "opposed":
        case.values["other_set"] = None
        return
    retwisted = case.path.endswith(".return") and actuator.get("return_mode") == "cool_then_retwist"
    case.derive("other_set", "just_heated" if hold is not None or retwisted else "cold")


def _overridden(table: Mapping[str, Any], given: Mapping[str, Any]) -> Values:
    """Lay the fields of a return over those of its case, dropping what they replace."""
    dropped = {"return", "other_set"}
    for group, other in ((_SPEEDS, _SPEEDS), (_MODELLED_BAY, _PRESCRIBED_BAY),
                         (_PRESCRIBED_BAY, _MODELLED_BAY)):  # fmt: skip
        if any(name in given for name in group):
            dropped.update(other)
    if "location" in given:
        dropped.update(_IN_AIR if given["location"] == "deck" else _ON_DECK)
    return {key: value for key, value in table.items() if key not in dropped} | dict(given)


def _fill_reaction(case: Part) -> None:
    """Fill what carries the load where only one answer is possible, and the state of the lock."""
    kind = case.values.get("kind")
    case.derive("reacted_by", "actuator" if kind == "fold" else "lock")
    locked = kind in _HELD and case.values.get("reacted_by") == "lock"
    if case.values.get("lock_state") == "unlocked" and locked:
        case.contradiction("lock_state", "where a lock carries", '"locked"')
    case.derive("lock_state", "locked" if locked else "unlocked")


def _inherit(case: Part, sources: Mapping[str, Values]) -> None:
    """Fill what a case leaves to other sections or to its kind."""
    values, given = case.values, case.given
    modelled = [name for name in _MODELLED_BAY if name in given]
    if modelled:
        case.not_allowed(_PRESCRIBED_BAY, f"beside {modelled[0]}")
        for name in _MODELLED_BAY:
            if name not in given:
                case.problem(name, f"missing, expected beside {modelled[0]}")
    for name in _INHERITED:
        source = declared(Case)[name].inherits
        if not (modelled and name in _PRESCRIBED_BAY):
            case.derive(name, sources[source].get(name), f"{source}.{name}")
    if "cooling_air_speed" in given and sources["actuator"].get("cooling") == "passive":
        case.reader.warn(f"{case.path}.cooling_air_speed", "has no effect with passive cooling")
    soak = values.get("kind") == "soak"
    if soak:
        case.derive("soak_temperature", _HOT_STORAGE)
    case.derive("folds_per_life", 0.0)
    for name in () if modelled or soak else _PRESCRIBED_BAY:
        if values.get(name, 0.0) is None and name in sources["requirements"]:
            case.problem(name, f"missing, expected here or as requirements.{name}")
    if any(name in given for name in _PRESCRIBED_BAY):
        check_bay(case)


def _finish(values: Values) -> None:
    """Give every field of the leg that the kind of case leaves open a plain value."""
    if values.get("kind") in _STILL:
        values.update(fold_time=None, return_time=None)
    if values.get("kind") in _HELD:
        values.update(fold_from=values.get("fold_at"), fold_to=values.get("fold_at"))
    elif values.get("kind") == "soak":
        values.update(fold_from=0.0, fold_to=0.0)
        for name in _PRESCRIBED_BAY:
            values[name] = values.get(name) or values.get("soak_temperature")
    if values.get("location") == "deck":
        values["mach"] = 0.0
    elif values.get("airspeed_equivalent") and values.get("altitude") is not None:
        values["mach"] = _mach(values["airspeed_equivalent"], values["altitude"])


def _mach(airspeed_equivalent: float, altitude: float) -> float:
    """Convert an equivalent airspeed [m/s] to a Mach number: V_e = M a0 sqrt(p / p0)."""
    ratio = standard_pressure(altitude) / standard_pressure(0.0)
    return airspeed_equivalent / (SEA_LEVEL_SPEED_OF_SOUND * math.sqrt(ratio))
