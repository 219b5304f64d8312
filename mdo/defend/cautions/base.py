"""What a caution is, and what its rules share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from mdo.defend.tables.facts import Facts
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


def listed(names: Sequence[str]) -> str:
    """Names in quotes, each once, at most four of them."""
    unique = list(dict.fromkeys(names))
    text = ", ".join(f"'{name}'" for name in unique[:4])
    return text + (f" and {len(unique) - 4} more" if len(unique) > 4 else "")


def degrees(angle: float) -> str:
    """Text of an angle [rad]."""
    return f"{np.degrees(angle):.0f} deg"


class Reviewed(Facts):
    """A design as the rules of the cautions see it."""

    def __init__(self, appraisal: Appraisal) -> None:
        super().__init__(appraisal)
        self.study = appraisal.study
        self.motions = appraisal.problem.assembled.legs
        self.holds = appraisal.problem.assembled.statics
        self.deck = [n for n, leg in enumerate(self.motions) if leg.state.location == "deck"]

    def broken(self, *groups: str) -> list[RowResult]:
        """Rows of these groups that do not hold, worst first: the gates themselves, not a copy."""
        return [row for row in self.appraisal.violated if row.label.group in groups]

    def leg_of(self, row: RowResult) -> str:
        """Name of the leg of a row."""
        return self.leg_names[row.label.leg]

    def legs_of(self, rows: list[RowResult]) -> str:
        """Names of the legs of some rows, in quotes."""
        return listed([self.leg_of(row) for row in rows])

    def margin(self, row: RowResult) -> float:
        """Margin of a row in the unit of its requirement."""
        return float(self.appraisal.reading(row.label).margin)

    def most(self, name: str) -> float:
        """Largest value of a quantity over legs and the sets that the configuration has."""
        return float(self.v[name][..., self.present].max())


Rule = Callable[[Reviewed], Words | None]
