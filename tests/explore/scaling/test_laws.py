"""Laws: their exponents hang together, and the physics at scaled geometry follows them.

The exponents of the table are those of dimensional analysis (reference thermal-power-mass, section
5: hinge moment n^4, n^3 and W^(3/2) with lengths W^(1/2)); here they are derived from length, mass
and time, and the moments are evaluated at scaled geometry without any optimiser.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mdo.disciplines.loads.panel_inertia import inertial_moment
from mdo.disciplines.loads.wind import wind_moment_rule
from mdo.optimise.problem import make_problem
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import LAWS, scaled
from mdo.study.study import load_study

SIZE = 1.3
KNOWN_MOMENT = {"dynamic": 4.0, "mach": 3.0, "constant_loading": 3.0}
MASS_MOMENT = {"dynamic": 4.0 / 3.0, "mach": 1.0, "constant_loading": 1.5}


@pytest.mark.parametrize("name", LAWS)
def test_exponents_of_a_law_hang_together(name):
    law = LAWS[name]
    pressure = 2.0 * law.speed
    assert law.moment == KNOWN_MOMENT[name]
    assert law.moment == pressure + 3.0  # q S c
    assert law.moment == law.mass + law.load_factor + 1.0  # m g n s
    assert law.moment / law.mass == pytest.approx(MASS_MOMENT[name])
    assert law.inertia == law.mass + 2.0
    assert law.acceleration == law.moment - law.inertia
    assert law.time == 1.0 - law.speed  # a length over a speed
    assert law.rate == law.speed - 1.0
    assert law.power == law.moment - law.time


@pytest.mark.parametrize("name", LAWS)
def test_panel_moments_follow_the_law(name):
    law = LAWS[name]

    def moments(size: float) -> np.ndarray:
        weight = inertial_moment(
            panel_mass=2.0 * size**law.mass,
            panel_centre=0.4 * size,
            panel_offset=0.02 * size,
            fold_angle=0.7,
            load_factor=1.2 * size**law.load_factor,
            side_load_factor=0.1 * size**law.load_factor,
        )
        wind = wind_moment_rule(
            air_density=1.225,
            wind_speed=12.0 * size**law.speed,
            panel_area=0.8 * size**2,
            panel_centroid=0.35 * size,
            wind_factor=0.75,
        )
        return np.array([float(weight), float(wind)])

    slope = np.log(moments(SIZE) / moments(1.0)) / np.log(SIZE)
    np.testing.assert_allclose(slope, law.moment, atol=1e-12)


def slopes_of_moments(one, other, legs, size):
    """Exponents of the largest moments of legs between two problems."""

    def moments(problem):
        prelude, parameters = problem.prelude, problem.assembled.parameters
        record = parameters["legs"]
        lift = np.asarray(record.airborne * record.load_factor * record.mass_fraction)
        weight = 9.80665 * parameters["vehicle"].mass_without_actuator * lift
        arm, top, bottom = (
            np.asarray(prelude[name])[: len(weight)]  # legs that only fill come last
            for name in ("lift_moment_arm", "steady_moment_high", "steady_moment_low")
        )
        lifted = arm * weight[:, None]
        high, low = lifted + top, lifted + bottom
        return np.maximum(np.abs(high), np.abs(low)).max(axis=1)[legs]

    return np.log(moments(other) / moments(one)) / np.log(size)


def test_hinge_moments_of_a_study_follow_the_laws(small, small_problem):
    airborne = np.asarray(small_problem.assembled.parameters["legs"].airborne) > 0.5
    deck, air = np.flatnonzero(~airborne), np.flatnonzero(airborne)
    problems = {name: make_problem(scaled(small, name, SIZE)) for name in LAWS}
    for name, both in {"dynamic": False, "mach": True, "constant_loading": True}.items():
        in_air = slopes_of_moments(small_problem, problems[name], air, SIZE)
        # the dynamic law changes Mach number, and with it the lift distribution a little
        np.testing.assert_allclose(in_air, LAWS[name].moment, atol=1e-9 if both else 0.05)
    for name in ("dynamic", "constant_loading"):
        on_deck = slopes_of_moments(small_problem, problems[name], deck, SIZE)
        np.testing.assert_allclose(on_deck, LAWS[name].moment, atol=1e-9)
    # deck loads of the mach law are mixed: gravity as size^4 at 1 g, wind as size^3
    mixed = slopes_of_moments(small_problem, problems["mach"], deck, SIZE)
    assert ((mixed > 3.0) & (mixed < 4.0 + 1e-9)).all()


def test_fields_that_are_given_follow_and_others_stay(small):
    large = scaled(small, "dynamic", 4.0)
    assert large.vehicle.mass == pytest.approx(64.0 * small.vehicle.mass)
    assert large.vehicle.panel_centre == pytest.approx(4.0 * small.vehicle.panel_centre)
    assert large.vehicle.fold_station == pytest.approx(4.0 * small.vehicle.fold_station)
    assert large.vehicle.clearance == small.vehicle.clearance
    assert large.requirements.fold_time == pytest.approx(2.0 * small.requirements.fold_time)
    assert large.supply.power_available == pytest.approx(128.0 * small.supply.power_available)
    assert large.requirements.bay_hot == small.requirements.bay_hot
    cases = zip(small.cases, large.cases, strict=True)
    assert all(b.mach == pytest.approx(2.0 * a.mach) for a, b in cases)
    assert large.assumptions == small.assumptions


def test_load_factors_of_the_mach_law_follow_in_flight_and_in_returns(small):
    half = scaled(small, "mach", 0.5)
    for given, found in zip(small.cases, half.cases, strict=True):
        factor = 2.0 if given.location == "air" else 1.0
        assert found.load_factor == pytest.approx(factor * given.load_factor)
        if given.return_case is not None:
            assert found.return_case is not None
            wanted = factor * given.return_case.load_factor
            assert found.return_case.load_factor == pytest.approx(wanted)


def test_size_one_is_the_study_itself(small):
    assert scaled(small, "mach", 1.0) is small


@pytest.mark.parametrize("size", [0.0, -1.0, float("nan"), float("inf")])
def test_sizes_that_are_none_are_refused(small, size):
    with pytest.raises(StudyError, match=r"size: got .* expected a number above zero"):
        scaled(small, "dynamic", size)


def test_unknown_law_is_refused_with_those_there_are(small):
    with pytest.raises(StudyError, match="law: got froude, expected one of dynamic, mach, const"):
        scaled(small, "froude", 2.0)


def test_size_out_of_the_range_of_a_field_says_which(small):
    with pytest.raises(StudyError, match="wind_speed: out of range"):
        scaled(small, "dynamic", 20.0)


def test_table_of_loads_belongs_to_one_size(small):
    table = load_study(Path(__file__).parents[3] / "docs" / "examples" / "deck_light.toml")
    assert table.fidelity.optimise.hinge_moment == "table"
    with pytest.raises(StudyError, match="hinge_moment: got table, which holds for one size"):
        scaled(table, "mach", 2.0)


def test_a_bench_has_one_size():
    bench = load_study(Path(__file__).parents[3] / "studies" / "bench_500_45_45.toml")
    with pytest.raises(StudyError, match=r"bench: has one size, expected a study with \[vehicle\]"):
        scaled(bench, "mach", 2.0)
