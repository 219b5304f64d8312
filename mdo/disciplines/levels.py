"""Levels of fidelity of each discipline: one table of names, and where each is written.

A level of a discipline is a record of functions with the same arguments and results as those of its
neighbours; everything that is wanted of the discipline anywhere comes from their results. A level
is looked for when it is used: names alone cost no import.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, NamedTuple


def _in_words(levels: Mapping[str, str]) -> str:
    """Levels by discipline in words."""
    return ", ".join(f"{name.replace('_', ' ')} {level}" for name, level in levels.items())


class Levels(NamedTuple):
    """Level of each discipline, by name."""

    hinge_moment: str = "lattice"
    tube: str = "radial"
    heat: str = "balance"

    def __str__(self) -> str:
        """Levels in words, for terminal and page."""
        return _in_words(self._asdict())


class Fidelity(NamedTuple):
    """Levels of a study by what they do.

    ``optimise`` runs in the coupled model; rows are corrected to those of ``correct``; those of
    ``verify`` are run on the design that comes out. The last two by discipline, none where empty.
    """

    optimise: Levels
    correct: Mapping[str, str]
    verify: Mapping[str, str]

    @property
    def dear(self) -> Levels:
        """Levels that rows are corrected to, with those of the other disciplines."""
        return self.optimise._replace(**self.correct)

    def __str__(self) -> str:
        """Levels in words, for terminal and page."""
        roles = {"corrected to": self.correct, "verified by": self.verify}
        parts = [f"{role} {_in_words(levels)}" for role, levels in roles.items() if levels]
        return "; ".join([str(self.optimise), *parts])


class Dear(NamedTuple):
    """Function of a discipline with a dear part that takes little of what the discipline reads.

    ``asked`` gives, of all that the discipline reads, what ``solve`` takes; ``rest`` the outputs of
    the discipline from what it reads and what was ``solved``. Between them plain tuples of arrays.
    The last ``pointwise`` of what is asked run over the points that results run over (first axis),
    each of which reads its own alone.
    """

    asked: Callable[..., Any]
    solve: Callable[..., Any]
    rest: Callable[..., Any]
    pointwise: int

    def __call__(self, **given: Any) -> Any:
        """Outputs of the discipline from what it reads."""
        return self.rest(solved=self.solve(*self.asked(**given)), **given)


class LoadsLevel(NamedTuple):
    """Hinge moment: loads of every leg and static case, which no design variable reaches."""

    loads: Callable[..., Any] | Dear


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
SHIPPED_VERIFY = {"tube": "incremental"}

# Module of each level, cheapest first; it holds the record as LEVEL.
LEVELS: dict[str, dict[str, str]] = {
    "hinge_moment": {
        "strip": "mdo.disciplines.loads.strip",
        "lattice": "mdo.disciplines.loads.lattice",
        "table": "mdo.disciplines.loads.table",
    },
    "tube": {"uniform": "mdo.disciplines.tube.uniform", "radial": "mdo.disciplines.tube.radial"},
    "heat": {"balance": "mdo.disciplines.heat.balance", "network": "mdo.disciplines.heat.network"},
}
# Levels that are run on a known design: dearer than all others, never in the coupled model.
VERIFYING: dict[str, tuple[str, ...]] = {"tube": ("incremental",), "heat": ("conduction",)}


def ladder(discipline: str) -> tuple[str, ...]:
    """Every level of a discipline, cheapest first."""
    return (*LEVELS[discipline], *VERIFYING.get(discipline, ()))


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
