"""``[fidelity]``: the level of each discipline that the coupled model runs with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mdo.disciplines.levels import LEVELS, SHIPPED, Levels
from mdo.study.fields import Field
from mdo.study.reader import Reader
from mdo.study.values import shown

BLOCK = "fidelity"
ROLES = ("optimise", "correct", "verify")
WHERE = f"{BLOCK}.optimise"


def level_fields() -> dict[str, Field]:
    """Fields of ``fidelity.optimise``: the level of each discipline."""
    return {
        discipline: Field(
            kind="choice",
            text=f"Level of {discipline.replace('_', ' ')} in the coupled model",
            choices=tuple(levels),
            default=getattr(SHIPPED, discipline),
        )
        for discipline, levels in LEVELS.items()
    }


def read_fidelity(reader: Reader, given: object) -> Levels:
    """Return the levels of ``[fidelity]``; what is left out stays as shipped."""
    table = reader.table(given, BLOCK)
    if table is None:
        return SHIPPED
    reader.unknown(table, BLOCK, ROLES)
    for role in ("correct", "verify"):
        if role in table:
            reader.problem(
                f"{BLOCK}.{role}", f"got {shown(table[role])}, expected none (remove it): no level "
                "of this version corrects or verifies another",
            )  # fmt: skip
    chosen = reader.table(table.get("optimise", {}), WHERE)
    if chosen is None:
        return SHIPPED
    fields = level_fields()
    reader.unknown(chosen, WHERE, fields)
    values: dict[str, Any] = {}
    for name, field in fields.items():
        if name in chosen:
            reader.take(values, name, field, chosen[name], f"{WHERE}.{name}")
        else:
            reader.note(f"{WHERE}.{name}", getattr(SHIPPED, name), field, "default")
    return SHIPPED._replace(**values)


def check_table(reader: Reader, actuator: object, levels: Levels) -> None:
    """Check that a table of hinge moments and the level that reads it stand together."""
    if not isinstance(actuator, Mapping):
        return
    if "hinge_moment" in actuator:
        line = f'optimise = {{ hinge_moment = "{actuator["hinge_moment"]}" }}'
        reader.problem(
            "actuator.hinge_moment", f"got {shown(actuator['hinge_moment'])}, expected none here: "
            f"levels stand in a block of their own; write [{BLOCK}] and under it {line}",
        )  # fmt: skip
    elif levels.hinge_moment == "table" and "table" not in actuator:
        reader.problem(
            "actuator.table", f'missing, expected a CSV file (for {WHERE}.hinge_moment = "table")'
        )
    elif levels.hinge_moment != "table":
        reader.not_allowed(
            actuator, "actuator", ["table"],
            f'beside {WHERE}.hinge_moment = "{levels.hinge_moment}"',
        )  # fmt: skip
