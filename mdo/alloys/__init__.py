"""Alloy cards: material data with provenance, their loader and their consistency checks."""

from __future__ import annotations

from mdo.alloys.card import Card, CardError, Field, card_of, cards_meant, list_cards, load_card
from mdo.alloys.consistency import check_consistency

__all__ = [
    "Card", "CardError", "Field", "card_of", "cards_meant", "check_consistency", "list_cards",
    "load_card",
]  # fmt: skip
