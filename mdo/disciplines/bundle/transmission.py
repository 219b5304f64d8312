"""Efficiency from the torques of the tubes to the hinge."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.assumptions import BundleAssumptions
from mdo.disciplines.records import Choices

GEARED = 2


class Transmission(NamedTuple):
    """Efficiency from the sum of tube torques to the hinge [1]."""

    transmission_efficiency: Array


def mean_idlers(gear_lanes: ArrayLike) -> Array:
    """Idlers between a tube and its wheel, mean over parallel lanes.

    .. math:: (n - 1)/2

    Parameters
    ----------
    gear_lanes
        Parallel lanes n [1].

    Returns
    -------
    Array
        Idlers [1].

    Examples
    --------
    Three lanes reach their wheels through 0, 1 and 2 idlers:

    >>> float(mean_idlers(3.0))
    1.0

    References
    ----------
    Derived.
    """
    return (jnp.asarray(gear_lanes) - 1.0) / 2.0


def transmission(*, choices: Choices, bundle_assumptions: BundleAssumptions) -> Transmission:
    r"""Efficiency of torque collection: sharing, axial joint and gear meshes (geared only).

    .. math:: \eta = \eta_s\,\eta_j\,\eta_m^{1 + (n-1)/2}

    Parameters
    ----------
    choices
        Record: topology, gear_lanes n.
    bundle_assumptions
        Record: the three efficiencies.

    Returns
    -------
    Transmission
        Efficiency [1].

    Examples
    --------
    Geared in three lanes, so two meshes (hand: 0.9 x 0.98 x 0.97^2):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(sharing_efficiency=0.9, joint_efficiency=0.98, mesh_efficiency=0.97)
    >>> three = SimpleNamespace(topology=float(GEARED), gear_lanes=3.0)
    >>> float(transmission(choices=three, bundle_assumptions=plain).transmission_efficiency)
    0.829874

    References
    ----------
    Derived; the efficiencies are judgement.
    """
    a = bundle_assumptions
    meshes = 1.0 + mean_idlers(choices.gear_lanes)
    gears = jnp.asarray(a.mesh_efficiency) ** meshes
    mesh = jnp.where(jnp.asarray(choices.topology) == GEARED, gears, 1.0)
    return Transmission(jnp.asarray(a.sharing_efficiency) * a.joint_efficiency * mesh)
