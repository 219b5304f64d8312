"""A design evaluated, or optimised, again with inputs drawn from their ranges."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.defend.sensitivity.design_odds import draw
from mdo.defend.tables.requirements import Facts
from mdo.defend.uncertain import directions, uncertain_inputs
from mdo.model.system import FIGURES
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.knobs import with_fields
from mdo.optimise.optimum import FEASIBLE, Optimum, reoptimise
from mdo.optimise.problem import DesignProblem

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Progress = Callable[[str], None]
LOW, HIGH = 0.05, 0.95
TINY = 1e-12  # a figure below it is not there
COMPARED = tuple(name for name in FIGURES if name != "torque_margin")
RETURN_TIME = "return_time"


@dataclass(frozen=True)
class Sampled:
    """Figures with inputs drawn from their ranges.

    Attributes
    ----------
    figures
        Of each sample, (samples,); NaN where no design was found.
    meets
        Samples in which every requirement holds: of the design as drawn, or of the new one.
    redrawn
        Draws that were replaced because the alloy would contradict itself.
    """

    figures: Mapping[str, Floats]
    meets: Booleans
    redrawn: int

    @property
    def samples(self) -> int:
        """How many."""
        return self.meets.size

    def of(self, figure: str, over: str = "") -> Floats:
        """Values of a figure, or of its ratio to another, (samples,)."""
        values = self.figures[figure]
        return values / np.maximum(self.figures[over], TINY) if over else values

    def quantiles(self, figure: str, over: str = "") -> tuple[float, float]:
        """5 and 95 % points over the samples with a design; NaN where there is none."""
        values = self.of(figure, over)
        known = values[np.isfinite(values)]
        if not known.size:
            return np.nan, np.nan
        low, high = np.quantile(known, (LOW, HIGH))
        return float(low), float(high)

    def share_below(self, limit: float, figure: str, over: str = "") -> float:
        """Share of all samples in which it is below a limit; without a design it is not."""
        return float((self.of(figure, over) < limit).mean())


def monte_carlo(
    problem: DesignProblem,
    design: Floats,
    *,
    samples: int = 1000,
    progress: Progress | None = None,
) -> Sampled:
    """Evaluate a design again with inputs drawn from their ranges (seed of the study).

    Parameters
    ----------
    problem, design : the study and the design vector, which stays as it is
    samples : how many, 1 to 2 ms each
    progress : told what is being done

    Raises
    ------
    ValueError
        If the ranges leave no alloy that agrees with itself.
    """
    (progress or (lambda _: None))(f"Evaluating the design {samples} times with other inputs")
    inputs = uncertain_inputs(problem)
    drawn, redrawn = draw(problem, inputs, samples=samples)
    present = np.array([one.value for one in inputs])
    thetas = np.asarray(problem.theta) + (drawn - present) @ directions(problem, inputs)
    found = [_figures(problem, design, theta) for theta in thetas]
    names = (*COMPARED, RETURN_TIME)
    return Sampled(
        figures={name: np.array([figures[name] for figures, _ in found]) for name in names},
        meets=np.array([meets for _, meets in found]),
        redrawn=redrawn,
    )


def monte_carlo_anew(
    problem: DesignProblem,
    optimum: Optimum,
    *,
    samples: int = 40,
    progress: Progress | None = None,
) -> Sampled:
    """Optimise again, from the optimum, with inputs drawn from their ranges (seed of the study).

    Each is a study of its own, checked like any other. A sample in which no design meets every
    requirement has NaN figures: it is part of the answer.

    Parameters
    ----------
    problem, optimum : the study and its optimum
    samples : how many, 0.3 to 2 s each
    progress : told what is being done

    Raises
    ------
    ValueError
        If the ranges leave no alloy that agrees with itself.
    """
    say = progress or (lambda _: None)
    inputs = uncertain_inputs(problem)
    drawn, redrawn = draw(problem, inputs, samples=samples)
    names = (*COMPARED, RETURN_TIME)
    figures = {name: np.full(samples, np.nan) for name in names}
    meets = np.zeros(samples, dtype=bool)
    for number, values in enumerate(drawn):
        say(f"Optimising again with other inputs, {number + 1} of {samples}")
        fields = {one.path: float(value) for one, value in zip(inputs, values, strict=True)}
        other = with_fields(problem, fields)
        found = reoptimise(other, optimum, starts=0)
        if found.feasible:
            again, _ = _figures(other, found.design, other.theta)
            meets[number] = True
            for name in names:
                figures[name][number] = again[name]
    return Sampled(figures, meets, redrawn)


def _figures(problem: DesignProblem, design: Floats, theta: Any) -> tuple[dict[str, float], bool]:
    """Figures of a design with other parameters, and whether every requirement holds."""
    prelude = problem.chain.prelude(theta)
    values = {**prelude, **problem.chain.values(design, theta, prelude)}
    found = {name: float(values[name]) for name in COMPARED}
    found[RETURN_TIME] = return_time(Appraisal("evaluate", problem, design, values, None, ""))
    rows = problem.rows_of(values)[problem.counting]
    return found, bool((rows >= -FEASIBLE).all())


def return_time(appraisal: Appraisal) -> float:
    """Longest time to return of any return leg of a design [s]; NaN without one."""
    facts = Facts(appraisal)
    back = np.asarray(facts.legs.is_return) > 0.5
    return float(facts.return_time()[back].max()) if back.any() else np.nan
