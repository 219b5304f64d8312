"""The verdict on a design: infeasible, feasible with open items, or feasible."""

from __future__ import annotations

from typing import NamedTuple

from mdo.defend.cautions.collect import STOP, evaluate_cautions
from mdo.optimise.appraisal import Appraisal

INFEASIBLE = "infeasible"
OPEN_ITEMS = "feasible with open items"
PASSES = "feasible"


class Verdict(NamedTuple):
    """Level (infeasible, feasible with open items, feasible), its causes and open items."""

    level: str
    causes: tuple[str, ...]
    open_items: tuple[str, ...]


def judge(appraisal: Appraisal) -> Verdict:
    """Judge a design; an infeasible one has the worst row of each kind as its causes."""
    items = open_items(appraisal)
    if appraisal.violated:
        causes: dict[str, str] = {}
        for row in appraisal.violated:
            causes.setdefault(row.label.group, row.text)
        return Verdict(INFEASIBLE, tuple(causes.values()), items)
    return Verdict(OPEN_ITEMS if items else PASSES, (), items)


def open_items(appraisal: Appraisal) -> tuple[str, ...]:
    """What keeps a design from a plain 'feasible': judged alloy data, declared life, cautions."""
    card = appraisal.problem.assembled.card
    items = []
    if card.judged_fields:
        names = ", ".join(name.replace("_", " ") for name in card.judged_fields)
        items.append(f"alloy card {card.name} rests on judgement for: {names}")
    if not card.has_life_law:
        items.append("life is declared, not known: the alloy card has no life law")
    if legs := legs_found_warm(appraisal):
        items.append(
            f"these motions find the other set just heated, as declared: {', '.join(legs)}; after "
            "a longer wait that set is cold and must first be warmed, or detwinned with more torque"
        )
    items += [
        f"caution {caution.id} needs confirming: {caution.text}"
        for caution in evaluate_cautions(appraisal)
        if caution.severity == STOP
    ]
    return tuple(items)


def legs_found_warm(appraisal: Appraisal) -> tuple[str, ...]:
    """Name the motions of a pair whose verdict rests on an other set that is still warm.

    A pair that cools first and is then re-twisted is taken cold, whatever its legs declare.
    """
    actuator = appraisal.study.actuator
    if actuator.configuration != "opposed" or actuator.return_mode != "cool_under_load":
        return ()
    legs = appraisal.problem.assembled.legs
    return tuple(leg.label for leg in legs if leg.state.other_set == "just_heated")
