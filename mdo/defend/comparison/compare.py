"""The SMA actuator beside the conventional hinges that would do the same job, as intervals.

Fair-comparison rules of the reference (thermal-power-mass, 4.5): the same moments over the fold
angle, times both ways, folds, margin, lock and growth; mass, envelope, peak power, energy, return
time and failure state; ratios with their intervals. What is said about them in words stands in
:mod:`mdo.defend.comparison.sentences`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.defend.comparison.intervals import HELD, Interval, Intervals, propagate
from mdo.defend.drawn_inputs import RETURN_TIME, DrawnDesigns
from mdo.disciplines.records import GEARED_LINES
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import Progress

SMA, GEARED = "SMA actuator", "geared electric hinge"
HYDRAULIC, LOCAL = "hydraulic hinge with its system", "hydraulic hinge without its system"
LIKELY = 0.75  # share of the samples from which a word of likelihood is used


class Measure(NamedTuple):
    """What is compared: figure of the SMA actuator, those of its rivals, words of smaller, larger.

    All of the AIRCRAFT.
    """

    name: str
    figure: str
    rivals: dict[str, str]
    smaller: str
    larger: str


MASSES = {GEARED: "geared_mass", HYDRAULIC: "hydraulic_mass", LOCAL: "hydraulic_mass_local"}
POWERS = {GEARED: "geared_power", HYDRAULIC: "hydraulic_power"}
ENERGIES = {GEARED: "geared_sortie_energy"}
MEASURES = (
    Measure("mass", "system_mass", MASSES, "lighter", "heavier"),
    Measure("envelope", "actuator_volume", {GEARED: "geared_volume"}, "smaller", "larger"),
    Measure("peak power", "peak_power", POWERS, "lower", "higher"),
    Measure("energy of a sortie", "sortie_energy", ENERGIES, "lower", "higher"),
)
MASS = MEASURES[0]


class ComparisonLine(NamedTuple):
    """One measure of one concept, aircraft, and the ratio of the SMA actuator's to it.

    ``low`` and ``high`` are 5 and 95 % points, of ``source``; ``ratio`` is above 1 where the SMA
    actuator has more. ``share`` is the share of the samples in which the SMA actuator has less,
    ``standing`` what follows in a word. NaN and empty on the lines of the SMA actuator itself.
    """

    measure: str
    concept: str
    basis: str
    unit: str
    value: float
    low: float
    high: float
    source: str
    ratio: float = np.nan
    ratio_low: float = np.nan
    ratio_high: float = np.nan
    ratio_source: str = ""
    share: float = np.nan
    standing: str = ""
    note: str = ""


@dataclass(frozen=True)
class Comparison:
    """Comparison of one design with the conventional hinges.

    Attributes
    ----------
    appraisal
        The design.
    intervals
        Of every figure.
    hydraulic
        Whether the hydraulic hinge is compared too.
    lines
        Measure by measure, the SMA actuator first.
    """

    appraisal: Appraisal
    intervals: Intervals
    hydraulic: bool
    lines: tuple[ComparisonLine, ...]

    def line(self, measure: str, concept: str, basis: str = "as drawn") -> ComparisonLine:
        """Line of a measure and a concept.

        Raises
        ------
        KeyError
            If there is none.
        """
        for line in self.lines:
            if (line.measure, line.concept, line.basis) == (measure, concept, basis):
                return line
        raise KeyError((measure, concept, basis))


def compare(
    appraisal: Appraisal, drawn: DrawnDesigns, say: Progress = lambda _: None, *, hydraulic: bool
) -> Comparison:
    """Compare a design with the conventional hinges of the same job.

    Parameters
    ----------
    appraisal : the design
    drawn : the same design evaluated with other inputs
    say : told what is being done
    hydraulic : compare the hydraulic hinge too, alone and with its share of the system
    """
    intervals = Intervals(propagate(appraisal, drawn.inputs, say), drawn)
    lines = tuple(_lines(appraisal, intervals, hydraulic=hydraulic))
    return Comparison(appraisal, intervals, hydraulic, lines)


def standing(ratio: Interval, share: float, measure: Measure) -> str:
    """Say in a word how the SMA actuator stands by a ratio and the share in which it has less."""
    if ratio.low > 1.0:
        return measure.larger
    if ratio.high < 1.0:
        return measure.smaller
    if share >= LIKELY:
        return f"probably {measure.smaller}"
    if share <= 1.0 - LIKELY:
        return f"probably {measure.larger}"
    return "about the same"


def _lines(
    appraisal: Appraisal, intervals: Intervals, *, hydraulic: bool
) -> Iterator[ComparisonLine]:
    for measure in MEASURES:
        yield _own(measure.name, intervals.of(measure.figure))
        held = intervals.held() if measure is MASS else None
        if held is not None:
            yield _own(measure.name, held)
        for concept, figure in measure.rivals.items():
            if not hydraulic and concept != GEARED:
                continue
            rival, ratio = intervals.of(figure), intervals.of(measure.figure, figure)
            share = intervals.drawn.share_below(1.0, measure.figure, figure)
            yield _beside(measure, concept, rival, ratio, share)
            spread = intervals.propagated.held_over(figure) if measure is MASS else None
            ratio_held = intervals.held(figure)
            if spread is not None and ratio_held is not None:
                share = spread.share_below(1.0)
                yield _beside(measure, concept, rival._replace(basis=HELD), ratio_held, share)
    yield from _return_lines(appraisal, intervals)


def _own(measure: str, own: Interval) -> ComparisonLine:
    ends = (own.value, own.low, own.high, own.source)
    return ComparisonLine(measure, SMA, own.basis, own.unit, *ends, note=own.note)


def _beside(
    measure: Measure, concept: str, rival: Interval, ratio: Interval, share: float
) -> ComparisonLine:
    notes = [text for text in (rival.note, ratio.note and f"ratio: {ratio.note}") if text]
    if concept == HYDRAULIC and measure.name == "peak power":
        notes.append("at the pump, hydraulic")
    return ComparisonLine(
        measure.name, concept, rival.basis, rival.unit, rival.value, rival.low, rival.high,
        rival.source, ratio.value, ratio.low, ratio.high, ratio.source, share,
        standing(ratio, share, measure), "; ".join(notes),
    )  # fmt: skip


def _return_lines(appraisal: Appraisal, intervals: Intervals) -> Iterator[ComparisonLine]:
    """Return time of the SMA actuator; that of the hinge is what is asked for."""
    own = intervals.of(RETURN_TIME)
    if not np.isfinite(own.value):
        return
    yield _own("return time", own)
    legs = appraisal.problem.assembled.parameters["legs"]
    asked = float(np.max(np.asarray(legs.time_limit)[np.asarray(legs.is_return) > 0.5]))
    note = "its motor is sized for the time that is asked for; it could be faster for more power"
    ends = (asked, asked, asked, "requirement")
    yield ComparisonLine("return time", GEARED, own.basis, "s", *ends, note=note)


def geared_table(appraisal: Appraisal) -> pd.DataFrame:
    """Lines of the geared hinge of the aircraft [kg], growth once per line, and their total."""
    basic = np.asarray(appraisal.values["geared_lines"], dtype=float)  # noqa: PD011
    growth = np.asarray(appraisal.values["geared_growth"], dtype=float)  # noqa: PD011
    frame = pd.DataFrame(
        {
            "line": [*GEARED_LINES, "total"],
            "growth_class": [*GEARED_LINES.values(), ""],
            "of": "aircraft",
            "basic": [*basic, basic.sum()],
            "growth": [*growth, growth.sum()],
        }
    )
    frame["total"] = frame["basic"] + frame["growth"]
    return frame
