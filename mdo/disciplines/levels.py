"""Levels of fidelity of each discipline: one table of names, and where each is written.

A level of a discipline is a record of functions with the same arguments and results as those of its
neighbours; everything that is wanted of the discipline anywhere comes from their results. A level
is looked for when it is used: names alone cost no import.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any, NamedTuple


class Levels(NamedTuple):
    """Level of each discipline, by name."""

    hinge_moment: str = "lattice"
    tube: str = "radial"
    heat: str = "balance"

    def __str__(self) -> str:
        """Levels in words, for terminal and page."""
        levels = self._asdict().items()
        return ", ".join(f"{name.replace('_', ' ')} {level}" for name, level in levels)


class LoadsLevel(NamedTuple):
    """Hinge moment: loads of every leg and static case, which no design variable reaches."""

    loads: Callable[..., Any]


class TubeLevel(NamedTuple):
    """Tubes: states at the operating stress; demand of every leg; what only the report asks."""

    states: Callable[..., Any]
    demand: Callable[..., Any]
    answer: Callable[..., Any]


class HeatLevel(NamedTuple):
    """Heat: heating strokes; cooling strokes; their course in time and heaters stuck on."""

    heating: Callable[..., Any]
    cooling: Callable[..., Any]
    answer: Callable[..., Any]


SHIPPED = Levels()  # where a study leaves them out

# Module of each level; it holds the record as LEVEL.
LEVELS: dict[str, dict[str, str]] = {
    "hinge_moment": {
        "strip": "mdo.disciplines.loads.strip",
        "lattice": "mdo.disciplines.loads.lattice",
        "table": "mdo.disciplines.loads.table",
    },
    "tube": {
        "uniform": "mdo.disciplines.tube.uniform",
        "radial": "mdo.disciplines.tube.radial",
    },
    "heat": {
        "balance": "mdo.disciplines.heat.balance",
        "network": "mdo.disciplines.heat.network",
    },
}


class LevelFunctions(NamedTuple):
    """Functions of the level chosen for each discipline."""

    hinge_moment: LoadsLevel
    tube: TubeLevel
    heat: HeatLevel


def level_functions(levels: Levels) -> LevelFunctions:
    """Functions of the levels named.

    Raises
    ------
    KeyError
        If a level is not in the table.
    """
    return LevelFunctions(
        **{
            discipline: import_module(LEVELS[discipline][name]).LEVEL
            for discipline, name in levels._asdict().items()
        }
    )
