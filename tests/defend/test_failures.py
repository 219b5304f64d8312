"""Failure states against numbers worked out by hand at optima of the shipped studies."""

from __future__ import annotations

import inspect
import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import jax.numpy as jnp
import numpy as np
import pytest
from scipy.integrate import solve_ivp

import mdo
from mdo.defend.failures import states as failures
from mdo.defend.failures.states import (
    FailureLine,
    Side,
    angle_apart,
    failure_states,
    same_conditions,
    widest_conditions,
)
from mdo.defend.tables.facts import Facts
from mdo.disciplines.heat.convection import film_coefficient
from mdo.disciplines.heat.hardware import TubeHardware, tube_hardware
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.loss import tube_loss
from mdo.disciplines.heat.surroundings import adjacent_temperature
from mdo.disciplines.levels import Fidelity, Levels
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.run.design_analyses import optimum_analysis

STUDIES = Path(__file__).parents[2] / "studies"
# of the medium study: nominal, low and high line [V], tolerances of heaters, card (see its sources)
NOMINAL, LOW, HIGH = 270.0, 250.0, 280.0
WEAK, STRONG = 0.90, 1.05
DENSITY, SPECIFIC_HEAT, ALLOY_LIMIT = 8850.0, 330.0, 573.15


def optimum_of(name: str) -> Appraisal:
    study = mdo.load_study(STUDIES / f"{name}.toml")
    quick = study.with_values({"analysis.optimum.starts": 1})
    return optimum_analysis(make_problem(quick), lambda _: None)


Floats = np.ndarray
STEPS = 200


class _Tube:
    """One tube of a set in the hot bay of a leg, heated at high line."""

    def __init__(self, appraisal: Appraisal, leg: int, side: int) -> None:
        values, design = appraisal.values, appraisal.design
        given = appraisal.problem.assembled.parameters
        self.assumed = given["thermal_assumptions"]
        self.bay, self.pressure = (
            jnp.asarray(values[name][leg]) for name in ("bay_hot_temperature", "air_pressure")
        )
        self.hot = float(design["hot_temperature"])
        _, high = line_power_ratios(given["supply"])
        tolerance = 1.0 + float(self.assumed.heater_tolerance_high)
        self.power = float(design["heater_power"][side]) / float(design["tube_count"][side])
        self.power *= float(high) * tolerance
        known = {**given, **design, **values, "assumed": self.assumed}
        known["fitting_mass_per_tube"] = values["fitting_mass_per_tube"][side]
        self.hardware: TubeHardware = tube_hardware(
            **{name: known[name] for name in inspect.signature(tube_hardware).parameters}
        )
        self.beside = {"gap": given["vehicle"].structure_gap, "assumed": self.assumed}
        self.beside["emissivity"] = given["choices"].emissivity

    def loss(self, temperature: Any) -> tuple[Floats, Floats]:
        """Heat lost [W] and temperature of the outer surface [K]; nothing leaves by the ends."""
        surface = self.hardware.surface._replace(spacer_conductance=jnp.asarray(0.0))
        lost = tube_loss(
            tube_temperature=jnp.asarray(temperature), air_temperature=self.bay,
            pressure=self.pressure, speed=None, surface=surface,
        )  # fmt: skip
        heat = np.asarray(lost.conductance * (jnp.asarray(temperature) - self.bay))
        return heat, np.asarray(lost.surface_temperature)

    def structure(self, surface: Any) -> Floats:
        """Structure beside the tube when it is steady [K]."""
        steady = adjacent_temperature(
            surface_temperature=jnp.asarray(surface), bay_temperature=self.bay,
            pressure=self.pressure, **self.beside,
        )  # fmt: skip
        return np.asarray(steady)

    def time_to(self, temperature: float) -> float:
        """Time from the hot temperature to a higher one [s]: ``int C dT/(P - loss)``."""
        course = np.linspace(self.hot, temperature, STEPS + 1)
        spare = self.power - self.loss(course)[0]
        return float(np.trapezoid(float(self.hardware.capacity_heating) / spare, course))


@pytest.fixture(scope="module")
def appraisal(optimum: Appraisal) -> Appraisal:
    return optimum


@pytest.fixture(scope="module")
def uniform(appraisal: Appraisal) -> Appraisal:
    """The same design with one stress over the wall, where tubes can be worked out by hand."""
    problem = make_problem(appraisal.study.with_values({"fidelity.optimise.tube": "uniform"}))
    return Appraisal("evaluate", problem, appraisal.x, problem.values(appraisal.x), None, "fixed")


def lines_of(appraisal: Appraisal, failure: str, words: str = "") -> list[FailureLine]:
    return [
        one
        for one in failure_states(Facts(appraisal))
        if one.failure == failure and words in one.evaluated
    ]


def section_of(appraisal: Appraisal) -> tuple[float, float]:
    """Outer and inner radius of the tubes [m]."""
    outer = float(appraisal.design["tube_outer_radius"])
    return outer, outer * (1.0 - float(appraisal.design["wall_ratio"]))


def mass_of_tube(appraisal: Appraisal) -> float:
    outer, inner = section_of(appraisal)
    return math.pi * (outer**2 - inner**2) * float(appraisal.design["tube_length"]) * DENSITY


def test_every_failure_that_is_asked_for_has_a_line(appraisal: Appraisal) -> None:
    asked = {"one tube", "one heater open", "one heater stuck on", "one sensor", "bus lost",
             "jam with heat on", "asymmetry"}  # fmt: skip
    lines = failure_states(Facts(appraisal))
    assert {line.failure for line in lines} == asked
    assert {line.standing for line in lines} <= {"required", "reported only"}
    assert all(len(line.note) > 10 for line in lines)


def test_judged_lines_hold_where_their_margin_is_positive(appraisal: Appraisal) -> None:
    for one in failure_states(Facts(appraisal)):
        if one.holds:
            slack = 1e-6 * (1.0 + abs(one.limit))
            assert (one.holds == "yes") == (one.margin >= -slack)
        else:
            assert math.isnan(one.margin)


def test_tubes_failed_makes_the_moment_a_requirement(appraisal: Appraisal) -> None:
    (line,) = lines_of(appraisal, "one tube")
    assert line.standing == "reported only"
    assert "requirements.tubes_failed" in line.note
    choices = appraisal.problem.assembled.parameters["choices"]._replace(tubes_failed=1.0)
    facts = Facts(appraisal)
    facts.choices = choices
    (line,) = failures._one_tube(facts)
    assert line.standing == "required"
    assert "requirements.tubes_failed" not in line.note


def test_moment_with_one_tube_cold_by_hand(uniform: Appraisal) -> None:
    # N - 1 tubes hot less the drag of the cold one less the cold set, at the worst leg and angle
    facts, v, d = Facts(uniform), uniform.values, uniform.design
    outer, inner = section_of(uniform)
    torque = 2.0 * math.pi / 3.0 * (outer**3 - inner**3)  # per stress, uniform over the wall
    gear, eff = float(d["gear_ratio"]), float(v["transmission_efficiency"])
    dragged = float(v["drag_efficiency"])  # tubes share a drive, not what they resist
    effective = torque / (math.pi * (outer**2 - inner**2))
    leg, angle = facts.leg_names.index("stow_wind, fold"), -1
    count = float(d["tube_count"][0])
    twist = gear * abs(facts.fold_angle[leg, angle] - facts.fold_angle[leg, 0])
    strain = twist * effective / float(d["tube_length"])
    alloy = facts.alloy
    elastic = float(alloy.martensite_shear_modulus) * strain
    drag = min(elastic, float(alloy.detwinning_finish_stress) / math.sqrt(3.0))
    hot = float(v["hot_stress"][leg, angle])
    expected = gear * torque * (eff * (count - 1.0) * hot - drag / dragged)
    expected -= float(v["internal_moment"][leg, angle])
    assert v["available_moment_failed"][leg, angle] == pytest.approx(expected, rel=2e-3)
    # and the margins that the model prints
    resists = (v["required_moment"] > 1.0) & (v["heated"][:, None] > 0.5)
    ratio = v["available_moment_failed"] / np.where(resists, v["required_moment"], 1.0) - 1.0
    np.testing.assert_allclose(ratio[resists], v["torque_margin_failed"][resists], rtol=1e-9)


def test_heaters_that_are_left_keep_the_fold_time(appraisal: Appraisal) -> None:
    (line,) = lines_of(appraisal, "one heater open", "fold time")
    assert line.value <= line.limit * (1.0 + 1e-6)
    assert line.limit in {600.0, 700.0}


def test_runaway_is_an_energy_balance(appraisal: Appraisal) -> None:
    d, v = appraisal.design, appraisal.values
    found = failures._runaway(Facts(appraisal), (0, 0))
    # alloy alone, by hand: m c dT/P of one tube, P at high line and upper tolerance
    power = float(d["heater_power"][0]) / float(d["tube_count"][0]) * (HIGH / NOMINAL) ** 2 * STRONG
    mass, hot = mass_of_tube(appraisal), float(d["hot_temperature"])
    alone = mass * SPECIFIC_HEAT * (ALLOY_LIMIT - hot) / power
    assert found.earliest == pytest.approx(alone, rel=1e-9)
    # with loss and hardware: the differential equation, capacity and loss worked out here
    tube = _Tube(appraisal, 0, 0)
    assert tube.power == pytest.approx(power, rel=1e-12)
    capacity = float(tube.hardware.capacity_heating)
    assert capacity > mass * SPECIFIC_HEAT

    def rate(_: float, temperature: np.ndarray) -> np.ndarray:
        return (power - tube.loss(temperature[0])[0]) / capacity

    def reached(_: float, temperature: np.ndarray) -> float:
        return float(temperature[0] - ALLOY_LIMIT)

    reached.terminal = True  # type: ignore[attr-defined]
    course = solve_ivp(rate, (0.0, 1e4), [hot], events=reached, rtol=1e-7)
    assert found.times["alloy"] == pytest.approx(course.t_events[0][0], rel=1e-4)
    assert found.times["alloy"] > found.earliest
    # the loss at the hot temperature, ends and cold bay aside, is that of the model
    per_tube = float(v["loss_conductance_hot"][0, 0]) / float(d["tube_count"][0])
    assert tube.loss(hot)[0] / (hot - tube.bay) == pytest.approx(per_tube, rel=0.15)


def test_capacity_of_a_running_tube_by_hand(appraisal: Appraisal) -> None:
    d, v = appraisal.design, appraisal.values
    assumed = appraisal.problem.assembled.parameters["thermal_assumptions"]
    outer, inner = section_of(appraisal)
    length, sleeve = float(d["tube_length"]), float(d["insulation_thickness"])
    radius = inner - float(assumed.heater_gap)
    rod = math.pi * radius**2 * (length + 2.0 * float(assumed.cartridge_cold_end))
    capacity = mass_of_tube(appraisal) * SPECIFIC_HEAT
    capacity += rod * float(assumed.cartridge_density) * float(assumed.cartridge_specific_heat)
    lagging = math.pi * ((outer + sleeve) ** 2 - outer**2) * length
    lagging *= float(assumed.insulation_density) * float(assumed.insulation_specific_heat)
    fitting = float(v["fitting_mass_per_tube"][0]) * float(assumed.fitting_specific_heat)
    capacity += 0.5 * lagging + float(assumed.fitting_soak_heating) * fitting
    tube = _Tube(appraisal, 0, 0)
    assert float(tube.hardware.capacity_heating) == pytest.approx(capacity, rel=2e-3)


def test_stuck_on_temperatures_balance_the_heater(appraisal: Appraisal) -> None:
    facts = Facts(appraisal)
    place = failures._hottest(facts)
    assert place is not None
    found, tube = failures._runaway(facts, place), _Tube(appraisal, *place)
    # at the end all of the heater's power leaves the surface, by film and radiation
    parts, end = tube.hardware.surface, found.reached["alloy"]
    outer = end - tube.power * float(parts.sleeve_resistance)
    film = film_coefficient(
        surface_temperature=jnp.asarray(outer),
        air_temperature=jnp.asarray(tube.bay),
        pressure=jnp.asarray(tube.pressure),
        diameter=parts.diameter,
        speed=None,
        natural_factor=parts.natural_factor,
        forced_factor=parts.forced_factor,
    )
    lost = float(film) * (outer - tube.bay)
    lost += float(parts.emissivity) * 5.670374419e-8 * (outer**4 - tube.bay**4)
    assert lost * float(parts.area) == pytest.approx(tube.power, rel=0.02)
    # the loss on the way, two passes on the surface, is a little low: times are short, not long
    assert 0.85 * tube.power < tube.loss(end)[0] <= tube.power
    assert found.reached["alloy"] > found.reached["structure"] > tube.bay
    assert found.reached["heater"] > found.reached["alloy"]
    alloy, heater, structure, time = lines_of(appraisal, "one heater stuck on")
    assert (alloy.value, heater.value, structure.value) == pytest.approx(
        (found.reached["alloy"], found.reached["heater"], found.reached["structure"])
    )
    assert [one.holds for one in (alloy, structure)] == ["no", "no"]
    assert time.value == pytest.approx(min(found.times.values()))
    assert "cut-off" in alloy.note
    # the structure is at its limit when its time has passed: steady balance of gap and back
    steady = np.linspace(tube.hot, found.reached["alloy"], 2000)
    beside = tube.structure(tube.loss(steady)[1])
    crossing = float(np.interp(found.limits["structure"], beside, steady))
    assert tube.time_to(crossing) == pytest.approx(found.times["structure"], rel=1e-3)


def test_lock_and_brake_without_power_by_hand(appraisal: Appraisal) -> None:
    v = appraisal.values
    names = Facts(appraisal).static_names
    (lock,) = lines_of(appraisal, "bus lost", "ultimate moment on the lock")
    held = float(v["static_held_moment"][names.index("loss_of_heat")])
    assert lock.value == pytest.approx(1.5 * held, rel=1e-12)
    assert lock.limit == pytest.approx(float(np.max(v["lock_moment"])), rel=1e-12)
    (brake,) = lines_of(appraisal, "bus lost", "against the largest load between")
    moving = np.asarray(appraisal.problem.assembled.parameters["legs"].moves) > 0.5
    overrun = 1.25 * float(np.max(-v["overrun_moment"][moving]))
    assert brake.value == pytest.approx(overrun, rel=0.01)  # the smooth maximum is never low
    assert brake.value >= overrun
    ends = np.abs(np.stack([v["moment_low"][moving], v["moment_high"][moving]]))
    assert brake.limit == pytest.approx(float(ends.max()), rel=1e-12)
    (heat_held,) = lines_of(appraisal, "bus lost", "that heat held")
    assert heat_held.where == "dash_hold, -35 deg"


def test_jam_stress_is_that_of_full_recovery(uniform: Appraisal) -> None:
    # Clausius-Clapeyron by hand: C_A (T_hot - As)/sqrt3, 1.4 T r_o/J at the outer fibre
    stress, moment, lock = lines_of(uniform, "jam with heat on")
    slope, start = 8.0e6, 433.15
    stall = slope * (float(uniform.design["hot_temperature"]) - start) / math.sqrt(3.0)
    outer, inner = section_of(uniform)
    torque = 2.0 * math.pi / 3.0 * (outer**3 - inner**3) * stall
    expected = 1.4 * torque * outer / (math.pi / 2.0 * (outer**4 - inner**4))
    assert stress.value == pytest.approx(expected, rel=1e-6)
    assert stress.holds == "no"
    count = float(np.max(uniform.design["tube_count"]))
    lever = float(uniform.design["gear_ratio"])
    lever *= float(uniform.values["transmission_efficiency"])
    assert moment.value == pytest.approx(count * torque * lever, rel=1e-6)
    side = int(np.argmax(uniform.design["tube_count"]))
    operating = float(uniform.design["operating_stress"][side])
    assert moment.limit == pytest.approx(moment.value * operating / stall, rel=1e-6)
    assert lock.value == moment.value


def test_slow_and_fast_sides_are_those_of_the_model(appraisal: Appraisal) -> None:
    facts = Facts(appraisal)
    fast, slow = same_conditions(appraisal)
    np.testing.assert_allclose(slow.ready, facts.of_driver("heat_time"), rtol=1e-9)
    assert (fast.ready < slow.ready).all()
    fastest, _ = widest_conditions(appraisal)
    moves = np.asarray(facts.legs.moves) > 0.5
    np.testing.assert_allclose(fastest.motion[moves], facts.v["motion_time"][moves], rtol=1e-9)


def test_lag_of_heaters_is_that_of_the_energy_balance(appraisal: Appraisal) -> None:
    # lumped heating by hand: C dT/dt = P - UA (T - T_bay), C from the model's own time; times of
    # +5 % and -10 % heaters at the low line, without the transformation's plateau
    fast, slow = same_conditions(appraisal)
    cold = 243.15
    rise = float(appraisal.design["hot_temperature"]) - cold
    loss = float(appraisal.values["loss_conductance_hot"][0, 0])
    nominal = float(appraisal.design["heater_power"][0]) * (LOW / NOMINAL) ** 2
    weak, strong = WEAK * nominal, STRONG * nominal
    ratio = math.log(1.0 - loss * rise / strong) / math.log(1.0 - loss * rise / weak)
    time = float(slow.ready[0]) - 1.0
    assert slow.ready[0] - fast.ready[0] == pytest.approx(time * (1.0 - ratio), rel=0.05)


@pytest.mark.parametrize(
    ("fast", "slow"),
    [((100.0, 60.0), (120.0, 80.0)), ((100.0, 30.0), (180.0, 50.0)), ((50.0, 40.0), (51.0, 10.0))],
)
def test_angle_apart_is_the_largest_over_time(
    fast: tuple[float, float], slow: tuple[float, float]
) -> None:
    sides = [Side(np.array([one[0]]), np.array([one[1]])) for one in (fast, slow)]
    facts = SimpleNamespace(fold_angle=np.array([[0.0, 2.0]]))
    times = np.linspace(0.0, 200.0, 20001)[:, None]
    course = 2.0 * (sides[0].moved(times) - sides[1].moved(times))
    assert angle_apart(facts, *sides)[0] == pytest.approx(course.max(), abs=1e-3)


def test_differences_of_angle_never_exceed_the_travel(appraisal: Appraisal) -> None:
    same, widest = lines_of(appraisal, "asymmetry", "difference of fold angle")
    assert 0.0 < same.value < widest.value <= np.radians(100.0) * (1.0 + 1e-12)


def test_rolling_moment_is_the_cross_product_of_arm_and_force(appraisal: Appraisal) -> None:
    # flat panel against one at +50 deg: the force is normal to the panel, at its hinge arm
    facts, v = Facts(appraisal), appraisal.values
    leg = facts.leg_names.index("overrun")
    lift = 9.80665 * float(v["closed_vehicle_mass"]) * 1.05 * 0.9
    station = 0.7 * 3.2863
    ends = []
    for place, angle in ((0, 0.0), (-1, math.radians(50.0))):
        size = lift * v["lift_normal_fraction"][leg, place]
        along = lift * v["lift_moment_arm"][leg, place] / size
        point = np.array([station + along * math.cos(angle), along * math.sin(angle)])
        force = size * np.array([-math.sin(angle), math.cos(angle)])
        ends.append(point[0] * force[1] - point[1] * force[0])
    assert v["rolling_moment"][leg] == pytest.approx(abs(ends[1] - ends[0]), rel=1e-3)


def test_a_table_of_moments_gives_no_rolling_moment(appraisal: Appraisal) -> None:
    facts, study = Facts(appraisal), SimpleNamespace(fidelity=Fidelity(Levels("table"), {}, {}))
    facts.appraisal = SimpleNamespace(study=study)
    (line,) = failures._rolling(facts)
    assert math.isnan(line.value)
    assert line.note.startswith("not evaluated at this fidelity")


@pytest.mark.slow
def test_return_by_load_is_not_a_runaway() -> None:
    found = optimum_of("deck_medium_flight_only")
    assert all(one.holds != "no" for one in lines_of(found, "bus lost"))
