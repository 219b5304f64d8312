"""The odds that a design as drawn meets every requirement: re-evaluated designs, not slopes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.defend.uncertain import Uncertain, directions
from mdo.optimise.optimum import FEASIBLE
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
ROUNDS = 40  # of drawing anew before the ranges of a card are given up as contradictory
# Pairs of the card that cannot cross: the first is below the second in any alloy.
ORDERED = (
    ("martensite_finish", "martensite_start"),
    ("austenite_start", "austenite_finish"),
    ("martensite_start", "austenite_finish"),
    ("martensite_finish", "austenite_start"),
    ("detwinning_start_stress", "detwinning_finish_stress"),
)


class Odds(NamedTuple):
    """Result of evaluating a design again with inputs drawn from their ranges.

    Attributes
    ----------
    samples, redrawn
        How many were evaluated, and how many draws were replaced because the alloy would
        contradict itself (a finish temperature below its start).
    met
        Share of the samples in which every requirement holds.
    met_low, met_high
        95 % interval of that share (Wilson).
    failing
        Share of the samples in which a group of rows fails, by group, most frequent first.
    mass_low, mass_high
        5 % and 95 % points of the system mass of the design as drawn [kg].
    moves
        Where the samples are, relative to the present values, in the variables that are even,
        shape (samples, inputs).
    """

    samples: int
    redrawn: int
    met: float
    met_low: float
    met_high: float
    failing: Mapping[str, float]
    mass_low: float
    mass_high: float
    moves: Floats


def design_odds(
    problem: DesignProblem,
    design: Floats,
    inputs: tuple[Uncertain, ...],
    *,
    samples: int,
    ways: Floats | None = None,
    progress: Callable[[str], None] | None = None,
) -> Odds:
    """Evaluate a design with inputs drawn independently and evenly over their ranges.

    Parameters
    ----------
    problem, design : the study and the design vector, which stays as it is
    inputs : what is uncertain
    samples : how many designs to evaluate
    ways : derivative of the parameters by each input, where it is known already
    progress : told what is being done

    Raises
    ------
    ValueError
        If samples are fewer than one, or the ranges leave no alloy that agrees with itself.
    """
    if samples < 1:
        raise ValueError(f"samples: got {samples}, expected at least 1")
    say = progress or (lambda _: None)
    say(f"Evaluating the design {samples} times with inputs from their ranges")
    values, redrawn = draw(problem, inputs, samples=samples)
    present = np.array([one.value for one in inputs])
    thetas = np.asarray(problem.theta) + (values - present) @ (
        directions(problem, inputs) if ways is None else ways
    )
    labels = problem.counting_labels
    names = tuple(dict.fromkeys(label.group for label in labels))
    place = np.array([names.index(label.group) for label in labels])
    failed: Booleans = np.zeros((samples, len(names)), dtype=bool)
    masses = np.empty(samples)
    for number, theta in enumerate(thetas):
        point = problem.chain.point(design, theta, problem.chain.prelude(theta))
        masses[number] = float(point.objective)
        broken = ~(np.asarray(point.rows)[problem.counting] >= -FEASIBLE)
        failed[number, place[broken]] = True
    met = float((~failed.any(axis=1)).mean())
    low, high = wilson(met, samples)
    shares = dict(zip(names, failed.mean(axis=0), strict=True))
    even = np.array([one.logarithmic for one in inputs])
    safe = np.where(even, values / np.where(even, present, 1.0), 1.0)
    return Odds(
        samples=samples,
        redrawn=redrawn,
        met=met,
        met_low=low,
        met_high=high,
        failing={
            name: float(shares[name])
            for name in sorted(shares, key=lambda one: -shares[one])
            if shares[name] > 0.0
        },
        mass_low=float(np.quantile(masses, 0.05)),
        mass_high=float(np.quantile(masses, 0.95)),
        moves=np.where(even, np.log(safe), values - present),
    )


def draw(
    problem: DesignProblem, inputs: tuple[Uncertain, ...], *, samples: int
) -> tuple[Floats, int]:
    """Draw values of the inputs (SI, shape (samples, inputs)); the seed is that of the study.

    Returns
    -------
    The values, and how many draws were replaced because the alloy would contradict itself.

    Raises
    ------
    ValueError
        If the ranges leave no alloy that agrees with itself.
    """
    generator = np.random.default_rng(problem.study.seed)
    redrawn = 0
    kept = np.empty((0, len(inputs)))
    for _ in range(ROUNDS):
        shares = generator.random((samples, len(inputs)))
        values = np.column_stack(
            [one.at(share) for one, share in zip(inputs, shares.T, strict=True)]
        )
        sound = _agrees(problem, inputs, values)
        wanted = samples - len(kept)
        last = int(np.flatnonzero(sound)[wanted - 1]) + 1 if sound.sum() >= wanted else samples
        redrawn += int((~sound[:last]).sum())
        kept = np.concatenate([kept, values[:last][sound[:last]]])
        if len(kept) == samples:
            return kept, redrawn
    raise ValueError(
        f"alloy '{problem.study.actuator.alloy}': its ranges leave no card that agrees with "
        "itself, expected finish and start temperatures that do not cross"
    )


def wilson(share: float, samples: int) -> tuple[float, float]:
    """95 % interval of a share seen in some samples (Wilson, 1927, from memory)."""
    z = 1.96
    middle = (share + z**2 / (2 * samples)) / (1 + z**2 / samples)
    half = z * np.sqrt(share * (1 - share) / samples + z**2 / (4 * samples**2))
    half = half / (1 + z**2 / samples)
    return max(0.0, float(middle - half)), min(1.0, float(middle + half))


def _agrees(problem: DesignProblem, inputs: tuple[Uncertain, ...], values: Floats) -> Booleans:
    """Which samples keep the order of the card's temperatures and stresses."""
    alloy = problem.assembled.parameters["alloy"]
    columns = {one.field: values[:, k] for k, one in enumerate(inputs) if one.record == "alloy"}
    sound = np.ones(len(values), dtype=bool)
    for lower, upper in ORDERED:
        if lower in columns or upper in columns:
            first, second = (columns.get(name, getattr(alloy, name)) for name in (lower, upper))
            sound &= np.asarray(first < second)
    return sound
