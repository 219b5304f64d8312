"""What each state of the other set does to a design: times, power, what no longer holds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.choices.combinations import Combination, combinations, prepare
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.frame import of_lines
from mdo.defend.tables.legs import TIMES, times_and_power, times_table
from mdo.defend.verdict import judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import DesignProblem
from mdo.study.assemble import alloy_card
from mdo.study.cases import OTHER_SETS
from mdo.study.study import Study

OPPOSED = "opposed"
EXCLUDED_WORDS = "excluded by the cases"


class StateLine(NamedTuple):
    """A design with its other set in one state in every motion, trained or not.

    Times are the longest of all legs [s], the power is that of the aircraft [W]; ``row`` is the
    least normalised row, 0 or more where all holds, and ``worst`` names it; ``status`` says what
    never ends.
    """

    other_set: str
    trained: bool
    own: bool
    fold_time: float
    return_time: float
    from_rest_time: float
    peak_power: float
    status: str
    row: float
    worst: str
    failing: int
    verdict: str


def states_of(study: Study) -> dict[str, list[str | bool]]:
    """Every state of the other set and of training that the study's card allows, as options."""
    trained = "two_way_strain" in alloy_card(study).fields
    return {"other_set": [*OTHER_SETS], "trained": [False, True] if trained else [False]}


def other_set_table(appraisal: Appraisal) -> pd.DataFrame:
    """What each state of the other set does to this design; no line where there is no other set."""
    return of_lines(StateLine, _lines(appraisal.problem, appraisal.x.tobytes()))


@lru_cache(maxsize=2)  # table, page and terminal ask for the same design
def _lines(problem: DesignProblem, design: bytes) -> tuple[StateLine, ...]:
    study = problem.study
    if study.actuator.configuration != OPPOSED:
        return ()
    motions = [case for case in study.cases if case.kind == "fold"]
    states = {case.other_set for case in motions}
    states |= {case.return_case.other_set for case in motions if case.return_case is not None}

    def is_own(choices: Mapping[str, Any]) -> bool:
        return states == {choices["other_set"]} and choices["trained"] == study.actuator.trained

    x = np.frombuffer(design)
    return tuple(
        _line(problem, x, each, own=is_own(each.choices))
        for each in combinations(study, states_of(study))
    )


def _line(problem: DesignProblem, x: Floats, combination: Combination, *, own: bool) -> StateLine:
    """Evaluate the design in one state."""
    prepared = prepare(problem, combination)
    line: dict[str, Any] = {
        **combination.choices, "own": own, **dict.fromkeys(TIMES, math.nan), "status": "",
        "row": math.nan, "worst": prepared.fault, "failing": 0, "verdict": "not a study",
    }  # fmt: skip
    if prepared.problem is not None:
        line |= _evaluated(prepared.problem, x)
    if prepared.excluded:  # never feasible, whatever the rows say
        line["verdict"] = EXCLUDED_WORDS
    return StateLine(**line)


def _evaluated(problem: DesignProblem, x: Floats) -> dict[str, Any]:
    """Times, power, rows and verdict of a design in a changed study."""
    at = Appraisal("evaluate", problem, x, problem.values(x), None, "state of the other set")
    least = min(at.rows, key=lambda row: row.value)
    status = dict.fromkeys(times_table(Facts(at))["status"])
    return {
        **times_and_power(at), "status": "; ".join(filter(None, status)), "row": least.value,
        "worst": least.text, "failing": len({row.label.group for row in at.violated}),
        "verdict": judge(at).level,
    }  # fmt: skip
