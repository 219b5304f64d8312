"""What each model was checked against, and what is not modelled: read from ``validation.toml``."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import pandas as pd

from mdo.data_files import toml_beside


class Check(NamedTuple):
    """One model, what it was checked against, where that comes from, and the test that does it.

    ``functions`` are those of the package that the test checks, by their full names.
    """

    model: str
    checked_against: str
    source: str
    test: str
    functions: tuple[str, ...] = ()


class Validation(NamedTuple):
    """Checks; models compared with nothing outside; what is not modelled; what was measured."""

    checks: tuple[Check, ...]
    unchecked: tuple[str, ...]
    not_modelled: tuple[str, ...]
    measured_data: str


@cache
def validation() -> Validation:
    """Read what stands in the file."""
    content = toml_beside(__file__)
    return Validation(
        checks=tuple(Check(**check) for check in content["check"]),
        unchecked=tuple(content["unchecked"]),
        not_modelled=tuple(content["not_modelled"]),
        measured_data=content["measured_data"],
    )


def validation_table(*, bench: bool = False) -> pd.DataFrame:
    """Table of models and what they were checked against; the last line is about measured data.

    Parameters
    ----------
    bench : leave out the loads of a vehicle, which no bench has
    """
    known = validation()
    lines = [
        *(check for check in known.checks if not (bench and _of_vehicles(check))),
        *(Check(model, "nothing outside this project", "", "") for model in known.unchecked),
        Check("All of it", known.measured_data, "", ""),
    ]
    return pd.DataFrame(lines, columns=list(Check._fields)).drop(columns="functions")


def _of_vehicles(check: Check) -> bool:
    """Whether all that a check looks at are loads of a vehicle, or its wing section."""
    parts = ("mdo.disciplines.loads.", "mdo.disciplines.bundle.wing_room.")
    return bool(check.functions) and all(name.startswith(parts) for name in check.functions)
