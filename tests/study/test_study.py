from __future__ import annotations

import dataclasses
import hashlib
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from mdo.study import StudyError, load_study, study_from_dict
from mdo.study.cases import Case
from mdo.study.fields import declared
from mdo.study.read_vehicle import area_outboard
from mdo.study.sections import Actuator, Requirements, Supply, Vehicle

STUDIES = Path(__file__).parents[2] / "studies"


def study_of(content: dict[str, Any]) -> Any:
    return study_from_dict(content, folder=STUDIES)


def test_numbers_are_in_si(content: dict[str, Any]) -> None:
    study = study_of(content)
    assert study.vehicle.mass == 1600.0
    assert study.requirements.fold_time == 600.0
    assert study.requirements.bay_cold == pytest.approx(243.15)
    wind = study.cases[1]
    assert wind.wind_speed == pytest.approx(25 * 1852 / 3600)
    assert wind.deck_roll == pytest.approx(math.radians(10))
    assert study.vehicle.wing[1].twist == pytest.approx(math.radians(-4))


def test_text_and_hash_are_those_of_the_file() -> None:
    path = STUDIES / "deck_medium.toml"
    study = load_study(path)
    assert study.path == path
    assert study.text == path.read_text(encoding="utf-8")
    assert study.hash == hashlib.sha256(path.read_bytes()).hexdigest()


def test_study_is_frozen(content: dict[str, Any]) -> None:
    study = study_of(content)
    with pytest.raises(dataclasses.FrozenInstanceError):
        study.vehicle.mass = 1.0
    with pytest.raises(TypeError):
        study.assumptions["mass"]["plate_fill"] = 1.0


@pytest.mark.parametrize(
    ("section", "cls"),
    [
        ("vehicle", Vehicle),
        ("supply", Supply),
        ("requirements", Requirements),
        ("actuator", Actuator),
    ],
)
def test_every_resolved_field_is_an_input_with_unit_and_origin(
    content: dict[str, Any], section: str, cls: type
) -> None:
    study = study_of(content)
    inputs = {one.path: one for one in study.inputs}
    for name, field in declared(cls).items():
        value = getattr(getattr(study, section), name)
        if field.kind == "tables":
            assert {f"{section}.{name}[1].{each}" for each in field.fields} <= inputs.keys()
            continue
        if value is None:
            continue
        one = inputs[f"{section}.{name}"]
        assert one.value == value
        assert one.unit == field.unit
        assert one.text == field.text
        written = name in content[section]
        assert (one.origin == "file") == written
        assert (
            one.origin == "file"
            or field.kind in {"boolean", "integer", "text"}
            or (one.provenance or field.default is not None)
        )


def test_every_judged_input_says_on_what_grounds(content: dict[str, Any]) -> None:
    judged = [one for one in study_of(content).inputs if one.origin == "judgement"]
    assert len(judged) > 20
    assert all(one.provenance for one in judged)


def test_defaults_lie_in_their_own_range(content: dict[str, Any]) -> None:
    for one in study_of(content).inputs:
        if isinstance(one.value, float):
            assert one.low is None or one.low <= one.value * (1 + 1e-12) + 1e-12, one.path
            assert one.high is None or one.value <= one.high * (1 + 1e-12) + 1e-12, one.path


def test_panel_of_a_trapezoid_has_its_textbook_area_and_centroid() -> None:
    # trapezoid of parallel sides a, b and height h: centroid h (a + 2 b) / (3 (a + b)) from side a
    area = area_outboard([0.0, 4.0], [2.0, 1.0], 2.0)
    assert area.area == pytest.approx(0.5 * (1.5 + 1.0) * 2.0)
    assert area.centroid == pytest.approx(2.0 * (1.5 + 2 * 1.0) / (3 * (1.5 + 1.0)))
    assert area_outboard([0.0, 2.0, 4.0], [1.0, 1.0, 1.0], 1.0) == pytest.approx((3.0, 1.5))


def test_fold_station_and_fraction_are_two_ways_to_say_one_thing(content: dict[str, Any]) -> None:
    by_fraction = study_of(content).vehicle
    del content["vehicle"]["fold_fraction"]
    content["vehicle"]["fold_station"] = f"{by_fraction.fold_station!r} m"
    by_station = study_of(content).vehicle
    assert by_station.fold_fraction == pytest.approx(0.3, rel=1e-12)
    assert by_station.panel_centre == pytest.approx(by_fraction.panel_centre, rel=1e-12)


def test_bus_sets_voltages_and_the_study_may_override_them(content: dict[str, Any]) -> None:
    # 250 to 280 V about 270 V: MIL-STD-704F (from memory)
    supply = study_of(content).supply
    assert (supply.nominal_voltage, supply.allowed_drop) == (270.0, 10.0)
    assert supply.low_voltage_ratio == pytest.approx(250 / 270)
    assert supply.high_voltage_ratio == pytest.approx(280 / 270)
    content["supply"] |= {"low_voltage_ratio": 0.95, "allowed_drop": "3 V"}
    changed = study_of(content).supply
    assert (changed.low_voltage_ratio, changed.allowed_drop) == (0.95, 3.0)


def test_structure_sets_the_temperature_beside_the_tubes(content: dict[str, Any]) -> None:
    content["vehicle"]["structure"] = "aluminium"
    assert study_of(content).vehicle.adjacent_temperature_limit == pytest.approx(373.15)
    content["vehicle"]["adjacent_temperature_limit"] = "90 degC"
    assert study_of(content).vehicle.adjacent_temperature_limit == pytest.approx(363.15)


def test_case_inherits_from_requirements_unless_it_says_otherwise(content: dict[str, Any]) -> None:
    calm, _, cold = study_of(content).cases[:3]
    assert (calm.fold_time, calm.torque_margin) == (600.0, 0.25)
    assert cold.fold_time == 700.0
    assert cold.bay_cold == pytest.approx(233.15)


def test_other_set_is_cold_unless_a_case_says_or_its_hold_is_short(content: dict[str, Any]) -> None:
    # design page, 'Definitions that bind': a fold after rest starts cold, a return as its hold says
    case = content["case"][0]
    del case["other_set"], case["return"]["other_set"]
    calm = study_of(content).cases[0]
    assert calm.return_case is not None
    assert (calm.other_set, calm.return_case.other_set) == ("cold", "cold")
    case["hold_time"] = "20 s"
    calm = study_of(content).cases[0]
    assert calm.return_case is not None
    assert (calm.other_set, calm.return_case.other_set) == ("cold", "just_heated")
    case["return"]["other_set"] = "warmed"
    calm = study_of(content).cases[0]
    assert calm.return_case is not None
    assert (calm.other_set, calm.return_case.other_set) == ("cold", "warmed")


def test_return_is_a_case_of_its_own_with_angles_swapped(content: dict[str, Any]) -> None:
    flight = study_of(content).cases[5]
    back = flight.return_case
    assert (back.fold_from, back.fold_to) == (flight.fold_to, flight.fold_from)
    assert (flight.load_factor, back.load_factor) == (1.05, 0.9)
    assert back.mach == flight.mach
    assert back.return_case is None


def test_return_may_replace_the_way_speed_and_bay_are_given(content: dict[str, Any]) -> None:
    content["case"][5]["return"] = {
        "airspeed_equivalent": "100 m/s",
        "altitude": "0 m",
        "bay_soak_factor": 0.5,
        "structure_temperature": "20 degC",
    }
    back = study_of(content).cases[5].return_case
    assert back.mach == pytest.approx(100 / 340.294, rel=1e-5)  # U.S. Standard Atmosphere, 1976
    assert (back.bay_cold, back.bay_hot) == (None, None)
    assert back.bay_soak_factor == 0.5


def test_return_on_deck_drops_the_speed_of_the_flight(content: dict[str, Any]) -> None:
    content["case"][5]["return"] = {"location": "deck", "altitude": "0 m", "load_factor": 1.0}
    assert study_of(content).cases[5].return_case.mach == 0.0


def test_equivalent_airspeed_becomes_mach(content: dict[str, Any]) -> None:
    # V_e = M a0 sqrt(p / p0); p(11 km) = 22632.0 Pa, a0 = 340.294 m/s, standard atmosphere of 1976
    case = content["case"][5]
    del case["mach"]
    case |= {"airspeed_equivalent": "120 m/s", "altitude": "11 km"}
    expected = 120 / 340.294 / math.sqrt(22632.0 / 101325.0)
    assert study_of(content).cases[5].mach == pytest.approx(expected, rel=1e-5)


def test_held_and_soaked_cases_have_plain_angles(content: dict[str, Any]) -> None:
    soak, parked = study_of(content).cases[3:5]
    assert (soak.fold_from, soak.fold_to) == (0.0, 0.0)
    assert soak.soak_temperature == pytest.approx(344.15)
    assert parked.fold_from == parked.fold_to == pytest.approx(math.radians(100))
    assert parked.lock_state == "locked"
    assert parked.fold_time is None


def test_blower_has_its_air_unless_a_case_has_another(content: dict[str, Any]) -> None:
    content["actuator"]["cooling"] = "blower"
    content["case"][0]["cooling_air_speed"] = "3 m/s"
    study = study_of(content)
    assert study.actuator.cooling_air_speed == 8.0
    assert [case.cooling_air_speed for case in study.cases[:2]] == [3.0, 8.0]
    assert study.warnings == ()


def test_air_speed_without_a_blower_is_warned_of(content: dict[str, Any]) -> None:
    content["case"][0]["cooling_air_speed"] = "3 m/s"
    (warning,) = study_of(content).warnings
    assert "case.stow_calm.cooling_air_speed: has no effect with passive cooling" in warning


def test_design_variable_is_free_started_or_frozen(content: dict[str, Any]) -> None:
    content["design"] = {
        "gear_ratio": 5,
        "tube_length": {"start": "0.5 m", "upper": "1 m"},
        "operating_stress": {"up": {"value": "90 MPa"}, "down": {"lower": "20 MPa"}},
        "tube_count": {"start": 12},
    }
    design = study_of(content).design
    assert (design.gear_ratio.value, design.gear_ratio.frozen) == (5.0, True)
    assert (design.tube_length.start, design.tube_length.upper) == (0.5, 1.0)
    assert design.tube_length.lower == pytest.approx(0.05)
    assert design.operating_stress.up.value == pytest.approx(90e6)
    assert design.operating_stress.down.lower == pytest.approx(20e6)
    assert design.tube_count.up == design.tube_count.down
    assert design.wall_ratio.start is None


def test_assumption_is_overridden_in_its_own_unit(content: dict[str, Any]) -> None:
    plain = study_of(content)
    assert plain.assumptions["mass"]["resolver_mass"] == pytest.approx(0.1)
    content["assumptions"] = {"mass": {"resolver_mass": "80 g"}}
    changed = study_of(content)
    assert changed.assumptions["mass"]["resolver_mass"] == pytest.approx(0.08)
    origins = {one.path: one.origin for one in changed.inputs}
    assert origins["assumptions.mass.resolver_mass"] == "file"
    assert {origin for path, origin in origins.items() if path.startswith("assumptions.")} == {
        "file", "default", "judgement",
    }  # fmt: skip


def test_with_values_checks_anew_and_leaves_the_original_alone() -> None:
    study = load_study(STUDIES / "deck_medium.toml")
    changed = study.with_values(
        {
            "requirements.fold_time": "90 s",
            "case.stow_wind.wind_speed": "20 kt",
            "case.flight_fold.return.load_factor": 0.8,
            "vehicle.wing[2].thickness_ratio": 0.13,
            "design.gear_ratio.upper": 8,
        }
    )
    assert (study.requirements.fold_time, changed.requirements.fold_time) == (600.0, 90.0)
    assert changed.cases[0].fold_time == 90.0
    assert changed.cases[1].wind_speed == pytest.approx(20 * 1852 / 3600)
    assert changed.cases[5].return_case is not None
    assert changed.cases[5].return_case.load_factor == 0.8
    assert changed.vehicle.wing[1].thickness_ratio == 0.13
    assert changed.design.gear_ratio.upper == 8.0
    assert changed.hash != study.hash
    assert changed.with_values({}).hash == changed.hash
    assert load_study(STUDIES / "deck_medium.toml").requirements.fold_time == 600.0


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("requirements.fold_time", 90, "fold_time: missing unit"),
        ("requirements.fold_tmie", "90 s", "did you mean fold_time?"),
        (
            "case.nowhere.mach",
            0.5,
            "case.nowhere.mach: no such field, expected one of the cases stow",
        ),
        ("case", 0.5, "case: wrong type"),
        ("vehicle.wing[9].chord", "1 m", r"a number from 1 to 2 after wing"),
        ("vehicle.mass.low", "1 kg", "a table at mass"),
        ("", "x", "unknown key"),
    ],
)
def test_with_values_refuses_in_words(path: str, value: object, message: str) -> None:
    study = load_study(STUDIES / "deck_medium.toml")
    with pytest.raises(StudyError, match=message):
        study.with_values({path: value})


def test_units_library_is_not_imported_before_a_study_is_read() -> None:
    code = "import sys, mdo.study, mdo.study.schema; assert 'pint' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


def test_return_keys_are_fields_of_a_case() -> None:
    from mdo.study.cases import RETURN_KEYS

    assert set(RETURN_KEYS) <= set(declared(Case))
