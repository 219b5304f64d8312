"""What a deviation from the drawing, or of a lot of the alloy, does to a design; all else kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from mdo.defend.tables.facts import Facts
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.optimise.problem import DesignProblem
from mdo.study.number_text import percent

SHARP = 0.01  # share of a shift to which its borne part is found
NAMED = 2  # kinds of requirement named where more fail
SMALL = 0.01  # share of a size that is tried to either side
TEMPERATURES = ("martensite_start", "martensite_finish", "austenite_start", "austenite_finish")
# Sizes of a tube as powers of design variables: the diameter leaves the wall as it is.
SIZES = {
    "outer diameter": {"tube_outer_radius": 1, "wall_ratio": -1},
    "wall": {"wall_ratio": 1},
    "active length": {"tube_length": 1},
}
GATES = ("return_temperature", "self_start", "static_self_start")  # hold the lot tolerance already


def deviations(basis: Appraisal) -> dict[str, str]:
    """What 1 % less and 1 % more of each size of a tube does, in words."""
    effects = {}
    for name, powers in SIZES.items():
        parts = []
        for words, factor in (("less", 1.0 - SMALL), ("more", 1.0 + SMALL)):
            x = np.array(basis.x)
            for variable, power in powers.items():
                x[basis.problem.labels.index(variable)] *= factor**power
            tried = replace(basis, x=x, values=basis.problem.values(x))
            parts.append(f"1 % {words}: {_effect(basis, tried)}")
        effects[name] = ". ".join(parts)
    return effects


def lot_ends(basis: Appraisal, lot: float) -> Iterator[tuple[str, str]]:
    """Name and words of a lot whose four temperatures all lie at an end of the tolerance."""
    for words, way, shift in (("low", "lower", -lot), ("high", "higher", lot)):
        tried = _with_shift(basis, shift)
        texts = {row.label.group: row.text for row in reversed(_broken(basis, tried))}
        state = f"fails: {'; '.join(texts.values())}" if texts else "the requirements still hold"
        text = (
            f"all four {abs(shift):g} K {way}, hot temperature as set: {state}; least torque "
            f"margin {_margin(least_margin(tried))}"
        )
        yield f"lot at its {words} end", text


def borne_shifts(basis: Appraisal, lot: float) -> tuple[float, float]:
    """Largest shift down and up of the four temperatures, at most the lot tolerance, that is borne.

    Borne: no requirement fails that did not fail before, the hot temperature kept as it is set.
    """
    down, up = (_borne(basis, sign * lot) for sign in (-1.0, 1.0))
    return down, up


def _borne(basis: Appraisal, end: float) -> float:
    """Largest part of a shift that is borne, by bisection to a hundredth of it."""
    good, bad, share = 0.0, 1.0, 1.0
    while bad - good > SHARP:
        if not _broken(basis, _with_shift(basis, share * end)):
            good = share
        else:
            bad = share
        share = (good + bad) / 2.0
    return good * end


def _with_shift(basis: Appraisal, shift: float) -> Appraisal:
    problem = shifted_alloy(basis.problem, shift)
    return replace(basis, problem=problem, values=problem.values(basis.x))


def _broken(basis: Appraisal, tried: Appraisal, kept: tuple[str, ...] = GATES) -> list[RowResult]:
    """Rows that fail and did not before; the gates hold the lot tolerance already."""
    own = {row.text for row in basis.violated}
    return [row for row in tried.violated if row.text not in own and row.label.group not in kept]


def shifted_alloy(problem: DesignProblem, shift: float) -> DesignProblem:
    """Problem with the transformation temperatures of its alloy shifted [K]; nothing else."""
    alloy = problem.assembled.parameters["alloy"]
    moved = alloy._replace(**{name: getattr(alloy, name) + shift for name in TEMPERATURES})
    return problem.with_parameters({**problem.assembled.parameters, "alloy": moved})


def least_margin(appraisal: Appraisal) -> float:
    """Least torque margin over the heated legs and their angles; NaN where no load resists."""
    return float(np.fmin.reduce(Facts(appraisal).margins("torque_margin"), axis=None))


def _margin(margin: float) -> str:
    """Torque margin in words; where nothing is available the ratio says little."""
    return "none (A < 0)" if margin <= -1.0 else percent(margin)


def _effect(basis: Appraisal, tried: Appraisal) -> str:
    """Least torque margin before and after, and what fails then."""
    before, after = (_margin(least_margin(design)) for design in (basis, tried))
    change = f"least torque margin {before} to {after}"
    broken = _broken(basis, tried, kept=())
    titles = list(dict.fromkeys(row.label.requirement.title for row in broken))
    if not titles:
        return change
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    return f"{change}, then fail: {'; '.join(titles[:NAMED])}{more}"
