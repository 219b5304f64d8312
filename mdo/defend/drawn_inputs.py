"""A design evaluated again with inputs drawn from their ranges: what holds, and how figures spread.

Evaluated, not extrapolated: the comparison with other hinges and the odds that the design as drawn
meets its requirements rest on the same evaluations.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Booleans, Floats
from mdo.defend.tables.facts import Facts
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.model.system import FIGURES
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.idle_rows import FEASIBLE
from mdo.optimise.knobs import ALLOY
from mdo.optimise.optimum import Progress
from mdo.optimise.problem import DesignProblem

LOW, HIGH = 0.05, 0.95
TINY = 1e-12  # a figure below it is not there
COMPARED = tuple(name for name in FIGURES if name != "torque_margin")
RETURN_TIME = "return_time"
# What the time to return is read of.
READ = ("pushes_up", "heated", "returned_by_load", "heat_time", "cool_time")
ROUNDS = 40  # of drawing anew before the ranges of a card are given up as contradictory
# Pairs of the card that cannot cross: the first is below the second in any alloy.
ORDERED = (
    ("martensite_finish", "martensite_start"),
    ("austenite_start", "austenite_finish"),
    ("martensite_start", "austenite_finish"),
    ("martensite_finish", "austenite_start"),
    ("detwinning_start_stress", "detwinning_finish_stress"),
)


@dataclass(frozen=True)
class DrawnDesigns:
    """One design evaluated with drawn inputs.

    Attributes
    ----------
    inputs, values
        What was drawn, and its values, SI, (samples, inputs).
    redrawn
        Draws that were replaced because the alloy would contradict itself (a finish temperature
        below its start).
    figures
        Of each sample, (samples,).
    failed
        By group of rows: samples in which a row of it does not hold.
    """

    inputs: tuple[Uncertain, ...]
    values: Floats
    redrawn: int
    figures: Mapping[str, Floats]
    failed: Mapping[str, Booleans]

    @property
    def samples(self) -> int:
        """How many."""
        return len(self.values)

    @cached_property
    def met(self) -> float:
        """Share of the samples in which every requirement holds."""
        return float((~np.any([*self.failed.values()], axis=0)).mean())

    @property
    def met_ends(self) -> tuple[float, float]:
        """95 % interval of that share (Wilson)."""
        return wilson(self.met, self.samples)

    @property
    def failing(self) -> dict[str, float]:
        """Share of the samples in which a group fails, by group, most frequent first."""
        shares = {group: float(failed.mean()) for group, failed in self.failed.items()}
        ranked = sorted(shares, key=lambda group: -shares[group])
        return {group: shares[group] for group in ranked if shares[group] > 0.0}

    @property
    def moves(self) -> Floats:
        """Where the samples are from the present values, in the even variables, as ``values``."""
        pairs = zip(self.inputs, self.values.T, strict=True)
        return np.column_stack([entry.step_to(column) for entry, column in pairs])

    def of(self, figure: str, over: str = "") -> Floats:
        """Values of a figure, or of its ratio to another, (samples,)."""
        values = self.figures[figure]
        return values / np.maximum(self.figures[over], TINY) if over else values

    def quantiles(self, figure: str, over: str = "") -> tuple[float, float]:
        """5 and 95 % points; NaN for a figure that the study does not have."""
        low, high = np.quantile(self.of(figure, over), (LOW, HIGH))
        return float(low), float(high)

    def share_below(self, limit: float, figure: str, over: str = "") -> float:
        """Share of the samples in which it is below a limit."""
        return float((self.of(figure, over) < limit).mean())


def evaluate_drawn(
    problem: DesignProblem,
    design: Floats,
    inputs: tuple[Uncertain, ...],
    *,
    samples: int,
    say: Progress = lambda _: None,
) -> DrawnDesigns:
    """Evaluate a design with inputs drawn independently and evenly over their ranges.

    Parameters
    ----------
    problem, design : the study and the design vector, which stays as it is
    inputs : what is uncertain
    samples : how many designs to evaluate, 1 to 2 ms each
    say : told what is being done

    Raises
    ------
    ValueError
        If samples are fewer than one, or the ranges leave no alloy that agrees with itself.
    """
    if samples < 1:
        raise ValueError(f"samples: got {samples}, expected at least 1")
    say(f"Evaluating the design {samples} times with inputs from their ranges")
    values, redrawn = draw(problem, inputs, samples=samples)
    moved = (values - of_inputs(inputs, "value")) @ directions(problem, inputs)
    figures = {name: np.empty(samples) for name in (*COMPARED, RETURN_TIME)}
    groups = rows_of_groups(problem)
    names = dict.fromkeys((*COMPARED, *READ, *problem.chain.row_names))
    failed = {group: np.zeros(samples, dtype=bool) for group in groups}
    for number, theta in enumerate(np.asarray(problem.theta) + moved):
        outputs = problem.values_with(design, theta, *names)
        for name in COMPARED:
            figures[name][number] = outputs[name]
        as_drawn = Appraisal("evaluate", problem, design, outputs, None, "")
        figures[RETURN_TIME][number] = return_time(as_drawn)
        holds = problem.rows_of(outputs)[problem.counting] >= -FEASIBLE
        for group, places in groups.items():
            failed[group][number] = not holds[places].all()
    return DrawnDesigns(inputs, values, redrawn, figures, failed)


def rows_of_groups(problem: DesignProblem) -> dict[str, NDArray[np.intp]]:
    """Positions of the counting rows of each group."""
    names = np.array([label.group for label in problem.counting_labels])
    return {name: np.flatnonzero(names == name) for name in dict.fromkeys(names.tolist())}


def return_time(appraisal: Appraisal) -> float:
    """Longest time to return of any return leg of a design [s]; NaN without one."""
    facts = Facts(appraisal)
    return float(facts.return_time()[facts.returns].max()) if facts.returns.any() else np.nan


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
        pairs = zip(inputs, shares.T, strict=True)
        values = np.column_stack([entry.at(share) for entry, share in pairs])
        sound = agrees(problem, (entry.path for entry in inputs), values)
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


def agrees(problem: DesignProblem, paths: Iterable[str], values: Floats) -> Booleans:
    """Which samples, a column for each input, keep the order of temperatures and stresses."""
    alloy = problem.assembled.parameters["alloy"]
    columns = {
        path.removeprefix(ALLOY): column
        for path, column in zip(paths, values.T, strict=True)
        if path.startswith(ALLOY)
    }
    sound = np.ones(len(values), dtype=bool)
    for lower, upper in ORDERED:
        if lower in columns or upper in columns:
            first, second = (columns.get(name, getattr(alloy, name)) for name in (lower, upper))
            sound &= np.asarray(first < second)
    return sound
