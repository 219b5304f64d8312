"""Study of choices as a table."""

from __future__ import annotations

import math

import pandas as pd

from mdo.defend.choices.combinations import choice_text
from mdo.defend.choices.study import EXCLUDED, FEASIBLE, Choice, ChoiceStudy
from mdo.defend.tables.legs import TIMES, times_and_power
from mdo.defend.tables.other_set import EXCLUDED_WORDS
from mdo.defend.verdict import judge
from mdo.optimise.blocking_rows import Cause


def choices_table(study: ChoiceStudy) -> pd.DataFrame:
    """Study of choices as a table, best first: choices, status, mass, what limits or kills it."""
    best = study.best.mass if study.best else math.nan
    lines = []
    for place, choice in enumerate(study.choices, 1):
        chosen = {
            name: "" if value is None else choice_text(value)
            for name, value in choice.combination.choices.items()
        }
        over = choice.mass / best - 1.0 if choice.status == FEASIBLE else math.nan
        lines.append({
            "place": place, **chosen, "status": choice.status, "verdict": _verdict(choice),
            **_times(choice), "system_mass": choice.mass, "over_best": over,
            "violation": choice.violation, "limits": "; ".join(choice.limits),
            "requirement": choice.requirement, "causes": "; ".join(map(_words, choice.causes)),
            "starts": choice.starts, "agreeing_starts": choice.agreeing,
            "same_things": choice.combination.copies, "notes": "; ".join(choice.notes),
        })  # fmt: skip
    return pd.DataFrame(lines)


def _verdict(choice: Choice) -> str:
    """Verdict of a combination; one that the cases exclude is never feasible."""
    if choice.status == FEASIBLE and choice.appraisal is not None:
        return judge(choice.appraisal).level
    return EXCLUDED_WORDS if choice.status == EXCLUDED else choice.status


def _times(choice: Choice) -> dict[str, float]:
    """Longest times and peak power of a combination, nan where it has no design."""
    at = choice.appraisal
    return dict.fromkeys(TIMES, math.nan) if at is None else times_and_power(at)


def _words(cause: Cause) -> str:
    how = "whatever the design" if cause.fixed else f"{100.0 * cause.share:.0f} %"
    return f"{cause.text}: {how}"
