"""What a caution is, and what its rules share."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal, RowResult

STOP, WARN, NOTE = "stop", "warn", "note"
ZERO_CELSIUS = 273.15
FAR_BEYOND = 200.0  # [K] over its limit; there the balance of a tube that works says nothing
DESTROYED = "alloy destroyed"


class Caution(NamedTuple):
    """A rule that holds: its id (W01 to W24), severity, what is wrong, what to do."""

    id: str
    severity: str
    text: str
    action: str


Words = dict[str, Any]
Rule = Callable[["Appraisal"], Words | None]


def celsius(temperature: float) -> str:
    """Text of a temperature [K]."""
    return f"{float(temperature) - ZERO_CELSIUS:.1f} degC"


def reached(temperature: float, limit: float, what: str) -> str:
    """Text of a temperature that something reaches [K]; far beyond its limit no number means much.

    Parameters
    ----------
    temperature : that the balance ends at [K]
    limit : that it stands [K]
    what : what happens to it beyond, in words
    """
    end = limit + FAR_BEYOND
    return celsius(temperature) if temperature <= end else f"above {celsius(end)}, {what}"


def violated_rows(appraisal: Appraisal, *groups: str) -> list[RowResult]:
    """Rows of these groups that do not hold, worst first: the gates themselves, not a copy."""
    return [row for row in appraisal.violated if row.label.group in groups]


def listed(names: list[str]) -> str:
    """Names in quotes, each once, at most four of them."""
    unique = list(dict.fromkeys(names))
    text = ", ".join(f"'{name}'" for name in unique[:4])
    return text + (f" and {len(unique) - 4} more" if len(unique) > 4 else "")


def on_deck(appraisal: Appraisal) -> list[int]:
    """Positions of the legs on deck."""
    legs = appraisal.problem.assembled.legs
    return [number for number, leg in enumerate(legs) if leg.state.location == "deck"]


def leg_names(appraisal: Appraisal, rows: list[RowResult]) -> str:
    """Names of the legs of some rows, in quotes."""
    return listed([appraisal.problem.assembled.legs[row.label.leg].label for row in rows])


def static_names(appraisal: Appraisal, rows: list[RowResult]) -> list[str]:
    """Names of the static cases of some rows."""
    return [appraisal.problem.assembled.statics[row.label.leg].label for row in rows]


def present_sets(appraisal: Appraisal) -> NDArray[np.bool_]:
    """Which sets of tubes the configuration has."""
    return np.asarray(appraisal.problem.assembled.parameters["choices"].set_present) > 0.5
