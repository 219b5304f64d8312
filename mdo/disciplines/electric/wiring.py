"""Wiring from the bus to the hinge: drop, continuous conductor area, mass."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.electric.gauges import RESISTIVITY, ampacity_area, temperature_factor

AREA_BLEND = 5e-4  # [1] relative smoothing of the larger of two areas: its bias where equal


def drop_area(
    *, current: Array, loop_length: Array, allowed_drop: Array, temperature: Array
) -> Array:
    r"""Conductor area that keeps the voltage drop.

    .. math:: A = \rho(T)\,\ell\,I/\Delta V

    Parameters
    ----------
    current
        I [A], any shape.
    loop_length
        Out and return :math:`\ell` [m].
    allowed_drop
        :math:`\Delta V` [V], above zero.
    temperature
        Temperature of the conductor [K].

    Returns
    -------
    Array
        Area [m**2].

    Examples
    --------
    20 A over 107 ft at 20 degC for 1 V (hand: worst is gauge 0, 0.12 ohm per 1000 ft x 104,500
    circular mils; 12.54 x 107 x 20):

    >>> area = drop_area(current=20.0, loop_length=107 * 0.3048, allowed_drop=1.0,
    ...     temperature=293.15)
    >>> float(area / 5.067e-10)
    26835.6

    References
    ----------
    AC 43.13-1B 1998, section 11-66; resistivity: the worst of its table for 22 AWG and larger.
    """
    resistivity = RESISTIVITY * temperature_factor(temperature)
    return resistivity * loop_length * current / allowed_drop


def smooth_larger(first: Array, second: Array) -> Array:
    r"""Larger of two positive values, smooth and homogeneous.

    .. math:: \tfrac12\left[a+b+\sqrt{(a-b)^2+\epsilon^2 (a+b)^2}\right] - \tfrac{\epsilon^2}{4}
        (a+b),\quad \epsilon = 5\cdot10^{-4}

    Parameters
    ----------
    first, second
        a and b, not negative, not both zero, in any unit, any shape.

    Returns
    -------
    Array
        The larger, in the unit of the two.

    Notes
    -----
    Relative bias at most 5e-4 (at a = b), below 1e-6 where they differ by a factor of two.

    Examples
    --------
    >>> float(smooth_larger(1.0, 3.0))
    3.00000

    References
    ----------
    Derived (hyperbola).
    """
    total = first + second
    root = jnp.sqrt((first - second) ** 2 + (AREA_BLEND * total) ** 2)
    return 0.5 * (total + root) - 0.25 * AREA_BLEND**2 * total


def conductor_area(
    *,
    current: Array,
    loop_length: Array,
    allowed_drop: Array,
    temperature: Array,
    rating: Array,
    area_min: Array,
) -> Array:
    """Continuous conductor area: the larger of ampacity, drop and mechanical minimum.

    Parameters
    ----------
    current
        Current [A], any shape.
    loop_length
        Out and return [m].
    allowed_drop
        Voltage drop [V].
    temperature, rating
        Temperature of the conductor and rating of its insulation [K].
    area_min
        Mechanical minimum [m**2].

    Returns
    -------
    Array
        Area [m**2].

    Notes
    -----
    Two smooth maxima in a row, together within 1e-3. A built harness uses the next gauge up:
    :func:`choose_gauge`.

    Examples
    --------
    26 A over a short run: ampacity decides, gauge 10.

    >>> float(conductor_area(current=jnp.asarray(26.0), loop_length=0.1, allowed_drop=1.0,
    ...     temperature=293.15, rating=jnp.asarray(423.15), area_min=0.2e-6)) * 1e6
    4.740

    References
    ----------
    AC 43.13-1B 1998, sections 11-66 to 11-68.
    """
    limits = smooth_larger(
        ampacity_area(current, rating),
        drop_area(
            current=current,
            loop_length=loop_length,
            allowed_drop=allowed_drop,
            temperature=temperature,
        ),
    )
    return smooth_larger(limits, area_min)


def wire_mass(
    *,
    area: Array,
    loop_length: Array,
    density: Array,
    insulation_factor: Array,
    installation_factor: Array,
) -> Array:
    r"""Installed mass of a run of wire.

    .. math:: m = A\,\ell\,\rho\,f_i\,f_c

    Parameters
    ----------
    area
        A [m**2], any shape.
    loop_length
        Out and return :math:`\ell` [m].
    density
        Density of the conductor :math:`\rho` [kg/m**3].
    insulation_factor
        :math:`f_i` [1], 1.25 to 1.45.
    installation_factor
        :math:`f_c` [1], 1.08 to 1.15: clamps, connectors.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    10 m of gauge 8, 76.6 g/m of copper (hand: 16,983 circular mils x 8900 kg/m3), bare:

    >>> float(wire_mass(area=16983 * 5.067e-10, loop_length=10.0, density=8900.0,
    ...     insulation_factor=1.0, installation_factor=1.0))
    0.766

    References
    ----------
    Derived; the factors are judgement.
    """
    return area * loop_length * density * insulation_factor * installation_factor
