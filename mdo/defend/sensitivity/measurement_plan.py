"""The test plan: which numbers to measure first, how, how well, and what it is worth.

The order is that of the sensitivity. A number that the test of an earlier one gives too is named
there and asks for no test of its own; one that a drawing settles takes its place in the plan but
does not count as a test. Standards are named from memory; how many specimens is judgement.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import norm

from mdo.data_files import toml_beside
from mdo.defend.sensitivity.reliability import CONFIDENCE, backing_off
from mdo.defend.sensitivity.sensitivity import Sensitivity
from mdo.defend.tables.frame import of_lines
from mdo.defend.uncertain import Uncertain, of_inputs
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import quantity

IN_HOUSE, DRAWING = "in-house test", "detailed design"
NO_STANDARD = "no standard method known: in-house test"
CONFIRM = "from memory, confirm the current issue"


class Method(NamedTuple):
    """How an input is measured.

    Attributes
    ----------
    kind
        ``standard test``, ``in-house test``, or ``detailed design`` where a drawing settles it.
    measure
        What is measured.
    specimen
        On what; may name ``{tube}``.
    condition
        How; may name ``{stress}``, ``{hot}``, ``{cold}``, ``{folds}``.
    standards
        Test methods by number and scope; empty where none is known.
    specimens
        How many, as a suggestion: judgement.
    fields
        Inputs that it gives.
    """

    kind: str
    measure: str
    specimen: str
    condition: str
    standards: list[str]
    specimens: int
    fields: list[str]


UNKNOWN = Method(IN_HOUSE, "the quantity itself", "a part as drawn", "as in service", [], 3, [])
METHODS = {
    name: Method(**entry) for name, entry in toml_beside(__file__, "laboratory_methods").items()
}
FIELDS = {field: name for name, method in METHODS.items() for field in method.fields}


def method_of(field: str) -> Method:
    """Method by which a field is measured; one of our own where none is listed."""
    return METHODS[FIELDS[field]] if field in FIELDS else UNKNOWN


# Of the width now: what a test is asked to leave of it; judgement, a quarter of the share at most.
LEAST, MOST = 0.1, 0.5
NOT_COUNTED = 1e-9  # share below which a number has none
# Methods that give one number of one part or material, however many numbers they serve.
OF_ONE_PART = frozenset({"", "drawing", "weighing", "density", "heat_capacity", "diffusivity"})


class LabTest(NamedTuple):
    """One number of the test plan.

    Attributes
    ----------
    rank, path, meaning, unit, value, low, high
        Place in the sensitivity (1 first) and the input, SI.
    mass_share, verdict_share, for_what
        Shares, and which of them puts it here: ``mass`` or ``verdict``.
    kind
        ``standard test``, ``in-house test`` or ``detailed design``.
    measure, specimen, condition, standards
        What to measure, on what, how, and by which methods.
    specimens
        Suggested number: judgement. 0 for a drawing.
    accuracy
        Half width of the range that may be left [SI; relative where ``relative``], so that the
        share falls below that of the next number, and to a quarter at most.
    relative
        Whether the accuracy is a fraction of the value.
    mass_worth, reserve_worth
        What that accuracy takes off the 95 % point of the re-optimised mass, and off the mass of
        backing off every binding row [kg]; the value found may still lie anywhere in the range.
    together
        Other inputs that the same test gives.
    """

    rank: int
    path: str
    meaning: str
    unit: str
    value: float
    low: float
    high: float
    mass_share: float
    verdict_share: float
    for_what: str
    kind: str
    measure: str
    specimen: str
    condition: str
    standards: str
    specimens: int
    accuracy: float
    relative: bool
    mass_worth: float
    reserve_worth: float
    together: str


def test_plan(
    sensitivity: Sensitivity,
    appraisal: Appraisal,
    count: int = 3,  # noqa: PT028 - no test of ours, but what it returns
) -> tuple[LabTest, ...]:
    """Make the plan: the first numbers to test, with those that drawings settle between them.

    Parameters
    ----------
    sensitivity : of the design
    appraisal : the design, for stresses, temperatures and tubes of the tests
    count : how many tests
    """
    places: list[int] = []
    covered: set[str] = set()
    tests = 0
    for k in sensitivity.ranking():
        if tests == count or not sensitivity.effects[k].share > NOT_COUNTED:
            break
        name = FIELDS.get(sensitivity.inputs[k].field, "")
        if name in covered:
            continue
        places.append(k)
        if name not in OF_ONE_PART:
            covered.add(name)
        tests += method_of(sensitivity.inputs[k].field).kind != DRAWING
    words = _words(appraisal)
    ranks = {k: rank for rank, k in enumerate(sensitivity.ranking(), 1)}
    return tuple(_test(sensitivity, k, ranks[k], places, words) for k in places)


def test_plan_table(plan: tuple[LabTest, ...]) -> pd.DataFrame:
    """Plan as a table; see :class:`LabTest` for the columns."""
    return of_lines(LabTest, plan).rename(columns={"path": "input"})


def _test(
    sensitivity: Sensitivity, k: int, rank: int, places: list[int], words: dict[str, str]
) -> LabTest:
    entry, effect = sensitivity.inputs[k], sensitivity.effects[k]
    method = method_of(entry.field)
    left = remaining(sensitivity, k, places)
    mass_worth, reserve_worth = worth(sensitivity, k, left)
    by = "mass" if effect.mass_share >= effect.verdict_share else "verdict"
    return LabTest(
        rank, entry.path, entry.meaning, entry.unit, entry.value, entry.low, entry.high,
        effect.mass_share, effect.verdict_share, by, method.kind, method.measure,
        method.specimen.format_map(words), method.condition.format_map(words), _standards(method),
        method.specimens, _half_width(entry, left), entry.logarithmic, mass_worth, reserve_worth,
        _together(sensitivity, k),
    )  # fmt: skip


def remaining(sensitivity: Sensitivity, k: int, places: list[int]) -> float:
    """What part of the width of an input a test may leave, 0.1 to 0.5.

    So that its variance falls below that of the largest input outside the plan, and to a quarter at
    most, in what puts it in the plan (mass or verdict).
    """
    effect = sensitivity.effects[k]
    by_mass = effect.mass_share >= effect.verdict_share
    shares = np.array(
        [other.mass_share if by_mass else other.verdict_share for other in sensitivity.effects]
    )
    others = np.delete(shares, places)
    return float(np.clip(np.sqrt(others.max(initial=0.0) / shares[k]), LEAST, MOST))


def worth(sensitivity: Sensitivity, k: int, left: float) -> tuple[float, float]:
    """Mass that a test takes off both reserves [kg], first order.

    ``left`` : part of the width that the test leaves.
    """
    before = of_inputs(sensitivity.inputs, "deviation")
    after = before.copy()
    after[k] *= left
    slopes, optimum = sensitivity.slopes, sensitivity.optimum
    spread = [float(np.linalg.norm(each * slopes.optimum_mass)) for each in (before, after)]
    backed = [
        backing_off(optimum, sensitivity.inputs, each, slopes.rows) for each in (before, after)
    ]
    return float(norm.ppf(CONFIDENCE)) * (spread[0] - spread[1]), backed[0] - backed[1]


def _half_width(entry: Uncertain, left: float) -> float:
    """Half width of a range of which a part is left; relative for a logarithmic one."""
    if entry.logarithmic:
        return float(np.expm1(0.5 * left * np.log(entry.high / entry.low)))
    return 0.5 * left * (entry.high - entry.low)


def _standards(method: Method) -> str:
    if method.kind == DRAWING:
        return ""
    named = "; ".join(f"{text}, {CONFIRM}" for text in method.standards)
    if method.kind == IN_HOUSE:
        return f"{NO_STANDARD}" + (f"; leaning on {named}" if named else "")
    return named


def _together(sensitivity: Sensitivity, k: int) -> str:
    """Other inputs that the same method gives, those with a share only, largest first."""
    own = FIELDS.get(sensitivity.inputs[k].field)
    if own is None or own in OF_ONE_PART:
        return ""
    return ", ".join(
        sensitivity.inputs[other].path
        for other in sensitivity.ranking()
        if other != k
        and FIELDS.get(sensitivity.inputs[other].field) == own
        and sensitivity.effects[other].share > NOT_COUNTED
    )


def _words(appraisal: Appraisal) -> dict[str, str]:
    """Tube, stress, temperatures and folds of the design, for the words of the methods."""
    design, given = appraisal.design, appraisal.problem.assembled.parameters
    present = np.asarray(given["choices"].set_present) > 0.5
    radius = float(design["tube_outer_radius"])
    outputs = appraisal.values  # noqa: PD011 - no pandas
    folds = float(np.max(outputs["folds_total"]))
    cold = float(np.min(outputs["bay_cold_temperature"]))
    return {
        "tube": f"{quantity(2.0 * radius, 'm')} outer diameter, wall "
        f"{quantity(radius * float(design['wall_ratio']), 'm')}",
        "stress": f"{quantity(float(design['operating_stress'][present].max()), 'Pa', digits=3)} "
        "mean shear",
        "hot": quantity(float(design["hot_temperature"]), "K"),
        "cold": quantity(cold, "K"),
        "folds": f"{folds:.0f}",
    }
