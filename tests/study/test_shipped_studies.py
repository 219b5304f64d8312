"""The shipped studies are the family that the job describes, each sound and explained."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from mdo.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
NAMES = sorted(path.stem for path in STUDIES.glob("*.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_study_is_sound_and_named_as_its_file(name: str) -> None:
    study = load_study(STUDIES / f"{name}.toml")
    assert study.name == name
    assert study.title
    assert study.warnings == ()
    if study.bench is not None:
        return
    fraction = 0.2 if name in {"deck_small", "deck_large"} else 0.3
    assert study.vehicle.fold_fraction == pytest.approx(fraction)


@pytest.mark.parametrize(
    ("name", "mass", "area", "aspect_ratio"),
    [("deck_small", 45, 1.1, 9), ("deck_medium", 1600, 7.2, 6), ("deck_large", 9500, 30, 2.8)],
)
def test_vehicle_has_the_size_of_its_class(
    name: str, mass: float, area: float, aspect_ratio: float
) -> None:
    vehicle = load_study(STUDIES / f"{name}.toml").vehicle
    assert vehicle.mass == mass
    assert vehicle.reference_area == pytest.approx(area)
    assert (2 * vehicle.wing[-1].station) ** 2 / area == pytest.approx(aspect_ratio, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "highest", "lowest"),
    [("deck_small", 90, -20), ("deck_medium", 100, -35), ("deck_large", 90, -20)],
)
def test_full_mission_has_every_kind_of_case(name: str, highest: float, lowest: float) -> None:
    cases = load_study(STUDIES / f"{name}.toml").cases
    assert {case.kind for case in cases} == {"fold", "hold", "soak", "jam", "heat_loss"}
    moved = [case for case in cases if case.kind == "fold"]
    ends = [end for case in moved for end in (case.fold_from, case.fold_to)]
    assert math.degrees(max(ends)) == pytest.approx(highest)
    assert math.degrees(min(ends)) == pytest.approx(lowest)
    assert sum(case.folds_per_life for case in moved) == 1000
    assert any(case.wind_speed > 0 and case.deck_roll > 0 for case in moved)
    assert any(case.kind == "hold" and case.reacted_by == "actuator" for case in cases)
    assert any(case.gust_speed > 0 and case.reacted_by == "lock" for case in cases)


def test_dash_of_the_large_vehicle_is_supersonic() -> None:
    cases = load_study(STUDIES / "deck_large.toml").cases
    assert max(case.mach for case in cases) == 1.5


def test_infeasible_variant_differs_from_the_medium_only_in_its_times() -> None:
    medium = load_study(STUDIES / "deck_medium.toml")
    twin = load_study(STUDIES / "deck_medium_infeasible.toml")
    assert (twin.requirements.fold_time, twin.requirements.return_time) == (60.0, 600.0)
    assert medium.supply.power_available == twin.supply.power_available == 8000.0
    ours = {one.path: one.value for one in medium.inputs}
    theirs = {one.path: one.value for one in twin.inputs}
    differing = {
        path for path in ours if ours[path] != theirs.get(path) and not path.startswith("analysis.")
    }
    assert {path.rpartition(".")[2] for path in differing} <= {
        "name", "title", "description", "fold_time", "return_time",
    }  # fmt: skip


@pytest.mark.parametrize("span", ["0_90", "45_45"])
@pytest.mark.parametrize("torque", [500, 5000, 20000])
def test_bench_falls_as_the_cosine_of_the_angle(torque: int, span: str) -> None:
    study = load_study(STUDIES / f"bench_{torque}_{span}.toml")
    low, high = (0.0, 90.0) if span == "0_90" else (-45.0, 45.0)
    motion = study.cases[0]
    assert np.degrees([motion.fold_from, motion.fold_to]) == pytest.approx([low, high])
    angles = np.radians(np.linspace(low, high, 37))
    for leg in ("fold", "return"):
        for moments in study.load_table.moments("raise", leg, angles):
            # 0.112984829 N*m in an inch pound-force, exact by definition; linear between 5 deg
            expected = -torque * 0.112984829 * np.cos(angles)
            assert moments == pytest.approx(expected, abs=1.1e-3 * torque * 0.113)
    wanted = {500: 1.0, 5000: 12.0, 20000: None}[torque]
    assert study.design.tube_count.up.value == wanted
    if torque > 500:  # twelve tubes give ten times one tube
        assert 12 * study.assumptions["bundle"]["sharing_efficiency"] == pytest.approx(10, rel=0.01)
