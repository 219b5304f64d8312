"""Result of an exploration: tables over many designs; and what all explorations have in common.

Axes and choices are written back as the lines of the study that they stand for: a field follows its
axis linearly between the two ends, or by a power where the knob says so.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.defend.choices.combinations import combinations, prepare
from mdo.optimise.axes import Axis, ParametricProblem
from mdo.optimise.knobs import field_units
from mdo.optimise.many.optima import Setting
from mdo.optimise.own_paths import as_in_its_file, has_paths, paths_table, with_own_paths
from mdo.optimise.problem import DesignProblem
from mdo.optimise.status import NO_STUDY
from mdo.results.work import Work
from mdo.study.reader import StudyError
from mdo.study.study import Study
from mdo.study.units import in_unit

Say = Callable[[str], None]
# Where an exploration of a study that corrects rows stands, ``{0}`` being its levels of fidelity.
NOT_CORRECTED = "{0.optimise}; nothing is corrected here"
PATHS = "path_factors"  # table of what the paths of an optimum take
INTERPOLATED = "{0}, interpolated between points optimised at the dear levels"


@dataclass(frozen=True)
class Exploration:
    """What an analysis of many designs gave.

    Attributes
    ----------
    kind
        ``map``, ``front``, ``sweep``, ``sensitivity``, ``scaling`` or ``assurance``.
    problem
        The study as a problem.
    tables
        By name; SI units, columns named after quantities where they are quantities.
    status_counts
        Designs or points by status.
    facts
        What no table holds and the sentences on the result tell, a record of the analysis.
    files
        Files too large for a table in memory, by the name that they have in the result.
    levels
        How it stands to corrected rows, as :data:`NOT_CORRECTED`.
    """

    kind: str
    problem: DesignProblem
    tables: Mapping[str, pd.DataFrame]
    status_counts: Mapping[str, int]
    facts: Any = None
    files: Mapping[str, Path] = field(default_factory=dict)
    levels: str = NOT_CORRECTED

    @property
    def study(self) -> Study:
        """The study."""
        return self.problem.study


class Choice(NamedTuple):
    """A combination of discrete choices: its words and problem, or why it is no study."""

    words: str
    problem: DesignProblem | None
    fault: str


def choices_of(
    problem: DesignProblem, options: Mapping[str, Sequence[Any]], say: Say
) -> list[Choice]:
    """Every combination of choices; the study itself where nothing is chosen.

    Where the study was given what its own paths take, each combination has what those of its own
    optimum take.
    """
    if not options:
        return [Choice("", problem, "")]
    fed, plain = has_paths(problem), as_in_its_file(problem)
    found = []
    for one in combinations(problem.study, options):
        made, fault, *_ = prepare(plain, one)
        if made is not None and fed:
            say(f"Its own optimum: {one.words}")
            same = made.study.actuator == problem.study.actuator
            made = problem if same else with_own_paths(made, say)
        found.append(Choice(one.words, made, f"{NO_STUDY}: {fault}"))
    return found


def paths_of_choices(choices: Sequence[Choice]) -> dict[str, pd.DataFrame]:
    """Table of what the choices were given of the paths of their own optima, if any was."""
    tables = [
        paths_table(one.problem).assign(choice=one.words)
        for one in choices
        if one.problem is not None and has_paths(one.problem)
    ]
    return {PATHS: pd.concat(tables, ignore_index=True)} if tables else {}


def settings_of(
    problem: DesignProblem,
    choices: Sequence[Choice],
    axes_of: Callable[[DesignProblem], Sequence[Axis]],
    work: Work,
    say: Say,
    stage: str,
) -> Iterator[tuple[Choice, Setting | None]]:
    """What the points of each choice have in common, None where it is no study.

    Says which is under way. All choices share the compiled functions.

    Parameters
    ----------
    problem, choices : the study, and its choices
    axes_of : gives the axes of a choice
    work : who does the chunks
    say : told what is being done
    stage : first letters of the folders of the chunks
    """
    studies = {
        one: ParametricProblem(one.problem, axes_of(one.problem)) for one in choices if one.problem
    }
    active = np.any([problem.active, *(study.problem.active for study in studies.values())], axis=0)
    for number, choice in enumerate(choices, 1):
        if choice.words:
            say(f"Choice {number} of {len(choices)}: {choice.words}")
        study, name = studies.get(choice), f"{stage}{number:03d}"
        yield choice, Setting(study, active, work, name, say) if study else None


def counted(statuses: Iterable[str]) -> dict[str, int]:
    """How many designs or points have each status."""
    return dict(Counter(str(status) for status in statuses))


def source_of(problem: DesignProblem) -> str:
    """File of the study, for messages."""
    return str(problem.study.path or "study")


def refuse(
    problem: DesignProblem, analysis: str, faults: Iterable[str], others: Iterable[str] = ()
) -> None:
    """Raise all faults of the plan of an analysis at once.

    Parameters
    ----------
    problem, analysis : the study, and whose plan it is
    faults : each with its field of the plan first
    others : faults that name the study and its field already

    Raises
    ------
    StudyError
        If there are any.
    """
    lines = [f"{source_of(problem)}: analysis.{analysis}.{fault}" for fault in faults]
    lines += others
    if lines:
        raise StudyError(lines)


def fields_table(study: Study, axes: Sequence[Axis]) -> pd.DataFrame:
    """Fields that follow each axis: unit as the study writes it, values at both ends in it."""
    rows = []
    for axis in axes:
        for move in axis.knob.moves:
            si, unit = field_units(study, move.path, axis.unit)
            ends = [
                end if math.isnan(axis.knob.value) else move.field(end, axis.knob.value)
                for end in (axis.low, axis.high)
            ]
            low, high = (in_unit(end, si, unit) for end in ends)
            rows.append((axis.name, move.path, unit, low, high, move.power is not None))
    return pd.DataFrame(rows, columns=["axis", "field", "unit", "low", "high", "power"])


def built_table(study: Study, choices: Sequence[Choice]) -> pd.DataFrame:
    """How each choice is built, by its words: for its drawing, and its lines of the study."""
    rows = []
    for choice in choices:
        own = study if choice.problem is None else choice.problem.study
        form = own.actuator.configuration, own.actuator.topology, own.actuator.gear_lanes or 1
        levels = str(own.fidelity._replace(verify={}))  # nothing verifies a point of a map
        rows.append((choice.words, *form, levels, _lines(study, own)))
    names = ["choice", "configuration", "topology", "gear_lanes", "levels", "lines"]
    return pd.DataFrame(rows, columns=names)


def _lines(study: Study, changed: Study) -> str:
    """Lines of ``[actuator]`` in which a choice differs from the study."""
    own, other = study.content["actuator"], changed.content["actuator"]
    lines = [
        f"{name} = {json.dumps(value)}"
        for name, value in other.items()
        if value not in (own.get(name), getattr(study.actuator, name, None))
    ]
    lines += [f"# leave out: {name}" for name in own if name not in other]
    return "\n".join(lines)
