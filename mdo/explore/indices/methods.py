r"""Sobol indices and Morris effects of any function of the unit cube: samples, then analysis.

**Sobol.** Variance-based indices from Saltelli's samples: for each base sample one point of A, one
of B, and A with each input taken from B, so ``n (k + 2)`` points. First order
:math:`S_i = V_i/V`, total :math:`S_{T,i} = 1 - V_{\sim i}/V`; estimators and samples as in Saltelli
et al. (Computer Physics Communications 181, 2010, 259). Intervals are those of a bootstrap over
base samples.

**Morris.** Effects along trajectories that move one input at a time by two thirds of its range
(four levels): :math:`\mu^*`, the mean size of an effect, and :math:`\sigma`, its spread (Morris,
Technometrics 33, 1991, 161; Campolongo, Cariboni and Saltelli, Environmental Modelling & Software
22, 2007, 1509). An effect is what the output changes by over the whole range of the input.

A point may have no value (no feasible design). A sample is then of no use alone: the base sample
(or trajectory) is dropped whole, and how many were dropped is told. The indices then speak for the
part of the ranges where all points of a sample have values; inputs are no longer quite independent
there, so that first-order indices may add up to a little more or less than they should.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Floats

LEVELS = 4  # of Morris' grid
RESAMPLES = 1000
LEAST_KEPT = 8  # base samples or trajectories, below which nothing is said
STILL = 1e-12  # of the largest size of an output: less variation than this is none


class Sobol(NamedTuple):
    """Indices of each input with half widths of their intervals, and base samples used."""

    first: Floats
    first_interval: Floats
    total: Floats
    total_interval: Floats
    kept: int


class Morris(NamedTuple):
    """Mean size and spread of the effects of each input, and trajectories used."""

    effect: Floats
    effect_interval: Floats
    spread: Floats
    kept: int


def sobol_points(inputs: int, base: int, seed: int) -> Floats:
    """Points of the unit cube, shape (base (inputs + 2), inputs); ``base`` a power of two."""
    from SALib.sample import sobol

    # a seed of zero would count as none
    found = sobol.sample(_cube(inputs), base, calc_second_order=False, seed=seed + 1)
    return np.asarray(found, dtype=float)


def morris_points(inputs: int, trajectories: int, seed: int) -> Floats:
    """Points of the unit cube, shape (trajectories (inputs + 1), inputs)."""
    from SALib.sample import morris

    found = morris.sample(_cube(inputs), trajectories, num_levels=LEVELS, seed=seed + 1)
    return np.asarray(found, dtype=float)


def sobol_of(values: Floats, inputs: int, *, confidence: float, seed: int) -> Sobol:
    """Indices from the values at :func:`sobol_points`, NaN where a point has none."""
    from SALib.analyze import sobol

    samples = values.reshape(-1, inputs + 2)
    whole = samples[np.isfinite(samples).all(axis=1)]
    if len(whole) < LEAST_KEPT:
        return Sobol._make([*np.full((4, inputs), np.nan), len(whole)])
    if np.ptp(whole) <= STILL * np.abs(whole).max(initial=0.0):  # it does not vary at all
        return Sobol._make([*np.zeros((4, inputs)), len(whole)])
    found = sobol.analyze(
        _cube(inputs), whole.ravel(), calc_second_order=False, num_resamples=RESAMPLES,
        conf_level=confidence, seed=seed + 1,
    )  # fmt: skip
    names = ("S1", "S1_conf", "ST", "ST_conf")
    return Sobol._make([*(np.asarray(found[name], dtype=float) for name in names), len(whole)])


def morris_of(points: Floats, values: Floats, *, confidence: float, seed: int) -> Morris:
    """Effects from the values at :func:`morris_points`, NaN where a point has none."""
    from SALib.analyze import morris

    inputs = points.shape[1]
    samples = values.reshape(-1, inputs + 1)
    whole = np.isfinite(samples).all(axis=1)
    kept = int(whole.sum())
    if kept < 2:
        return Morris._make([*np.full((3, inputs), np.nan), kept])
    found = morris.analyze(
        _cube(inputs), points[np.repeat(whole, inputs + 1)], samples[whole].ravel(),
        num_resamples=RESAMPLES, conf_level=confidence, num_levels=LEVELS, seed=seed + 1,
    )  # fmt: skip
    names = ("mu_star", "mu_star_conf", "sigma")
    return Morris._make([*(np.asarray(found[name], dtype=float) for name in names), kept])


def _cube(inputs: int) -> dict[str, Any]:
    names = [f"x{number}" for number in range(inputs)]
    return {"num_vars": inputs, "names": names, "bounds": [[0.0, 1.0]] * inputs}
