from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mdo.study import StudyError, load_study, study_from_dict

Check = Callable[[dict[str, object]], list[str]]

# changes to the medium study; what its one problem must contain
BAD: list[tuple[dict[str, object], list[str]]] = [
    ({"vehicle/fold_statoin": "1 m"},
     ["vehicle.fold_statoin: unknown key", "did you mean fold_station?"]),
    ({"vehicel": {}}, ["vehicel: unknown key", "did you mean vehicle?"]),
    ({"assumptions/mas": {}}, ["assumptions.mas: unknown key", "did you mean mass?"]),
    ({"analysis/optimum": {"start": 3}}, ["analysis.optimum.start", "did you mean starts?"]),
    ({"case/0/wind": "1 m/s"}, ["case.stow_calm.wind: unknown key", "wind_speed"]),
    ({"case/5/return": {"lod_factor": 1}}, ["case.flight_fold.return.lod_factor", "load_factor?"]),
    ({"design/tube_lenght": "1 m"},
     ["design.tube_lenght: unknown key", "did you mean tube_length?"]),
    ({"design/tube_length": {"startt": "1 m"}},
     ["design.tube_length.startt", "did you mean start?"]),
    # of cards that begin so only one can be run
    ({"actuator/alloy": "niti"}, ["actuator.alloy: unknown alloy", "did you mean niti_actuator?"]),
    ({"actuator/alloy": "ni60ti4"}, ["actuator.alloy: unknown alloy, got", "of your own"]),
    ({"vehicle/mass": None}, ["vehicle.mass: missing", "unit of kg"]),
    ({"vehicle/mass": 1600}, ["vehicle.mass: missing unit, got 1600", 'for example "1600 kg"']),
    ({"vehicle/mass": "1600"}, ["vehicle.mass: missing unit", 'for example "1600 kg"']),
    ({"vehicle/mass": "1600 m"}, ["vehicle.mass: wrong dimension, got unit 'm'", "unit of kg"]),
    ({"vehicle/mass": "-5 kg"}, ["vehicle.mass: out of range", '"-5 kg"', "1 kg to 500 t"]),
    ({"vehicle/mass": "nan kg"}, ["vehicle.mass: not a finite number", "unit of kg"]),
    ({"vehicle/mass": ""}, ["vehicle.mass: empty", "unit of kg"]),
    ({"vehicle/mass": ["1 kg"]}, ["vehicle.mass: wrong type, got a list of 1", "unit of kg"]),
    ({"vehicle/mass": {"value": 1}}, ["vehicle.mass: wrong type, got a table"]),
    ({"vehicle/mass": True}, ["vehicle.mass: wrong type, got true"]),
    ({"requirements/torque_margin": math.nan}, ["torque_margin: not a finite number, got nan"]),
    ({"requirements/torque_margin": math.inf}, ["torque_margin: not a finite number, got inf"]),
    ({"requirements/torque_margin": 10**400}, ["torque_margin: not a finite number"]),
    ({"requirements/torque_margin": -0.1}, ["torque_margin: out of range, got -0.1", "0 to 3"]),
    ({"requirements/torque_margin": "0.2 kg"}, ["torque_margin: wrong dimension", "pure number"]),
    ({"requirements/tubes_failed": 0.5}, ["tubes_failed: wrong type, got 0.5", "whole number"]),
    ({"requirements/tubes_failed": 2}, ["tubes_failed: out of range, got 2", "0 to 1"]),
    ({"requirements/lot_tolerance": "10 degC"},
     ["lot_tolerance: a temperature difference", '"10 K"']),
    ({"requirements/bay_cold": "60 degC"},
     ["requirements.bay_cold: contradiction", "at most bay_hot"]),
    ({"requirements/bay_cold": "200 degC", "requirements/bay_hot": "220 degC"},
     ["requirements.bay_cold: out of range", "-90 degC to 70 degC"]),
    ({"requirements/bay_hot": "300 degC"},
     ["requirements.bay_hot: out of range", "-90 degC to 250 degC"]),
    ({"requirements/length_to_diameter_max": 300}, ["length_to_diameter_max: out of range", "200"]),
    ({"vehicle/adjacent_temperature_limit": "500 degC"},
     ["vehicle.adjacent_temperature_limit: out of range", "40 degC to 400 degC"]),
    ({"vehicle/panel_centre": "5 m"},
     ["vehicle.panel_centre: contradiction", "outside of a panel of", "less than that"]),
    ({"supply/allowed_drop": "40 V", "supply/bus": "28 V dc"},
     ["supply.allowed_drop: contradiction", "lowest line voltage", "at most 0.25 of that"]),
    ({"case/0/hold_time": "1e9 s"}, ["case.stow_calm.hold_time: out of range", "0 s to 30 d"]),
    ({"case/3/soak_temperature": "300 degC"},
     ["case.hot_soak.soak_temperature: out of range", "0 degC to 200 degC"]),
    ({"case/2/structure_temperature": "300 degC", "case/2/bay_soak_factor": 0.5},
     ["case.cold_start.structure_temperature: out of range", "-90 degC to 250 degC"]),
    ({"analysis/motion": {"supply_resistance": "100 ohm"}},
     ["analysis.motion.supply_resistance: out of range", "0 ohm to 10 ohm"]),
    ({"vehicle/section": "four_digits"},
     ["vehicle.section: unknown choice", "did you mean four_digit?"]),
    ({"vehicle/fuel_near_bay": "no"}, ['fuel_near_bay: wrong type, got "no"', "true or false"]),
    ({"vehicle/fold_station": "2 m"}, ["vehicle.fold_fraction: contradiction", "only one of"]),
    ({"vehicle/fold_fraction": None}, ["vehicle.fold_station: missing", "fold_fraction"]),
    ({"vehicle/fold_fraction": None, "vehicle/fold_station": "9 m"},
     ["fold_station: off the wing", "3.2863 m"]),
    ({"vehicle/reference_area": "8 m2"}, ["vehicle.reference_area: contradiction, got 8", "7.2"]),
    ({"vehicle/panel_mass": "900 kg"}, ["vehicle.panel_mass: contradiction", "less than half"]),
    ({"vehicle/wing": "flat"}, ['vehicle.wing: wrong type, got "flat"', "[[vehicle.wing]]"]),
    ({"vehicle/wing": []}, ["vehicle.wing: too few breakpoints, got 0"]),
    ({"vehicle/wing": None}, ["vehicle.wing: missing", "[[vehicle.wing]]"]),
    ({"vehicle/wing/0/station": "0.5 m"}, ["vehicle.wing[1].station", '"0 m" (the root)']),
    ({"vehicle/wing/1/station": "0 m"},
     ["vehicle.wing[2].station: not increasing", "more than 0 m"]),
    ({"vehicle/wing/1/chord": "-1 m"}, ["vehicle.wing[2].chord: out of range"]),
    ({"vehicle": "x"}, ['vehicle: wrong type, got "x"', "[vehicle]"]),
    ({"supply/bus": "28 V"}, ["supply.bus: unknown choice", "28 V dc"]),
    ({"supply/bus": "115 V ac", "supply/source": "battery"}, ["supply.source: contradiction"]),
    ({"study/name": "a/b"}, ['study.name: not a name, got "a/b"', "letters, digits"]),
    ({"study/analyses": ["optimun"]},
     ["study.analyses: unknown analysis", "did you mean optimum?"]),
    ({"study/analyses": "optimum"}, ["study.analyses: wrong type"]),
    ({"study/title": "x" * 20_000}, ["study.title: too long, got 20000"]),
    ({"actuator/alloy": "nitihf20_set3"},
     ["actuator.alloy: unknown alloy", "did you mean nitihf20_set"]),
    ({"actuator/alloy": "mine.toml"},
     ["actuator.alloy: cannot be read (No such file", '"mine.toml"']),
    ({"actuator/drive_side": "up"}, ["actuator.drive_side: contradiction", "opposed", "remove it"]),
    ({"actuator/cooling_air_speed": "8 m/s"},
     ["actuator.cooling_air_speed: contradiction", "passive"]),
    ({"fidelity": {"optimise": {"hinge_moment": "table"}}}, ["actuator.table: missing", "CSV"]),
    ({"actuator/hinge_moment": "table"},
     ["actuator.hinge_moment", 'optimise = { hinge_moment = "table" }']),
    ({"fidelity": {"optimise": {"tube": "unifrm"}}},
     ["fidelity.optimise.tube", "did you mean uniform?"]),
    ({"fidelity": {"optimize": {}}}, ["fidelity.optimize: unknown key", "did you mean optimise?"]),
    ({"fidelity": {"correct": {"tube": "radial"}}}, ["fidelity.correct", "remove it"]),
    ({"fidelity": {"correct": {"heat": "netwrk"}}},
     ["fidelity.correct.heat: unknown level", "did you mean network?"]),
    ({"fidelity": {"correct": {"heat": "balance"}}},
     ["fidelity.correct.heat", "can correct itself", "one of: network"]),
    ({"fidelity": {"correct": {"tube": "incremental"}}},
     ["fidelity.correct.tube", "which cannot correct", "remove it"]),
    ({"fidelity": {"optimise": {"tube": "incremental"}}},
     ["fidelity.optimise.tube", "run on a known design", "one of: uniform, radial"]),
    ({"fidelity": {"verify": {"tube": "uniform"}}},
     ["fidelity.verify.tube", 'cheaper than "radial"', "one of: incremental"]),
    ({"fidelity": {"verify": {"tube": "radial"}}},
     ["fidelity.verify.tube", "can verify itself", "one of: incremental"]),
    ({"fidelity": {"verify": {"tube": "incrmental"}}},
     ["fidelity.verify.tube: unknown level", "did you mean incremental?"]),
    ({"fidelity": {"verify": {"heat": "conducton"}}},
     ["fidelity.verify.heat: unknown level", "did you mean conduction?"]),
    ({"fidelity": {"optimise": {"heat": "conduction"}}},
     ["fidelity.optimise.heat", "one of: balance, network"]),
    ({"fidelity": {"correct": {"heat": "conduction"}}},
     ["fidelity.correct.heat", "one of: network"]),
    ({"fidelity": {"verify": {"mass": "x"}}}, ["fidelity.verify.mass: unknown key"]),
    ({"fidelity": {"verify": {"hinge_moment": "table"}}}, ["actuator.table: missing", "verify"]),
    ({"actuator/table": "x.csv"}, ["actuator.table: contradiction", "lattice"]),
    ({"case": []}, ["case: missing", "[[case]]"]),
    ({"case": {"id": "a"}}, ["case: wrong type, got a table", "[[case]]"]),
    ({"case/1/id": "stow_calm"}, ["case.[2].id: duplicate", '"stow_calm"']),
    ({"case/0/id": "a b"}, ["case.[1].id: not a name"]),
    ({"case/0/kind": "flod"}, ["case.stow_calm.kind: unknown choice", "did you mean fold?"]),
    ({"case/0/fold_to": "0 deg"}, ["case.stow_calm.fold_to: contradiction", "equal to fold_from"]),
    ({"case/0/fold_to": "200 deg"}, ["case.stow_calm.fold_to: out of range", "110 deg"]),
    ({"case/0/fold_to": "120 deg"}, ["case.stow_calm.fold_to: out of range", "110 deg"]),
    ({"vehicle/fold_fraction": 0.8, "case/0/fold_to": "109 deg"},
     ["case.stow_calm.fold_to: the panels of both wings meet", "104 deg"]),
    ({"vehicle/fold_fraction": None, "vehicle/fold_station": "3.286 m"},
     ["vehicle.fold_station: out of range", "0.02 to 0.9"]),
    ({"vehicle/wing/1/chord": "0 m"}, ["vehicle.wing[2].chord: out of range", "1 mm"]),
    ({"case/0/fold_to": 100}, ["case.stow_calm.fold_to: missing unit", '"100 deg"']),
    ({"case/0/fold_at": "1 deg"}, ["case.stow_calm.fold_at: contradiction"]),
    ({"case/0/mach": 0.3}, ["case.stow_calm.mach: contradiction", 'location = "deck"']),
    ({"case/0/reacted_by": "lock"}, ["case.stow_calm.reacted_by: contradiction", "cannot move"]),
    ({"case/0/folds_per_life": None}, ["case.stow_calm.folds_per_life: missing"]),
    ({"case/0/lock_state": "locked"}, ["case.stow_calm.lock_state: contradiction"]),
    ({"case/0/bay_soak_factor": 0.5}, ["case.stow_calm.structure_temperature: missing"]),
    ({"case/0/soak_temperature": "71 degC"}, ["case.stow_calm.soak_temperature: contradiction"]),
    ({"case/2/bay_soak_factor": 0.5,
      "case/2/structure_temperature": "0 degC", "case/2/bay_hot": None},
     ["case.cold_start.bay_cold: contradiction", "bay_soak_factor"]),
    ({"case/2/return": {"load_factor": 1}},
     ["case.cold_start.return: contradiction", "returns = true"]),
    ({"case/3/fold_at": "1 deg"}, ["case.hot_soak.fold_at: contradiction"]),
    ({"case/3/reacted_by": "lock"}, ["case.hot_soak.reacted_by: contradiction"]),
    ({"case/4/fold_to": "1 deg"}, ["case.parked_gale.fold_to: contradiction", "fold_at"]),
    ({"case/4/fold_at": None}, ["case.parked_gale.fold_at: missing"]),
    ({"case/4/reacted_by": None}, ["case.parked_gale.reacted_by: missing"]),
    ({"case/4/returns": True}, ["case.parked_gale.returns: contradiction", 'kind = "fold"']),
    ({"case/4/fold_time": "9 s"},
     ["case.parked_gale.fold_time: contradiction", "without a motion"]),
    ({"case/4/lock_state": "unlocked"}, ["case.parked_gale.lock_state: contradiction"]),
    ({"case/5/mach": None}, ["case.flight_fold.mach: missing", "airspeed_equivalent"]),
    (
        {"case/5/airspeed_equivalent": "90 kt"},
        ["airspeed_equivalent: contradiction", "mach = 0.55"],
    ),
    ({"case/5/wind_speed": "9 kt"}, ["case.flight_fold.wind_speed: contradiction"]),
    ({"case/5/return": "x"}, ['case.flight_fold.return: wrong type, got "x"']),
    ({"case/5/return": {"mach": 9}}, ["case.flight_fold.return.mach: out of range"]),
    ({"case/12/reacted_by": "actuator"}, ["case.jam_one_side", "contradiction"]),
    ({"requirements/bay_hot": None}, ["case.stow_calm.bay_hot: missing", "requirements.bay_hot"]),
    ({"design/gear_ratio": "1 m"}, ["design.gear_ratio: wrong dimension"]),
    ({"design/gear_ratio": {"start": 30}}, ["design.gear_ratio.start: outside the bounds, got 30"]),
    ({"design/gear_ratio": {"lower": 5, "upper": 2}}, ["design.gear_ratio.lower: contradiction"]),
    ({"design/gear_ratio": {"value": 5, "start": 2}}, ["design.gear_ratio.start: contradiction"]),
    ({"design/gear_ratio": {"up": 5}}, ["design.gear_ratio.up: contradiction", "both sets share"]),
    ({"design/tube_count": {"up": 5, "left": 2}}, ["design.tube_count.left: unknown key"]),
    ({"design/tube_outer_radius": {"lower": 2}}, ["tube_outer_radius.lower: missing unit"]),
    ({"design/spring_rate": "1 N*m/rad"}, ["design.spring_rate: contradiction", "opposed"]),
    ({"assumptions/mass": {"plate_fill": "1 kg"}},
     ["assumptions.mass.plate_fill: wrong dimension"]),
    ({"assumptions/mass": 3}, ["assumptions.mass: wrong type, got 3"]),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "parts"), BAD, ids=[str(parts[0])[:60] for _, parts in BAD])
def test_bad_field_is_one_problem_that_says_what_is_expected(
    problems: Check, changes: dict[str, object], parts: list[str]
) -> None:
    found = problems(changes)
    wanted = [line for line in found if all(part in line for part in parts)]
    assert wanted, found
    assert all(line.startswith("study: ") and "\n" not in line for line in found)
    assert all("expected" in line for line in found), found


def test_unchanged_study_has_no_problem(problems: Check) -> None:
    assert problems({}) == []


def without_other_set(content: dict[str, Any]) -> dict[str, object]:
    """Changes that take the state of the other set out of every case."""
    changes: dict[str, object] = {}
    for number, case in enumerate(content["case"]):
        if "other_set" in case:
            changes[f"case/{number}/other_set"] = None
        if "other_set" in case.get("return", {}):
            changes[f"case/{number}/return/other_set"] = None
    return changes


def test_one_set_forms_have_no_other_set_to_state(problems: Check, content: dict[str, Any]) -> None:
    given = without_other_set(content)
    assert given
    found = problems({"actuator/configuration": "load_return", "actuator/drive_side": "down"})
    refused = [line for line in found if ".other_set: contradiction" in line]
    assert len(refused) == len(given)
    assert all('beside configuration = "load_return"' in line for line in refused)
    found = problems(given | {"case/0/hold_time": "60 s"})
    assert [line for line in found if "hold_time" in line or "other_set" in line] == [
        (
            'study: case.stow_calm.hold_time: contradiction, got "60 s" beside configuration = '
            '"load_return", expected none (remove it)'
        )
    ]


def test_hold_time_stands_between_a_fold_and_its_return_alone(
    problems: Check, content: dict[str, Any]
) -> None:
    number = next(
        at for at, case in enumerate(content["case"])
        if case["kind"] == "fold" and not case.get("returns")
    )  # fmt: skip
    found = problems({f"case/{number}/hold_time": "60 s"})
    assert len(found) == 1
    assert "hold_time: contradiction" in found[0]
    assert "without a return" in found[0]


def test_state_of_the_other_set_is_one_of_three_and_of_motions_alone(
    problems: Check, content: dict[str, Any]
) -> None:
    held = next(at for at, case in enumerate(content["case"]) if case["kind"] == "hold")
    found = problems({"case/0/other_set": "lukewarm", f"case/{held}/other_set": "cold"})
    assert len(found) == 2, found
    assert "case.stow_calm.other_set: unknown choice" in found[0]
    assert all(state in found[0] for state in ("just_heated", "cold", "warmed"))
    assert "without a motion" in found[1]


def test_one_set_forms_need_their_side_and_only_their_set(
    problems: Check, content: dict[str, Any]
) -> None:
    problems(without_other_set(content))
    found = problems(
        {
            "actuator/configuration": "load_return",
            "actuator/return_mode": "cool_then_retwist",
            "design/tube_count": {"up": 3},
        }
    )
    assert [line.split(": ")[1] for line in found] == [
        "actuator.drive_side",
        "actuator.return_mode",
    ]
    found = problems({"actuator/drive_side": "down", "actuator/return_mode": "cool_under_load"})
    assert len(found) == 1
    assert "design.tube_count.up: contradiction" in found[0]


def test_every_problem_of_a_file_comes_in_one_message(problems: Check) -> None:
    found = problems(
        {
            "vehicle/mass": "1600 m",
            "supply/bus": "28 V",
            "requirements/fold_time": 120,
            "case/0/fold_to": "400 deg",
            "case/5/mach": None,
            "actuator/alloy": "unobtainium",
            "design/gear_ratio": {"start": 99},
            "assumptions/mas": {},
            "analysis/optimum": {"starts": 0},
            "typo": 1,
        }
    )
    paths = [line.split(": ")[1] for line in found]
    assert sorted(paths) == sorted(
        [
            "vehicle.mass", "supply.bus", "requirements.fold_time", "case.stow_calm.fold_to",
            "case.flight_fold.mach", "actuator.alloy", "design.gear_ratio.start", "assumptions.mas",
            "analysis.optimum.starts", "typo",
        ]
    )  # fmt: skip


def test_problem_of_a_case_is_not_repeated_for_its_return(problems: Check) -> None:
    found = problems(
        {"case/0/load_factor": 99, "case/1/wind_speed": "10 kg", "case/1/deck_roll": 3}
    )
    assert len(found) == 3, found


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty, expected the sections study, vehicle"),
        (b" \n\t\n", "empty, expected the sections"),
        (b"\xff\xfe\x00", "not UTF-8 text, got UTF-16, .*save the file again as UTF-8"),
        (b"a = '\xe4'", "not UTF-8 text, got byte 0xe4 at 5, expected text in UTF-8"),
        (b"[study\nname = 1", r"not TOML: .*line 1"),
        (b"[study]\nname = 'a'\nname = 'b'\n", r"not TOML: name is there twice: .*line 3"),
        (b"[study]\nname = 'a'\n[study]\n", r"not TOML: \[study\] is there twice: .*line 3"),
        (b"a = " + b"[" * 20_000, "nested too deeply"),
        (b"a = " + b"9" * 5000, "not TOML: "),
        (b"\x00\x01", "not TOML: "),
        (b"# nothing but a comment\n", "vehicle.mass: missing"),
        (b"x" * 10_000_001, "too large, got more than 1 MB"),
        ("[study]\nname = '\u200f\u202e'\n".encode(), "study.name: not a name"),
    ],
)
def test_bad_file_is_refused_in_words(tmp_path: Path, data: bytes, message: str) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(data)
    with pytest.raises(StudyError, match=message) as caught:
        load_study(path)
    assert all(line.startswith(f"{path}: ") for line in caught.value.problems)
    assert str(caught.value) == "\n".join(caught.value.problems)


def test_missing_file_and_folder_are_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"cannot be read \(No such file"):
        load_study(tmp_path / "none.toml")
    with pytest.raises(StudyError, match="a folder, expected a study file"):
        load_study(tmp_path)
    with pytest.raises(StudyError, match="cannot be read"):
        load_study("a\0b")


def test_byte_order_mark_is_no_problem(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "studies" / "deck_medium.toml").read_bytes()
    (tmp_path / "study.toml").write_bytes(b"\xef\xbb\xbf" + text)
    assert load_study(tmp_path / "study.toml").name == "deck_medium"


@pytest.mark.parametrize("bad", [None, 3, [], "text", {"study": object()}, {1: {}}])
def test_python_value_that_is_no_study_is_refused(bad: Any) -> None:
    with pytest.raises(StudyError):
        study_from_dict(bad)


def test_dictionary_that_contains_itself_is_refused() -> None:
    loop: dict[str, Any] = {}
    loop["study"] = loop
    with pytest.raises(StudyError, match="not plain data"):
        study_from_dict(loop)


def test_case_that_no_wing_can_fly_is_refused(problems: Check) -> None:
    # by hand: 1,600 kg at 12 kt on 7.2 m2, C_L = m g / (rho V^2 / 2 S) = 93
    found = problems(
        {"case/5/mach": None, "case/5/airspeed_equivalent": "12 kt", "case/5/return": {}}
    )
    assert [line.split(": ")[1] for line in found] == [
        "case.flight_fold",
        "case.flight_fold.return",
    ]
    assert "lift coefficient of 8" in found[1]
    assert "expected at most 2.5" in found[0]


def test_return_that_no_wing_can_fly_is_refused(problems: Check) -> None:
    (found,) = problems({"case/5/return": {"mach": 0.05}})
    assert "case.flight_fold.return: too slow to fly" in found


def test_count_of_zero_is_refused(problems: Check) -> None:
    assert "out of range, got 0, expected 1 to 2000" in problems({"design/tube_count": 0})[0]
    assert "folds_per_sortie: out of range" in problems({"supply/folds_per_sortie": 0})[0]


def test_dead_time_that_leaves_nothing_of_the_fold_time_is_warned_of(
    content: dict[str, Any],
) -> None:
    content["requirements"] |= {"dead_time": "60 s", "fold_time": "30 s"}
    (warning,) = (line for line in study_from_dict(content).warnings if "dead_time" in line)
    assert "60 s leave nothing of a fold_time of 30 s" in warning
    content["requirements"]["dead_time"] = "29 s"
    assert not any("dead_time" in line for line in study_from_dict(content).warnings)


@pytest.mark.parametrize(
    ("mach", "thickness", "warned"),
    [(0.8, 0.12, False), (0.85, 0.12, True), (1.2, 0.07, False), (1.2, 0.1, True)],
)
def test_thick_section_at_high_mach_number_is_warned_of(
    content: dict[str, Any], mach: float, thickness: float, warned: bool
) -> None:
    for section in content["vehicle"]["wing"]:
        section["thickness_ratio"] = thickness
    content["case"][5] |= {"mach": mach, "return": {}}
    warnings = study_from_dict(content).warnings
    assert any("case.flight_fold: thickness ratio" in line for line in warnings) == warned
