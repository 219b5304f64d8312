"""What makes an infeasible study feasible, in the order in which an engineer asks.

Each case left out in turn; then the discrete choices; then requirements one by one; then two
together. Every change is made to the study itself, as it would be typed in, and the study is solved
again in whole tubes: its own verdict is what counts. The mission (fold angles, loads, folds, bus)
stays as it is unless the study allows otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd

from mdo.arrays import Floats
from mdo.defend.choices.study import FEASIBLE, ChoiceStudy, find_choices
from mdo.defend.conflicts.conflicts import NO_CONFLICTS, Conflicts, conflicts_table, find_conflicts
from mdo.defend.conflicts.search import WARM, Relaxation, outward
from mdo.defend.conflicts.turning_costs import cost_of, value_at
from mdo.defend.tables.frame import of_records
from mdo.defend.verdict import INFEASIBLE, judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knob_list import (
    ANGLES,
    FLIGHT_LOAD,
    FOLDS,
    WIND,
    requirements_of,
    technologies_of,
)
from mdo.optimise.knobs import ALLOY, LOAD, SHARES, Knob, field_units
from mdo.optimise.optimum import Optimum, Progress
from mdo.optimise.problem import DesignProblem
from mdo.optimise.starts import starting_designs
from mdo.study.number_text import quantity
from mdo.study.reader import StudyError
from mdo.study.study import Study, study_from_dict
from mdo.study.units import in_unit

CASE, CHOICE, REQUIREMENT, TWO = "case left out", "choice", "requirement", "two or more together"
PROGRESS = "technology, to be shown first"
MISSION = frozenset({ANGLES, FLIGHT_LOAD, FOLDS, WIND, "power_available", "low_voltage_ratio"})
# Choices that are tried one by one where the study lists none; of gears more lanes too.
CHOICES = {
    "topology": ("geared", "knuckle", "nested", "plated"),
    "configuration": ("opposed", "spring_return", "load_return"),
    "heater": ("cartridge", "wrap"),
    "cooling": ("passive", "blower"),
    "other_set": ("warmed", "just_heated"),
}
MOST_CHOICES = 3  # of a study of choices that are solved as a study
MOST_ALONE, MOST_TOGETHER = 4, 2  # relaxations that are
# Shares of a least relaxation with counts free that are tried: whole tubes take more.
FURTHER = (1.0, 1.3, 1.8, 3.0, 6.0)
FROM = 2  # count starts that a changed study is solved from, beside the design of least violation
HOW_TRIED = (
    "Studies without a case, and with choices that work, are solved from the design of least "
    f"violation and {FROM} designs of the count problem; each choice from these and again from its "
    "neighbours; a requirement alone over its range, from the design of least violation and, "
    "at the easy end, from one of the count problem. Only local optima are found."
)
MISSION_KEPT = (
    "The mission (fold angles, loads, folds, power) was kept as it is; relax_mission = true in "
    "[analysis.defence] lets it move too."
)
AsStudy = Callable[[Study, Sequence[Floats]], Appraisal]


class Answer(NamedTuple):
    """One change that was tried: kind, words, what fails, lines to type, verdict, mass [kg]."""

    kind: str
    change: str
    failing: str
    lines: str = ""
    verdict: str = INFEASIBLE
    system_mass: float = math.nan

    @property
    def feasible(self) -> bool:
        """Whether the study with this change has a design in whole tubes."""
        return self.verdict not in {INFEASIBLE, ""}


def answers_table(answers: Sequence[Answer]) -> pd.DataFrame:
    """Everything that was tried, in its order; NaN for the mass of what is infeasible."""
    return of_records(answers, "kind change lines verdict system_mass failing feasible")


def what_makes_feasible(
    optimum: Optimum, choices: ChoiceStudy | None, as_study: AsStudy, say: Progress
) -> dict[str, pd.DataFrame]:
    """Tables of what was tried with an infeasible study, and of what conflicts in it.

    Parameters
    ----------
    optimum : where the optimisation of the study ended
    choices : every combination of the choices that the study lists, if it lists any
    as_study, say : see :class:`Trials`
    """
    problem = optimum.problem
    near = [optimum.design, *(start.design for start in starting_designs(problem, FROM))]
    trials = Trials(problem, near, as_study, say)
    answers = [*first_answers(trials, choices)]
    knobs = relaxable(problem, requirements_of(problem)) + technologies_of(problem)
    conflicts = find_conflicts(optimum, knobs, say)
    answers += further_answers(trials, conflicts)
    tables = {"answers": answers_table(answers)} if answers else {}
    if conflicts != NO_CONFLICTS:
        tables["conflicts"] = conflicts_table(conflicts)
        tables["conflict_core"] = pd.DataFrame({"requirement": list(conflicts.core)})
    return tables


def relaxable(problem: DesignProblem, knobs: Sequence[Knob]) -> tuple[Knob, ...]:
    """Knobs that may be relaxed: those of the mission only where the study allows it."""
    if problem.study.analysis.defence.relax_mission:
        return tuple(knobs)
    return tuple(knob for knob in knobs if knob.kind != LOAD and knob.name not in MISSION)


class Trials(NamedTuple):
    """The study; designs to start from, that of least violation first; how studies are solved.

    ``as_study`` solves a study in whole tubes, from some designs; ``say`` is told what is done.
    """

    problem: DesignProblem
    near: Sequence[Floats]
    as_study: AsStudy
    say: Progress

    def answer(
        self, kind: str, change: str, lines: str, study: Study, *, near: Floats | None = None
    ) -> Answer:
        """Answer of a changed study, solved."""
        found = self.as_study(study, self.near if near is None else [near])
        verdict = judge(found)
        mass = math.nan if verdict.level == INFEASIBLE else found.mass
        return Answer(kind, change, "; ".join(verdict.causes[:2]), lines, verdict.level, mass)


def first_answers(trials: Trials, choices: ChoiceStudy | None) -> Iterator[Answer]:
    """Each case left out in turn, then the discrete choices.

    Parameters
    ----------
    trials : the study, and how it is solved
    choices : every combination of the choices that the study lists, if it lists any
    """
    study = trials.problem.study
    cases = study.content["case"]
    for number, case in enumerate(cases, 1):
        name = str(case.get("id"))
        trials.say(f"Conflicts: without case {name} ({number} of {len(cases)})")
        rest = {**study.content, "case": [other for other in cases if other is not case]}
        words = f"without case '{name}'"
        line = f'leave out the [[case]] with id = "{name}"'
        try:
            changed = study_from_dict(rest, folder=study.folder)
        except StudyError as error:
            yield Answer(CASE, words, f"no study: {error.problems[0]}", line, verdict="")
        else:
            yield trials.answer(CASE, words, line, changed)
    yield from _choices(trials, choices)


def _choices(trials: Trials, known: ChoiceStudy | None) -> Iterator[Answer]:
    """Combinations of the study's own choices that work, else other choices one by one."""
    problem, studies = trials.problem, [known] if known is not None else []
    if known is None:
        trials.say("Conflicts: other choices")
        own = problem.study.actuator
        lanes = (own.gear_lanes + 1, own.gear_lanes + 2) if own.topology == "geared" else ()
        studies = [
            find_choices(problem, {name: others}, near=trials.near[0])
            for name, values in {**CHOICES, "gear_lanes": lanes}.items()
            if (others := [value for value in values if value != getattr(own, name, None)])
        ]
    for found in studies:
        works = [choice for choice in found.choices if choice.status == FEASIBLE]
        for choice in works[:MOST_CHOICES]:
            made, words = choice.prepared.problem, choice.combination.words
            trials.say(f"Conflicts: {words}, solved as a study")
            assert made is not None
            assert choice.optimum is not None
            lines = "; ".join(lines_to_type(problem.study.content, made.study.content))
            notes = "".join(f" ({note})" for note in choice.notes)
            design = choice.optimum.design
            yield trials.answer(CHOICE, words + notes, lines, made.study, near=design)
        for choice in found.choices[len(works) :]:
            if words := choice.combination.words:  # else the study has nothing to choose there
                yield Answer(CHOICE, words, choice.requirement or "; ".join(choice.notes))


def further_answers(trials: Trials, conflicts: Conflicts) -> Iterator[Answer]:
    """Requirements one by one, then two or more together: the least change, or some more of it.

    Where none is enough, values of technology.
    """
    alone = [one for one in conflicts.requirements if one.sufficient][:MOST_ALONE]
    several = (*conflicts.pairs, *conflicts.combination)
    together = [one for one in several if one.sufficient][:MOST_TOGETHER]

    def solved(kind: str, found: Sequence[Relaxation]) -> Iterator[Answer]:
        for one in found:
            trials.say(f"Conflicts: {_titles(one)}, solved as a study")
            yield _relaxed(trials, kind, one)

    yield from solved(REQUIREMENT, alone)
    for one in conflicts.requirements:
        if not one.sufficient:
            words = f"{_titles(one)} alone, {_range(one.knobs[0])}"
            yield Answer(REQUIREMENT, words, "; ".join(one.failing))
    yield from solved(TWO, together)
    if not alone and not together:
        words = f"any of {len(conflicts.requirements)} requirements together, each over its range"
        yield Answer(TWO, words, "; ".join(conflicts.core))
        stated = [one for one in conflicts.technologies if one.sufficient and _is_stated(one)]
        yield from solved(PROGRESS, stated)


def _titles(relaxation: Relaxation) -> str:
    return " and ".join(knob.title.lower() for knob in relaxation.knobs)


def _is_stated(relaxation: Relaxation) -> bool:
    """Whether the study itself, not a card, states what a relaxation moves."""
    moves = [move for knob in relaxation.knobs for move in knob.moves]
    return not any(move.path.startswith(ALLOY) for move in moves)


def _range(knob: Knob) -> str:
    """Present value and easy end of a knob in words."""
    end = knob.high if knob.easier > 0 else knob.low
    difference = knob.unit == "K" and knob.value < WARM
    unit = "fraction" if knob.name in SHARES else knob.unit
    now, last = (
        quantity(value, unit, "si", digits=3, difference=difference)
        if math.isfinite(value) else "any value"
        for value in (knob.value, end)
    )  # fmt: skip
    return f"{now} to {last}"


def _relaxed(trials: Trials, kind: str, relaxation: Relaxation) -> Answer:
    """Least of some multiples of a relaxation at which the study has a design in whole tubes."""
    study = trials.problem.study
    tried: dict[str, object] = {}
    answer: Answer | None = None
    for share in FURTHER:
        settings = [
            outward(knob, value_at(knob, share * cost_of(knob, stated)))
            for knob, stated in zip(relaxation.knobs, relaxation.settings, strict=True)
        ]
        changes: dict[str, object] = {
            path: _written(study, path, value, knob)
            for knob, setting in zip(relaxation.knobs, settings, strict=True)
            for path, value in knob.fields(setting).items()
            if not path.startswith(ALLOY)
        }
        if changes == tried:  # at the easy end of the range
            break
        tried = changes
        lines = "; ".join(f"{path} = {_literal(value)}" for path, value in changes.items())
        try:
            changed = study.with_values(changes)
        except StudyError as error:  # its numbers contradict each other: a cold bay over a hot one
            fault = f"no study: {error.problems[0]}"
            answer = answer or Answer(kind, _titles(relaxation), fault, lines, verdict="")
            break
        answer = trials.answer(kind, _titles(relaxation), lines, changed)
        if answer.feasible:
            break
    assert answer is not None
    return answer


def _written(study: Study, path: str, value: float, knob: Knob) -> object:
    """Value of a field (SI) in the unit in which the study writes it, or would."""
    si, unit = field_units(study, path, knob.unit)
    return value if si == "1" else f"{in_unit(value, si, unit):.10g} {unit}"


def lines_to_type(
    before: Mapping[str, Any], after: Mapping[str, Any], path: str = ""
) -> Iterator[str]:
    """Lines to type that make the content of one study that of another."""
    for name in {**before, **after}:
        one, other = before.get(name), after.get(name)
        if name == "case":
            for own, changed in zip(one or (), other or (), strict=True):
                yield from lines_to_type(own, changed, f"case.{own['id']}.")
        elif isinstance(one, Mapping) or isinstance(other, Mapping):
            yield from lines_to_type(one or {}, other or {}, f"{path}{name}.")
        elif name not in after:
            yield f"leave out {path}{name}"
        elif one != other:
            yield f"{path}{name} = {_literal(other)}"


def _literal(value: object) -> str:
    """Value as a study file writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)
