"""Discipline entries of the tubes, made of the law that a level writes of a section."""

from __future__ import annotations

from collections.abc import Callable

from mdo.disciplines.levels import TubeLevel
from mdo.disciplines.tube.answer import tube_answer
from mdo.disciplines.tube.demand import tube_demand
from mdo.disciplines.tube.record import TubeStates
from mdo.disciplines.tube.section_law import LawOf
from mdo.disciplines.wiring import by_names


def level_by(states: Callable[..., TubeStates], law_of: LawOf) -> TubeLevel:
    """Level of the tubes made of its law, under the name of its module."""
    module = law_of.__module__
    name = module.rpartition(".")[2]
    return TubeLevel(
        states=states,
        demand=by_names(tube_demand, law_of, name=f"{name}_demand", module=module),
        answer=by_names(tube_answer, law_of, name=f"{name}_answer", module=module),
    )
