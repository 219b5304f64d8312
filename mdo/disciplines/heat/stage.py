"""What a heating stroke is made of: a tube of each set, its power, bay, phases, latent heat."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.hardware import HeatingSpans, TubeHardware, heating_spans
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.tubes import HeatedTubes, HeatingStrokes, hardware_of
from mdo.disciplines.records import Alloy, Choices, Legs, Supply
from mdo.disciplines.tube.phases import stress_shift

COUNT_LEAST = 1e-3  # below this a set is absent and its times are those of one tube


class TubePower(NamedTuple):
    """Heater power of one tube of each set [W]: low and high line with tolerance, nominal."""

    low: Array
    high: Array
    nominal: Array


class Bay(NamedTuple):
    """Bay of each leg as a column, shape (legs, 1): temperatures [K], pressure [Pa]."""

    cold: Array
    hot: Array
    pressure: Array


def bay_of_legs(cold: Array, hot: Array, pressure: Array) -> Bay:
    """Bay of each leg as columns.

    Parameters
    ----------
    cold, hot
        Coldest and hottest bay [K], shape (legs,).
    pressure
        Air pressure [Pa], shape (legs,).

    Returns
    -------
    Bay
        Temperatures [K] and pressure [Pa], shape (legs, 1).

    References
    ----------
    Derived (definition).
    """
    return Bay(cold[:, None], hot[:, None], pressure[:, None])


def hot_bay(tubes: HeatedTubes) -> Bay:
    """Bay of each leg at its hottest.

    Parameters
    ----------
    tubes
        Tubes in the bay.

    Returns
    -------
    Bay
        Temperatures [K] and pressure [Pa], shape (legs, 1).

    References
    ----------
    Derived (definition).
    """
    hot = tubes.bay_hot_temperature
    return bay_of_legs(hot, hot, tubes.air_pressure)


def tube_power(
    heater_power: Array, tube_count: Array, supply: Supply, assumed: ThermalAssumptions
) -> TubePower:
    r"""Heater power of one tube at the ends of line voltage and tolerance.

    .. math:: \frac{P}{N} r (1 \pm t)

    Parameters
    ----------
    heater_power
        Nominal power P of each set [W], shape (sets,).
    tube_count
        Tubes N of each set [1], shape (sets,); an absent set counts as one tube.
    supply, assumed
        Records: line voltages; tolerance t of the heaters.

    Returns
    -------
    TubePower
        Powers [W], shape (sets,).

    References
    ----------
    :func:`mdo.disciplines.heat.heater.line_power_ratios`.
    """
    low_line, high_line = line_power_ratios(supply)
    nominal = heater_power / jnp.where(tube_count > COUNT_LEAST, tube_count, 1.0)
    return TubePower(
        low=nominal * low_line * (1.0 - assumed.heater_tolerance_low),
        high=nominal * high_line * (1.0 + assumed.heater_tolerance_high),
        nominal=nominal,
    )


def blown_speed(legs: Legs, choices: Choices) -> Array:
    """Speed of the air that a blower drives over the tubes in each leg.

    Parameters
    ----------
    legs, choices
        Records: bay_air_speed; cooling, above one half for a blower.

    Returns
    -------
    Array
        Speed [m/s], shape (legs,); 0 without a blower.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> [float(blown_speed(SimpleNamespace(bay_air_speed=8.0), SimpleNamespace(cooling=kind)))
    ...     for kind in (1.0, 0.0)]
    [8.0, 0.0]

    References
    ----------
    Derived (definition).
    """
    return jnp.where(jnp.asarray(choices.cooling) > 0.5, jnp.asarray(legs.bay_air_speed), 0.0)


def stored_heat(
    hardware: TubeHardware, spans: HeatingSpans, latent: Array
) -> tuple[Array, Array, Array]:
    r"""Heat stored in each stretch of heating, the latent heat in the middle one.

    .. math:: C\,\Delta T_i + Q_{latent}

    Parameters
    ----------
    hardware
        One tube: its heat capacity C.
    spans
        Temperature changes [K].
    latent
        Latent heat of what turns [J], shape (sets,).

    Returns
    -------
    tuple
        Heat of each stretch [J].

    Examples
    --------
    Reference tube of 57.14 J/K, 60, 30 and 10 K, 2942.2 J latent (hand):

    >>> from types import SimpleNamespace
    >>> tube = SimpleNamespace(capacity_heating=57.14)
    >>> [float(heat) for heat in stored_heat(tube, HeatingSpans(60.0, 30.0, 10.0), 2942.2)]
    [3428.4, 4656.4, 571.4]

    References
    ----------
    Derived (lumped capacity).
    """
    sensible, middle, finish = (hardware.capacity_heating * span for span in spans)
    return sensible, middle + latent, finish


class Phases(NamedTuple):
    """Temperatures of heating [K]: As', Af', where it ends, where the hold stands."""

    start: Array
    finish: Array
    hot: Array
    holding: Array


class Stage(NamedTuple):
    """What a stroke is made of: one tube of each set, its power, the bay, phases and latent heat.

    ``latent_free`` and ``latent_loaded`` are the latent heat of what turns, without stress and at
    the operating stress [J]; ``tube_count`` is that of each set [1].
    """

    hardware: TubeHardware
    power: TubePower
    bay: Bay
    phases: Phases
    latent_free: Array
    latent_loaded: Array
    tube_count: Array
    alloy: Alloy
    choices: Choices
    assumed: ThermalAssumptions

    def spans(self) -> HeatingSpans:
        """Temperature changes of heating from the cold bay."""
        return heating_spans(
            start=self.bay.cold,
            heating_start=self.phases.start,
            heating_finish=self.phases.finish,
            hot_temperature=self.phases.hot,
        )


def latent_heats(
    hardware: TubeHardware, heated_fraction: Array, operating_stress: Array, alloy: Alloy
) -> tuple[Array, Array]:
    """Latent heat of what turns in one tube, without stress and at the operating stress.

    Parameters
    ----------
    hardware
        One tube: its mass.
    heated_fraction
        Share of the martensite that turns [1], shape (sets,).
    operating_stress
        Uniform shear stress [Pa], shape (sets,).
    alloy
        Card.

    Returns
    -------
    tuple
        Both heats [J].

    References
    ----------
    :func:`mdo.disciplines.heat.stage.latent_heat_under_stress`.
    """
    turned = hardware.tube_mass * heated_fraction
    loaded = latent_heat_under_stress(operating_stress, alloy)
    return turned * jnp.asarray(alloy.latent_heat), turned * loaded


def heating_stage(tubes: HeatedTubes, strokes: HeatingStrokes, holding: Array) -> Stage:
    """Gather what a heating stroke is made of.

    Parameters
    ----------
    tubes, strokes
        Tubes in the bay; what heats them.
    holding
        Temperature of the hold [K], shape (2,).

    Returns
    -------
    Stage
        Powers [W], temperatures [K], heats [J].

    References
    ----------
    :func:`tube_power`, :func:`latent_heats`, :func:`hardware_of`.
    """
    assumed, count = tubes.thermal_assumptions, tubes.tube_count
    hardware = hardware_of(tubes)
    phases = Phases(strokes.heating_start, strokes.heating_finish, tubes.hot_temperature, holding)
    return Stage(
        hardware,
        tube_power(strokes.heater_power, count, strokes.supply, assumed),
        bay_of_legs(strokes.bay_cold_temperature, tubes.bay_hot_temperature, tubes.air_pressure),
        phases,
        *latent_heats(hardware, strokes.heated_fraction, strokes.operating_stress, tubes.alloy),
        count,
        tubes.alloy,
        tubes.choices,
        assumed,
    )


def latent_heat_under_stress(operating_stress: Array, alloy: Alloy) -> Array:
    r"""Latent heat of heating under stress.

    .. math:: \Delta h\,\frac{T_0 + \sigma/C_A}{T_0}, \quad T_0 = \tfrac12 (M_s + A_f)

    Parameters
    ----------
    operating_stress
        Uniform shear stress :math:`\tau` [Pa], any shape; :math:`\sigma = \sqrt3\tau`.
    alloy
        Card.

    Returns
    -------
    Array
        Latent heat [J/kg].

    Notes
    -----
    The excess over the latent heat is the work that the stroke gives at that stress, so the work is
    in the heat balance and is not added again.

    Examples
    --------
    20 kJ/kg at 100 MPa, M_s 340, A_f 380 K, 7 MPa/K (hand: 20,000 x (1 + 24.7436/360)):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(martensite_start=340.0, austenite_finish=380.0, latent_heat=20e3,
    ...     austenite_slope=7e6, slope_factor=1.0)
    >>> float(latent_heat_under_stress(100e6, card))
    21374.6

    References
    ----------
    Derived from the Clausius-Clapeyron line; reference thermal-power-mass, section 2.1.
    """
    mean = (jnp.asarray(alloy.martensite_start) + alloy.austenite_finish) / 2.0
    shift = stress_shift(operating_stress, alloy.austenite_slope, alloy)
    return jnp.asarray(alloy.latent_heat) * (1.0 + shift / mean)
