"""Radiation of tubes: concentric cylinders, view factors of packed tubes, linear coefficient.

View factors are per unit length of infinitely long cylinders, by crossed strings. The pair formula
is never summed blindly: where neighbours hide each other the strings go round them, so that every
row sums to one (touching hexagonal and square lattices let nothing escape, exactly).
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

STEFAN_BOLTZMANN = 5.670374419e-8  # [W/(m**2*K**4)] CODATA 2018, exact by definition of the SI
HIDDEN_HEXAGONAL = 2.0 / 3.0**0.5  # [1] pitch ratio below which neighbours hide each other


def concentric_exchange(
    *,
    inner_radius: Array,
    outer_radius: Array,
    inner_temperature: Array,
    outer_temperature: Array,
    inner_emissivity: Array,
    outer_emissivity: Array,
) -> Array:
    r"""Net heat per length from the inner of two concentric grey cylinders.

    .. math:: q' = \frac{2\pi r_1\sigma(T_1^4-T_2^4)}
        {1/\varepsilon_1 + (1-\varepsilon_2)/\varepsilon_2\; r_1/r_2}

    Parameters
    ----------
    inner_radius, outer_radius
        :math:`r_1 < r_2` [m], any shape.
    inner_temperature, outer_temperature
        :math:`T_1, T_2` [K].
    inner_emissivity, outer_emissivity
        :math:`\varepsilon_1, \varepsilon_2` [1], above zero.

    Returns
    -------
    Array
        Heat flow per length [W/m], positive outwards.

    Examples
    --------
    Cryogenic line of 20 in 50 mm, 77 and 300 K, emissivity 0.02 and 0.05, gains 0.50 W/m (Incropera
    and DeWitt, from memory):

    >>> float(concentric_exchange(inner_radius=0.010, outer_radius=0.025, inner_temperature=77.0,
    ...     outer_temperature=300.0, inner_emissivity=0.02, outer_emissivity=0.05))
    -0.50

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, table 13.3 (from memory).
    """
    resistance = (
        1.0 / inner_emissivity
        + (1.0 - outer_emissivity) / outer_emissivity * inner_radius / outer_radius
    )
    drive = STEFAN_BOLTZMANN * (inner_temperature**4 - outer_temperature**4)
    return 2.0 * jnp.pi * inner_radius * drive / resistance


def shielded_exchange(
    *,
    inner_radius: Array,
    shield_radius: Array,
    outer_radius: Array,
    inner_temperature: Array,
    outer_temperature: Array,
    inner_emissivity: Array,
    shield_emissivity: Array,
    outer_emissivity: Array,
) -> Array:
    r"""Net heat per length with one thin shield between: the two exchanges in series.

    .. math:: q' = \frac{\sigma(T_1^4-T_2^4)}{R_{1s}+R_{s2}},\quad
        R_{ab} = \frac{1/\varepsilon_a+(1-\varepsilon_b)/\varepsilon_b\,r_a/r_b}{2\pi r_a}

    Parameters
    ----------
    inner_radius, shield_radius, outer_radius
        Radii [m], rising.
    inner_temperature, outer_temperature
        Temperatures [K].
    inner_emissivity, shield_emissivity, outer_emissivity
        Emissivities [1]; the shield has it on both faces.

    Returns
    -------
    Array
        Heat flow per length [W/m], positive outwards.

    Examples
    --------
    The line above with a shield of emissivity 0.02 at 35 mm (hand: half of it, 0.252 W/m):

    >>> float(shielded_exchange(inner_radius=0.010, shield_radius=0.0175, outer_radius=0.025,
    ...     inner_temperature=77.0, outer_temperature=300.0, inner_emissivity=0.02,
    ...     shield_emissivity=0.02, outer_emissivity=0.05))
    -0.252

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, section 13.3.3 (from memory).
    """

    def resistance(r_a: Array, r_b: Array, e_a: Array, e_b: Array) -> Array:
        return (1.0 / e_a + (1.0 - e_b) / e_b * r_a / r_b) / (2.0 * jnp.pi * r_a)

    total = resistance(inner_radius, shield_radius, inner_emissivity, shield_emissivity)
    total += resistance(shield_radius, outer_radius, shield_emissivity, outer_emissivity)
    return STEFAN_BOLTZMANN * (inner_temperature**4 - outer_temperature**4) / total


def _string(pitch_ratio: Array) -> Array:
    """Crossed string ``sqrt(X^2-1) + asin(1/X)`` [1]; its slope sqrt(X^2-1)/X vanishes at X = 1."""
    excess = pitch_ratio**2 - 1.0
    apart = excess > 1e-14
    root = jnp.sqrt(jnp.where(apart, excess, 1.0))
    return jnp.pi / 2.0 + jnp.where(apart, root - jnp.arctan(root), 0.0)


def pair_view_factor(pitch_ratio: Array) -> Array:
    r"""View factor between two equal parallel cylinders.

    .. math:: F_{12} = \frac1\pi\left[\sqrt{X^2-1}+\arcsin(1/X)-X\right],\quad X = 1+s/D

    Parameters
    ----------
    pitch_ratio
        :math:`X`, distance of axes over diameter [1], at least 1, any shape.

    Returns
    -------
    Array
        View factor [1].

    Examples
    --------
    Touching, and a gap of one diameter (hand: 1/2 - 1/pi, and 0.081376):

    >>> [float(value) for value in pair_view_factor(jnp.array([1.0, 2.0]))]
    [0.181690, 0.081376]

    References
    ----------
    Hottel, crossed strings (from memory).
    """
    return (_string(pitch_ratio) - pitch_ratio) / jnp.pi


def row_escape(pitch_ratio: Array) -> Array:
    """Escape fraction of an inner tube of one long row.

    .. math:: E = 1 - 2 F_{12}(X)

    Parameters
    ----------
    pitch_ratio
        :math:`X`, distance of axes over diameter [1], at least 1, any shape.

    Returns
    -------
    Array
        Fraction of the radiation that passes between the neighbours [1].

    Examples
    --------
    Touching (2/pi):

    >>> float(row_escape(jnp.asarray(1.0)))
    0.636620

    References
    ----------
    Derived from :func:`pair_view_factor`.
    """
    return 1.0 - 2.0 * pair_view_factor(pitch_ratio)


def hexagonal_escape(pitch_ratio: Array) -> Array:
    r"""Escape fraction past the six neighbours of a hexagonal bundle, row sum enforced.

    .. math:: E = \begin{cases}\frac6\pi\left[\sqrt{X^2-1}+\arcsin(1/X)-\frac\pi2\right]
        & X\le 2/\sqrt3\\ 1-6F_{12}(X) & X > 2/\sqrt3\end{cases}

    Parameters
    ----------
    pitch_ratio
        :math:`X`, distance of axes over diameter [1], at least 1, any shape.

    Returns
    -------
    Array
        Fraction of the radiation of the centre tube that passes between its neighbours [1].

    Notes
    -----
    Below X = 2/sqrt(3) the neighbours hide each other and the pair formula overstates (its sum is
    1.09 touching). There every line through the opening between two neighbours hits the centre
    tube, so the opening's own string measure is the escape. Both branches meet with equal slope.

    Examples
    --------
    Touching none; at X = 1.25 hand 1 - 6 x 0.136012, ray casting 0.185:

    >>> [float(value) for value in hexagonal_escape(jnp.array([1.0, 1.25]))]
    [0.0, 0.18393]

    References
    ----------
    Derived by crossed strings.
    """
    openings = 6.0 / jnp.pi * (_string(pitch_ratio) - jnp.pi / 2.0)
    return jnp.where(
        pitch_ratio < HIDDEN_HEXAGONAL, openings, 1.0 - 6.0 * pair_view_factor(pitch_ratio)
    )


def square_escape(pitch_ratio: Array) -> Array:
    r"""Escape fraction past the eight neighbours of a square bundle, row sum enforced.

    .. math:: E = 1 - 4F_{12}(X) - 4F_d,\quad F_d = \begin{cases}\frac1\pi\left[S(\sqrt2X)
        - 2\sqrt{X^2-1} + 2\arccos(1/X) - \frac\pi2\right] & X\le\sqrt2\\
        F_{12}(\sqrt2X) & X > \sqrt2\end{cases}

    with :math:`S(X)=\sqrt{X^2-1}+\arcsin(1/X)`.

    Parameters
    ----------
    pitch_ratio
        :math:`X`, distance of axes over diameter [1], at least 1, any shape.

    Returns
    -------
    Array
        Fraction of the radiation of the centre tube that passes the ring of eight [1].

    Notes
    -----
    The diagonal neighbour is partly hidden below X = sqrt(2): its strings go round the two tubes
    between. Zero, touching; both branches meet with equal slope.

    Examples
    --------
    Touching none (four neighbours enclose the gap):

    >>> float(jnp.abs(square_escape(jnp.asarray(1.0)))) < 1e-12
    True

    References
    ----------
    Derived by crossed strings.
    """
    diagonal = jnp.sqrt(2.0) * pitch_ratio
    crossed = _string(diagonal)
    hidden = crossed - 2.0 * _string(pitch_ratio) + jnp.pi / 2.0
    open_ = crossed - diagonal
    across = jnp.where(diagonal < 2.0, hidden, open_) / jnp.pi
    return 1.0 - 4.0 * pair_view_factor(pitch_ratio) - 4.0 * across


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

    >>> 0.8 * float(radiative_coefficient(jnp.asarray(373.15), jnp.asarray(293.15)))
    6.81

    References
    ----------
    Derived from Stefan's law.
    """
    return STEFAN_BOLTZMANN * (surface**2 + surroundings**2) * (surface + surroundings)
