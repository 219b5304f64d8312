"""What is known of the figures that are compared: 5 to 95 % intervals over the uncertain inputs.

Two ways, side by side. *First order*: the logarithm of each figure is linear in the inputs (in the
variable that is even over its range), its slopes are exact, and the sum of many independent inputs
is taken as normal. The slopes of a design as drawn are taken at the middle of all ranges; those of
a design that is drawn again for every input stand on the multipliers of the optimum (envelope
theorem: ``dm*/dp = dm/dp - multipliers . d rows/dp``). *Monte Carlo*: the design is evaluated again
with inputs drawn from their ranges.

The logarithm and the middle were chosen by measurement: over the masses, volumes, powers and
energies of four shipped studies (44 intervals) the ends are off the sampled ones by 19 % of the
width in the mean, against 31 % for the figure itself at the present values. What is left are kinks
(another leg takes over as the driving one), which no slope sees: there the sampled interval leads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.stats import norm

from mdo.arrays import Floats
from mdo.defend.drawn_inputs import COMPARED, HIGH, RETURN_TIME, TINY, DrawnDesigns, return_time
from mdo.defend.slopes import input_slopes
from mdo.defend.tables.frame import of_lines
from mdo.defend.uncertain import Uncertain, directions, of_inputs
from mdo.model.system import OBJECTIVE
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import Optimum, Progress
from mdo.quantities import QUANTITIES

NORMAL = float(norm.ppf(HIGH))
ALLOWED = 0.25  # discrepancy of an end over the width from which the sampled interval leads
WILD = 8.0  # ratio of the ends of a first-order interval from which it says little
FEWEST = 20  # samples with a design from which their quantiles say something
DRAWN, HELD = "as drawn", "held to the requirements"
FIRST, SAMPLED = "first order", "Monte Carlo"


@dataclass(frozen=True)
class Spread:
    """A positive figure, or a ratio of two, to first order: log-normal.

    Attributes
    ----------
    value
        At the present inputs, in the unit of the figure.
    middle
        Median over the ranges.
    deviation
        Standard deviation of the logarithm.
    contributions
        Deviation of the logarithm by each input, signed, (inputs,).
    """

    value: float
    middle: float
    deviation: float
    contributions: Floats

    @property
    def low(self) -> float:
        """5 % point."""
        return float(self.middle * np.exp(-NORMAL * self.deviation))

    @property
    def high(self) -> float:
        """95 % point."""
        return float(self.middle * np.exp(NORMAL * self.deviation))

    def share_below(self, limit: float) -> float:
        """Probability that it is below a limit."""
        distance = np.log(limit / max(self.middle, TINY))
        return float(norm.cdf(distance / max(self.deviation, TINY)))


@dataclass(frozen=True)
class Propagated:
    """Figures of one design to first order in the uncertain inputs.

    Attributes
    ----------
    inputs
        What is uncertain, in the order of all contributions.
    present
        Figures at the present inputs, return time included.
    middles
        Logarithms of their medians.
    contributions
        Deviation of the logarithm of each figure by each input, signed, (inputs,).
    held
        Mass of the SMA system that still meets every requirement; None without an optimum.
    """

    inputs: tuple[Uncertain, ...]
    present: Mapping[str, float]
    middles: Mapping[str, float]
    contributions: Mapping[str, Floats]
    held: Spread | None

    def spread(self, figure: str, over: str = "") -> Spread:
        """Spread of a figure, or of its ratio to another: shared inputs act on both."""
        if over:
            return _ratio(self.spread(figure), self.spread(over))
        parts = self.contributions[figure]
        middle = float(np.exp(self.middles[figure]))
        return Spread(self.present[figure], middle, float(np.linalg.norm(parts)), parts)

    def held_over(self, rival: str) -> Spread | None:
        """Ratio of the mass held to the requirements to that of a rival.

        The rival is sized for the loads of the design as drawn: that the aircraft gets lighter or
        heavier with a new design is left out (under 5 % of the rival's mass).
        """
        return None if self.held is None else _ratio(self.held, self.spread(rival))


def _ratio(spread: Spread, over: Spread) -> Spread:
    """Spread of a ratio; what both share cancels."""
    parts = spread.contributions - over.contributions
    middle = float(np.exp(np.log(spread.middle) - np.log(over.middle)))
    value = spread.value / max(over.value, TINY)
    return Spread(value, middle, float(np.linalg.norm(parts)), parts)


class Interval(NamedTuple):
    """A figure, or its ratio to another, at the present inputs and over their ranges.

    ``low`` and ``high`` are the 5 and 95 % points of the ``source`` that leads; ``discrepancy`` is
    the larger distance of the ends of both sources over the width of the sampled interval.
    """

    figure: str
    over: str
    basis: str
    unit: str
    value: float
    low: float
    high: float
    source: str
    first_low: float
    first_high: float
    sampled_low: float
    sampled_high: float
    discrepancy: float
    note: str


@dataclass(frozen=True)
class Intervals:
    """First-order and sampled figures of one design and what follows from both."""

    propagated: Propagated
    drawn: DrawnDesigns

    def of(self, figure: str, over: str = "") -> Interval:
        """Interval of a figure of the design as drawn, or of its ratio to another."""
        sampled, samples = self.drawn.quantiles(figure, over), self.drawn.samples
        if figure not in self.propagated.middles:
            value = self.propagated.present[figure]
            first = (np.nan, np.nan)
        else:
            spread = self.propagated.spread(figure, over)
            value, first = spread.value, (spread.low, spread.high)
        width = max(sampled[1] - sampled[0], TINY)
        discrepancy = max(abs(first[0] - sampled[0]), abs(first[1] - sampled[1])) / width
        notes = []
        leads = np.isnan(first[0])
        if samples < FEWEST and not np.isnan(sampled[0]):
            notes.append(f"only {samples} samples: the first-order interval leads")
        elif discrepancy > ALLOWED:
            notes.append(f"first order is off by {100 * discrepancy:.0f} % of the width")
            leads = True
        if leads:
            ends, source = sampled, SAMPLED
        else:
            ends, source = first, FIRST
            notes += _wild(first)
        unit = "1" if over else QUANTITIES[figure].unit
        return Interval(
            figure, over, DRAWN, unit, value, *ends, source, *first, *sampled, discrepancy,
            "; ".join(notes),
        )  # fmt: skip

    def held(self, over: str = "") -> Interval | None:
        """Interval of the mass held to the requirements, or of its ratio to that of a rival."""
        spread = self.propagated.held_over(over) if over else self.propagated.held
        if spread is None:
            return None
        ends, unknown = (spread.low, spread.high), (np.nan, np.nan)
        return Interval(
            OBJECTIVE, over, HELD, "1" if over else QUANTITIES[OBJECTIVE].unit, spread.value, *ends,
            FIRST, *ends, *unknown, np.nan, "; ".join(_wild(ends)),
        )  # fmt: skip


def _wild(ends: tuple[float, float]) -> list[str]:
    """Note on a first-order interval that is too wide to say much."""
    wild = ends[1] > WILD * ends[0]
    return ["first order says little over ranges this wide"] if wild else []


def propagate(
    appraisal: Appraisal, inputs: tuple[Uncertain, ...], say: Progress = lambda _: None
) -> Propagated:
    """Figures of a design to first order in every uncertain input.

    Parameters
    ----------
    appraisal : the design, which stays as it is; where it is no feasible optimum, nothing is said
        of a mass that is held to the requirements
    inputs : what is uncertain
    say : told what is being done
    """
    # at the level that samples are evaluated at, where rows are corrected to a dearer one
    here = replace(appraisal, values=appraisal.problem.values(appraisal.x))
    say(f"Slopes of the figures along {len(inputs)} uncertain inputs")
    problem, design = appraisal.problem, appraisal.x
    chain, places = problem.chain, directions(problem, inputs)
    middle = np.array([float(entry.at(0.5)) for entry in inputs])
    even = np.array([entry.logarithmic for entry in inputs])
    theta = np.asarray(problem.theta) + (middle - of_inputs(inputs, "value")) @ places
    prelude = chain.prelude(theta)
    outputs = chain.values(design, theta, prelude)
    slopes = chain.slopes(design, theta, prelude, places).figures
    steps = of_inputs(inputs, "deviation") * np.where(even, middle, 1.0)
    optimum, held = appraisal.optimum, None
    if optimum is not None and optimum.feasible:
        held = _held(optimum, inputs)
    sizes = {name: max(float(outputs[name]), TINY) for name in COMPARED}
    return Propagated(
        inputs=inputs,
        present={name: float(here.known[name]) for name in COMPARED}
        | {RETURN_TIME: return_time(here)},
        middles={name: float(np.log(size)) for name, size in sizes.items()},
        contributions={name: slopes[name] * steps / size for name, size in sizes.items()},
        held=held,
    )


def _held(optimum: Optimum, inputs: tuple[Uncertain, ...]) -> Spread:
    """Mass of the optimum held to the requirements, by the envelope theorem at the optimum."""
    relative = input_slopes(optimum, inputs).optimum_mass / optimum.mass
    parts = relative * of_inputs(inputs, "deviation")
    middle = optimum.mass * float(np.exp(relative @ of_inputs(inputs, "shift")))
    return Spread(optimum.mass, middle, float(np.linalg.norm(parts)), parts)


def intervals_table(intervals: Intervals, *, hydraulic: bool = False) -> pd.DataFrame:
    """Every figure with both intervals; see :class:`Interval`."""
    held = intervals.held()
    lines = [] if held is None else [held]
    lines += [
        intervals.of(name)
        for name in (*COMPARED, RETURN_TIME)
        if hydraulic or not name.startswith("hydraulic")
    ]
    return of_lines(Interval, lines)
