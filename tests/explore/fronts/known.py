"""Fronts known in closed form, as solvers of bounds."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np

from mdo.explore.fronts.known_points import Answers, Floats, KnownPoints
from mdo.optimise.problem import DesignProblem, make_problem

FINE = 200_001


class Along:
    """Front ``second = curve(first)``: the least second objective where the first keeps a bound.

    With ``reached`` it tells where the bound is not reached, as an output does; else it does not,
    as a requirement that is turned.
    """

    def __init__(
        self, curve: Callable[[Floats], Floats], high: float = 1.0, *, reached: bool = False
    ) -> None:
        self.x = np.linspace(0.0, high, FINE)
        self.y = curve(self.x)
        self.best = np.minimum.accumulate(self.y)
        self.reached, self.solved = reached, 0

    def __call__(self, bounds: Floats) -> Answers:
        self.solved += len(bounds)
        good = bounds[:, 0] >= 0.0
        at = np.searchsorted(self.x, np.clip(bounds[:, 0], 0.0, self.x[-1]), side="right") - 1
        binds = self.y[at] <= self.best[at]
        slope = np.gradient(self.y, self.x)[at]
        first = np.searchsorted(-self.best, -self.best[at])
        x = np.minimum(self.x[first] if self.reached else np.inf, bounds[:, 0])
        values = np.column_stack([self.best[at], x])
        slopes = np.where(binds, np.minimum(slope, 0.0), 0.0)[:, None]
        return answers(values, slopes, good)

    def tightest(self, which: int) -> float | None:
        return None


class Across(Along):
    """The same front, the bound on the second objective: it jumps where the other one is flat."""

    def __call__(self, bounds: Floats) -> Answers:
        good = bounds[:, 0] >= self.best[-1]
        at = np.searchsorted(-self.best, -np.maximum(bounds[:, 0], self.best[-1]))
        slope = np.gradient(self.y, self.x)[at]
        with np.errstate(divide="ignore"):
            slopes = np.where(slope < 0.0, 1.0 / slope, 0.0)[:, None]
        return answers(np.column_stack([self.x[at], bounds[:, 0]]), slopes, good)


class Over:
    """Front of three objectives ``first = surface(second, third)``, falling in both."""

    def __init__(self, surface: Callable[[Floats], Floats]) -> None:
        self.surface, self.solved = surface, 0

    def __call__(self, bounds: Floats) -> Answers:
        self.solved += len(bounds)
        good = (bounds >= 0.0).all(axis=1)
        kept = np.clip(bounds, 0.0, 1.0)
        steps = 1e-7 * np.eye(2)
        slopes = np.column_stack(
            [(self.surface(kept + step) - self.surface(kept - step)) / 2e-7 for step in steps]
        )
        values = np.column_stack([self.surface(kept), bounds])
        return answers(values, np.minimum(slopes, 0.0), good)

    def tightest(self, which: int) -> float | None:
        return None


def answers(values: Floats, slopes: Floats, good: Floats) -> Answers:
    """Answers; bounds that are not good have none."""
    values[~good] = np.nan
    words = ["feasible" if one else "infeasible" for one in good]
    reasons = ["" if one else "too tight" for one in good]
    return Answers(values, slopes, words, ["row"] * len(good), reasons)


def planned(problem: DesignProblem, **plan: object) -> DesignProblem:
    """Study with another plan of its front."""
    changes = {
        f"analysis.front.{name}": value for name, value in json.loads(json.dumps(plan)).items()
    }
    return make_problem(problem.study.with_values(changes))


def silent(_: str) -> None:
    """Say nothing."""


def normal(found: KnownPoints, places: Floats, ends: object) -> Floats:
    """Normalised objectives of some points."""
    return ends.scale.normal(found.values[places])  # type: ignore[attr-defined]


def zdt1(x: Floats) -> Floats:
    """Convex (Zitzler, Deb & Thiele, Evol. Comput. 8, 2000, from memory)."""
    return 1.0 - np.sqrt(x)


def zdt2(x: Floats) -> Floats:
    """Not convex (the same)."""
    return 1.0 - x**2


def zdt3(x: Floats) -> Floats:
    """In five parts (the same)."""
    return 1.0 - np.sqrt(x) - x * np.sin(10.0 * np.pi * x)


def arc(x: Floats) -> Floats:
    """Quarter of a circle, the better side inwards."""
    return 1.0 - np.sqrt(np.maximum(1.0 - (1.0 - x) ** 2, 0.0))


FONSECA_HIGH = 1.0 - np.exp(-4.0)


def fonseca(x: Floats) -> Floats:
    """Not convex (Fonseca & Fleming, Evol. Comput. 3, 1995, from memory)."""
    return 1.0 - np.exp(-((2.0 - np.sqrt(-np.log1p(-np.minimum(x, FONSECA_HIGH)))) ** 2))
