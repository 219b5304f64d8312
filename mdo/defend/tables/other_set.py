"""What each state of the other set does to a design: times, power, what no longer holds."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.choices.combinations import Combination, combinations, prepare
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import TIMES, times_and_power, times_table
from mdo.defend.verdict import judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import DesignProblem
from mdo.study.assemble import alloy_card
from mdo.study.cases import OTHER_SETS
from mdo.study.study import Study

OPPOSED = "opposed"
EXCLUDED_WORDS = "excluded by the cases"


COLUMNS = [
    "other_set", "trained", "own", *TIMES, "status", "row", "worst", "failing", "verdict",
]  # fmt: skip


def states_of(study: Study) -> dict[str, list[str | bool]]:
    """Every state of the other set and of training that the study's card allows, as options."""
    trained = "two_way_strain" in alloy_card(study).fields
    return {"other_set": [*OTHER_SETS], "trained": [False, True] if trained else [False]}


def other_set_table(appraisal: Appraisal) -> pd.DataFrame:
    """What each state of the other set does to this design; no line where there is no other set.

    A line for every state, the same in every motion, trained or not. Times are the longest of all
    legs [s], the power is that of the aircraft [W]; ``row`` is the least normalised row, 0 or more
    where all holds, and ``worst`` names it; ``status`` says what never ends.
    """
    return _states(appraisal.problem, appraisal.x.tobytes()).copy()


@lru_cache(maxsize=2)  # table, page and terminal ask for the same design
def _states(problem: DesignProblem, design: bytes) -> pd.DataFrame:
    study, lines = problem.study, []
    if study.actuator.configuration == OPPOSED:
        motions = [case for case in study.cases if case.kind == "fold"]
        states = {case.other_set for case in motions}
        states |= {case.return_case.other_set for case in motions if case.return_case is not None}
        for each in combinations(study, states_of(study)):
            trained = each.choices["trained"] == study.actuator.trained
            own = trained and states == {each.choices["other_set"]}
            lines.append(_line(problem, np.frombuffer(design), each) | {"own": own})
    return pd.DataFrame(lines, columns=COLUMNS)


def _line(problem: DesignProblem, x: Floats, combination: Combination) -> dict[str, Any]:
    """Evaluate the design in one state."""
    prepared = prepare(problem, combination)
    line: dict[str, Any] = {
        **combination.choices, **dict.fromkeys(TIMES, math.nan), "status": "", "row": math.nan,
        "worst": prepared.fault, "failing": 0, "verdict": "not a study",
    }  # fmt: skip
    if prepared.problem is not None:
        line |= _evaluated(prepared.problem, x)
    if prepared.excluded:  # never feasible, whatever the rows say
        line["verdict"] = EXCLUDED_WORDS
    return line


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
