"""What lies between the points of a map: mass and feasibility of each choice, with their error.

For each choice a surface of the logarithm of the mass goes through its feasible optima, with their
slopes, and one of the edge through all its points: the least violation where nothing is feasible,
with its slopes, and below zero where something is. Axes are stretched by what they do, so that one
that does nothing keeps no points apart. A part of the points, drawn by a seed, is left out of all
surfaces: their errors are those that the page states.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Booleans, Floats
from mdo.explore.maps.interpolant import Surface, fit
from mdo.model.system import OBJECTIVE
from mdo.optimise.status import FEASIBLE, INFEASIBLE

HELD_OUT, MOST_HELD = 0.2, 1000  # share of the points, and how many at most
EQUATIONS = 2400  # of one surface at most: a second or two
LEAST_STRETCH = 0.01  # of an axis, over that of the one that does most
SLACK = 0.1  # share of the median violation
NEIGHBOURS = 2  # times the axes and one: points whose errors are stated at a place
STATED = 2.0  # what is stated, over the errors of the points left out one by one
MISTAKES = 0.01  # share of such points that may be wrong outside the unsure band
LEAST_ERROR = 1e-4
YES, UNSURE, NO = "feasible", "unsure", "not feasible"


class Stretched(NamedTuple):
    """A surface over stretched axes: the places of its centres are those of the box by ``by``."""

    surface: Surface
    by: Floats

    @property
    def off(self) -> Floats:
        """How far it is off each of its points when that one is left out, shape (n,)."""
        return self.surface.left_out[:, 0]

    def at(self, places: Floats) -> Floats:
        """Return the surface at places of the unit box, shape (m,)."""
        return self.surface.at(places * self.by)[:, 0]


class Technology(NamedTuple):
    """One choice over the map.

    Attributes
    ----------
    words
        Of the choice.
    optima, lost
        Its feasible points in the surfaces, and those where nothing is feasible.
    mass
        Logarithm of the mass; None where too few points are feasible.
    edge
        Below zero where a design exists; None where all points have one.
    band
        Distance of the edge from zero within which it is not sure.
    """

    words: str
    optima: pd.DataFrame
    lost: pd.DataFrame
    mass: Stretched | None
    edge: Stretched | None
    band: float

    @property
    def apart(self) -> Floats:
        """Distance of each optimum to the next one, over the stretched axes, shape (n,)."""
        assert self.mass is not None
        centres = self.mass.surface.centres
        far = np.linalg.norm(centres[:, None] - centres[None], axis=-1)
        return np.asarray((far + np.diag(np.full(len(far), np.inf))).min(axis=1))

    @property
    def errors(self) -> Floats:
        """Relative error that each optimum states for places near it, shape (n,)."""
        assert self.mass is not None
        return np.asarray(np.maximum(STATED * np.abs(self.mass.off), LEAST_ERROR))

    def others(self, names: Sequence[str]) -> tuple[Surface, list[bool]]:
        """Return a surface of other columns over the optima, and which of them are logarithms."""
        assert self.mass is not None
        values = self.optima[list(names)].to_numpy(float)
        logarithmic = (values > 0.0).all(axis=0)
        values = np.where(logarithmic, np.log(np.where(logarithmic, values, 1.0)), values)
        known = np.isfinite(values).all(axis=0)
        made = fit(self.mass.surface.centres, np.where(known, values, 0.0))
        return made._replace(plane=np.where(known, made.plane, np.nan)), logarithmic.tolist()

    def others_at(self, names: Sequence[str], places: Floats) -> Floats:
        """Return other columns at places of the unit box, shape (m, columns)."""
        assert self.mass is not None
        surface, logarithmic = self.others(names)
        found = surface.at(places * self.mass.by)
        return np.where(logarithmic, np.exp(np.where(logarithmic, found, 0.0)), found)

    def verdicts(self, places: Floats) -> np.ndarray:
        """Return 1 where a design exists, 0 where that is not sure, -1 where none does."""
        if self.mass is None:
            return np.full(len(places), -1)
        if self.edge is None:
            return np.ones(len(places), dtype=int)
        edge = self.edge.at(places)
        return np.where(edge > self.band, -1, np.where(edge < -self.band, 1, 0))

    def masses(self, places: Floats) -> tuple[Floats, Floats]:
        """Return the mass [kg] and its stated relative error at places.

        Stated is the largest error of the optima nearby; farther from them than they are from each
        other it grows with the square of the distance.
        """
        assert self.mass is not None
        moved = places * self.mass.by
        far = np.linalg.norm(moved[:, None] - self.mass.surface.centres[None], axis=-1)
        count = min(NEIGHBOURS * (places.shape[1] + 1), far.shape[1])
        near = np.argsort(far, axis=1, kind="stable")[:, :count]
        beyond = far.min(axis=1) / np.maximum(self.apart[near].mean(axis=1), np.finfo(float).tiny)
        stated = self.errors[near].max(axis=1) * np.maximum(beyond, 1.0) ** 2
        return np.exp(self.mass.at(places)), stated


class Trade(NamedTuple):
    """A map between its points.

    ``low`` and ``high`` are the ends of the axes; ``whole`` counts all points of the map and
    ``kept`` those in the surfaces;
    ``held`` has one row per point that was left out (see :func:`checked`), drawn by ``seed``.
    """

    axes: tuple[str, ...]
    low: Floats
    high: Floats
    technologies: tuple[Technology, ...]
    whole: int
    kept: int
    held: pd.DataFrame
    seed: int

    def answers(self, points: Floats) -> pd.DataFrame:
        """Return verdict, lightest choice, its mass [kg] and stated error at points, SI."""
        places = (points - self.low) / (self.high - self.low)
        verdicts = np.stack([one.verdicts(places) for one in self.technologies])
        masses, stated = np.full((2, *verdicts.shape), np.nan)
        best = verdicts.max(axis=0)
        for at, one in enumerate(self.technologies):
            if one.mass is not None:
                masses[at], stated[at] = one.masses(places)
        lightest = np.where((verdicts == best) & np.isfinite(masses), masses, np.inf).argmin(axis=0)
        each, none = np.arange(len(points)), best < 0
        words = np.array([one.words for one in self.technologies], dtype=object)
        return pd.DataFrame({
            "verdict": np.array([NO, UNSURE, YES], dtype=object)[best + 1],
            "choice": np.where(none, "", words[lightest]),
            "mass": np.where(none, np.nan, masses[lightest, each]),
            "stated": np.where(none, np.nan, stated[lightest, each]),
        })  # fmt: skip

    def checked(self, best: pd.DataFrame) -> pd.DataFrame:
        """Return the answers at solved points beside what was solved there.

        Parameters
        ----------
        best : axes, ``feasible`` and ``solved`` [kg] of each point, of its lightest choice
        """
        found = self.answers(best[list(self.axes)].to_numpy(float))
        both = pd.concat([best.reset_index(drop=True), found], axis=1)
        both["error"] = both["mass"] / both["solved"] - 1.0
        return both


def trade_of(points: pd.DataFrame, axes: pd.DataFrame, seed: int) -> Trade | None:
    """Lay surfaces through the points of a map; None where too few of them are feasible.

    Parameters
    ----------
    points, axes : the tables ``map_points`` and ``map_axes``
    seed : of the points that are left out
    """
    names = tuple(str(name) for name in axes["axis"])
    low, high = (axes[end].to_numpy(float) for end in ("low", "high"))
    numbers = np.sort(points["point"].unique())
    held, kept = _split(numbers, seed, EQUATIONS // (1 + len(names)))
    used = points[points["point"].isin(kept)]
    technologies = tuple(
        _technology(str(words), part, names, low, high)
        for words, part in used.groupby("choice", sort=False)
    )
    if all(one.mass is None for one in technologies):
        return None
    counts = len(numbers), len(kept)
    made = Trade(names, low, high, technologies, *counts, held=pd.DataFrame(), seed=seed)
    best = best_of(points[points["point"].isin(held)], names)
    return made._replace(held=made.checked(best))


def best_of(points: pd.DataFrame, axes: Sequence[str]) -> pd.DataFrame:
    """Return points with the mass of their lightest choice; those with an open choice left out."""
    settled = points["status"].isin([FEASIBLE, INFEASIBLE]).groupby(points["point"]).all()
    whole = points[points["point"].map(settled)]
    columns = {**dict.fromkeys(axes, "first"), OBJECTIVE: "min"}
    found = whole.groupby("point", as_index=False).agg(columns)
    found = found.rename(columns={OBJECTIVE: "solved"})
    return found.assign(feasible=found["solved"].notna())


def _split(numbers: np.ndarray, seed: int, most: int) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of the points that are left out, and of those that are kept."""
    drawn = np.random.default_rng(seed).permutation(numbers)
    count = max(round(HELD_OUT * len(drawn)), len(drawn) - most)
    return np.sort(drawn[: min(count, MOST_HELD)]), np.sort(drawn[count:])


def _technology(
    words: str, part: pd.DataFrame, names: Sequence[str], low: Floats, high: Floats
) -> Technology:
    """Surfaces of one choice."""
    met, lost = (
        part[part["status"] == status].reset_index(drop=True) for status in (FEASIBLE, INFEASIBLE)
    )
    span = high - low
    good, bad = ((own[list(names)].to_numpy(float) - low) / span for own in (met, lost))
    if len(met) < 2 * (1 + len(names)):
        return Technology(words, met, lost, None, None, 0.0)
    masses = met[OBJECTIVE].to_numpy(float)
    slopes = _slopes(met, "cost", names) * span / masses[:, None]
    mass = _stretched(good, np.log(masses), slopes)
    if lost.empty:
        return Technology(words, met, lost, mass, None, 0.0)
    harder = _slopes(lost, "harder", names) * span
    edge, band = _edge(good, bad, lost["violation"].to_numpy(float), harder)
    return Technology(words, met, lost, mass, edge, band)


def _slopes(frame: pd.DataFrame, what: str, names: Sequence[str]) -> Floats:
    """Slopes along the axes as a table has them, NaN where it has none."""
    named = [f"{what}.{name}" for name in names]
    return np.asarray(frame.reindex(columns=named), dtype=float)


def _stretched(places: Floats, values: Floats, slopes: Floats) -> Stretched:
    """Surface through values and slopes, each axis stretched by its mean slope."""
    by = stretch(slopes)
    return Stretched(fit(places * by, values[:, None], (slopes / by)[:, :, None]), by)


def stretch(slopes: Floats) -> Floats:
    """Stretch of each axis by its mean slope, one for the steepest."""
    known = slopes[np.isfinite(slopes).all(axis=1)]
    steep = np.sqrt((known**2).mean(axis=0)) if len(known) else np.ones(slopes.shape[1])
    return np.asarray(np.maximum(steep / max(float(steep.max()), 1e-300), LEAST_STRETCH))


def _edge(good: Floats, bad: Floats, violation: Floats, slopes: Floats) -> tuple[Stretched, float]:
    """Surface that is the least violation where nothing is feasible, and below zero elsewhere.

    A feasible point is as far below zero as the planes through the others say, by the one that
    leaves it least; where that says that it is not, by a share of the median violation.
    """
    tilted = np.where(np.isfinite(slopes), slopes, 0.0)
    planes = violation + np.einsum("gbd,bd->gb", good[:, None] - bad[None], tilted)
    least = planes.max(axis=1)
    below = np.where(least < 0.0, least, -SLACK * float(np.median(violation)))
    values = np.concatenate([violation, below])
    known = np.vstack([slopes, np.full_like(good, np.nan)])
    edge = _stretched(np.vstack([bad, good]), values, known)
    said = values - edge.off
    return edge, unsure_band(said, (said > 0.0) != (values > 0.0))


def unsure_band(said: Floats, wrong: Booleans) -> float:
    """Return the narrowest band outside of which hardly any point is taken for what it is not.

    Parameters
    ----------
    said : what the edge says of each point that is left out by itself
    wrong : whether that is on the wrong side of zero
    """
    order = np.argsort(-np.abs(said), kind="stable")
    share = np.cumsum(wrong[order]) / np.arange(1, len(said) + 1)
    few = np.flatnonzero(share <= MISTAKES)
    return float(np.abs(said)[order[few[-1] if few.size else 0]])
