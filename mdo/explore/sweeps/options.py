"""What a sweep covers, checked against the study."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from mdo.explore.exploration import refuse
from mdo.explore.sweeps.samples import FACTORIAL, LATIN, LISTED, SAMPLES
from mdo.optimise.axes import Axis
from mdo.optimise.knobs import Knob, Move
from mdo.optimise.problem import DesignProblem

DESIGNS_MAX = 100_000_000
CHUNK_MAX = 100_000
WHERE = "analysis.sweep"


@dataclass(frozen=True, kw_only=True)
class SweepOptions:
    """Options of a sweep; SI units.

    Attributes
    ----------
    sample
        ``latin_hypercube``, ``sobol``, ``factorial`` or ``list``.
    designs
        How many, for the first two.
    seed
        Of the sample.
    chunk
        Designs done and kept together.
    variables
        Ranges of the design variables that are swept, by label; None: the bounds of the study.
        With neither variables nor axes, every variable that the optimiser would move.
    axes
        Other numbers of the study that are swept.
    levels
        Number of levels of each swept variable and axis, for ``factorial``.
    file
        CSV file of the designs, for ``list``; what it has no column for is not swept.
    base
        Design that gives the variables that are not swept; empty: a first guess.
    """

    sample: str = LATIN
    designs: int = 10_000
    seed: int = 0
    chunk: int = 10_000
    variables: Mapping[str, tuple[float, float] | None] = field(default_factory=dict)
    axes: tuple[Axis, ...] = ()
    levels: Mapping[str, int] = field(default_factory=dict)
    file: Path | None = None
    base: tuple[float, ...] = ()


def check_options(problem: DesignProblem, options: SweepOptions) -> None:
    """Check options against a study.

    Raises
    ------
    StudyError
        With every problem of them.
    """
    faults = [*_plain(options), *_ranges(problem, options), *_levels(problem, options)]
    refuse(problem, "sweep", faults)


def _plain(options: SweepOptions) -> Iterator[str]:
    if options.sample not in SAMPLES:
        yield f"sample: unknown, got {options.sample!r}, expected one of {', '.join(SAMPLES)}"
    if not 1 <= options.designs <= DESIGNS_MAX:
        yield f"designs: out of range, got {options.designs}, expected 1 to {DESIGNS_MAX}"
    if not 1 <= options.chunk <= CHUNK_MAX:
        yield f"chunk: out of range, got {options.chunk}, expected 1 to {CHUNK_MAX}"
    if options.sample == LISTED and options.file is None:
        yield "file: missing, expected the CSV file of the designs"


def _ranges(problem: DesignProblem, options: SweepOptions) -> Iterator[str]:
    """Say which variables are not known, not free, or have no range within their bounds."""
    free = [label for label, on in zip(problem.labels, problem.active, strict=True) if on]
    bounds = dict(zip(problem.labels, zip(problem.lower, problem.upper, strict=True), strict=True))
    for label, ends in options.variables.items():
        where = f"variables.{label}"
        if label not in bounds:
            yield f"{where}: no design variable, expected one of {', '.join(free)}"
        elif label not in free:
            yield (
                f"{where}: frozen or without meaning with the choices of this study, expected one "
                f"of {', '.join(free)}"
            )
        elif ends is not None:
            least, most = bounds[label]
            if not (math.isfinite(ends[0]) and math.isfinite(ends[1]) and ends[0] < ends[1]):
                yield f"{where}: no range, got {ends[0]} to {ends[1]}, expected the lower end first"
            elif ends[0] < least or ends[1] > most:
                yield (
                    f"{where}: outside its bounds, got {ends[0]:.6g} to {ends[1]:.6g}, expected "
                    f"{least:.6g} to {most:.6g} (SI)"
                )


def _levels(problem: DesignProblem, options: SweepOptions) -> Iterator[str]:
    if options.sample != FACTORIAL:
        return
    names = swept_names(problem, options)
    for name in names:
        levels = options.levels.get(name)
        if levels is None or levels < 2:
            got = "missing" if levels is None else f"got {levels}"
            yield f"levels.{name}: {got}, expected 2 or more levels of everything that is swept"
    for name in options.levels.keys() - set(names):
        yield f"levels.{name}: not swept, expected one of {', '.join(names)}"
    total = math.prod(options.levels.get(name, 1) for name in names)
    if total > DESIGNS_MAX:
        yield f"levels: too many, got {total} designs, expected at most {DESIGNS_MAX}"


def swept_variables(problem: DesignProblem, options: SweepOptions) -> tuple[str, ...]:
    """Labels of the design variables that are swept, in the order of the design vector."""
    every = not options.variables and not options.axes
    return tuple(
        label
        for label, active in zip(problem.labels, problem.active, strict=True)
        if label in options.variables or (every and active)
    )


def swept_names(problem: DesignProblem, options: SweepOptions) -> tuple[str, ...]:
    """Names of all that is swept: axes, then variables."""
    return (*(axis.name for axis in options.axes), *swept_variables(problem, options))


def plain_options(options: SweepOptions) -> dict[str, Any]:
    """Options as plain data."""
    data = {name: getattr(options, name) for name in ("sample", "designs", "seed", "chunk")}
    axes = [{"knob": asdict(a.knob), "low": a.low, "high": a.high} for a in options.axes]
    return {
        **data,
        "variables": {name: ends and list(ends) for name, ends in options.variables.items()},
        "axes": axes,
        "levels": dict(options.levels),
        "base": list(options.base),
    }


def options_of(data: Mapping[str, Any]) -> SweepOptions:
    """Options of plain data; the file is not among them, its designs come with each chunk."""
    axes = []
    for one in data["axes"]:
        moves = tuple(Move(**move) for move in one["knob"]["moves"])
        axes.append(Axis(Knob(**{**one["knob"], "moves": moves}), one["low"], one["high"]))
    given = {name: ends and (ends[0], ends[1]) for name, ends in data["variables"].items()}
    changed = {"variables": given, "axes": tuple(axes), "base": tuple(data["base"])}
    return SweepOptions(**{**data, **changed})
