"""Open items of a verdict, short enough for a summary; the verdict itself has them in full."""

from __future__ import annotations

from collections.abc import Sequence

from mdo.alloys.card import Field
from mdo.defend.cautions.collect import STOP, evaluate_cautions
from mdo.defend.defence import defence_of
from mdo.defend.verdict import judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knobs import ALLOY

MOST_JUDGED = 3  # values of the card that an open item names


def open_item_texts(appraisal: Appraisal, ranked: Sequence[str] = ()) -> list[str]:
    """Open items of the verdict, the cautions among them as one line of their ids.

    Parameters
    ----------
    appraisal : the design
    ranked : paths of the uncertain inputs, those that matter most first, where they were found
    """
    stops = [caution.id for caution in evaluate_cautions(appraisal) if caution.severity == STOP]
    whole = ("caution ", "alloy card ")
    items = [item for item in judge(appraisal).open_items if not item.startswith(whole)]
    if appraisal.problem.assembled.card.judged_fields:
        items.insert(0, _judged_text(appraisal, ranked))
    if stops:
        items.append(f"cautions that must be cleared or confirmed, see there: {', '.join(stops)}")
    return items


def ranked_inputs(appraisal: Appraisal) -> tuple[str, ...]:
    """Paths of the uncertain inputs of a defended optimum, those that matter most first."""
    defence = defence_of(appraisal)
    sensitivity = None if defence is None else defence.sensitivity
    if sensitivity is None:
        return ()
    return tuple(sensitivity.inputs[place].path for place in sensitivity.ranking())


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
