"""Walk along one number to where two masses meet: to the end of a range, back, and to the root."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from scipy.optimize import brentq

from mdo.optimise.optimum import Optimum
from mdo.optimise.reoptimise import NoOptimumError

CLOSE = 1e-4  # of the bracket, tolerance of the root
BACK = 4  # how often the range is halved where nothing is found at its end
KEPT = 0.9  # share of the difference left at the end from which the middle is not looked at
MOST = 12  # steps of Brent's method
ALIKE = 0.01  # share of the difference within which the point nearest to the present is the closest


class Reached(NamedTuple):
    """Both masses of the aircraft [kg] at one value; the optimum found there, if there is one."""

    value: float
    mass: float
    rival: float
    optimum: Optimum | None

    @property
    def difference(self) -> float:
        """SMA actuator less rival [kg]."""
        return self.mass - self.rival


Find = Callable[[float, Reached], Reached]


@dataclass
class Walk:
    """Points along one number, each found from the nearest one known.

    Attributes
    ----------
    find
        Gives the point at a value from one nearby; raises NoOptimumError where there is none.
    now
        Where it starts.
    known, stopped
        Points found, the start first; values at which there was none, with the reason.
    """

    find: Find
    now: Reached
    known: list[Reached] = field(default_factory=list)
    stopped: list[tuple[float, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.known.append(self.now)

    @property
    def optima(self) -> int:
        """How many points were looked for."""
        return len(self.known) - 1 + len(self.stopped)

    def at(self, value: float) -> Reached | None:
        """Point at a value, None where there is none."""
        near = min(self.known, key=lambda point: abs(point.value - value))
        if near.value == value:
            return near
        try:
            point = self.find(value, near)
        except NoOptimumError as reason:
            self.stopped.append((value, "no such study" if reason.fault else "no design found"))
            return None
        self.known.append(point)
        return point

    def closest(self) -> Reached:
        """Point of least difference; of alike ones the one nearest to the start."""
        limit = (1.0 + ALIKE) * min(abs(point.difference) for point in self.known)
        alike = [point for point in self.known if abs(point.difference) <= limit]
        return min(alike, key=lambda point: abs(point.value - self.now.value))

    def beyond(self) -> Reached | None:
        """Point nearest to the start at which the difference has the other sign, None if none."""
        other = [point for point in self.known if not _same_side(self.now, point)]
        return min(other, key=lambda point: abs(point.value - self.now.value), default=None)

    def first_stop(self) -> tuple[float, str]:
        """Value nearest to the start at which there was nothing, and why; NaN if none."""
        nothing = (math.nan, "")
        return min(self.stopped, key=lambda stop: abs(stop[0] - self.now.value), default=nothing)


def walk_to(walk: Walk, limit: float, slope: float = 0.0) -> Reached | None:
    """Find the point at which the difference is zero between the start and a limit.

    Only ends, middle and the way to the root are looked at; the middle only where the end narrows
    the difference by more than a tenth. Where neither turns it, twice Newton's step from the start
    is looked at: a turn close by may be turned back before the middle, or nothing be found there.

    Parameters
    ----------
    walk, limit : points known, and the end of the range
    slope : derivative of the difference at the start, 0 if unknown

    Returns
    -------
    The point, or None if the difference does not change its sign at any value that was looked at.
    """
    far = _turned(walk, limit) or _turned_close_by(walk, limit, slope)
    return None if far is None else _root(walk, far)


def _turned(walk: Walk, limit: float) -> Reached | None:
    """Point at or near the end of the range, or in its middle, where the sign is another."""
    far = walk.at(limit)
    for _ in range(BACK):
        if far is not None:
            break
        limit = 0.5 * (walk.now.value + limit)
        far = walk.at(limit)
    if far is None:
        return None
    if walk.stopped and _same_side(walk.now, far):  # there may be more a little further on
        far = walk.at(0.5 * (far.value + walk.stopped[-1][0])) or far
    if not _same_side(walk.now, far):
        return far
    if abs(far.difference) > KEPT * abs(walk.now.difference):
        return None
    middle = walk.at(0.5 * (walk.now.value + far.value))
    return None if middle is None or _same_side(walk.now, middle) else middle


def _turned_close_by(walk: Walk, limit: float, slope: float) -> Reached | None:
    """Point twice Newton's step away, if it lies in the range and the sign is another there."""
    start = walk.now.value
    step = -2.0 * walk.now.difference / slope if slope else math.inf
    if not 0.0 < step / (limit - start) < 1.0:
        return None
    close = walk.at(start + step)
    return None if close is None or _same_side(walk.now, close) else close


def _same_side(first: Reached, other: Reached) -> bool:
    return first.difference * other.difference > 0.0


def _root(walk: Walk, far: Reached) -> Reached | None:
    """Close in on the value of no difference by Brent's method."""

    def difference(value: float) -> float:
        point = walk.at(float(value))
        if point is None:
            raise NoOptimumError
        return point.difference

    start = walk.now.value
    width = CLOSE * abs(far.value - start)
    try:
        root = brentq(difference, start, far.value, xtol=width, maxiter=MOST, disp=False)
    except NoOptimumError:
        return None
    return walk.at(float(root))
