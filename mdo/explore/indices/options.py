"""Options of a sensitivity analysis, checked against the study."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from mdo.explore.exploration import refuse
from mdo.optimise.axes import Axis
from mdo.optimise.problem import DesignProblem

DESIGN, OPTIMUM = "design", "optimum"


@dataclass(frozen=True, kw_only=True)
class SensitivityOptions:
    """``[analysis.sensitivity]``.

    Attributes
    ----------
    axes
        Inputs and their ranges; every judged input of the study where empty.
    of
        ``design`` and ``optimum``: a fixed design, or the optimum found again at every point.
    samples, optimum_samples
        Base samples of the Sobol indices of each, powers of two.
    trajectories
        Of Morris.
    inputs_most
        Inputs that are left for the Sobol indices.
    confidence
        Of the intervals.
    seed
        Of everything random.
    """

    axes: tuple[Axis, ...] = ()
    of: tuple[str, ...] = (DESIGN, OPTIMUM)
    samples: int = 1024
    optimum_samples: int = 64
    trajectories: int = 20
    inputs_most: int = 8
    confidence: float = 0.95
    seed: int = 0


def check(problem: DesignProblem, options: SensitivityOptions) -> None:
    """Raise every fault of the options at once.

    Raises
    ------
    StudyError
        With one line per fault.
    """
    wanted: dict[str, tuple[Callable[[Any], bool], str]] = {
        "samples": (_power_of_two, "a power of two"),
        "optimum_samples": (_power_of_two, "a power of two"),
        "trajectories": (lambda number: bool(number >= 2), "2 or more"),
        "inputs_most": (lambda number: bool(number >= 1), "1 or more"),
        "confidence": (lambda share: bool(0.0 < share < 1.0), "a number between 0 and 1"),
    }
    given = {name: getattr(options, name) for name in wanted}
    faults = [
        f"{name}: got {given[name]}, expected {words}"
        for name, (sound, words) in wanted.items()
        if not sound(given[name])
    ]
    known = f"expected {DESIGN} or {OPTIMUM}"
    faults += [f"of: got {one}, {known}" for one in options.of if one not in {DESIGN, OPTIMUM}]
    refuse(problem, "sensitivity", faults if options.of else [*faults, f"of: empty, {known}"])


def _power_of_two(number: int) -> bool:
    return number >= 2 and number & (number - 1) == 0
