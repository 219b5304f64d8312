"""An alloy card with what was fitted to a log, and where each number comes from."""

from __future__ import annotations

import json
from collections.abc import Sequence

from mdo.alloys.card import HEADER, Card, Field
from mdo.alloys.fields import TRAINED_FIELD
from mdo.bench.fit import Fitted
from mdo.bench.log import Log
from mdo.quantities import QUANTITIES

STANDING = "fitted"
NARROWED = 0.9  # width over that of the range up to which a log has told something; judgement


def fitted_card(
    card: Card, fitted: Sequence[Fitted], log: Log, *, level: str, name: str, trained: bool
) -> str:
    """Text of a card: that of the study, with the fitted numbers in place of its own.

    Parameters
    ----------
    card : of the study
    fitted : parameters; those that are no fields of a card, or on which the log told nothing, are
        left out
    log : that they were fitted to
    level : what the fit was made with, in words
    name : of the new card
    trained : whether the tubes are: the least strain is then the two-way strain
    """
    taken = {_field(one, trained=trained): one for one in taken_of(card, fitted, trained=trained)}
    source = (
        f"fitted to {log.name} (SHA-256 {log.digest}), {len(log.time)} samples, by {level}; range: "
        "95 % interval by profile likelihood"
    )
    head = {
        "name": name,
        "title": f"{card.title}, fitted",
        "kind": card.kind,
        "notes": f"Card '{card.name}' with {', '.join(taken) or 'nothing'} {source}. A fit to one "
        f"log of one assembly is no qualification of an alloy.\n{card.notes.strip()}",
    }
    lines = [f"{key} = {json.dumps(head[key])}" for key in HEADER]
    for field in card.fields.values():
        one = taken.get(field.name)
        lines += ["", f"[{field.name}]", *(_as_was(field) if one is None else _new(one, source))]
    return "\n".join(lines) + "\n"


def taken_of(card: Card, fitted: Sequence[Fitted], *, trained: bool) -> list[Fitted]:
    """Fitted parameters that a card takes."""
    return [
        one
        for one in fitted
        if _field(one, trained=trained) in card.fields and one.narrowed <= NARROWED
    ]


def _field(one: Fitted, *, trained: bool) -> str:
    """Field of a card that a parameter is."""
    name = one.parameter.name
    return TRAINED_FIELD if trained and name == "strain_min" else name


def _as_was(field: Field) -> list[str]:
    numbers = {"value": field.value, "low": field.low, "high": field.high}
    return [
        *(_number(key, value, field.name) for key, value in numbers.items() if value is not None),
        f"source = {json.dumps(field.source)}",
        f"provenance = {json.dumps(field.provenance)}",
        f"judged = {json.dumps(field.judged)}",
    ]


def _new(one: Fitted, source: str) -> list[str]:
    numbers = {"value": one.value, "low": one.low, "high": one.high}
    return [
        *(_number(key, value, one.parameter.name) for key, value in numbers.items()),
        f"source = {json.dumps(source)}",
        f'provenance = "{STANDING}"',
        "judged = false",
    ]


def _number(key: str, value: float, name: str) -> str:
    unit = QUANTITIES[name].unit
    return f"{key} = {value!r}" if unit == "1" else f'{key} = "{value!r} {unit}"'
