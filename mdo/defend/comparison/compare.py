"""The SMA actuator beside the conventional hinges that would do the same job, as intervals.

Fair-comparison rules of the reference (thermal-power-mass, 4.5): the same moments over the fold
angle, times both ways, folds, margin, lock and growth; mass, envelope, peak power, energy, return
time and failure state; ratios with their intervals. What is said about them in words stands in
:mod:`mdo.defend.comparison.sentences`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.comparison.intervals import FIRST, Interval, Intervals, find_intervals
from mdo.defend.comparison.sampled import RETURN_TIME
from mdo.disciplines.records import GEARED_LINES
from mdo.optimise.appraisal import Appraisal

Floats = NDArray[np.float64]
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


MEASURES = (
    Measure(
        "mass",
        "system_mass",
        {GEARED: "geared_mass", HYDRAULIC: "hydraulic_mass", LOCAL: "hydraulic_mass_local"},
        "lighter",
        "heavier",
    ),
    Measure("envelope", "actuator_volume", {GEARED: "geared_volume"}, "smaller", "larger"),
    Measure(
        "peak power",
        "peak_power",
        {GEARED: "geared_power", HYDRAULIC: "hydraulic_power"},
        "lower",
        "higher",
    ),
    Measure(
        "energy of a sortie", "sortie_energy", {GEARED: "geared_sortie_energy"}, "lower", "higher"
    ),
)
MASS = MEASURES[0]


class VersusLine(NamedTuple):
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
    ratio: float
    ratio_low: float
    ratio_high: float
    ratio_source: str
    share: float
    standing: str
    note: str


@dataclass(frozen=True)
class Versus:
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
    lines: tuple[VersusLine, ...]

    def line(self, measure: str, concept: str, basis: str = "as drawn") -> VersusLine:
        """Line of a measure and a concept.

        Raises
        ------
        KeyError
            If there is none.
        """
        for one in self.lines:
            if (one.measure, one.concept, one.basis) == (measure, concept, basis):
                return one
        raise KeyError((measure, concept, basis))


def compare(
    appraisal: Appraisal,
    *,
    hydraulic: bool = False,
    samples: int = 1000,
    anew: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Versus:
    """Compare a design with the conventional hinges of the same job.

    Parameters
    ----------
    appraisal : the design
    hydraulic : compare the hydraulic hinge too, alone and with its share of the system
    samples : designs to evaluate again with other inputs
    anew : designs to optimise again with other inputs (0.3 to 2 s each)
    progress : told what is being done
    """
    found = find_intervals(
        appraisal.problem,
        appraisal.x,
        optimum=appraisal.optimum,
        samples=samples,
        anew=anew,
        progress=progress,
    )
    lines = tuple(_lines(appraisal, found, hydraulic=hydraulic))
    return Versus(appraisal, found, hydraulic, lines)


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


def _lines(appraisal: Appraisal, found: Intervals, *, hydraulic: bool) -> Iterator[VersusLine]:
    for measure in MEASURES:
        yield _own(measure.name, found.of(measure.figure))
        held = found.held() if measure is MASS else None
        if held is not None:
            yield _own(measure.name, held)
        for concept, figure in measure.rivals.items():
            if not hydraulic and concept != GEARED:
                continue
            yield _rival(measure, concept, found, figure)
            ratio = found.held(figure) if held is not None else None
            if ratio is not None:
                yield _held_rival(measure, concept, found, figure, ratio)
    yield from _return_lines(appraisal, found)


def _own(measure: str, one: Interval) -> VersusLine:
    nothing = (np.nan, np.nan, np.nan, "", np.nan, "")
    return VersusLine(
        measure, SMA, one.basis, one.unit, one.value, one.low, one.high, one.source, *nothing,
        one.note,
    )  # fmt: skip


def _rival(measure: Measure, concept: str, found: Intervals, figure: str) -> VersusLine:
    """Rival beside the design as drawn."""
    one, ratio = found.of(figure), found.of(measure.figure, figure)
    share = found.drawn.share_below(1.0, measure.figure, figure)
    return _beside(measure, concept, one, ratio, share)


def _held_rival(
    measure: Measure, concept: str, found: Intervals, figure: str, ratio: Interval
) -> VersusLine:
    """Rival beside the design drawn again for every requirement."""
    spread = found.propagated.held_over(figure)
    share = np.nan if spread is None else spread.share_below(1.0)
    if found.anew is not None and ratio.source != FIRST:
        share = found.anew.share_below(1.0, measure.figure, figure)
    return _beside(measure, concept, found.of(figure)._replace(basis=ratio.basis), ratio, share)


def _beside(
    measure: Measure, concept: str, one: Interval, ratio: Interval, share: float
) -> VersusLine:
    notes = [text for text in (one.note, ratio.note and f"ratio: {ratio.note}") if text]
    if concept == HYDRAULIC and measure.name == "peak power":
        notes.append("at the pump, hydraulic")
    return VersusLine(
        measure.name, concept, one.basis, one.unit, one.value, one.low, one.high, one.source,
        ratio.value, ratio.low, ratio.high, ratio.source, share,
        standing(ratio, share, measure), "; ".join(notes),
    )  # fmt: skip


def _return_lines(appraisal: Appraisal, found: Intervals) -> Iterator[VersusLine]:
    """Return time of the SMA actuator; that of the hinge is what is asked for."""
    one = found.of(RETURN_TIME)
    if not np.isfinite(one.value):
        return
    yield _own("return time", one)
    legs = appraisal.problem.assembled.parameters["legs"]
    asked = float(np.max(np.asarray(legs.time_limit)[np.asarray(legs.is_return) > 0.5]))
    yield VersusLine(
        "return time", GEARED, one.basis, "s", asked, asked, asked, "requirement", np.nan, np.nan,
        np.nan, "", np.nan, "", "its motor is sized for the time that is asked for; it could be "
        "faster for more power",
    )  # fmt: skip


def versus_table(found: Versus) -> pd.DataFrame:
    """Comparison as a table, aircraft; see :class:`VersusLine`."""
    return pd.DataFrame(found.lines, columns=list(VersusLine._fields))


def geared_table(appraisal: Appraisal) -> pd.DataFrame:
    """Lines of the geared hinge of the aircraft [kg], growth once per line, and their total."""
    basic = np.asarray(appraisal.values["geared_lines"], dtype=float)  # noqa: PD011
    growth = np.asarray(appraisal.values["geared_growth"], dtype=float)  # noqa: PD011
    frame = pd.DataFrame(
        {
            "line": list(GEARED_LINES),
            "growth_class": list(GEARED_LINES.values()),
            "of": "aircraft",
            "basic": basic,
            "growth": growth,
            "total": basic + growth,
        }
    )
    total = {
        "line": "total", "growth_class": "", "of": "aircraft", "basic": basic.sum(),
        "growth": growth.sum(), "total": (basic + growth).sum(),
    }  # fmt: skip
    return pd.concat([frame, pd.DataFrame([total])], ignore_index=True)
