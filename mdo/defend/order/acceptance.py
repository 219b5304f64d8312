"""Acceptance tests of a lot of tubes, read from ``acceptance.toml``; every number from memory."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import NamedTuple

from mdo.optimise.appraisal import Appraisal

FILE = Path(__file__).with_name("acceptance.toml")


class AcceptanceTest(NamedTuple):
    """Standard, what it is asked for, and what to mind."""

    standard: str
    what: str
    note: str


def acceptance_tests(basis: Appraisal) -> tuple[AcceptanceTest, ...]:
    """Tests that a lot of tubes is accepted by; that of chemistry depends on the alloy."""
    content = tomllib.loads(FILE.read_text(encoding="utf-8"))
    card = basis.problem.assembled.card
    marks = f"{content['third_element']}|{content['nickel_rich']}"
    kind = "other" if re.search(marks, f"{card.name} {card.title}") else "binary"
    return tuple(
        AcceptanceTest(
            test["standard"],
            test["what"],
            test["note"].format(from_memory=content["from_memory"]),
        )
        for test in content["test"]
        if test.get("alloys", kind) == kind
    )
