"""Numbers of a study that can be turned: requirements, loads, technology values.

A knob knows the fields of the study (or of its alloy card) that it moves, in SI, the amount for
which a cost is quoted, and which way is easier. Turning it gives the problem of the changed study,
checked like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.problem import DesignProblem, parameters_of, problem_of
from mdo.quantities import is_difference
from mdo.study.fields import declared
from mdo.study.reader import Input
from mdo.study.sections import Requirements
from mdo.study.study import Study
from mdo.study.units import as_written, example_unit, split_quantity
from mdo.study.variation import given

ALLOY = "alloy."
SHARES = frozenset({"angle_range", "torque_margin", "low_voltage_ratio", "moment_scale"})
REQUIREMENT, LOAD, TECHNOLOGY, SIZE = "requirement", "load", "technology", "size"
RELATIVE_STEP = 1e-4  # of the step a cost is quoted for, in the derivative of theta


@dataclass(frozen=True)
class Move:
    """How a field follows its knob: ``base + slope (value - present value)``.

    With a power it is ``base (value / present value)^power`` instead.
    """

    path: str
    base: float
    slope: float = 1.0
    power: float | None = None

    def field(self, value: float, present: float) -> float:
        """Value of the field at a value of the knob."""
        if self.power is None:
            return self.base + self.slope * (value - present)
        return float(self.base * (value / present) ** self.power)


@dataclass(frozen=True)
class Knob:
    """One number that can be turned.

    Attributes
    ----------
    name, title
        Short name, and words for people.
    kind
        ``requirement``, ``load``, ``technology`` or ``size``.
    unit
        SI unit of value, range and step; temperatures are absolute, their steps differences.
    value, low, high
        Present value and the range in which it may be turned.
    step, per
        Amount for which a cost is quoted, and its words ("s", "percent of margin").
    easier
        +1 if a larger value is easier to meet, -1 if a smaller one is, 0 if neither is known.
    moves
        Fields that follow.
    """

    name: str
    title: str
    kind: str
    unit: str
    value: float
    low: float
    high: float
    step: float
    per: str
    easier: int
    moves: tuple[Move, ...]

    def fields(self, value: float) -> dict[str, float]:
        """Fields of the study and of the card at a value of the knob, SI."""
        return {move.path: move.field(value, self.value) for move in self.moves}


def turned(problem: DesignProblem, settings: Mapping[Knob, float]) -> DesignProblem:
    """Problem with knobs turned to values (SI); the compiled chain stays the same.

    The size of the vehicle is turned first: what is turned beside it has the value that is given.

    Raises
    ------
    StudyError
        If a value is not one that the study may have.
    """
    fields: dict[str, float] = {}
    for knob in sorted(settings, key=lambda one: one.kind != SIZE):
        fields |= knob.fields(settings[knob])
    return with_fields(problem, fields)


def with_fields(problem: DesignProblem, fields: Mapping[str, float]) -> DesignProblem:
    """Problem with fields of its study (by path) and of its card (``alloy.<field>``), SI values.

    Raises
    ------
    StudyError
        If a value is not one that the study may have.
    """
    return problem_of(*_changed(problem, fields), problem.correction, problem.fixed)


def parameters_with(problem: DesignProblem, fields: Mapping[str, float]) -> Floats:
    """Parameters (theta) of the problem that :func:`with_fields` gives, found without it.

    Raises
    ------
    StudyError
        If a value is not one that the study may have.
    """
    return parameters_of(*_changed(problem, fields), problem.correction, problem.fixed)


def _changed(
    problem: DesignProblem, fields: Mapping[str, float]
) -> tuple[Study, Mapping[str, float]]:
    """Changed study, and numbers of its card."""
    inputs = {one.path: one for one in problem.study.inputs}
    changes: dict[str, object] = {}
    card = dict(problem.card_fields)
    for path, value in fields.items():
        found = inputs.get(path) or left_open(path)
        if path.startswith(ALLOY):
            card[path.removeprefix(ALLOY)] = float(value)
        elif found is None:
            raise KeyError(path)
        else:
            changes[path] = as_written(value, found.unit)
    return problem.study.with_values(changes) if changes else problem.study, card


def left_open(path: str) -> Input | None:
    """Requirement that a study may leave open, such as an envelope."""
    section, _, name = path.partition(".")
    field = declared(Requirements).get(name)
    if section != "requirements" or field is None or not field.nullable:
        return None
    low, high = field.range_si()
    return Input(path, None, field.unit, "default", field.text, low, high)


def field_units(study: Study, path: str, si: str) -> tuple[str, str]:
    """SI unit of a field, and the one that the study writes it in, or would.

    ``si`` is that of both where the field is no input of the study, as of an alloy card.
    """
    found = {one.path: one for one in study.inputs}.get(path) or left_open(path)
    if found is None:
        return si, si
    written = given(study.content, path)
    unit = split_quantity(written)[1] if isinstance(written, str) else ""
    if unit or found.unit == "1":
        return found.unit, unit or "1"
    return found.unit, example_unit(found.unit, difference=is_difference(path))


def direction(problem: DesignProblem, knob: Knob) -> Floats:
    """Derivative of the parameters by the knob (SI), shape of theta.

    The parameters follow a knob linearly or nearly so; a central difference (one-sided at the end
    of the range) of their exact values is good to 1e-8.
    """
    step = RELATIVE_STEP * knob.step
    ahead, behind = min(knob.value + step, knob.high), max(knob.value - step, knob.low)
    high, low = (parameters_with(problem, knob.fields(value)) for value in (ahead, behind))
    return np.asarray((high - low) / (ahead - behind))
