"""Physical consistency of an alloy card: warnings, never corrections."""

from __future__ import annotations

import math
from collections.abc import Iterator

from mdo.alloys.card import Card

# Band of the Clausius-Clapeyron ratio outside which a card is doubted; judgement of the reference.
RATIO_BAND = (0.4, 2.5)


def estimate_clausius_clapeyron_slope(
    *,
    density: float,
    latent_heat: float,
    martensite_start: float,
    austenite_finish: float,
    strain_saturation: float,
) -> float:
    r"""Stress rise per kelvin that the latent heat of the card implies.

    .. math:: C = \rho \, \Delta h / (T_0 H_{sat}), \qquad T_0 = (M_s + A_f)/2

    Parameters
    ----------
    density : float
        Density [kg/m**3].
    latent_heat : float
        Latent heat [J/kg].
    martensite_start, austenite_finish : float
        Transformation temperatures at zero stress [K].
    strain_saturation : float
        Saturated transformation strain, tensile equivalent [1].

    Returns
    -------
    float
        Clausius-Clapeyron slope, tensile [Pa/K].
    """
    equilibrium = 0.5 * (martensite_start + austenite_finish)
    return density * latent_heat / (equilibrium * strain_saturation)


def clausius_clapeyron_ratio(card: Card) -> float | None:
    """Slope implied by the latent heat of a card over the mean of its two (None if unknown).

    The same number is its latent heat over the Clausius-Clapeyron latent heat.
    """
    names = ("density", "latent_heat", "martensite_start", "austenite_finish", "strain_saturation")
    slopes = [
        card.fields[n].value for n in ("martensite_slope", "austenite_slope") if n in card.fields
    ]
    if not slopes or any(name not in card.fields for name in names):
        return None
    implied = estimate_clausius_clapeyron_slope(**{n: card.fields[n].value for n in names})
    return implied * len(slopes) / sum(slopes)


def check_consistency(card: Card) -> list[str]:
    """Return the warnings about a card that has been read without error.

    Checked: Clausius-Clapeyron ratio within 0.4 to 2.5; forward envelope below the reverse one at
    every stress (Ms < Af, Mf < As, at zero stress and at the allowable one); equal slopes; shear
    modulus against Young modulus and Poisson ratio; allowable stress against yield; the highest
    temperature against the loaded Af; recoverable against saturated strain.
    """
    checks = (_check_ratio, _check_envelopes, _check_moduli, _check_strength)
    return [f"{card.name}: {text}" for check in checks for text in check(card)]


def _value(card: Card, name: str) -> float:
    """Value of a field, NaN if absent: every comparison with it is then false."""
    field = card.fields.get(name)
    return math.nan if field is None else field.value


def _check_ratio(card: Card) -> Iterator[str]:
    ratio, (low, high) = clausius_clapeyron_ratio(card), RATIO_BAND
    if ratio is not None and not low <= ratio <= high:
        yield (
            f"latent heat is {ratio:.2f} times the one that the slopes imply (Clausius-Clapeyron), "
            f"expected {low} to {high}: check latent_heat, strain_saturation and the slopes"
        )


def _check_envelopes(card: Card) -> Iterator[str]:
    slope_m, slope_a = _value(card, "martensite_slope"), _value(card, "austenite_slope")
    pairs = (("martensite_start", "austenite_finish"), ("martensite_finish", "austenite_start"))
    for tensile in (0.0, math.sqrt(3.0) * _value(card, "allowable_shear_stress")):
        for lower, upper in pairs:
            cold = _value(card, lower) + (tensile / slope_m if tensile else 0.0)
            hot = _value(card, upper) + (tensile / slope_a if tensile else 0.0)
            if cold >= hot:
                yield (
                    f"{lower} ({cold:.1f} K) is not below {upper} ({hot:.1f} K) at "
                    f"{tensile / 1e6:.0f} MPa: no hysteresis is left"
                )
    if abs(slope_m - slope_a) > 0.01 * slope_a:
        yield (
            f"martensite_slope ({slope_m / 1e6:.2f} MPa/K) and austenite_slope "
            f"({slope_a / 1e6:.2f} MPa/K) differ: the hysteresis changes with stress"
        )


def _check_moduli(card: Card) -> Iterator[str]:
    shear = _value(card, "martensite_shear_modulus")
    young = _value(card, "martensite_young_modulus")
    expected = young / (2.0 * (1.0 + _value(card, "poisson_ratio")))
    if abs(shear / expected - 1.0) > 0.02:
        yield (
            f"martensite_shear_modulus ({shear / 1e9:.2f} GPa) is not E/(2(1+nu)) "
            f"({expected / 1e9:.2f} GPa)"
        )


def _check_strength(card: Card) -> Iterator[str]:
    allowable = _value(card, "allowable_shear_stress")
    yield_shear = _value(card, "austenite_yield_stress") / math.sqrt(3.0)
    if allowable > yield_shear:
        yield (
            f"allowable_shear_stress ({allowable / 1e6:.0f} MPa) exceeds yield in shear "
            f"({yield_shear / 1e6:.0f} MPa)"
        )
    limit, finish = _value(card, "temperature_max"), _value(card, "austenite_finish")
    if limit <= finish:
        yield (
            f"temperature_max ({limit:.1f} K) is not above austenite_finish ({finish:.1f} K): "
            "the alloy can never be heated through"
        )
    if _value(card, "recoverable_strain") < _value(card, "strain_min"):
        yield "recoverable_strain is below strain_min"
