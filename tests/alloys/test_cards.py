"""Cards that come with the tool: what they hold, and agreement with sources outside them."""

import math
import tomllib

import pytest

from mdo.alloys import check_consistency, list_cards, load_card
from mdo.alloys.card import CARD_FOLDER, HEADER
from mdo.alloys.consistency import clausius_clapeyron_ratio
from mdo.alloys.fields import CARD_FIELDS
from mdo.disciplines.records import Alloy

AVOGADRO = 6.02214076e23  # 1/mol, SI definition
TITANIUM, NICKEL, HAFNIUM = 47.867, 58.693, 178.486  # g/mol, IUPAC abridged weights, from memory
RUNNABLE = ["niti_actuator", "nitihf20_set1", "nitihf20_set2", "ref1"]


def value(name, field):
    return load_card(name).fields[field].value


def test_fields_are_those_of_the_record():
    assert set(CARD_FIELDS) | {"life_law"} == set(Alloy._fields)


def test_cards_listed():
    assert list_cards() == [
        "ni60ti40",
        "niti_actuator",
        "niti_brinson",
        "niti_textbook",
        "nitihf20_set1",
        "nitihf20_set2",
        "ref1",
    ]


@pytest.mark.parametrize("name", list_cards())
def test_every_number_has_standing_and_lies_in_its_range(name):
    card = load_card(name)
    assert card.name == name
    for field in card.fields.values():
        assert field.source
        assert field.provenance
        if field.judged:
            assert field.low is not None
            assert field.high is not None
        if field.low is not None:
            assert field.low <= field.value * (1 + 1e-12)
            assert field.value <= field.high * (1 + 1e-12)


@pytest.mark.parametrize("name", list_cards())
def test_nothing_in_the_file_is_ignored(name):
    data = tomllib.loads((CARD_FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    assert set(data) - set(HEADER) == set(load_card(name).fields)


@pytest.mark.parametrize("name", RUNNABLE)
def test_record_is_complete_and_finite(name):
    record = load_card(name).record()
    assert all(math.isfinite(number) for number in record)
    assert record.life_law == (0.0 if "hf20" in name else 1.0)


@pytest.mark.parametrize("name", RUNNABLE)
def test_shipped_cards_give_no_warning(name):
    assert check_consistency(load_card(name)) == []


def test_ref1_clausius_clapeyron_ratio_is_the_published_one():
    # reference, sma-tubes 1.0: "REF-1 is at 1.71"
    assert clausius_clapeyron_ratio(load_card("ref1")) == pytest.approx(1.71, abs=0.005)


def test_clausius_clapeyron_latent_heat_of_the_thermal_note():
    # thermal-power-mass 1: C = 7 MPa/K, 5 %, 340 K, 6450 kg/m3 -> 18.4 kJ/kg; 3 % -> 11.1 kJ/kg
    from mdo.alloys.consistency import estimate_clausius_clapeyron_slope

    for strain, heat in ((0.05, 18.4e3), (0.03, 11.1e3)):
        slope = estimate_clausius_clapeyron_slope(
            density=6450.0,
            latent_heat=heat,
            martensite_start=340.0,
            austenite_finish=340.0,
            strain_saturation=strain,
        )
        assert slope == pytest.approx(7e6, rel=5e-3)


def test_density_of_nitihf20_from_molar_mass_and_cell():
    # mean atomic mass x two atoms over the B2 cell, a = 3.10 to 3.12 A (cell from memory)
    mean = 0.503 * NICKEL + 0.297 * TITANIUM + 0.20 * HAFNIUM
    assert mean == pytest.approx(79.44, abs=0.01)
    low, high = (2 * mean * 1e-3 / AVOGADRO / (a * 1e-10) ** 3 for a in (3.12, 3.10))
    assert low == pytest.approx(8687.0, rel=2e-3)
    assert value("nitihf20_set1", "density") == pytest.approx((low + high) / 2, rel=0.015)
    assert low <= value("nitihf20_set1", "density") <= high * 1.01


def test_density_of_niti_from_molar_mass_and_cell():
    # B2 cell of NiTi a = 3.015 A (from memory); the reference prints 6456 kg/m3
    mean = 0.5 * (NICKEL + TITANIUM)
    density = 2 * mean * 1e-3 / AVOGADRO / 3.015e-10**3
    assert density == pytest.approx(6456.0, rel=2e-3)
    assert value("niti_actuator", "density") == pytest.approx(density, rel=3e-3)


def test_specific_heat_agrees_with_dulong_petit():
    gas = 8.314462618
    niti = 3 * gas / (0.5 * (NICKEL + TITANIUM) * 1e-3)
    assert niti == pytest.approx(468.0, abs=1.0)
    assert value("niti_actuator", "specific_heat") == pytest.approx(niti, rel=0.01)
    nitihf = 3 * gas / 79.44e-3
    assert nitihf == pytest.approx(314.0, abs=0.5)
    assert value("nitihf20_set1", "specific_heat") == pytest.approx(nitihf, rel=0.06)


def test_rejected_catalogue_values_stand_in_the_notes():
    notes = load_card("niti_actuator").notes
    assert "837" in notes
    assert "322" in notes


@pytest.mark.parametrize(
    ("cycles", "allowed", "half_digit"),
    [(1e3, 5.1, 0.05), (1e4, 2.0, 0.05), (5e4, 1.08, 0.005), (1e5, 0.82, 0.005)],
)
def test_life_law_gives_the_published_table(cycles, allowed, half_digit):
    # sma-tubes section 3, fit of law 1, as printed: equal to the last digit printed
    record = load_card("niti_actuator").record()
    logarithm = (math.log10(cycles) - record.life_intercept) / record.life_slope
    assert 10**logarithm == pytest.approx(allowed, abs=half_digit)


def test_life_fit_is_the_least_squares_line_of_the_design_table():
    # limit strain / limit stress at 100, 1e4, 1e5 cycles (Stoeckel, from memory)
    import numpy as np

    work = np.log10([0.04 * 275, 0.02 * 140, 0.01 * 70])
    slope, intercept = np.polyfit(work, [2.0, 4.0, 5.0], 1)
    record = load_card("niti_actuator").record()
    assert record.life_slope == pytest.approx(slope, abs=0.01)
    assert record.life_intercept == pytest.approx(intercept, abs=0.01)


def test_declared_life_of_nitihf20_follows_from_its_source_line():
    stress = 200.0 * (2e4 / 1e4) ** (math.log(2.0) / math.log(20.0))
    assert value("nitihf20_set1", "declared_life_stress") == pytest.approx(
        stress * 1e6 / math.sqrt(3), rel=0.01
    )


@pytest.mark.parametrize("name", RUNNABLE[:3])
def test_allowable_stress_is_half_of_yield_in_shear(name):
    ratio = value(name, "allowable_shear_stress") / value(name, "austenite_yield_stress")
    assert ratio == pytest.approx(0.5 / math.sqrt(3), rel=1e-3)


def test_shear_moduli_of_niti_lie_in_the_published_span():
    # sma-tubes 2.1: G_A 31, G_M 10.5 to 15.4 GPa
    assert value("niti_actuator", "austenite_shear_modulus") == pytest.approx(31e9, rel=0.01)
    assert 10.5e9 <= value("niti_actuator", "martensite_shear_modulus") <= 15.4e9
    assert value("niti_brinson", "martensite_shear_modulus") == pytest.approx(9.887218e9)


def test_unequal_slopes_are_reported():
    assert any("differ" in text for text in check_consistency(load_card("niti_brinson")))
