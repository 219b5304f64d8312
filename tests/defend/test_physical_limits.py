"""Distance to physical limits, and the window of alloys."""

from __future__ import annotations

import numpy as np
import pytest

from mdo.defend.alloy_window import hottest_allowed, transformation_window
from mdo.defend.physical_limits import evaluate_limits, heated_strokes
from mdo.defend.tables.facts import Facts

from .designs import with_values

C34_WORK = 564.924 * np.pi / 2  # J, 5 000 in lbf through 90 degrees (reference, C34)


def lines(appraisal):
    return {line.name.split()[0]: line for line in evaluate_limits(appraisal)}


def only_stow_calm(appraisal, work):
    """Appraisal whose only load is a constant moment of the fold on deck that takes this work."""
    moment = np.zeros_like(appraisal.values["required_moment"])
    moment[0] = work / np.radians(100.0)
    return with_values(appraisal, required_moment=moment)


def test_feasible_design_is_within_every_limit(medium):
    assert not medium.violated
    found = evaluate_limits(medium)
    assert len(found) == 8
    for line in found:
        assert not line.fault, line
        assert 0.0 <= line.ratio < 1.0
        assert np.isfinite([line.value, line.limit]).all()


def test_ledger_closes_where_the_stroke_ends_before_austenite_finish(medium_case):
    # both sets end below Af': the last stretch of heating has no length
    partial = medium_case.appraise(hot_temperature=470.0)
    assert partial.values["heated_fraction"].max() < 1.0
    line = lines(partial)["Ledger"]
    assert line.value < 1e-12
    assert not line.fault


def test_least_mass_of_c34(medium_case):
    # C34: 53.8 cm3, 0.476 kg at 16.5 MJ/m3; a tool must ask for more than 0.48 kg a wing
    study = {"actuator.declared_life_stress": "330 MPa", "actuator.declared_life_strain": 0.05}
    line = lines(only_stow_calm(medium_case.appraise(study), C34_WORK))["Alloy"]
    assert line.limit > 2 * 0.48
    # torque margin 0.2 at the ceiling of the allowable stress; utilisation C7 at b = 0.3,
    # transmission 0.9 x 0.99 x 0.98 x ..., ends: all below 1, so at most a factor of 3
    assert line.limit < 2 * 0.476 * 3.0


def test_least_mass_of_c34_at_fifty_thousand_cycles_is_several_kilograms(medium_case):
    niti = medium_case.appraise(
        {"actuator.alloy": "niti_actuator", "case.stow_calm.folds_per_life": 5000}
    )  # times the factor of 10 on life
    line = lines(only_stow_calm(niti, C34_WORK))["Alloy"]
    assert 2 * 3.0 < line.limit < 2 * 15.0


def test_least_mass_is_proportional_to_the_work(medium):
    one, two = (
        lines(only_stow_calm(medium, factor * C34_WORK))["Alloy"].limit for factor in (1, 2)
    )
    assert two == pytest.approx(2 * one, rel=1e-12)


def test_gross_efficiency_of_c36(medium_case):
    # C36: hinge of 6.46 J for 960 J electric: 0.67 %, within what the alloy could do
    niti = medium_case.appraise({"actuator.alloy": "niti_actuator"}, hot_temperature=423.15)
    hinge = with_values(niti, actuator_work=np.full(11, 6.46), heat_energy=np.full((11, 2), 960.0))
    line = lines(hinge)["Gross"]
    assert line.value == pytest.approx(0.0067, abs=5e-5)
    assert line.ratio < 1.0
    assert "torsion tests" not in line.text


def test_efficiency_beyond_clausius_clapeyron_is_a_fault_of_the_model(medium):
    line = lines(with_values(medium, actuator_work=100 * medium.values["actuator_work"]))["Gross"]
    assert line.ratio > 1.0
    assert line.fault
    assert line.text.startswith("FAULT OF THE MODEL")
    assert "torsion tests" in line.text


def test_design_that_fails_its_requirements_is_no_fault_of_the_model(medium_case):
    weak = medium_case.appraise(tube_count=[0.3, 0.3])
    assert weak.violated
    found = lines(weak)
    assert found["Alloy"].ratio > 1.0
    assert not found["Alloy"].fault
    assert "does not do what it is asked" in found["Alloy"].text
    assert not found["Energy"].fault


def test_less_heat_than_the_alloy_takes_is_a_fault_whatever_the_requirements(medium_case):
    weak = medium_case.appraise(tube_count=[0.3, 0.3])
    line = lines(with_values(weak, heat_energy=0.3 * weak.values["heat_energy"]))["Energy"]
    assert line.fault


def test_least_heat_by_hand(medium_case):
    # m (c dT + dh) of the up set of one wing in stow_calm, hot enough for the whole stroke
    whole = medium_case.appraise(hot_temperature=483.0)
    card = {name: field.value for name, field in whole.problem.assembled.card.fields.items()}
    outer, inner = 0.00724, 0.00724 * 0.34
    mass = card["density"] * np.pi * (outer**2 - inner**2) * 0.579 * 4.5
    heat = mass * (card["specific_heat"] * (483.0 - 243.15) + card["latent_heat"])
    assert whole.values["heated_fraction"][0] == pytest.approx(1.0)
    assert heated_strokes(Facts(whole)).least_heat[0] == pytest.approx(heat, rel=1e-9)


def test_carnot_bounds_the_net_cycle(medium):
    line = lines(medium)["Net"]
    assert line.limit == pytest.approx(1.0 - 243.15 / 473.0)
    assert line.value < lines(medium)["Gross"].value


def test_temperature_span_by_hand(medium):
    # (Af + sqrt3 tau_h/C) - (Mf + sqrt3 tau_c/C) of the set that needs most; C = 8 MPa/K
    cold = medium.values["smallest_return_stress"]
    span = 177.0 - 117.0 + 3**0.5 / 8e6 * (np.array([1.165e8, 1.235e8]) - cold).max()
    line = lines(medium)["Temperature"]
    assert line.limit == pytest.approx(span)
    assert line.value == pytest.approx(473.0 - 323.15)


@pytest.mark.parametrize("residual", [1e-6, np.nan])
def test_open_ledger_is_a_fault(medium, residual):
    line = lines(with_values(medium, ledger_residual=np.full((11, 2), residual)))["Ledger"]
    assert line.fault


def test_window_by_hand(medium):
    martensite, austenite, finish = transformation_window(medium)
    # return gate: 50 degC bay + 10 K gate + 10 K lot, less the shift by the smallest return stress
    shift = 3**0.5 * medium.values["smallest_return_stress"].min() / 8e6
    assert martensite.at_least == pytest.approx(50 + 20 + 273.15 - shift, abs=1e-6)
    assert martensite.card == pytest.approx(117 + 273.15)
    # self-start gate: 71 degC soak + 15 K gate + 10 K lot
    assert austenite.at_least == pytest.approx(71 + 25 + 273.15, abs=1e-6)
    assert "hot_soak" in austenite.set_by
    assert finish.at_least is None
    assert finish.at_most > finish.card


def test_hottest_allowed_reaches_the_limit_that_it_names(medium_case, medium):
    hottest, by = hottest_allowed(medium)
    assert "Alloy temperature" in by
    at_limit = medium_case.appraise(hot_temperature=hottest)
    assert at_limit.values["tube_temperature_max"] == pytest.approx(573.15, abs=1e-4)
    carbon = {"vehicle.structure": "carbon_177"}
    sleeve = 0.00028  # thin: the structure beside it is the first to be too hot
    hottest, by = hottest_allowed(medium_case.appraise(carbon, insulation_thickness=sleeve))
    assert "Adjacent structure" in by
    beside = medium_case.appraise(carbon, insulation_thickness=sleeve, hot_temperature=hottest)
    assert beside.values["structure_temperature_hot"].max() == pytest.approx(394.15, abs=1e-4)


def test_window_is_open_where_no_case_returns(medium_case):
    rows = [row for row in medium_case.appraise().rows if row.label.group != "return_temperature"]
    appraisal = medium_case.appraise()
    appraisal.__dict__["rows"] = tuple(rows)
    assert transformation_window(appraisal)[0].at_least is None
    assert "Temperature" not in lines(appraisal)
