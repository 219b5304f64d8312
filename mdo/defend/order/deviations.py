"""What a deviation from the drawing, or of a lot of the alloy, does to a design; all else kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.tube.record import NO_RESISTANCE
from mdo.optimise.appraisal import Appraisal, RowResult
from mdo.optimise.problem import DesignProblem
from mdo.study.number_text import percent

Floats = NDArray[np.float64]
SHARP = 0.01  # share of a shift to which its borne part is found
NAMED = 2  # kinds of requirement named where more fail
SMALL = 0.01  # share of a size that is tried to either side
TEMPERATURES = ("martensite_start", "martensite_finish", "austenite_start", "austenite_finish")
GATES = ("return_temperature", "self_start", "static_self_start")  # hold the lot tolerance already


def deviations(basis: Appraisal) -> dict[str, str]:
    """What 1 % less and 1 % more of each size of a tube does, in words."""
    margin = least_margin(basis)
    found = {}
    for name in ("outer diameter", "wall", "active length"):
        parts = []
        for words, factor in (("less", 1.0 - SMALL), ("more", 1.0 + SMALL)):
            x = _changed(basis, name, factor)
            tried = replace(basis, x=x, values=basis.problem.values(x))
            own = {row.text for row in basis.violated}
            broken = [row for row in tried.violated if row.text not in own]
            parts.append(f"1 % {words}: {_effect(tried, margin, broken)}")
        found[name] = ". ".join(parts)
    return found


def lot_ends(basis: Appraisal, lot: float) -> Iterator[tuple[str, str]]:
    """Name and words of a lot whose four temperatures all lie at an end of the tolerance."""
    for words, shift in (("low", -lot), ("high", lot)):
        tried = _with_shift(basis, shift)
        broken = _broken(basis, tried)
        texts = list({row.label.group: row.text for row in reversed(broken)}.values())
        state = f"fails: {'; '.join(texts)}" if broken else "the requirements still hold"
        margin = _margin(least_margin(tried))
        way = f"{abs(shift):g} K {'lower' if shift < 0.0 else 'higher'}"
        text = f"all four {way}, hot temperature as set: {state}; least torque margin {margin}"
        yield f"lot at its {words} end", text


def borne_shifts(basis: Appraisal, lot: float) -> tuple[float, float]:
    """Largest shift down and up of the four temperatures, at most the lot tolerance, that is borne.

    Borne: no requirement fails that did not fail before, the hot temperature kept as it is set.
    """
    down, up = (_borne(basis, sign * lot) for sign in (-1.0, 1.0))
    return down, up


def _borne(basis: Appraisal, end: float) -> float:
    """Largest part of a shift that is borne, by bisection to a hundredth of it."""
    if not _broken(basis, _with_shift(basis, end)):
        return end
    good, bad = 0.0, 1.0
    while bad - good > SHARP:
        middle = (good + bad) / 2.0
        if _broken(basis, _with_shift(basis, middle * end)):
            bad = middle
        else:
            good = middle
    return good * end


def _with_shift(basis: Appraisal, shift: float) -> Appraisal:
    problem = shifted_alloy(basis.problem, shift)
    return replace(basis, problem=problem, values=problem.values(basis.x))


def _broken(basis: Appraisal, tried: Appraisal) -> list[RowResult]:
    """Rows that fail and did not before; the gates hold the lot tolerance already."""
    own = {row.text for row in basis.violated}
    return [row for row in tried.violated if row.text not in own and row.label.group not in GATES]


def shifted_alloy(problem: DesignProblem, shift: float) -> DesignProblem:
    """Problem with the transformation temperatures of its alloy shifted [K]; nothing else."""
    alloy = problem.assembled.parameters["alloy"]
    moved = alloy._replace(**{name: getattr(alloy, name) + shift for name in TEMPERATURES})
    parameters = {**problem.assembled.parameters, "alloy": moved}
    theta = problem.chain.pack(parameters)
    return replace(
        problem,
        assembled=replace(problem.assembled, parameters=parameters),
        theta=theta,
        prelude=problem.chain.prelude(theta),
    )


def least_margin(appraisal: Appraisal) -> float:
    """Least torque margin over the heated legs and their angles; NaN where no load resists."""
    margins = appraisal.values["torque_margin"][appraisal.values["heated"] > 0.5]
    resisted = margins[margins < 0.5 * NO_RESISTANCE]
    return float(resisted.min()) if resisted.size else float("nan")


def _margin(margin: float) -> str:
    """Torque margin in words; where nothing is available the ratio says little."""
    return "none (A < 0)" if margin <= -1.0 else percent(margin)


def _changed(basis: Appraisal, name: str, factor: float) -> Floats:
    """Design with one size of the tubes changed; the diameter leaves the wall as it is."""
    x, labels = np.array(basis.x), basis.problem.labels
    ratio = labels.index("wall_ratio")
    if name == "outer diameter":
        x[labels.index("tube_outer_radius")] *= factor
        x[ratio] /= factor
    elif name == "wall":
        x[ratio] *= factor
    else:
        x[labels.index("tube_length")] *= factor
    return x


def _effect(tried: Appraisal, before: float, broken: list[RowResult]) -> str:
    change = f"least torque margin {_margin(before)} to {_margin(least_margin(tried))}"
    titles = list(dict.fromkeys(row.label.requirement.title for row in broken))
    if not titles:
        return change
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    return f"{change}, then fail: {'; '.join(titles[:NAMED])}{more}"
