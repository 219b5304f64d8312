"""Radiation of tubes: effective emissivity of packed tubes, linear coefficient."""

from __future__ import annotations

from jax import Array

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m**2*K**4)] CODATA 2018, exact by definition of the SI


def effective_emissivity(emissivity: Array, escape: Array) -> Array:
    r"""Emissivity of equal tubes at one temperature that see the bay with a fraction ``escape``.

    .. math:: \varepsilon_e = \left[\frac{1-\varepsilon}{\varepsilon}+\frac1F\right]^{-1}
        = \frac{\varepsilon F}{F(1-\varepsilon)+\varepsilon}

    Parameters
    ----------
    emissivity
        :math:`\varepsilon` [1], above 0 and at most 1, any shape.
    escape
        :math:`F`, view factor from a tube to the bay [1], 0 to 1.

    Returns
    -------
    Array
        Effective emissivity on the tube's own area [1]; the bay is large.

    Examples
    --------
    One half of each (hand: 1/(1 + 2)):

    >>> float(effective_emissivity(0.5, 0.5))
    0.333333

    References
    ----------
    Two-surface grey enclosure, Incropera and DeWitt, equation 13.23 (from memory).
    """
    return emissivity * escape / (escape * (1.0 - emissivity) + emissivity)


def radiative_coefficient(surface: Array, surroundings: Array) -> Array:
    r"""Linear coefficient of a black surface.

    .. math:: h_r = \sigma(T_s^2+T_e^2)(T_s+T_e)

    Parameters
    ----------
    surface, surroundings
        Temperatures :math:`T_s, T_e` [K], any shape.

    Returns
    -------
    Array
        Coefficient [W/(m**2*K)], to be multiplied by the effective emissivity.

    Examples
    --------
    100 degC against 20 degC at emissivity 0.8 (hand: 6.8):

    >>> 0.8 * float(radiative_coefficient(373.15, 293.15))
    6.81

    References
    ----------
    Derived from Stefan's law.
    """
    return STEFAN_BOLTZMANN * (surface**2 + surroundings**2) * (surface + surroundings)
