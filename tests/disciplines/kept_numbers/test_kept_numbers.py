"""No number of any record moves without being stated.

The numbers kept in ``numbers.json`` are the tool's own: that they come out again proves nothing of
their being right, which is what the tests with sources are for. It shows that a change of the code
moves results, which, and by how much; the changelog must say so. After a change that means to:
``python -m tests.disciplines.kept_numbers.keep`` keeps what comes out and prints the table for it.
"""

from __future__ import annotations

from copy import deepcopy

import pytest

from . import kept
from .evaluated import PLACES

ADVICE = "state it in CHANGELOG.md and run python -m tests.disciplines.kept_numbers.keep"


@pytest.mark.parametrize("place", PLACES)
def test_numbers_are_those_kept(place: str) -> None:
    now = kept.kept_of({place: PLACES[place]()})
    moved = kept.moved_between({place: kept.read()[place]}, now)
    assert not moved, f"numbers moved; where that is meant, {ADVICE}\n{kept.table(moved, 20)}"


def test_every_place_is_kept() -> None:
    assert list(kept.read()) == list(PLACES)


def test_what_moves_is_seen() -> None:
    old = kept.kept_of({"place": {"few": [2.0, -3.0], "many": [1.0, -4.0, 1e3, 0.1, 7.0, 2e-3]}})
    assert kept.moved_between(old, old) == []
    for field, values in {
        "few": [2.0, -3.0 * (1.0 + 3e-8)],
        "many": [1.0, -4.0, 1e3, 0.1, 7.0 * (1.0 + 1e-4), 2e-3],  # a small one beside a large one
    }.items():
        now = deepcopy(old) | {"place": {**old["place"], field: kept.numbers_of(values)}}
        assert [one.field for one in kept.moved_between(old, now)] == [field]
    exchanged = {
        "place": {**old["place"], "many": kept.numbers_of([-4.0, 1.0, 1e3, 0.1, 7.0, 2e-3])}
    }
    assert [one.field for one in kept.moved_between(old, exchanged)] == ["many"]
    gone = {"place": {"few": old["place"]["few"]}}
    assert [one.by for one in kept.moved_between(old, gone)] == [float("inf")]
