"""Heat of a fold and of its return: temperature against time, and where the joules go.

All of it is read from what the level of the heat gives; a test holds the sums to the values of the
design.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import times_table
from mdo.defend.tables.never import never_heats
from mdo.disciplines.heat.record import HEAT_PARTS
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal


class Stretch(NamedTuple):
    """One stretch of a course: times [s] from the command and temperatures [K] along it."""

    time: Floats
    temperature: Floats


class Course(NamedTuple):
    """Tightest fold and its return, of the sets of one wing.

    Attributes
    ----------
    leg, side : the fold and the set that it heats
    fold, back_fold : the same in words, of the fold and of its return
    motion_time : of the fold at its fastest [s], nan where it never moves
    heating_finish : Af' of the set that is heated [K]
    heating : stretches from the coldest bay to As', to Af' and to the hot temperature
    parts : where the heat goes, words to joules of the whole set, and ``given``, what the heater
        gives
    back, cooled, cooling : the return leg, the set that cools in it, its stretches to Ms' and to
        Mf'; None and empty where no leg returns
    bay_hot : hottest bay of the return leg [K]
    """

    leg: int
    side: int
    fold: str
    back_fold: str
    motion_time: float
    heating_finish: float
    heating: tuple[Stretch, ...]
    parts: dict[str, float]
    given: float
    back: int | None
    cooled: int
    cooling: tuple[Stretch, ...]
    bay_hot: float


def heat_course(appraisal: Appraisal) -> Course | None:
    """Heat of the tightest fold and of its return; None where no heated set folds."""
    facts = Facts(appraisal)
    times = times_table(facts)
    folds = times[(times["what"] == "fold time") & times["time"].notna()]
    if not len(folds):
        return None
    leg = int((folds["time"] / folds["time_limit"]).idxmax())
    side = 0 if facts.up[leg] else 1
    back = _return_of(appraisal, facts, times["time"] / times["time_limit"], leg)
    cooled = 1 if back is not None and facts.up[back] else 0
    cooling = () if back is None else _stretches(facts, "cooling", (back, cooled), 2)
    return Course(
        leg,
        side,
        f"{facts.leg_names[leg]}: {SET_NAMES[side]}",
        "" if back is None else f"{facts.leg_names[back]}: {SET_NAMES[cooled]}",
        math.nan if never_heats(facts, leg, side) else float(facts.v["motion_time"][leg]),
        float(facts.v["heating_finish"][side]),
        _stretches(facts, "heating", (leg, side), 3),
        dict(zip(HEAT_PARTS, facts.v["stroke_heat"][leg, side].tolist(), strict=True)),
        float(facts.v["stroke_heat_given"][leg, side]),
        back,
        cooled,
        cooling,
        float(facts.v["bay_hot_temperature"][leg if back is None else back]),
    )


def _stretches(facts: Facts, which: str, at: tuple[int, int], count: int) -> tuple[Stretch, ...]:
    """Stretches of the course of one set in one leg, each with its own points."""
    time = facts.v[f"{which}_course_time"][at]
    temperature = facts.v[f"{which}_course_temperature"][at]
    skip = time.size % count  # the point at the command, before the dead time
    parts = (np.split(course[skip:], count) for course in (time, temperature))
    return tuple(Stretch(*pair) for pair in zip(*parts, strict=True))


def _return_of(appraisal: Appraisal, facts: Facts, use: Any, leg: int) -> int | None:
    """Return leg of the same case, else the tightest one, else none."""
    legs = appraisal.problem.assembled.legs
    moves = np.asarray(facts.legs.moves) > 0.5
    backs = [at for at, one in enumerate(legs) if one.is_return and moves[at]]
    own = [at for at in backs if legs[at].case == legs[leg].case]
    return max(own or backs, key=lambda at: float(use[at]), default=None)
