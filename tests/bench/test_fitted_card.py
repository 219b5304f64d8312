"""A fitted card is read back as it was fitted, says whence, and serves a study."""

from __future__ import annotations

from pathlib import Path

import pytest

from mdo.alloys import load_card
from mdo.alloys.card import Card
from mdo.bench.fit import Fitted
from mdo.bench.fitted_card import fitted_card, taken_of
from mdo.bench.replay import Parameter
from mdo.study import load_study
from tests.bench.first_order import TRUE, Faults, log_of

ROOT = Path(__file__).parents[2]
LOG = log_of(TRUE, Faults(), seed=0, samples=50)._replace(name="run7.csv", digest="ab" * 32)
CARD = load_card("nitihf20_set1")


def found(name: str, value: float, half: float, spread: float = 10.0) -> Fitted:
    own = CARD.fields[name].value if name in CARD.fields else value
    parameter = Parameter(name, own, own - spread, own + spread, "K")
    return Fitted(parameter, value, value - half, value + half, False, False)


def card_of(card: Card, fitted: list[Fitted], *, trained: bool = True) -> str:
    return fitted_card(card, fitted, LOG, level="motion", name="mine", trained=trained)


def test_card_is_read_back_with_its_source(tmp_path: Path) -> None:
    start = CARD.fields["austenite_start"].value
    fitted = [found("austenite_start", start - 3.0, 0.5), found("film_factor", 1.1, 0.1)]
    path = tmp_path / "mine.toml"
    path.write_text(card_of(CARD, fitted), encoding="utf-8")
    card = load_card(path)
    field = card.fields["austenite_start"]
    assert (field.value, field.low, field.high) == pytest.approx(
        (start - 3.0, start - 3.5, start - 2.5)
    )
    assert field.provenance == "fitted"
    assert not field.judged
    assert f"fitted to run7.csv (SHA-256 {'ab' * 32})" in field.source
    for name, other in CARD.fields.items():
        if name != "austenite_start":
            kept = card.fields[name]
            assert (kept.value, kept.low, kept.high, kept.source) == (
                other.value, other.low, other.high, other.source)  # fmt: skip
    text = (ROOT / "studies" / "bench_500_45_45.toml").read_text(encoding="utf-8")
    (tmp_path / "study.toml").write_text(text.replace('"nitihf20_set1"', '"mine.toml"'))
    for table in (ROOT / "studies").glob("*.csv"):
        (tmp_path / table.name).write_bytes(table.read_bytes())
    assert load_study(tmp_path / "study.toml").actuator.alloy == "mine.toml"


def test_number_on_which_the_log_told_nothing_stays() -> None:
    start = CARD.fields["austenite_start"].value
    assert taken_of(CARD, [found("austenite_start", start - 3.0, 9.5)], trained=True) == []


def test_trained_strain_takes_the_least_strain() -> None:
    value = CARD.fields["two_way_strain"].value
    one = Fitted(Parameter("strain_min", value, 0.0, 0.02, "1"), 0.009, 0.008, 0.01, False, False)
    assert "[two_way_strain]\nvalue = 0.009" in card_of(CARD, [one])
    assert "[strain_min]\nvalue = 0.009" in card_of(CARD, [one], trained=False)
