"""One axis: a knob, or any number of the study, with the range that an exploration covers."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.optimise.knob_list import (
    EASIER_UNKNOWN,
    PLAIN,
    Plain,
    all_knobs,
    knob_of,
    known_knob,
    levers_of,
)
from mdo.optimise.knobs import ALLOY, REQUIREMENT, SIZE, TECHNOLOGY, Knob, Move, left_open
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.assemble import alloy_card
from mdo.study.reader import Input, StudyError
from mdo.study.scaling_laws import LAWS, following
from mdo.study.units import UnitError, parse_quantity

SHOWN = 12  # names listed in an error
STEP_SHARE = 0.01  # of the range, for numbers that are no knob
SIZE_OF = "vehicle_size"  # a dot and a law
SIZE_STEP = 0.01


class Axis(NamedTuple):
    """A number that is turned and its range, SI.

    Attributes
    ----------
    knob
        What it moves; its ``value`` is the one of the study.
    low, high
        Range that is covered.
    """

    knob: Knob
    low: float
    high: float

    @property
    def name(self) -> str:
        """Short name: the column of tables."""
        return self.knob.name

    @property
    def title(self) -> str:
        """Words for people."""
        return self.knob.title

    @property
    def unit(self) -> str:
        """SI unit."""
        return self.knob.unit


def ends_of(axes: Sequence[Axis]) -> tuple[Floats, Floats]:
    """Low and high ends of axes, shape (axes,) each."""
    return np.array([axis.low for axis in axes]), np.array([axis.high for axis in axes])


def axes_of(
    problem: DesignProblem, given: Mapping[str, tuple[str | float, str | float]], where: str
) -> tuple[Axis, ...]:
    """Axes named in a study file.

    Parameters
    ----------
    problem : the study
    given : lowest and highest value, as in a study file, by the name of a knob or the path of a
        field
    where : path of the table in the study file, for messages

    Raises
    ------
    StudyError
        With every axis that is not known, has no range, or moves what another one moves.
    """
    knobs = {knob.name: knob for knob in all_knobs(problem) + levers_of(problem)}
    inputs = {one.path: one for one in problem.study.inputs}
    faults: list[str] = []
    axes: list[Axis] = []
    for name, ends in given.items():
        try:
            knob = knobs.get(name) or _knob_of_size(problem, name)
            knob = knob or _knob_of_field(inputs, name) or _knob_of_card(problem, name)
            if knob is None:
                faults.append(f"{where}.{name}: {_unknown(name, knobs)}")
            else:
                axes.append(ranged(knob, ends))
        except UnitError as error:
            faults.append(f"{where}.{name}: {error}")
    faults += [f"{where}: {text}" for text in _shared(axes)]
    if faults:
        raise StudyError([f"{problem.study.path or 'study'}: {fault}" for fault in faults])
    return tuple(axes)


def _knob_of_field(inputs: Mapping[str, Input], name: str) -> Knob | None:
    """Knob that moves one field, by its path or by the last part of a plain one."""
    known = {plain.name: plain for plain in PLAIN}
    path = known[name].path if name in known else name
    given = inputs.get(path) or left_open(path)
    if given is None or isinstance(given.value, bool | str) or not given.unit:
        return None
    value = float("nan") if given.value is None else float(given.value)
    own = Plain(path, REQUIREMENT, 0.0, given.unit, EASIER_UNKNOWN)
    plain = known.get(own.name, own)
    knob = knob_of(plain, replace(given, path=path, value=value))
    return knob and replace(knob, name=name)


def _knob_of_size(problem: DesignProblem, name: str) -> Knob | None:
    """Knob ``vehicle_size.<law>``: length of the vehicle over that of the one given.

    Raises
    ------
    UnitError
        If there is no such law, or the loads belong to one size.
    """
    quantity, _, law = name.partition(".")
    if quantity != SIZE_OF:
        return None
    if law not in LAWS:
        known = ", ".join(f'"{SIZE_OF}.{one}"' for one in LAWS)
        raise UnitError(f"no law of scaling, expected one of {known}")
    if problem.study.fidelity.optimise.hinge_moment == "table":
        raise UnitError("a table of hinge moments belongs to one size, expected another axis")
    moves = tuple(
        Move(field.path, field.value, power=getattr(LAWS[law], field.kind))
        for field in following(problem.study)
    )
    title = f"{QUANTITIES[SIZE_OF].title} ({law.replace('_', ' ')})"
    step = {"step": SIZE_STEP, "per": "0.01 of length", "easier": EASIER_UNKNOWN}
    return known_knob(name, SIZE, 1.0, moves, of=SIZE_OF, title=title, **step)


def _knob_of_card(problem: DesignProblem, name: str) -> Knob | None:
    """Knob ``alloy.<field>``: one number of the alloy card, within the card's range."""
    field = name.removeprefix(ALLOY)
    known = alloy_card(problem.study).fields.get(field) if name.startswith(ALLOY) else None
    if known is None or known.low is None or known.high is None:
        return None
    value = float(getattr(problem.assembled.parameters["alloy"], field))
    ends = {"low": known.low, "high": known.high}
    step = {"step": 0.0, "per": QUANTITIES[field].unit, "easier": EASIER_UNKNOWN}
    return known_knob(name, TECHNOLOGY, value, (Move(name, value),), of=field, **ends, **step)


def ranged(knob: Knob, ends: tuple[str | float, str | float]) -> Axis:
    """Axis over a range.

    Raises
    ------
    UnitError
        If an end is no such quantity, or the range is empty or wider than allowed.
    """
    low, high = (parsed_end(end, knob.unit) for end in ends)
    if not low < high:
        raise UnitError(f"no range, got {ends[0]} to {ends[1]}, expected the lower end first")
    if low < knob.low or high > knob.high:
        allowed = f"{knob.low:.6g} to {knob.high:.6g} {knob.unit}"
        raise UnitError(f"outside its range, got {low:.6g} to {high:.6g}, expected {allowed}")
    if knob.step <= 0.0:
        step = STEP_SHARE * (high - low)
        knob = replace(knob, step=step, per=f"{step:.3g} {knob.unit}")
    return Axis(knob, low, high)


def parsed_end(end: str | float, unit: str) -> float:
    """End of a range in SI; a bare number where the unit is 1, a difference where it is K.

    Raises
    ------
    UnitError
        If it is no such quantity.
    """
    if not isinstance(end, str):
        if unit == "1":
            return float(end)
        raise UnitError(f"missing unit, got {end}, expected text with a unit of {unit}")
    try:
        return parse_quantity(end, unit)
    except UnitError:
        if unit != "K":
            raise
        return parse_quantity(end, unit, difference=True)


def _unknown(name: str, knobs: Mapping[str, Knob]) -> str:
    near = difflib.get_close_matches(name, knobs, 1)
    hint = f" (did you mean {near[0]}?)" if near else ""
    some = ", ".join([*knobs][:SHOWN])
    return f"no number that can be turned{hint}, expected a field's path or one of {some}, ..."


def _shared(axes: Sequence[Axis]) -> list[str]:
    """Say which two axes move one field; one beside the size of the vehicle has its own value."""
    owners: dict[tuple[str, bool], str] = {}
    both: dict[tuple[str, str], str] = {}
    for axis in axes:
        for move in axis.knob.moves:
            place = move.path, axis.knob.kind == SIZE
            if place in owners:
                both.setdefault((owners[place], axis.name), move.path)
            owners[place] = axis.name
    return [
        f"{one} and {other} both move {path}, expected one of them"
        for (one, other), path in both.items()
    ]
