"""Combinations of discrete choices: which there are, which are one thing, the study of each.

A choice that means nothing beside another is taken out of a combination: gear lanes without gears,
the side of a pair, the return mode of one set. Combinations that differ in nothing else are one.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from typing import Any, NamedTuple

from mdo.alloys import Card
from mdo.optimise.problem import DesignProblem, problem_of
from mdo.study.assemble import alloy_card
from mdo.study.reader import StudyError
from mdo.study.sections import CHOICE_FIELDS
from mdo.study.study import Study, study_from_dict
from mdo.study.units import as_written
from mdo.study.values import nearest

SIDES = ("up", "down")
LIFE = {
    "declared_life_stress": ("Pa", "stress"),
    "declared_life_strain": ("1", "strain"),
    "declared_life_cycles": ("1", "cycles"),
}
LAW_RULES = "the card's life law replaces the life that the study declares"


class Combination(NamedTuple):
    """One combination of choices.

    ``choices`` gives the value of every field that varies, None where it means nothing; ``whole``
    the value of every field of a choice; ``copies`` counts the combinations that are this one.
    """

    choices: Mapping[str, Any]
    whole: Mapping[str, Any]
    copies: int

    @property
    def words(self) -> str:
        """The choices as text."""
        return ", ".join(
            f"{name.replace('_', ' ')} {choice_text(value)}"
            for name, value in self.choices.items()
            if value is not None
        )


class Prepared(NamedTuple):
    """Problem of a combination, or what keeps it from being a study; notes for people."""

    problem: DesignProblem | None
    fault: str
    notes: tuple[str, ...]


def combinations(study: Study, options: Mapping[str, Sequence[Any]]) -> tuple[Combination, ...]:
    """Every distinct combination of the options, in the order of their product.

    Parameters
    ----------
    study : gives every choice that is not among the options
    options : values by field of ``[actuator]``. Where a form with one set has no side, neither in
        the study nor in the options, both sides are tried

    Raises
    ------
    StudyError
        If a field is not a choice or has no values.
    """
    _check(options)
    distinct: dict[tuple[str, ...], Combination] = {}
    for values in itertools.product(*options.values()):
        for whole in _meaningful(study, dict(zip(options, values, strict=True))):
            key = tuple(repr(whole[name]) for name in CHOICE_FIELDS)
            before = distinct.get(key)
            shown = [*options]
            if "configuration" in options and "drive_side" not in options:
                shown.insert(shown.index("configuration") + 1, "drive_side")
            choices = {name: whole[name] for name in shown}
            distinct[key] = Combination(choices, whole, 1 + (before.copies if before else 0))
    return tuple(distinct.values())


def _check(options: Mapping[str, Sequence[Any]]) -> None:
    problems = [
        f"choices.{name}: unknown field, {nearest(name, CHOICE_FIELDS)}"
        for name in options
        if name not in CHOICE_FIELDS
    ]
    problems += [
        f"choices.{name}: no values, expected at least one"
        for name, values in options.items()
        if not list(values)
    ]
    if problems:
        raise StudyError(problems)


def _meaningful(study: Study, chosen: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """All choices of a combination, None where one means nothing beside the others."""
    whole = {name: chosen.get(name, getattr(study.actuator, name)) for name in CHOICE_FIELDS}
    if whole["topology"] != "geared":
        whole["gear_lanes"] = None
    if whole["configuration"] == "opposed":
        yield {**whole, "drive_side": None}
        return
    whole["return_mode"] = None
    sides = SIDES if whole["drive_side"] is None else (whole["drive_side"],)
    for side in sides:
        yield {**whole, "drive_side": side}


def prepare(problem: DesignProblem, combination: Combination) -> Prepared:
    """Problem of a combination; a combination that is no study says why.

    Card fields that were changed belong to the alloy of the study: another alloy keeps its own.
    """
    study = problem.study
    notes: list[str] = []
    alloy = combination.whole["alloy"]
    try:
        changed = study_with(study, combination.whole)
        same = alloy == study.actuator.alloy
        if not same:
            changed, notes = _with_life(study, changed)
        made = problem_of(changed, problem.card_fields if same else {})
    except StudyError as error:
        return Prepared(None, "; ".join(error.problems), ())
    return Prepared(made, "", tuple(notes))


def study_with(study: Study, choices: Mapping[str, Any]) -> Study:
    """Study with other choices; fields that mean nothing beside them are taken out.

    Raises
    ------
    StudyError
        With all problems of the changed study.
    """
    content = deepcopy(dict(study.content))
    actuator = content["actuator"]
    for name, value in choices.items():
        actuator.pop(name, None)
        if value is not None:
            actuator[name] = value
    design = content.get("design", {})
    if choices["topology"] != "geared":
        design.pop("gear_ratio", None)
    if choices["configuration"] != "spring_return":
        design.pop("spring_moment", None)
        design.pop("spring_rate", None)
    if choices["cooling"] == "passive":
        actuator.pop("cooling_air_speed", None)
    if choices["configuration"] != "opposed":
        _without_other_set(content.get("case", ()))
    absent = {"up": "down", "down": "up"}.get(str(choices["drive_side"]))
    for variable in design.values():
        if absent is not None and isinstance(variable, dict):
            variable.pop(absent, None)
    return replace(study_from_dict(content, folder=study.folder), path=study.path)


def _without_other_set(cases: Iterable[dict[str, Any]]) -> None:
    """Take out of cases and their returns what only a pair has."""
    for case in cases:
        for motion in (case, case.get("return", {})):
            motion.pop("other_set", None)
            motion.pop("hold_time", None)


def _with_life(base: Study, changed: Study) -> tuple[Study, list[str]]:
    """Study with the declared life that suits its alloy, and what was done, in words.

    The study declares a life for its own alloy. Another card with a life law is judged by that law;
    one without takes the declaration where it lies within the range that the card itself judges,
    else the card's own value.
    """
    declared = {
        name: getattr(base.actuator, name)
        for name in LIFE
        if getattr(base.actuator, name) is not None
    }
    card = alloy_card(changed)
    if not declared:
        return changed, []
    if card.has_life_law:
        return changed, [LAW_RULES]
    outside = [name for name in declared if not _within(card, name, declared[name])]
    notes = []
    changes: dict[str, object] = {}
    for name in outside:
        unit, words = LIFE[name]
        own = card.fields[name].value
        changes[f"actuator.{name}"] = as_written(own, unit)
        notes.append(
            f"declared life: the study's {words} is outside the range that the card of "
            f"{changed.actuator.alloy} judges; the card's own is taken"
        )
    return (changed.with_values(changes) if changes else changed), notes


def _within(card: Card, name: str, value: float) -> bool:
    """Whether a card leaves room for a declared value (it has none of its own, or a range)."""
    field = card.fields.get(name)
    if field is None:
        return True
    low = field.value if field.low is None else field.low
    high = field.value if field.high is None else field.high
    return low <= value <= high


def choice_text(value: Any) -> str:
    """Return the value of a choice as text."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
