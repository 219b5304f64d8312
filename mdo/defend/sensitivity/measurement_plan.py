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


INPUT = ["rank", "input", "meaning", "unit", "value", "low", "high", "mass_share", "verdict_share"]


def test_plan(
    sensitivity: Sensitivity,
    appraisal: Appraisal,
    count: int = 3,  # noqa: PT028 - no test of ours, but what it returns
) -> pd.DataFrame:
    """Make the plan: the first numbers to test, with those that drawings settle between them.

    Parameters
    ----------
    sensitivity : of the design
    appraisal : the design, for stresses, temperatures and tubes of the tests
    count : how many tests

    Returns
    -------
    A line for each number: its place in the sensitivity (1 first), the input (SI), its shares, and
    which of them puts it here; kind of test, what to measure, on what, how, by which methods, on
    how many specimens (judgement; 0 for a drawing). ``accuracy`` is the half width of the range
    that may be left [SI; relative where ``relative``], so that the share falls below that of the
    next number, and to a quarter at most. ``mass_worth`` and ``reserve_worth`` are what it takes
    off the 95 % point of the re-optimised mass, and off the mass of backing off every binding row
    [kg]; the value found may still lie anywhere in the range. ``together`` names other inputs that
    the same test gives.
    """
    table, inputs = sensitivity.table, sensitivity.inputs
    places: list[int] = []
    covered: set[str] = set()
    tests = 0
    for k in _with_share(table):
        if tests == count:
            break
        name = FIELDS.get(inputs[k].field, "")
        if name in covered:
            continue
        places.append(k)
        if name not in OF_ONE_PART:
            covered.add(name)
        tests += method_of(inputs[k].field).kind != DRAWING
    words = _words(appraisal)
    methods = [method_of(inputs[k].field) for k in places]
    left = [remaining(table, k, places) for k in places]
    worths = [worth(sensitivity, k, part) for k, part in zip(places, left, strict=True)]
    plan = table.loc[places, INPUT]
    return plan.assign(
        for_what=np.where(plan["mass_share"] >= plan["verdict_share"], "mass", "verdict"),
        kind=[method.kind for method in methods],
        measure=[method.measure for method in methods],
        specimen=[method.specimen.format_map(words) for method in methods],
        condition=[method.condition.format_map(words) for method in methods],
        standards=[_standards(method) for method in methods],
        specimens=[method.specimens for method in methods],
        accuracy=[_half_width(inputs[k], part) for k, part in zip(places, left, strict=True)],
        relative=[inputs[k].logarithmic for k in places],
        mass_worth=[mass for mass, _ in worths],
        reserve_worth=[reserve for _, reserve in worths],
        together=[_together(sensitivity, k) for k in places],
    ).reset_index(drop=True)


def _with_share(table: pd.DataFrame) -> list[int]:
    """Places of the inputs that have a share in mass or verdict, the largest first."""
    shares = table[["mass_share", "verdict_share"]].max(axis=1)
    return list(table.index[shares > NOT_COUNTED])


def remaining(table: pd.DataFrame, k: int, places: list[int]) -> float:
    """What part of the width of an input a test may leave, 0.1 to 0.5.

    So that its variance falls below that of the largest input outside the plan, and to a quarter at
    most, in what puts it in the plan (mass or verdict).
    """
    by_mass = table.loc[k, "mass_share"] >= table.loc[k, "verdict_share"]
    shares = table["mass_share" if by_mass else "verdict_share"]
    others = shares.drop(places).to_numpy()
    return float(np.clip(np.sqrt(others.max(initial=0.0) / shares[k]), LEAST, MOST))


def worth(sensitivity: Sensitivity, k: int, left: float) -> tuple[float, float]:
    """Mass that a test takes off both reserves [kg], what the rows cost to first order.

    ``left`` : part of the width that the test leaves.
    """
    parts = np.ones(len(sensitivity.inputs))
    parts[k] = left
    optimum, rows = sensitivity.optimum, sensitivity.slopes.rows
    before = of_inputs(sensitivity.inputs, "deviation")
    spread = [
        float(np.linalg.norm(each)) for each in (sensitivity.spreads, parts * sensitivity.spreads)
    ]
    backed = [
        backing_off(optimum, sensitivity.inputs, each, rows) for each in (before, parts * before)
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
    inputs = sensitivity.inputs
    others = (inputs[other] for other in _with_share(sensitivity.table) if other != k)
    return ", ".join(other.path for other in others if FIELDS.get(other.field) == own)


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
