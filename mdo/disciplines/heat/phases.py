"""Discipline entry `phases`: temperatures that the heating of each set must pass."""

from __future__ import annotations

from typing import NamedTuple

from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import sma


class Phases(NamedTuple):
    """As' and Af' at the operating stress, Ms' there (hot hold) [K], and the fraction heated."""

    heating_start: Array
    heating_finish: Array
    holding_start: Array
    heated_fraction: Array


def phases(*, operating_stress: Array, hot_temperature: Array, alloy: Alloy) -> Phases:
    """Transformation temperatures of each set at its operating stress, shape (2,).

    Parameters
    ----------
    operating_stress : uniform shear stress of each set [Pa], shape (2,)
    hot_temperature : temperature at the end of heating [K]
    alloy : card

    Returns
    -------
    Phases : ``heated_fraction`` = 1 - xi on the heating envelope at the hot temperature
    """
    shifted = sma.phase_temperatures(operating_stress, alloy)
    return Phases(
        heating_start=shifted.austenite_start,
        heating_finish=shifted.austenite_finish,
        holding_start=shifted.martensite_start,
        heated_fraction=1.0
        - sma.martensite_fraction_heating(hot_temperature, operating_stress, alloy),
    )
