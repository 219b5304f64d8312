"""``[fidelity]``: the levels of each discipline: in the coupled model, and those that verify it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mdo.disciplines.levels import (
    LEVELS,
    SHIPPED,
    SHIPPED_VERIFY,
    VERIFYING,
    Fidelity,
    Levels,
    ladder,
)
from mdo.study.fields import Field
from mdo.study.part import Part
from mdo.study.reader import Reader
from mdo.study.values import nearest, shown

BLOCK = "fidelity"
WHERE = f"{BLOCK}.optimise"
_TEXTS = {
    "optimise": "Level of {} in the coupled model",
    "correct": "Level of {} that rows are corrected to",
    "verify": "Level of {} that is run on the design that comes out",
}
_WITHOUT = {"correct": "not corrected", "verify": "not verified"}


def level_fields() -> dict[str, dict[str, Field]]:
    """Fields of each role of ``[fidelity]``: the level of each discipline."""
    roles: dict[str, dict[str, Field]] = {role: {} for role in _TEXTS}
    for discipline, known in LEVELS.items():
        levels = {
            "optimise": (tuple(known), getattr(SHIPPED, discipline)),
            "correct": (tuple(name for name in [*known][1:] if name != "table"), None),
            "verify": (ladder(discipline)[1:], SHIPPED_VERIFY.get(discipline)),
        }
        for role, (choices, default) in levels.items():
            if choices:
                roles[role][discipline] = Field(
                    kind="choice", noun="level", choices=choices, default=default,
                    text=_TEXTS[role].format(discipline.replace("_", " ")),
                    otherwise=_WITHOUT.get(role, ""),
                )  # fmt: skip
    return roles


def read_fidelity(reader: Reader, given: object) -> Fidelity:
    """Return the levels of ``[fidelity]``; what is left out stays as shipped."""
    roles = level_fields()
    table = reader.table(given, BLOCK)
    if table is None:
        return Fidelity(SHIPPED, {}, SHIPPED_VERIFY)
    reader.unknown(table, BLOCK, roles)
    chosen = _read_levels(reader, table, "optimise", roles["optimise"], SHIPPED)
    optimise = SHIPPED._replace(**chosen)
    correct = _read_levels(reader, table, "correct", roles["correct"], optimise)
    verify = _read_levels(reader, table, "verify", roles["verify"], optimise)
    return Fidelity(optimise, correct, verify if "verify" in table else SHIPPED_VERIFY)


def _read_levels(
    reader: Reader, block: Mapping[str, Any], role: str, fields: Mapping[str, Field], own: Levels
) -> dict[str, str]:
    """Return the levels given for a role; shipped ones that are left out are noted as inputs."""
    path = f"{BLOCK}.{role}"
    table = reader.table(block.get(role, {}), path)
    if table is None:
        return {}
    reader.unknown(table, path, fields if role == "optimise" else LEVELS)
    levels: dict[str, Any] = {}
    for name in LEVELS:
        where, field = f"{path}.{name}", fields.get(name)
        if name in table:
            fault = _fault(role, name, table[name], field, getattr(own, name))
            if fault:
                reader.problem(where, fault)
            elif field:
                reader.take(levels, name, field, table[name], where)
        elif field and field.default and (role == "optimise" or role not in block):
            reader.note(where, str(field.default), field, "default")
    return levels


def _fault(role: str, name: str, level: object, field: Field | None, own: str) -> str:
    """Say why a level cannot have a role beside the level of the coupled model; empty if it can."""
    choices = field.choices if field else ()
    if role == "optimise":
        if level not in VERIFYING.get(name, ()):
            return ""  # whether there is such a level the reader says
        expected = f"expected one of: {', '.join(choices)} (put it under {BLOCK}.verify)"
        return f"got {shown(level)}, which is run on a known design alone, {expected}"
    known = ladder(name)
    dearer = [each for each in known[known.index(own) + 1 :] if each in choices]
    expected = f"expected one of: {', '.join(dearer)}" if dearer else "expected none (remove it)"
    if level not in known:
        return f"unknown level, {nearest(str(level), dearer or known)}"
    if level == own:
        why = f"the level of {WHERE} itself"
        return f"got {shown(level)}, {why}, {expected}: no level can {role} itself"
    if level in dearer:
        return ""
    cheaper = known.index(str(level)) < known.index(own)
    why = f"cheaper than {shown(own)} of {WHERE}" if cheaper else f"which cannot {role}"
    return f"got {shown(level)}, {why}, {expected}"


def check_table(reader: Reader, actuator: object, fidelity: Fidelity) -> None:
    """Check that a table of hinge moments and the level that reads it stand together."""
    if not isinstance(actuator, Mapping):
        return
    own = fidelity.optimise.hinge_moment
    roles = {"optimise": own, "verify": fidelity.verify.get("hinge_moment")}
    role = next((name for name, level in roles.items() if level == "table"), None)
    part = Part(reader, "actuator", actuator)
    if "hinge_moment" in actuator:
        line = f'optimise = {{ hinge_moment = "{actuator["hinge_moment"]}" }}'
        part.problem(
            "hinge_moment", f"got {shown(actuator['hinge_moment'])}, expected none here: levels "
            f"stand in a block of their own; write [{BLOCK}] and under it {line}",
        )  # fmt: skip
    elif role and "table" not in actuator:
        part.problem(
            "table",
            "missing, expected a CSV file or a workbook "
            f'(for {BLOCK}.{role}.hinge_moment = "table")',
        )
    elif not role:
        part.not_allowed(["table"], f'beside {WHERE}.hinge_moment = "{own}"')
