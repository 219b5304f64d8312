"""Acceptance tests of a lot of tubes, named by open standard; every number from memory."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from mdo.optimise.appraisal import Appraisal

FROM_MEMORY = "number and scope from memory: confirm the current issue"
THIRD_ELEMENT = re.compile(r"Hf|Zr|Pd|Pt|Cu|Au|Co(?![a-z])|Nb|hf|zr")
NICKEL_RICH = re.compile(r"\b60-?NiTi|ni60", re.IGNORECASE)


class AcceptanceTest(NamedTuple):
    """Standard, what it is asked for, and what to mind."""

    standard: str
    what: str
    note: str


def acceptance_tests(basis: Appraisal) -> Iterator[AcceptanceTest]:
    """Tests that a lot of tubes is accepted by."""
    card = basis.problem.assembled.card
    yield AcceptanceTest(
        "ASTM F2004",
        "transformation temperatures by thermal analysis (DSC): Ms, Mf, As, Af at zero stress, "
        "within the bands above, chips from both ends of every bar",
        f"annealed and as delivered; {FROM_MEMORY}",
    )
    yield AcceptanceTest(
        "ASTM F2082",
        "austenite finish of the finished form by bend and free recovery; for tubes on strips or "
        "wire cut from the wall",
        f"cross-check of Af; {FROM_MEMORY}",
    )
    yield _chemistry(f"{card.name} {card.title}")
    yield AcceptanceTest(
        "ASTM E143",
        "shear modulus of martensite and of austenite, cold and hot, by torsion of the tube",
        FROM_MEMORY,
    )
    yield AcceptanceTest(
        "ASTM E8/E8M",
        "strength and elongation in tension, hot (austenite), of samples of the lot",
        FROM_MEMORY,
    )
    yield AcceptanceTest(
        "ASTM E3097",
        "actuation strain and its drift: thermal cycles under constant force",
        "made for tension; in torsion by agreement on the tube itself, with the operating stress "
        f"above; {FROM_MEMORY}",
    )
    yield AcceptanceTest(
        "no open standard known",
        "outer diameter, wall and straightness of every tube; cracks of the outer face by dye "
        "penetrant or eddy current",
        "by agreement with the maker; limits from the drawing",
    )


def _chemistry(alloy: str) -> AcceptanceTest:
    """Test of chemistry: a standard for binary NiTi near equal parts only."""
    if THIRD_ELEMENT.search(alloy) or NICKEL_RICH.search(alloy):
        return AcceptanceTest(
            "no open standard known",
            "chemistry, carbon, oxygen and inclusions: agree limits with the maker",
            "ASTM F2063 covers binary NiTi near equal parts only, which this alloy is not; "
            f"{FROM_MEMORY}",
        )
    return AcceptanceTest(
        "ASTM F2063",
        "chemistry, carbon, oxygen, hydrogen and inclusions of wrought binary NiTi",
        f"written for medical use, binary alloys near equal parts; {FROM_MEMORY}",
    )
