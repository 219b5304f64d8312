"""What a log cannot tell: combinations of parameters that it leaves open, and the test that would.

A direction is a combination of parameters, each counted in half of its known range. A log that
narrows it to no less than that range has told nothing on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from mdo.bench.coupon import LEVELS, TITLES, TORQUE, coupon_ends
from mdo.bench.fit import Fit
from mdo.bench.log_cells import Numbers
from mdo.bench.replay import Replay
from mdo.model.coupon import constant_torque, isothermal_twist
from mdo.model.replayed import ALLOY

DEVIATIONS = 1.96  # of a normal distribution, on either side of 95 %
PART = 0.3  # weight from which a parameter belongs to a direction; judgement
ALIKE = 0.95  # correlation from which two parameters cannot be told apart; judgement
RANGE = 1.0 / 3.0  # variance of what is even between -1 and 1


class Direction(NamedTuple):
    """A combination of parameters and the half width that a log leaves it, in half ranges.

    ``weights`` has length 1 over all parameters; ``names`` are those that matter in it.
    """

    names: tuple[str, ...]
    weights: Numbers
    left: float

    @property
    def is_open(self) -> bool:
        """Whether the log says nothing on it."""
        return self.left >= 1.0


class Pair(NamedTuple):
    """Two parameters and the correlation of their errors [1]."""

    first: str
    second: str
    correlation: float


class Separation(NamedTuple):
    """A test, and the half width that log and test together leave the least known direction."""

    test: str
    left: float


def directions(fit: Fit) -> list[Direction]:
    """Directions of the fitted parameters, the least known one first."""
    names = [one.parameter.name for one in fit.fitted]
    _, values, rows = np.linalg.svd(fit.slopes / fit.widened, full_matrices=False)
    found = []
    for value, row in zip(values[::-1], rows[::-1], strict=True):
        large = np.flatnonzero(np.abs(row) >= PART)
        order = large[np.argsort(-np.abs(row[large]))]
        left = DEVIATIONS / value if value > 0.0 else np.inf
        found.append(Direction(tuple(names[n] for n in order), row, float(left)))
    return found


def alike(fit: Fit) -> list[Pair]:
    """Pairs of parameters that the log cannot tell apart."""
    curvature = (fit.slopes / fit.widened).T @ (fit.slopes / fit.widened)
    covariance = np.linalg.inv(curvature + np.eye(len(curvature)) / RANGE)
    deviation = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(deviation, deviation)
    names = [one.parameter.name for one in fit.fitted]
    return [
        Pair(names[a], names[b], float(correlation[a, b]))
        for a in range(len(names))
        for b in range(a + 1, len(names))
        if abs(correlation[a, b]) >= ALIKE
    ]


def separations(fit: Fit, tests: Mapping[str, Numbers]) -> list[Separation]:
    """What each test would leave of the least known direction, the best test first.

    Parameters
    ----------
    fit : of the log
    tests : derivatives of what a test measures, counted in its noise, by the fitted parameters in
        half ranges, (R, F)
    """
    row = directions(fit)[0].weights
    known = (fit.slopes / fit.widened).T @ (fit.slopes / fit.widened)
    known = known + np.eye(len(known)) / RANGE

    def left(more: Numbers) -> float:
        return DEVIATIONS * float(np.sqrt(row @ np.linalg.solve(known + more.T @ more, row)))

    found = [Separation(name, left(np.asarray(slopes))) for name, slopes in tests.items()]
    return sorted(found, key=lambda one: one.left)


NOISE = 0.01  # of the span of what a test measures; judgement
STEP = 0.02  # of half a range, in which differences of a coupon are taken
HALF_LOAD = "the same heater power under half the load"
HALF_POWER = "half the heater power of the log, all along"
TWIST = "torque and twist of a tube at a constant temperature, cold and hot"


def further_tests(
    replay: Replay, fit: Fit, alloy: Any, wall_ratio: float, stress_max: float
) -> dict[str, Numbers]:
    """Derivatives of what each test measures, in its noise, by the fitted inputs in half ranges.

    Parameters
    ----------
    replay, fit : of the log
    alloy : card of the prediction
    wall_ratio : wall over outer radius of the tubes [1]
    stress_max : largest mean shear stress [Pa]

    Returns
    -------
    Derivatives (R, F) by the name of the test.
    """
    names = [one.parameter.name for one in fit.fitted]
    places = np.array([[one.name for one in replay.parameters].index(name) for name in names])
    driven, tubes = replay.inputs
    half = driven.plant._replace(load_steady=0.5 * driven.plant.load_steady)
    others = {
        HALF_LOAD: driven._replace(plant=half),
        HALF_POWER: driven._replace(power=0.5 * driven.power),
    }
    found = {}
    for title, inputs in others.items():
        slopes = replay.slopes(fit.values, inputs, tubes, of=places) * replay.spreads[places]
        found[title] = (slopes / replay.scale[:, None, None]).reshape(-1, len(places))
    found["the same log once more"] = fit.slopes / fit.widened
    shear = stress_max * np.arange(1, LEVELS + 1) / LEVELS
    ends = coupon_ends(alloy, stress_max)

    def coupons(card: Any) -> dict[str, Numbers]:
        hot = float(ends[1])
        kelvin = np.array([ends[0], hot])
        return {
            TITLES[TORQUE]: constant_torque(shear, ends, wall_ratio, card).strain,
            TWIST: isothermal_twist(kelvin, stress_max, hot, wall_ratio, card).strain,
        }

    middle = coupons(alloy)
    columns: dict[str, list[Numbers]] = {title: [] for title in middle}
    for name, spread in zip(names, replay.spreads[places], strict=True):
        step = STEP * spread if name in ALLOY else 0.0
        moved = coupons(alloy._replace(**{name: getattr(alloy, name) + step})) if step else middle
        for title, strain in middle.items():
            away = (moved[title] - strain) / STEP
            columns[title].append((away / (NOISE * np.ptp(strain))).ravel())
    return found | {title: np.stack(own, axis=1) for title, own in columns.items()}
