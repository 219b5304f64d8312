"""Ends of a front: the first objective alone, and every other one as tight as it goes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.explore.fronts.known_points import KnownPoints, Scale

PROBES = 15  # bounds of one round of the search for the tightest
ROUNDS = 2  # after the first look over the range
INSIDE = 1e-4  # of the range: the end of a front is solved so far inside its tightest bound


class FrontEnds(NamedTuple):
    """Ends of a front.

    Attributes
    ----------
    anchors
        Places of the points: the first objective alone, then each other one at its tightest.
    tight, loose
        Bounds between which the front lies.
    scale
        Range of the objectives over the anchors.
    """

    anchors: Indices
    tight: Floats
    loose: Floats
    scale: Scale

    def rescaled(self, known: KnownPoints) -> FrontEnds:
        """Ends with the range of all points of the front: a flat piece at its end is left out."""
        nadir = known.values[known.front(self.scale)].max(axis=0)
        return self._replace(scale=self.scale._replace(nadir=nadir))


def find_ends(known: KnownPoints, look: int) -> FrontEnds | None:
    """Find the ends; None where even the loosest bounds have no optimum.

    Parameters
    ----------
    known : solves bounds, and keeps them
    look : bounds that are laid over every range first, together with the loosest ones
    """
    bounds = [known.loosest]
    shares = np.arange(look + 1) / (look + 1.0)
    for which, one in enumerate(known.ranges):
        if np.isfinite(one).all():
            values = one.tight + shares * (one.loose - one.tight)
            bounds += [*_turned(known.loosest, which, values)]
    first = int(known.ask(np.array(bounds))[0])
    if not known.feasible[first]:
        return None
    tightest = [_tightest(known, which) for which in range(len(known.ranges))]
    tight = np.array([known.bounds[place, which] for which, place in enumerate(tightest)])
    places = np.array([first, *tightest], dtype=np.intp)
    nadir = known.values[places].max(axis=0)
    ideal = np.append(known.values[places, 0].min(), tight)
    return FrontEnds(places, tight, np.maximum(nadir[1:], tight), Scale(ideal, nadir))


def _turned(bounds: Floats, which: int, values: Floats) -> Floats:
    """Bounds with one of them at several values, shape (values, bounded)."""
    turned = np.tile(bounds, (len(values), 1))
    turned[:, which] = values
    return turned


def _tightest(known: KnownPoints, which: int) -> int:
    """Place of the point with one objective at its tightest, the other bounds loose.

    Where the solver does not know the tightest bound it is sought in rounds of evenly spread ones.
    Every round tries the loosest bound without an optimum again: it starts from nearer designs.
    """
    assert known.solve is not None
    range_, first = known.ranges[which], known.bounds[0]
    least = known.solve.tightest(which)
    if least is not None:
        reached = float(known.values[0, which + 1])
        bound = max(range_.tight, least + INSIDE * max(reached - least, 0.0))
        known.ask(_turned(first, which, np.array([bound])))
        return _best(known, which)
    shares = np.arange(PROBES + 1) / (PROBES + 1.0)
    for _ in range(ROUNDS):
        high = float(known.bounds[_best(known, which), which])
        if high <= range_.tight:
            break
        none = known.bounds[~known.feasible, which]
        low = max(none[none < high], default=range_.tight)
        known.ask(_turned(first, which, low + (high - low) * shares))
    return _best(known, which)


def _best(known: KnownPoints, which: int) -> int:
    """Place of the tightest bound of one objective that has an optimum, the others loose."""
    others = np.delete(known.bounds == known.bounds[0], which, axis=1).all(axis=1)
    good = np.flatnonzero(others & known.feasible)
    return int(good[np.argmin(known.bounds[good, which])])
