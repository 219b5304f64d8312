"""The knobs of a study: what it asks for, what loads it, and what technology it counts on.

Titles, units and ranges are those of the fields that a knob moves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from mdo.data_files import toml_beside
from mdo.optimise.knobs import ALLOY, LOAD, REQUIREMENT, TECHNOLOGY, Knob, Move
from mdo.optimise.problem import DesignProblem
from mdo.quantities import QUANTITIES
from mdo.study.fields import number
from mdo.study.reader import Input
from mdo.study.study import Study

EASIER_HIGH, EASIER_LOW, EASIER_UNKNOWN = 1, -1, 0
WAYS = {"high": EASIER_HIGH, "low": EASIER_LOW, "unknown": EASIER_UNKNOWN}


class Plain(NamedTuple):
    """A knob that moves one field of the study, by the amount for which a cost is quoted."""

    path: str
    kind: str
    step: float
    per: str
    easier: int

    @property
    def name(self) -> str:
        """Short name: the last part of the path."""
        return self.path.rpartition(".")[2]


PLAIN, PRICES, LEVERS = (
    tuple(Plain(path, kind, step, per, WAYS[way]) for path, kind, step, per, way in lines)
    for lines in toml_beside(__file__).values()
)
# Values of the alloy that progress may raise: field, step, words of the step, highest value.
ALLOY_VALUES = (
    ("allowable_shear_stress", 1e6, "MPa", math.inf),
    ("recoverable_strain", 1e-3, "0.1 % strain", 0.19),
)
ALLOY_FACTOR = 5.0  # up and down, how far a value of the alloy is turned
FOLDS, ANGLES, FLIGHT_LOAD, WIND = "folds", "angle_range", "flight_load_factor", "deck_wind"
ANGLE_MOST = math.radians(109.0)  # the load models hold to about 110 deg


def requirements_of(problem: DesignProblem) -> tuple[Knob, ...]:
    """Requirements and loads of a study that can be turned, those of single cases included."""
    study = problem.study
    wanted = [knob for knob in _plain(study, PLAIN) if knob.kind != TECHNOLOGY]
    return (*wanted, *_times_of_cases(study), *_composites(study))


def technologies_of(problem: DesignProblem) -> tuple[Knob, ...]:
    """Technology values that the study counts on: stress, strain, masses per power."""
    study = problem.study
    counted_on = [knob for knob in _plain(study, PLAIN) if knob.kind == TECHNOLOGY]
    return (*counted_on, *_alloy(problem), *_plain(study, PRICES))


def levers_of(problem: DesignProblem) -> tuple[Knob, ...]:
    """Geometry of a study that can be chosen freely, whose cost says which way to go."""
    return tuple(_plain(problem.study, LEVERS))


def all_knobs(problem: DesignProblem) -> tuple[Knob, ...]:
    """Requirements, loads and technology values."""
    return requirements_of(problem) + technologies_of(problem)


def knob_of(plain: Plain, given: Input, *, case: str = "") -> Knob | None:
    """Knob of an input, None where it holds no number.

    Parameters
    ----------
    plain : amount, its words, and which way is easier
    given : the input that it moves
    case : whose own it is
    """
    if isinstance(given.value, bool) or not isinstance(given.value, int | float):
        return None
    title, value = QUANTITIES[plain.name].title, float(given.value)
    low, high = _ends(given.low, given.high)
    return known_knob(
        f"{plain.name}.{case}" if case else plain.name, plain.kind, value,
        (Move(given.path, value),), of=plain.name,
        title=f"{title} of '{case}'" if case else title, unit=given.unit, low=low, high=high,
        step=plain.step, per=plain.per, easier=plain.easier,
    )  # fmt: skip


def _ends(low: float | None, high: float | None) -> tuple[float, float]:
    """Ends of a range, infinite where there is none."""
    return -math.inf if low is None else low, math.inf if high is None else high


def known_knob(
    name: str, kind: str, value: float, moves: tuple[Move, ...], *, of: str = "", **own: Any
) -> Knob:
    """Knob of a quantity of the table: title, unit and range from there, but for what is given."""
    field = number(of or name)
    low, high = _ends(*field.range_si())
    known: dict[str, Any] = {"title": field.title, "unit": field.unit, "low": low, "high": high}
    return Knob(name=name, kind=kind, value=value, moves=moves, **{**known, **own})


def _plain(study: Study, fields: Iterable[Plain]) -> Iterator[Knob]:
    inputs = {given.path: given for given in study.inputs}
    for plain in fields:
        if plain.path in inputs and (knob := knob_of(plain, inputs[plain.path])):
            yield knob


def _times_of_cases(study: Study) -> Iterator[Knob]:
    """Times that single cases state for themselves."""
    inputs = {given.path: given for given in study.inputs if given.origin == "file"}
    for case in study.cases:
        times = PLAIN[:2] if case.return_case else PLAIN[:1]
        for plain in times if case.kind == "fold" else ():
            given = inputs.get(f"case.{case.id}.{plain.name}")
            if given and (knob := knob_of(plain, given, case=case.id)):
                yield knob


def _composites(study: Study) -> Iterator[Knob]:
    """Knobs that move a field of several cases."""
    driven = [case for case in study.cases if case.kind == "fold"]
    folds = {case.id: case.folds_per_life for case in driven}
    plain = Plain("folds_per_life", REQUIREMENT, 100.0, "100 folds", EASIER_LOW)
    yield from _in_proportion(FOLDS, plain, folds, sum(folds.values()))
    if study.load_table is not None:  # the table holds the angles, the load and the wind
        return
    yield from _angle_range(study)
    load = {case.id: case.load_factor for case in driven if case.location == "air"}
    wind = {case.id: case.wind_speed for case in driven if case.location == "deck"}
    plain = Plain("load_factor", LOAD, 0.1, "0.1 of load factor", EASIER_LOW)
    yield from _in_proportion(FLIGHT_LOAD, plain, load, max(load.values(), default=0.0))
    plain = Plain("wind_speed", LOAD, 1.0, "m/s", EASIER_LOW)
    yield from _in_proportion(WIND, plain, wind, max(wind.values(), default=0.0))


def _in_proportion(
    name: str, plain: Plain, values: Mapping[str, float], whole: float
) -> Iterator[Knob]:
    """Knob of the cases whose field is above zero, that keeps their proportion to the whole."""
    moves = tuple(
        Move(f"case.{case}.{plain.path}", value, value / whole)
        for case, value in values.items()
        if value > 0.0
    )
    if moves:
        yield known_knob(
            name, plain.kind, whole, moves, step=plain.step, per=plain.per, easier=plain.easier
        )


def _angle_range(study: Study) -> Iterator[Knob]:
    """Factor on every fold angle that the actuator moves to or from."""
    angles = {"fold": (("fold_from", "fold_from"), ("fold_to", "fold_to")),
              "hold": (("fold_at", "fold_from"),)}  # fmt: skip
    moves = tuple(
        Move(f"case.{case.id}.{path}", angle, angle)
        for kind, fields in angles.items()
        for case in study.cases
        if case.kind == kind and case.reacted_by == "actuator"
        for path, name in fields
        if (angle := getattr(case, name)) != 0.0
    )
    if moves:
        most = ANGLE_MOST / max(abs(move.base) for move in moves)
        yield known_knob(
            ANGLES, REQUIREMENT, 1.0, moves,
            high=most, step=0.01, per="percent of the range", easier=EASIER_LOW,
        )  # fmt: skip


def _alloy(problem: DesignProblem) -> Iterator[Knob]:
    for field, step, per, most in ALLOY_VALUES:
        value = float(getattr(problem.assembled.parameters["alloy"], field))
        yield known_knob(
            field, TECHNOLOGY, value, (Move(ALLOY + field, value),),
            low=value / ALLOY_FACTOR, high=min(ALLOY_FACTOR * value, most),
            step=step, per=per, easier=EASIER_HIGH,
        )  # fmt: skip
