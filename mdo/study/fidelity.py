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
from mdo.study.reader import Reader
from mdo.study.values import nearest, shown

BLOCK = "fidelity"
WHERE = f"{BLOCK}.optimise"


def level_fields() -> dict[str, dict[str, Field]]:
    """Fields of each role of ``[fidelity]``: the level of each discipline."""
    roles: dict[str, dict[str, Field]] = {"optimise": {}, "correct": {}, "verify": {}}
    for discipline, known in LEVELS.items():
        levels = {"optimise": tuple(known)}
        levels["correct"] = tuple(name for name in [*known][1:] if name != "table")
        levels["verify"] = ladder(discipline)[1:]
        words = discipline.replace("_", " ")
        texts = {
            "optimise": f"Level of {words} in the coupled model",
            "correct": f"Level of {words} that rows are corrected to",
            "verify": f"Level of {words} that is run on the design that comes out",
        }
        without = {"correct": "not corrected", "verify": "not verified"}
        defaults = {
            "optimise": getattr(SHIPPED, discipline),
            "verify": SHIPPED_VERIFY.get(discipline),
        }
        for role, fields in roles.items():
            if levels[role]:
                fields[discipline] = Field(
                    kind="choice",
                    noun="level",
                    text=texts[role],
                    choices=levels[role],
                    default=defaults.get(role),
                    otherwise=without.get(role, ""),
                )
    return roles


def read_fidelity(reader: Reader, given: object) -> Fidelity:
    """Return the levels of ``[fidelity]``; what is left out stays as shipped."""
    roles = level_fields()
    table = reader.table(given, BLOCK)
    if table is None:
        return Fidelity(SHIPPED, {}, SHIPPED_VERIFY)
    reader.unknown(table, BLOCK, roles)
    chosen = _read_levels(reader, table.get("optimise", {}), WHERE, roles["optimise"])
    optimise = SHIPPED._replace(**chosen)
    correct = _finer_levels(reader, table.get("correct", {}), "correct", optimise)
    if "verify" in table:
        verify = _finer_levels(reader, table["verify"], "verify", optimise)
        return Fidelity(optimise, correct, verify)
    for name, level in SHIPPED_VERIFY.items():
        reader.note(f"{BLOCK}.verify.{name}", level, roles["verify"][name], "default")
    return Fidelity(optimise, correct, SHIPPED_VERIFY)


def _read_levels(
    reader: Reader, given: object, path: str, fields: Mapping[str, Field]
) -> dict[str, str]:
    """Return the levels given for the coupled model; those left out are noted as inputs."""
    table = reader.table(given, path)
    if table is None:
        return {}
    reader.unknown(table, path, fields)
    values: dict[str, Any] = {}
    for name, field in fields.items():
        where = f"{path}.{name}"
        if name not in table:
            reader.note(where, getattr(SHIPPED, name), field, "default")
        elif table[name] in VERIFYING.get(name, ()):
            reader.problem(
                where, f"got {shown(table[name])}, which is run on a known design alone, "
                f"expected one of: {', '.join(field.choices)} (put it under {BLOCK}.verify)",
            )  # fmt: skip
        else:
            reader.take(values, name, field, table[name], where)
    return values


def _finer_levels(reader: Reader, given: object, role: str, optimise: Levels) -> dict[str, str]:
    """Return the levels of a role, each dearer than that of the coupled model."""
    path = f"{BLOCK}.{role}"
    table = reader.table(given, path)
    if table is None:
        return {}
    reader.unknown(table, path, LEVELS)
    levels: dict[str, str] = {}
    fields = level_fields()[role]
    for name in (name for name in LEVELS if name in table):
        own, level, where = getattr(optimise, name), table[name], f"{path}.{name}"
        known = ladder(name)
        finer = [each for each in known[known.index(own) + 1 :] if each in fields[name].choices]
        expected = f"expected one of: {', '.join(finer)}" if finer else "expected none (remove it)"
        if level not in known:
            reader.problem(where, f"unknown level, {nearest(level, finer or known)}")
        elif level == own:
            reader.problem(
                where, f"got {shown(level)}, the level of {WHERE} itself, {expected}: no level "
                f"can {role} itself",
            )  # fmt: skip
        elif level not in finer:
            cheaper = known.index(level) < known.index(own)
            why = f"cheaper than {shown(own)} of {WHERE}" if cheaper else f"which cannot {role}"
            reader.problem(where, f"got {shown(level)}, {why}, {expected}")
        else:
            reader.take(levels, name, fields[name], level, where)
    return levels


def check_table(reader: Reader, actuator: object, fidelity: Fidelity) -> None:
    """Check that a table of hinge moments and the level that reads it stand together."""
    if not isinstance(actuator, Mapping):
        return
    own = fidelity.optimise.hinge_moment
    roles = {"optimise": own, "verify": fidelity.verify.get("hinge_moment")}
    role = next((name for name, level in roles.items() if level == "table"), None)
    if "hinge_moment" in actuator:
        line = f'optimise = {{ hinge_moment = "{actuator["hinge_moment"]}" }}'
        reader.problem(
            "actuator.hinge_moment", f"got {shown(actuator['hinge_moment'])}, expected none here: "
            f"levels stand in a block of their own; write [{BLOCK}] and under it {line}",
        )  # fmt: skip
    elif role and "table" not in actuator:
        reader.problem(
            "actuator.table",
            "missing, expected a CSV file or a workbook "
            f'(for {BLOCK}.{role}.hinge_moment = "table")',
        )
    elif not role:
        reader.not_allowed(
            actuator, "actuator", ["table"], f'beside {WHERE}.hinge_moment = "{own}"'
        )
