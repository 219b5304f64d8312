"""The verdict on a design: infeasible, feasible with open items, or feasible."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mdo.alloys.card import Field
from mdo.alloys.fields import FUNCTIONAL_LOSS
from mdo.defend.cautions.rules import STOP, Caution, evaluate_cautions
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knobs import ALLOY
from mdo.optimise.verify import short_legs

INFEASIBLE = "infeasible"
OPEN_ITEMS = "feasible with open items"
PASSES = "feasible"
MOST_JUDGED = 3  # values of the card that an open item names
CLOSED = 1e-4  # residual of a march
TURNED_BACK = 0.98  # of a stroke, from which a set that cools is back


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
    card, cautions = appraisal.problem.assembled.card, _cautions_that_stop(appraisal)
    names = ", ".join(name.replace("_", " ") for name in card.judged_fields)
    judged = f"alloy card {card.name} rests on judgement for: {names}"
    return (
        *([judged] if names else []),
        *_other_items(appraisal),
        *(f"caution {caution.id}: {caution.text}" for caution in cautions),
    )


def open_item_texts(appraisal: Appraisal, ranked: Sequence[str] = ()) -> list[str]:
    """Open items short enough for a summary, the cautions among them as one line of their ids.

    Parameters
    ----------
    appraisal : the design
    ranked : paths of the uncertain inputs, those that matter most first, where they were found
    """
    judged = appraisal.problem.assembled.card.judged_fields
    ids = [caution.id for caution in _cautions_that_stop(appraisal)]
    cautions = f"{len(ids)} caution{'s' * (len(ids) > 1)} to be cleared or confirmed, see there: "
    return [
        *([_judged_text(appraisal, ranked)] if judged else []),
        *_other_items(appraisal),
        *([cautions + ", ".join(ids)] if ids else []),
    ]


def _cautions_that_stop(appraisal: Appraisal) -> list[Caution]:
    return [caution for caution in evaluate_cautions(appraisal) if caution.severity == STOP]


def _other_items(appraisal: Appraisal) -> list[str]:
    """Open items beside judged values of the card and cautions."""
    card, items = appraisal.problem.assembled.card, []
    if not card.has_life_law:
        items.append("life is declared, not known: the alloy card has no life law")
    if not set(FUNCTIONAL_LOSS) & card.fields.keys():
        items.append(
            f"loss of stroke over the life is not known: alloy card {card.name} gives no "
            f"{' or '.join(FUNCTIONAL_LOSS)}, so nothing is taken off the stroke margin"
        )
    if legs := legs_found_warm(appraisal):
        items.append(
            f"these motions find the other set just heated, as declared: {', '.join(legs)}; after "
            "a longer wait that set is cold and must first be warmed, or detwinned with more torque"
        )
    return items + marched_short(appraisal)


def _judged_text(appraisal: Appraisal, ranked: Sequence[str]) -> str:
    """Return how many values of the alloy card are judged, and the three that matter most.

    They are those that move mass and verdict of a defended optimum most, else the least known.
    """
    card = appraisal.problem.assembled.card
    judged = list(card.judged_fields)
    if ranked:
        places = {path: at for at, path in enumerate(ranked)}
        lead = "those that matter most here"
        first = sorted(judged, key=lambda name: places.get(ALLOY + name, len(ranked)))
    else:
        lead, first = "least known", sorted(judged, key=lambda name: -_spread(card.fields[name]))
    names = ", ".join(name.replace("_", " ") for name in first[:MOST_JUDGED])
    share = f"{len(judged)} of {len(card.fields)}"
    return f"{share} values of alloy card {card.name} are judged, not measured; {lead}: {names}"


def _spread(field: Field) -> float:
    """Width of the range of a value over the value; zero without a range."""
    if field.low is None or field.high is None or field.value == 0.0:
        return 0.0
    return (field.high - field.low) / abs(field.value)


def marched_short(appraisal: Appraisal) -> list[str]:
    """Say where a design that meets its torque margin does not along its path."""
    found = appraisal.verification
    if found is None:
        return []
    known, required = appraisal.values, appraisal.known["legs"].torque_margin_required
    short = []
    for at in np.flatnonzero(short_legs(appraisal.problem, known, found)):
        margin, leg = found.values["torque_margin"][at].min(), appraisal.problem.assembled.legs[at]
        asked = 100 * float(required[at])
        short.append(f"{leg.label} {100 * margin:.0f} % (asked for {asked:.0f} %)")
    items = []
    short_back = found.driven & (found.march.wound_share < TURNED_BACK)
    if short_back.any():
        legs = appraisal.problem.assembled.legs
        items.append(
            "cooled where the stroke ends, the tubes do not turn back all of it along their path "
            f"(incremental): {', '.join(legs[at].label for at in np.flatnonzero(short_back))}; "
            "sizing winds them by the load of each angle, and there it gives too little: give that "
            "end a load, a spring or a second set, or show the return by test (motion says how far)"
        )
    if short:
        items.append(
            "along the path of its tubes (incremental) the torque margin falls short: "
            + ", ".join(short)
        )
    if float(found.march.residual[found.driven].max(initial=0.0)) > CLOSED:
        items.append("a march along the path of the tubes did not close")
    fed_back = "tube" not in appraisal.study.fidelity.correct
    optimum = appraisal.optimum
    if fed_back and optimum is not None and optimum.feasible and not found.settled:
        items.append("the mass has not come to rest with stress, drag and strain of its own paths")
    return items


def legs_found_warm(appraisal: Appraisal) -> tuple[str, ...]:
    """Name the motions of a pair whose verdict rests on an other set that is still warm.

    A pair that cools first and is then re-twisted is taken cold, whatever its legs declare.
    """
    actuator = appraisal.study.actuator
    if actuator.configuration != "opposed" or actuator.return_mode != "cool_under_load":
        return ()
    legs = appraisal.problem.assembled.legs
    return tuple(leg.label for leg in legs if leg.state.other_set == "just_heated")
