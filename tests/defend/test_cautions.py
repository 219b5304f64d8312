"""Every caution rule, where it holds and where it does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from mdo.defend.cautions.rules import NOTE, RULES, STOP, WARN, evaluate_cautions
from mdo.defend.verdict import judge

CELSIUS = 273.15
# no field of a study takes a mass ratio, so none can be quoted from elsewhere
NOT_EVALUATED = {"W23"}
TO_CONFIRM = {"W05", "W07", "W08", "W09", "W10", "W18"}


def by_id(appraisal):
    return {caution.id: caution for caution in evaluate_cautions(appraisal)}


def test_every_rule_of_the_reference_has_its_place():
    wanted = {f"W{number:02d}" for number in range(1, 25)}  # reference, section 6.3
    evaluated = {rule.id for rule in RULES}
    assert wanted == evaluated | NOT_EVALUATED
    assert not evaluated & NOT_EVALUATED
    assert all(callable(rule.check) for rule in RULES)


def test_design_with_room_to_every_limit(medium):
    assert not medium.violated
    found = by_id(medium)
    assert {name for name, one in found.items() if one.severity == STOP} == TO_CONFIRM
    assert {name for name, one in found.items() if one.severity == WARN} == {"W06", "W16", "W20"}
    assert {name for name, one in found.items() if one.severity == NOTE} == {"W19", "W21", "W24"}
    assert all("to be confirmed" in found[name].text.lower() for name in TO_CONFIRM)
    assert "not certification evidence" in found["W24"].text
    assert all(one.text and one.action for one in found.values())


def test_order_and_no_duplicates(medium):
    found = evaluate_cautions(medium)
    ranks = [(STOP, WARN, NOTE).index(one.severity) for one in found]
    assert ranks == sorted(ranks)
    assert len({one.id for one in found}) == len(found)


def test_stops_keep_a_design_from_plain_feasible(medium):
    assert judge(medium).level == "feasible with open items"
    assert sum("caution W" in item for item in judge(medium).open_items) == len(TO_CONFIRM)
    said = [item.lower() for item in judge(medium).open_items]
    assert all(item.count("confirm") <= 1 for item in said)


@pytest.mark.parametrize(("beyond", "shown"), [(-0.1, False), (0.1, True)])
def test_return_gate_takes_off_lot_tolerance(medium_case, medium, beyond, shown):
    # design page: Mf' (smallest return stress) - lot tolerance >= bay + 10 K; Mf' by hand
    card = medium.problem.assembled.card.fields
    shift = 3**0.5 * medium.values["smallest_return_stress"].min() / card["martensite_slope"].value
    bay = card["martensite_finish"].value + shift - 10.0 - 10.0 + beyond
    found = by_id(medium_case.appraise({"requirements.bay_hot": f"{bay:.9f} K"}))
    assert ("W01" in found) is shown
    if shown:
        assert found["W01"].severity == STOP
        assert f"{bay - CELSIUS:.1f} degC" in found["W01"].text


@pytest.mark.parametrize(("temperature", "shown"), [(134.9, False), (135.1, True)])
def test_self_start_gates_take_off_lot_tolerance(medium_case, temperature, shown):
    # design page: As (zero stress) - lot tolerance >= bay + 15 K: 160 - 10 - 15 = 135 degC
    bay = medium_case.appraise({"case.parked_gale.bay_hot": f"{temperature} degC"})
    soak = medium_case.appraise({"case.hot_soak.soak_temperature": f"{temperature} degC"})
    assert ("W02" in by_id(bay)) is shown
    assert "W03" not in by_id(bay)
    assert ("W03" in by_id(soak)) is shown
    assert "W02" not in by_id(soak)
    if shown:
        assert "'parked_gale', limit 135.0 degC" in by_id(bay)["W02"].text
        assert by_id(soak)["W03"].severity == STOP


@pytest.mark.parametrize(("soak", "severity"), [("65 degC", WARN), ("71 degC", STOP)])
def test_soak_below_the_usual_one_is_not_taken_silently(medium_case, soak, severity):
    changes = {"actuator.alloy": "niti_actuator", "case.hot_soak.soak_temperature": soak}
    found = by_id(medium_case.appraise(changes))["W03"]  # As 92 degC: limit 67 degC
    assert found.severity == severity
    assert "limit 67.0 degC" in found.text
    assert "71.0 degC" in found.text


TRIGGERS = [
    ("W04", STOP, {"vehicle.fuel_near_bay": True}, {}, "limit 204.0 degC"),
    ("W11", STOP, {}, {"heater_power": [4000.0, 4700.0]}, "of 6.0"),
    ("W11", WARN, {"assumptions.thermal.heater_gap": "90 um"}, {}, "90 um"),
    ("W12", WARN, {"supply.low_voltage_ratio": 0.8}, {}, "216 V"),
    ("W13", STOP, {"requirements.return_time": "300 s"}, {}, "limit 300 s"),
    ("W14", WARN, {"vehicle.structure": "carbon_121"}, {}, "limit 82.0 degC"),
    ("W15", STOP, {"supply.power_available": "3 kW"}, {}, "allotted 3000 W"),
    ("W15", STOP, {"supply.bus": "115 V ac"}, {}, "single phase allows 500"),
    (
        "W17",
        WARN,
        {"case.manoeuvre.altitude": "16 km", "case.manoeuvre.load_factor": 1.0},
        {},
        "16.0 km",
    ),
    ("W19", NOTE, {"case.dash_fold.mach": 0.95}, {}, "'dash_fold'"),
    ("W21", WARN, {"case.parked_gale.wind_speed": "40 kt"}, {}, "20.6 m/s"),
    ("W22", WARN, {"case.stow_calm.folds_per_life": 5000}, {}, "5500"),
    ("W22", WARN, {"actuator.declared_life_stress": "240 MPa"}, {}, "at most 2.31e+08"),
]


@pytest.mark.parametrize(("rule", "severity", "changes", "design", "text"), TRIGGERS)
def test_rule_triggers(medium_case, rule, severity, changes, design, text):
    found = by_id(medium_case.appraise(changes, **design))
    assert found[rule].severity == severity
    assert text in found[rule].text


def test_fold_time_that_fails_at_nominal_voltage_too_is_no_matter_of_voltage(medium_case):
    found = medium_case.appraise({"requirements.fold_time": "100 s"})
    assert any(row.label.group == "fold_time_row" for row in found.violated)
    assert "W12" not in by_id(found)


def test_low_voltage_and_no_fuel_are_silent(medium_case):
    found = by_id(medium_case.appraise({"supply.bus": "28 V dc"}))
    assert not {"W17", "W20", "W04"} & found.keys()


def test_burn_time_by_temperature(medium):
    # reference section 6.2: 60 degC under 5 s, 52 degC 1.5 to 2 min, 49 degC over 5 min
    for temperature, text in ((61.0, "about 5 s"), (52.5, "about 2 min"), (49.1, "about 5 min")):
        values = {**medium.values, "structure_temperature_hot": np.full(11, temperature + CELSIUS)}
        assert text in by_id(replace(medium, values=values))["W06"].text
    cool = {**medium.values, "structure_temperature_hot": np.full(11, 48.9 + CELSIUS)}
    assert "W06" not in by_id(replace(medium, values=cool))


def test_weak_heater_needs_no_cut_off(medium):
    # as for a heater that cannot take tube and structure any further
    cool = {**medium.values, "stuck_on_temperature": np.full((11, 2), 400.0),
            "stuck_on_structure_temperature": np.full((11, 2), 350.0)}  # fmt: skip
    assert by_id(replace(medium, values=cool))["W05"].severity == NOTE


def test_held_by_heat_is_named(medium):
    assert "'dash_hold' is held by heat alone" in by_id(medium)["W08"].text
