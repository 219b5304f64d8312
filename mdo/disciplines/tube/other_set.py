r"""State of the set that is wound while the other drives: what it resists by how it was cooled.

Strains are counted from where the set stands free of load and hot; at a resolved wall each point
has its own. A set never counts as pushing along. The card of the examples is a made-up one with
G_M 25.2 GPa, H_sat 0.033, k 0.0075 per MPa above 25 MPa, detwinning from 150 to 300 MPa.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.phases import ROOT3, phase_temperatures
from mdo.disciplines.tube.sma import martensite_stress, transformation_strain_cooling


def trained(alloy: Alloy, two_way_strain: ArrayLike) -> Alloy:
    """Card of a trained set: it takes its two-way strain on cooling without any load.

    Parameters
    ----------
    alloy
        Card.
    two_way_strain
        Strain that cooling alone gives, tensile [1]; at most the saturated one.

    Returns
    -------
    Alloy
        Card with that strain as H_min [1].

    Examples
    --------
    >>> float(trained(Alloy(**dict.fromkeys(Alloy._fields, 0.0)), 0.008).strain_min)
    0.008

    References
    ----------
    Lagoudas et al. 2012, Int. J. Plasticity 32-33, 155-183, H_min (from memory).
    """
    return alloy._replace(strain_min=two_way_strain)


def strain_from_cooling(stress: ArrayLike, locked: ArrayLike, alloy: Alloy) -> Array:
    """Transformation strain that a set has once it is cold.

    Parameters
    ----------
    stress
        Stress under which it cooled [Pa], any shape; below zero it counts as zero.
    locked
        1 where a lock took the load, so that it cooled free; 0 where it cooled under load [1].
    alloy
        Card; trained or not.

    Returns
    -------
    Array
        Engineering shear strain [1].

    Examples
    --------
    Under a lock, untrained, nothing is oriented; under 50 MPa (hand: sqrt3 0.033 (1 - exp(-0.0075
    (86.603 - 25)))):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"strain_saturation": 0.033,
    ...     "strain_rate_constant": 7.5e-9, "strain_threshold_stress": 25e6, "strain_factor": 1.0})
    >>> float(strain_from_cooling(50e6, 1.0, card)), float(strain_from_cooling(50e6, 0.0, card))
    (0.0, 0.02115)

    References
    ----------
    Derived from :func:`mdo.disciplines.tube.sma.transformation_strain_cooling`.
    """
    carried = jnp.where(jnp.asarray(locked) > 0.5, 0.0, jnp.maximum(jnp.asarray(stress), 0.0))
    return transformation_strain_cooling(carried, alloy)


def cold_stress(strain: ArrayLike, formed: ArrayLike, alloy: Alloy) -> Array:
    r"""Stress of a long-cold set that is wound on from where it cooled.

    .. math:: \gamma = \tau/G_M + \max(\gamma_0, \sqrt3 H_{detw}(\tau))

    Parameters
    ----------
    strain
        Total strain to which it is wound [1], any shape.
    formed
        Transformation strain that it has, of :func:`strain_from_cooling` [1], broadcasts.
    alloy
        Card.

    Returns
    -------
    Array
        Stress that it resists with [Pa], not negative.

    Notes
    -----
    Elastic from the strain that it has; then its martensite is detwinned. Strain rises with the
    stress on both branches, so the lesser of the two stresses is the root.

    Examples
    --------
    Cooled under lock, untrained, and wound by 2.5 % (table of an independent trial: 122 MPa):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"strain_saturation": 0.033,
    ...     "strain_rate_constant": 7.5e-9, "strain_threshold_stress": 25e6, "strain_factor": 1.0,
    ...     "martensite_shear_modulus": 25.2e9, "detwinning_start_stress": 150e6,
    ...     "detwinning_finish_stress": 300e6})
    >>> float(cold_stress(0.025, 0.0, card)) / 1e6
    122.

    References
    ----------
    Derived; detwinning by Brinson 1993, J. Intell. Mater. Syst. Struct. 4, 229 (from memory).
    """
    elastic = alloy.martensite_shear_modulus * (jnp.asarray(strain) - formed)
    detwinned = martensite_stress(strain, alloy, 1.0)
    return jnp.maximum(jnp.minimum(elastic, detwinned), 0.0)


def just_heated_stress(strain: ArrayLike, alloy: Alloy) -> Array:
    """Stress of a set that cools while the other winds it.

    Parameters
    ----------
    strain
        Total strain to which it is wound [1], any shape.
    alloy
        Card.

    Returns
    -------
    Array
        Stress that it resists with [Pa], not negative.

    Examples
    --------
    Wound by 2.5 % (table of an independent trial: 54 MPa):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"strain_saturation": 0.033,
    ...     "strain_rate_constant": 7.5e-9, "strain_threshold_stress": 25e6, "strain_factor": 1.0,
    ...     "martensite_shear_modulus": 25.2e9, "detwinning_start_stress": 150e6,
    ...     "detwinning_finish_stress": 300e6})
    >>> float(just_heated_stress(0.025, card)) / 1e6
    54.

    References
    ----------
    Derived from :func:`mdo.disciplines.tube.sma.martensite_stress`.
    """
    return jnp.maximum(martensite_stress(strain, alloy, 0.0), 0.0)


def is_just_heated(temperature: ArrayLike, stress: ArrayLike, alloy: Alloy) -> Array:
    """Whether a set is still above its M_s' when a leg starts: else it is cold.

    Parameters
    ----------
    temperature
        Temperature of the set where the leg starts [K], any shape.
    stress
        Stress that it then carries [Pa].
    alloy
        Card.

    Returns
    -------
    Array
        True or false [1].

    Examples
    --------
    M_s 340 K, 7 MPa/K, 50 MPa: M_s' 352.37 K (hand):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"martensite_start": 340.0,
    ...     "martensite_slope": 7e6, "austenite_slope": 7e6, "slope_factor": 1.0})
    >>> bool(is_just_heated(352.4, 50e6, card)), bool(is_just_heated(352.3, 50e6, card))
    (True, False)

    References
    ----------
    Derived (definition of the state of the other set).
    """
    shifted = phase_temperatures(jnp.maximum(jnp.asarray(stress), 0.0), alloy)
    return jnp.asarray(temperature) >= shifted.martensite_start


def detwinning_travel(formed: ArrayLike, strain: ArrayLike, alloy: Alloy) -> Array:
    r"""Strain by which a cold set can be wound before its martensite detwins.

    .. math:: \Delta\gamma = \sigma_s/(\sqrt3 G_M) + \gamma_0 - \gamma

    Parameters
    ----------
    formed
        Transformation strain that it has [1], any shape.
    strain
        Total strain where it stands [1].
    alloy
        Card.

    Returns
    -------
    Array
        Strain [1]; below zero it detwins where it stands.

    Examples
    --------
    From rest, untrained (hand: 150/(1.732051 x 25200)):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"martensite_shear_modulus": 25.2e9,
    ...     "detwinning_start_stress": 150e6})
    >>> float(detwinning_travel(0.0, 0.0, card))
    0.0034366

    References
    ----------
    Derived.
    """
    start = jnp.asarray(alloy.detwinning_start_stress) / ROOT3 / alloy.martensite_shear_modulus
    return start + jnp.asarray(formed) - strain
