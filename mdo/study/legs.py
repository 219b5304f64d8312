"""Legs of a study, and the numbers of each that the coupled model takes."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines import records
from mdo.study.cases import Case
from mdo.study.study import Study

# What stands for a temperature that a case leaves out and nothing reads then [K].
ABSENT = dict.fromkeys(("bay_cold", "bay_hot", "structure_temperature"), 288.15)


class Leg(NamedTuple):
    """One leg: the case it belongs to, which way it goes, and its state."""

    label: str
    case: str
    kind: str
    is_return: bool
    state: Case
    time_limit: float
    has_return: bool
    wound_cold: bool = False
    hold_time: float = 0.0
    cooling_limit: float = 1.0


def study_legs(study: Study) -> tuple[Leg, ...]:
    """Every leg of a study, in the order of its cases; a return is its own leg."""
    legs: list[Leg] = []
    for case in study.cases:
        back = case.return_case
        limit = case.fold_time if case.fold_time is not None else 1.0
        name = case.id if back is None else f"{case.id}, fold"
        cooling = case.return_time if case.return_time is not None else 1.0
        # a set was wound in the leg before the one that it drives
        after = "cold" if back is None else back.other_set
        legs.append(
            Leg(name, case.id, case.kind, False, case, limit, back is not None,
                wound_cold=after == "cold" and case.other_set is not None, cooling_limit=cooling)
        )  # fmt: skip
        if back is not None:
            legs.append(
                Leg(f"{case.id}, return", case.id, case.kind, True, back, cooling, True,
                    wound_cold=case.other_set == "cold", hold_time=case.hold_time or 0.0,
                    cooling_limit=cooling)
            )  # fmt: skip
    return tuple(legs)


def idle_leg(like: Leg) -> Leg:
    """Stand-in of a study without static cases: a cold, unloaded soak that binds nothing."""
    state = replace(like.state, load_factor=0.0, wind_speed=0.0, bay_cold=250.0, bay_hot=250.0)
    return like._replace(label="none", case="", kind="idle", state=state)


def fold_angles(legs: tuple[Leg, ...], count: int) -> Floats:
    """Fold angles of each leg [rad], evenly from start to end, shape (legs, count)."""
    return np.array([np.linspace(leg.state.fold_from, leg.state.fold_to, count) for leg in legs])


def along_legs(legs: tuple[Leg, ...], name: str, absent: float, count: int) -> Floats:
    """Numbers of a field that stand evenly from start to end of each leg, (legs, count)."""
    at = np.linspace(0.0, 1.0, count)
    given = [getattr(leg.state, name) or (absent,) for leg in legs]
    return np.array([np.interp(at, np.linspace(0.0, 1.0, len(row)), row) for row in given])


def legs_record(legs: tuple[Leg, ...]) -> records.Legs:
    """Arrays over the legs."""
    numbers = [_numbers(leg) for leg in legs]
    return records.Legs(
        **{name: np.array([float(of[name]) for of in numbers]) for name in records.Legs._fields}
    )


def _numbers(leg: Leg) -> dict[str, float]:
    """Numbers of a leg: its own, else those of the state of its case or of its case's return."""
    state = leg.state
    moves, soak = float(leg.kind == "fold"), leg.kind == "soak"
    numbers = {
        "direction": np.sign(state.fold_to - state.fold_from) * moves,
        "angle_from": state.fold_from,
        "angle_to": state.fold_to,
        "moves": moves,
        "holds": leg.kind == "hold" and state.reacted_by == "actuator",
        "locked": state.reacted_by == "lock" and not soak,
        "soak": soak,
        "filler": 0.0,
        "airborne": state.location == "air",
        "bay_prescribed": state.bay_soak_factor is None,
        "bay_air_speed": state.cooling_air_speed,
        "other_cold": state.other_set == "cold",
        "other_warmed": state.other_set == "warmed",
        "torque_margin_required": state.torque_margin,
    }
    for name in records.Legs._fields:
        if name not in numbers:
            value = getattr(leg if name in Leg._fields else state, name)
            numbers[name] = ABSENT.get(name, 0.0) if value is None else value
    return numbers
