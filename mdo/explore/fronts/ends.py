"""FrontEnds of a front: the first objective alone, and every other one as tight as it goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats, Indices
from mdo.explore.fronts.known_points import KnownPoints, Range, Scale, Solve

PROBES = 15  # bounds of one round of the search for the tightest
ROUNDS = 2  # after the first look over the range
INSIDE = 1e-4  # of the range: the end of a front is solved so far inside its tightest bound


class FrontEnds(NamedTuple):
    """FrontEnds of a front.

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


def find_ends(
    solve: Solve, known: KnownPoints, ranges: Sequence[Range], look: int
) -> FrontEnds | None:
    """Find the ends; None where even the loosest bounds have no optimum.

    Parameters
    ----------
    solve : of one bound or many
    known : gets every bound that is solved
    ranges : of the bounded objectives
    look : bounds that are laid over every range first
    """
    loose = np.array([one.loose for one in ranges])
    first = _first(solve, known, ranges, look)
    if not known.feasible[first]:
        return None
    anchors, tight = [first], np.empty(len(ranges))
    for which, one in enumerate(ranges):
        anchors.append(_tightest(solve, known, which, one))
        tight[which] = known.bounds[anchors[-1], which]
    places = np.array(anchors, dtype=np.intp)
    reached = known.values[places]
    nadir = reached.max(axis=0)
    loose = np.maximum(nadir[1:], tight)
    return FrontEnds(places, tight, loose, Scale(np.append(reached[:, 0].min(), tight), nadir))


def _first(solve: Solve, known: KnownPoints, ranges: Sequence[Range], look: int) -> int:
    """Place of the point with the loosest bounds, asked together with a look over every range."""
    loose = np.array([one.loose for one in ranges])
    bounds = [loose]
    shares = np.arange(look + 1) / (look + 1.0)
    for which, one in enumerate(ranges):
        if np.isfinite([one.tight, one.loose]).all():
            asked = np.tile(loose, (look + 1, 1))
            asked[:, which] = one.tight + shares * (one.loose - one.tight)
            bounds += [*asked]
    return int(known.ask(solve, np.array(bounds))[0])


def _tightest(solve: Solve, known: KnownPoints, which: int, one: Range) -> int:
    """Place of the point with one objective at its tightest, the other bounds loose."""
    least = solve.tightest(which)
    if least is None:
        return _sought(solve, known, which, one)
    reached = float(known.values[0, which + 1])
    bound = max(one.tight, least + INSIDE * max(reached - least, 0.0))
    return _asked(solve, known, which, np.array([bound]))


def _asked(solve: Solve, known: KnownPoints, which: int, bounds: Floats) -> int:
    """Solve one bounded objective at bounds; place of the tightest that has an optimum so far."""
    asked = np.tile(known.bounds[0], (len(bounds), 1))
    asked[:, which] = bounds
    known.ask(solve, asked)
    return _best(known, which)


def _best(known: KnownPoints, which: int) -> int:
    """Place of the tightest bound of one objective that has an optimum, the others loose."""
    others = np.delete(known.bounds == known.bounds[0], which, axis=1).all(axis=1)
    good = np.flatnonzero(others & known.feasible)
    return int(good[np.argmin(known.bounds[good, which])])


def _sought(solve: Solve, known: KnownPoints, which: int, one: Range) -> int:
    """Tightest bound that has an optimum, by rounds of evenly spread bounds.

    Every round tries the loosest bound without one again: it starts from nearer designs.
    """
    best = _best(known, which)
    shares = np.arange(PROBES + 1) / (PROBES + 1.0)
    for _ in range(ROUNDS):
        high = float(known.bounds[best, which])
        if high <= one.tight:
            break
        none = known.bounds[~known.feasible, which]
        low = max(none[none < high], default=one.tight)
        best = _asked(solve, known, which, low + (high - low) * shares)
    return best
