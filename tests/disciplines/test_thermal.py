"""Thermal balance of both sets: independent integration, hand sums, limits, guards."""

from types import SimpleNamespace

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from ht.conv_external import Nu_cylinder_Churchill_Bernstein
from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu
from scipy.constants import Stefan_Boltzmann
from scipy.integrate import solve_ivp

from mdo.alloys import load_card
from mdo.disciplines.heat import answer_parts, network_tube, radiation
from mdo.disciplines.heat import hardware as thermal_parts
from mdo.disciplines.heat import loss as heat_loss
from mdo.disciplines.heat.assumptions import ThermalAssumptions
from mdo.disciplines.heat.balance import LEVEL, balance_cooling, balance_heating
from mdo.disciplines.heat.convection import air_film
from mdo.disciplines.heat.hardware import HeatingSpans
from mdo.disciplines.heat.stage import Bay, latent_heat_under_stress
from mdo.disciplines.heat.strokes import cooling_time, still_losses
from mdo.disciplines.records import Choices, Legs, Requirements, Supply, Vehicle
from mdo.study.read_sections import assumption_fields, read_assumptions
from mdo.study.reader import Reader

from .given import record, taken

ALLOY = load_card("niti_actuator").record()
ASSUMED = ThermalAssumptions(**read_assumptions(Reader("test"), {})["thermal"])
SEA_LEVEL = 101325.0  # [Pa]
NO_ENDS = ASSUMED._replace(spacer_conductivity=0.0, fitting_soak_heating=1.0)


def inputs(**changes):
    """Two legs (up and back) of a small pair of sets; records and quantities by name."""
    given = {
        "tube_outer_radius": 0.006,
        "wall_ratio": 1.0 / 3.0,
        "tube_length": 0.3,
        "tube_count": jnp.array([4.0, 6.0]),
        "operating_stress": jnp.array([1.0e8, 0.9e8]),
        "heater_power": jnp.array([1200.0, 1800.0]),
        "hot_temperature": 410.0,
        "insulation_thickness": 0.0,
        "heating_start": jnp.array([370.0, 372.0]),
        "heating_finish": jnp.array([400.0, 402.0]),
        "holding_start": jnp.array([370.0, 368.0]),
        "heated_fraction": jnp.array([1.0, 1.0]),
        "cooling_start": jnp.array([352.0, 350.0]),
        "cooling_finish": jnp.array([325.0, 327.0]),
        "fitting_mass_per_tube": jnp.array([0.04, 0.04]),
        "radiation_exposure": 0.6,
        "convection_exposure": 0.8,
        "air_pressure": jnp.array([SEA_LEVEL, 40000.0]),
        "bay_cold_temperature": jnp.array([253.15, 253.15]),
        "bay_hot_temperature": jnp.array([308.15, 303.15]),
        "legs": record(Legs, direction=np.array([1.0, -1.0]), bay_air_speed=np.array([8.0, 8.0])),
        "alloy": ALLOY,
        "vehicle": record(Vehicle, structure_gap=0.02),
        "choices": record(Choices, heater=1.0, emissivity=0.85, set_present=np.ones(2)),
        "supply": record(Supply, low_voltage_ratio=22 / 28, high_voltage_ratio=29 / 28),
        "requirements": record(Requirements, dead_time=1.0),
        "thermal_assumptions": ASSUMED,
    }
    return jax.tree.map(jnp.asarray, given | changes)


HEATING = jax.jit(lambda given: balance_heating(**given))
COOLING = jax.jit(lambda given: balance_cooling(**given))


def heat(**changes):
    return HEATING(taken(balance_heating, inputs(**changes)))


def cool(**changes):
    return COOLING(taken(balance_cooling, inputs(**changes)))


def choices(**changes):
    return inputs()["choices"]._replace(**changes)


def loss_by_ht(temperature, air, pressure, speed, tube):
    """Loss of one bare tube without ends [W], correlations of an independent library."""
    film = air_film((temperature + air) / 2.0, pressure)
    density, viscosity = float(film.density), float(film.viscosity)
    prandtl, conductivity = float(film.prandtl), float(film.conductivity)
    diameter = float(tube.diameter)
    grashof = 9.80665 * 2.0 / (temperature + air) * abs(temperature - air) * diameter**3
    grashof *= (density / viscosity) ** 2
    natural = float(tube.natural_factor) * Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof)
    forced = 0.0
    if speed > 0.0:
        reynolds = density * speed * diameter / viscosity
        forced = float(tube.forced_factor) * Nu_cylinder_Churchill_Bernstein(reynolds, prandtl)
    nusselt = (natural**3 + forced**3) ** (1.0 / 3.0)
    convected = conductivity / diameter * nusselt * (temperature - air)
    radiated = float(tube.emissivity) * Stefan_Boltzmann * (temperature**4 - air**4)
    return float(tube.area) * (convected + radiated)


def hardware(**changes):
    given = inputs(**changes)
    names = (
        "tube_outer_radius wall_ratio tube_length insulation_thickness fitting_mass_per_tube "
        "radiation_exposure convection_exposure alloy choices"
    )
    return thermal_parts.tube_hardware(
        **{k: given[k] for k in names.split()}, assumed=given["thermal_assumptions"]
    )


def integrate(*, start, end, capacity, latent, window, power, air, pressure, speed):
    """Time from one temperature to another by scipy, latent heat uniform over its window."""
    tube = hardware(thermal_assumptions=NO_ENDS).surface
    low, high = window

    def slope(_, state):
        inside = low < state[0] < high
        apparent = capacity + (latent / (high - low) if inside else 0.0)
        return [(power - loss_by_ht(state[0], air, pressure, speed, tube)) / apparent]

    def reached(_, state):
        return state[0] - end

    reached.terminal = True
    solved = solve_ivp(slope, (0.0, 1e5), [start], events=reached, rtol=1e-6, max_step=5.0)
    return solved.t_events[0][0]


def test_every_assumption_has_a_default_inside_its_range():
    fields = assumption_fields()["thermal"]
    assert set(fields) == set(ThermalAssumptions._fields)
    for name, field in fields.items():
        assert field.si(field.low) <= field.si(field.default) <= field.si(field.high), name


def test_fidelity_reaches_its_own_functions():
    assert LEVEL.heating is balance_heating
    assert LEVEL.cooling is balance_cooling


def test_heating_agrees_with_an_integration_over_time():
    # the film at segment means against the film at every instant: within one per cent
    part = hardware(thermal_assumptions=NO_ENDS)
    result = heat(thermal_assumptions=NO_ENDS)
    latent = float(part.tube_mass * latent_heat_under_stress(jnp.array([1.0e8]), ALLOY)[0])
    time = integrate(
        start=253.15,
        end=410.0,
        capacity=float(part.capacity_heating[0]),
        latent=latent,
        window=(370.0, 400.0),
        power=1200.0 / 4.0 * (22.0 / 28.0) ** 2 * 0.9,
        air=253.15,
        pressure=SEA_LEVEL,
        speed=0.0,
    )
    assert result.heat_time[0, 0] - 1.0 == pytest.approx(time, rel=0.01)


def test_losses_are_those_in_the_middle_of_each_stretch():
    # correlations of ht; middles by hand of stretches of 100, 30 and 10 K from 253.15 K on
    part = hardware(thermal_assumptions=NO_ENDS)
    bay = Bay(*(jnp.full((1, 1), at) for at in (253.15, 308.15, SEA_LEVEL)))
    spans = HeatingSpans(*(jnp.full((1, 1), span) for span in (100.0, 30.0, 10.0)))
    found = jax.jit(still_losses)(spans, 340.0, 393.15, bay, part)
    kelvin = [303.15, 368.15, 388.15, 368.15, 340.0, 393.15, 393.15]
    air = [253.15, 253.15, 253.15, 308.15, 253.15, 253.15, 308.15]
    losses = [
        loss_by_ht(at, around, SEA_LEVEL, 0.0, part.surface) / (at - around)
        for at, around in zip(kelvin, air, strict=True)
    ]
    given = (*found.stretches, found.motion, found.hold, found.hot_cold, found.hot_hot)
    assert np.concatenate(list(map(np.ravel, given))) == pytest.approx(losses, rel=1e-3)
    # a lumped body by its exponential: to 352 K at the loss of 381 K, to 325 K at that of 338.5 K
    times = jax.jit(cooling_time)(
        hardware=part, latent=0.0, hot_temperature=410.0, cooling_start=jnp.full(1, 352.0),
        cooling_finish=jnp.full(1, 325.0), bay=bay, speed=jnp.zeros((1, 1)),
    )  # fmt: skip
    hand = 0.0
    for time, start, end in zip(times, (410.0, 352.0), (352.0, 325.0), strict=True):
        excess = (start + end) / 2.0 - 308.15
        loss = loss_by_ht(308.15 + excess, 308.15, SEA_LEVEL, 0.0, part.surface) / excess
        hand += part.capacity_cooling[0] / loss * np.log((start - 308.15) / (end - 308.15))
        assert time[0, 0] == pytest.approx(float(hand), rel=1e-3)


@pytest.mark.parametrize("blown", [0.0, 1.0])
def test_cooling_agrees_with_an_integration_over_time(blown):
    part = hardware(thermal_assumptions=NO_ENDS)
    time = integrate(
        start=410.0,
        end=325.0,
        capacity=float(part.capacity_cooling[0]),
        latent=float(part.tube_mass) * float(ALLOY.latent_heat),
        window=(325.0, 352.0),
        power=0.0,
        air=308.15,
        pressure=SEA_LEVEL,
        speed=8.0 * blown,
    )
    result = cool(thermal_assumptions=NO_ENDS, choices=choices(cooling=blown))
    assert result.cool_time[0, 0] == pytest.approx(time, rel=0.03)


def test_ledger_closes_to_one_in_a_billion():
    # TM-30, closed forms; the loss is the integral of the temperature course
    for given in ({}, {"insulation_thickness": 0.004}, {"choices": choices(heater=0.0)}):
        assert np.max(np.abs(heat(**given).ledger_residual)) < 1e-9


def test_energy_is_power_times_time_at_low_line():
    result = heat()
    low = np.array([1200.0, 1800.0]) * (22.0 / 28.0) ** 2 * 0.9
    np.testing.assert_allclose(result.heat_energy, low * (result.heat_time - 1.0), rtol=1e-12)


def test_regulated_supply_heats_faster_and_not_hotter():
    plain = heat()
    held = heat(supply=inputs()["supply"]._replace(regulated=1.0))
    assert np.all(held.heat_time < plain.heat_time)
    assert np.all(held.heater_flux < plain.heater_flux)


def test_times_do_not_depend_on_the_count_at_equal_power_per_tube():
    one = heat()
    two = heat(tube_count=2.0 * inputs()["tube_count"], heater_power=2.0 * inputs()["heater_power"])
    np.testing.assert_allclose(two.heat_time, one.heat_time, rtol=1e-12)
    np.testing.assert_allclose(two.heat_energy, 2.0 * one.heat_energy, rtol=1e-12)
    np.testing.assert_allclose(two.hold_power, 2.0 * one.hold_power, rtol=1e-12)


def test_heating_takes_longer_with_less_power_down_to_none():
    powers = np.geomspace(1e-3, 5000.0, 60)
    times = np.array([heat(heater_power=jnp.full(2, p)).heat_time for p in powers])
    assert np.all(np.isfinite(times))
    assert np.all(np.diff(times, axis=0) < 0.0)
    assert np.all(np.isfinite(heat(heater_power=jnp.zeros(2)).heat_time))


def test_motion_is_faster_than_fold():
    result = heat()
    assert np.all(result.motion_time > 0.0)
    assert np.all(result.motion_time < np.min(result.heat_time, axis=-1))


def test_hot_temperature_below_finish_shortens_smoothly():
    given = taken(balance_heating, inputs())

    def time(hot):
        return balance_heating(**given | {"hot_temperature": hot}).heat_time[0, 0]

    coarse, fine = np.linspace(340.0, 430.0, 361), np.linspace(399.0, 401.0, 2001)
    along = jax.jit(lambda hot: jax.jvp(time, (hot,), (jnp.ones_like(hot),)))
    times, slopes = jax.vmap(along)(np.concatenate([coarse, fine]))
    assert np.all(np.diff(times[: coarse.size]) > 0.0)
    assert np.all(np.isfinite(slopes))
    # no jump of the slope at Af' (400 K): the blend of 0.5 K spreads it
    dense = slopes[coarse.size :]
    assert np.max(np.abs(np.diff(dense))) < 0.02 * np.ptp(dense) + 1e-9


def test_bay_hotter_than_the_finish_has_large_rising_times():
    bays = np.linspace(300.0, 420.0, 121)
    times = np.array([cool(bay_hot_temperature=jnp.full(2, bay)).cool_time[0, 0] for bay in bays])
    assert np.all(np.isfinite(times))
    assert np.all(np.diff(times[bays > 322.0]) > 0.0)
    assert np.all(times[bays > 330.0] > 1e4)


def test_bay_hotter_than_the_start_leaves_no_negative_stretch():
    result = heat(bay_cold_temperature=jnp.array([390.0, 415.0]))
    for value in (result.heat_time, result.heat_energy, result.motion_time, result.hold_power):
        assert np.all(np.isfinite(value))
        assert np.all(value >= 0.0)


def test_power_balance_tells_an_impossible_heating():
    weak = heat(heater_power=jnp.array([60.0, 1800.0]))
    assert np.all(weak.power_balance[:, 0] < 0.0)
    assert np.all(weak.power_balance[:, 1] > 0.0)
    assert np.all(weak.heat_time[:, 0] > 5000.0)


def test_blower_cools_faster_and_costs_power_and_mass():
    blower = choices(cooling=1.0)
    assert np.all(cool(choices=blower).cool_time < 0.6 * cool().cool_time)
    still, blown = heat(), heat(choices=blower)
    assert still.blower_power == 0.0
    assert still.blower_mass == 0.0
    # half rho V^3 x heads / efficiency x area, worst leg (dense air), square root of the counts
    density = SEA_LEVEL / (287.05287 * 308.15)
    area = 1.5 * 0.012 * 0.3 * (2.0 + 6.0**0.5)
    expected = 0.5 * density * 8.0**3 * 2.5 / 0.35 * area
    assert blown.blower_power == pytest.approx(expected, rel=1e-9)
    assert blown.blower_mass == pytest.approx(0.03 * expected, rel=1e-9)


def test_blower_does_not_touch_the_heating():
    np.testing.assert_array_equal(
        heat(choices=choices(cooling=1.0)).heat_time, heat(choices=choices(cooling=0.0)).heat_time
    )


def test_thin_air_slows_the_cooling():
    equal = {"bay_hot_temperature": jnp.full(2, 308.15)}
    times = cool(**equal).cool_time
    assert np.all(times[1] > times[0])


def test_sleeve_saves_hold_power_and_slows_the_cooling():
    # reference 2.8: in the same ratio, so never a free improvement
    bare, sleeved = heat(), heat(insulation_thickness=0.003)
    assert np.all(sleeved.hold_power < bare.hold_power)
    assert np.all(cool(insulation_thickness=0.003).cool_time > cool().cool_time)
    assert sleeved.insulation_mass_per_tube > bare.insulation_mass_per_tube
    assert np.all(sleeved.surface_temperature_hot < bare.surface_temperature_hot)


def test_two_passes_find_the_sleeve_surface():
    # a fixed point of 50 damped passes against the two of the function
    part = hardware(insulation_thickness=0.004, thermal_assumptions=NO_ENDS)
    given = {
        "tube_temperature": jnp.asarray(400.0),
        "air_temperature": jnp.asarray(290.0),
        "pressure": jnp.asarray(SEA_LEVEL),
        "speed": None,
        "surface": part.surface,
    }
    two = heat_loss.tube_loss(**given)
    outer = 350.0
    for _ in range(50):
        lost = loss_by_ht(outer, 290.0, SEA_LEVEL, 0.0, part.surface)
        outer = 0.5 * outer + 0.5 * (400.0 - lost * float(part.surface.sleeve_resistance))
    assert two.surface_temperature == pytest.approx(outer, abs=0.3)
    assert two.conductance * 110.0 == pytest.approx(
        loss_by_ht(outer, 290.0, SEA_LEVEL, 0.0, part.surface), rel=5e-3
    )


def test_hold_power_is_loss_at_hold_temperature():
    part = hardware(thermal_assumptions=NO_ENDS)
    lost = loss_by_ht(370.0 + 10.0, 253.15, SEA_LEVEL, 0.0, part.surface)
    result = heat(thermal_assumptions=NO_ENDS)
    assert result.hold_temperature[0] == pytest.approx(380.0)
    assert result.hold_power[0, 0] == pytest.approx(4.0 * lost, rel=1e-6)


def test_dark_finish_returns_faster_and_holds_dearer():
    # reference 2.6: dark = faster return, bright = lower hold power
    dark, bright = choices(emissivity=0.88), choices(emissivity=0.2)
    assert np.all(cool(choices=dark).cool_time < cool(choices=bright).cool_time)
    assert np.all(heat(choices=dark).hold_power > heat(choices=bright).hold_power)


def test_cartridge_slows_both_strokes_against_a_wrap():
    # reference 2.1: a bore cartridge adds 72 % to the energy and 42 % to the return of TUBE-A
    wrap, cartridge = choices(heater=0.0), choices(heater=1.0)
    assert np.all(heat(choices=cartridge).heat_energy > 1.2 * heat(choices=wrap).heat_energy)
    assert np.all(cool(choices=cartridge).cool_time > 1.15 * cool(choices=wrap).cool_time)


def test_heat_capacity_of_the_hardware_is_that_of_the_reference():
    # reference 2.1: TUBE-A with a 7.9 mm cartridge of its length, 48.9 J/K; foil wrap 4.98 J/K
    quiet = ASSUMED._replace(cartridge_cold_end=0.0)
    none = jnp.zeros(2)
    bare = 6450.0 * np.pi * (0.006**2 - 0.004**2) * 0.3 * float(ALLOY.specific_heat)
    density = float(ALLOY.density) / 6450.0
    for heater, added, tolerance in ((1.0, 48.9, 0.05), (0.0, 4.98, 0.01)):
        part = hardware(
            choices=choices(heater=heater), fitting_mass_per_tube=none, thermal_assumptions=quiet
        )
        assert part.capacity_heating[0] - bare * density == pytest.approx(added, abs=tolerance)
        # the level that marches has it in a node of its own
        node, _ = network_tube._heater(part, jnp.asarray(heater), quiet)
        assert float(node) == pytest.approx(added, abs=tolerance)


def test_a_sleeve_takes_half_its_heat():
    # a thin sleeve in the steady state: linear from the tube to the air that it barely exceeds, so
    # half its rise (closed form). 3 mm around 12 mm, 0.3 m: pi (0.009**2 - 0.006**2) 0.3 m3 by hand
    plain = ASSUMED._replace(
        cartridge_cold_end=0.0, insulation_density=150.0, insulation_specific_heat=1000.0
    )
    bare = hardware(thermal_assumptions=plain)
    sleeved = hardware(thermal_assumptions=plain, insulation_thickness=0.003)
    kilograms = 150.0 * 4.241150e-5
    assert float(sleeved.insulation_mass) == pytest.approx(kilograms, rel=1e-6)
    for name in ("capacity_heating", "capacity_cooling"):
        added = getattr(sleeved, name) - getattr(bare, name)
        assert np.asarray(added) == pytest.approx(0.5 * kilograms * 1000.0, rel=1e-6)


def test_heater_flux_is_that_of_the_high_line():
    # 300 W nominal a tube, (29/28)^2, +5 %, on a cartridge of 7.9 mm over the active length
    flux = 300.0 * (29.0 / 28.0) ** 2 * 1.05 / (np.pi * 0.0079 * 0.3)
    result = heat()
    np.testing.assert_allclose(result.heater_flux, flux, rtol=1e-9)
    np.testing.assert_allclose(result.heater_flux_limit, 6e4, rtol=1e-9)
    assert np.all(result.sheath_temperature > 410.0 + result.wall_temperature_difference)
    assert np.all(result.sheath_temperature < result.sheath_temperature_limit)


def test_wall_difference_uses_the_poorer_phase():
    # closed form of TM-16 scaled: q'' r_i/k (share ln - 1/2), k of martensite
    flux = 300.0 * (29.0 / 28.0) ** 2 * 1.05 / (2.0 * np.pi * 0.004 * 0.3)
    shape = 36.0 / 20.0 * np.log(1.5) - 0.5
    expected = flux * 0.004 / float(ALLOY.conductivity_martensite) * shape
    np.testing.assert_allclose(heat().wall_temperature_difference, expected, rtol=1e-9)


def test_wrap_on_a_tube_hotter_than_its_bond_is_out_of_limits():
    hot = heat(choices=choices(heater=0.0), hot_temperature=490.0)
    assert np.all(hot.heater_flux > hot.heater_flux_limit)
    assert np.all(hot.sheath_temperature > hot.sheath_temperature_limit)
    assert np.all(hot.heater_flux_limit > 0.0)


def test_stuck_heater_settles_where_losses_equal_power():
    result = heat(thermal_assumptions=NO_ENDS)
    settled = float(result.stuck_on_temperature[0, 0])
    power = 300.0 * (29.0 / 28.0) ** 2 * 1.05
    lost = loss_by_ht(settled, 308.15, SEA_LEVEL, 0.0, hardware().surface)
    assert lost == pytest.approx(power, rel=0.02)
    assert settled > 410.0


def test_a_tube_runs_away_by_the_exponential_of_c25(monkeypatch):
    # C25: 0.3647389 kg, 470 J/kgK, 1.5708 W/K, 500 W: 384.744 K 37.104 s after 293 K; 318 K above
    # the air it stays
    monkeypatch.setattr(answer_parts, "_loss", lambda *_: (50.0 * 0.03141593, None))
    time = answer_parts.runaway_time(
        jnp.array([384.744, 290.0, 293.0 + 319.0]), hot_temperature=293.0, power=500.0,
        hardware=SimpleNamespace(capacity_heating=0.3647389 * 470.0),
        bay=SimpleNamespace(hot=293.0),
    )  # fmt: skip
    assert np.ravel(time) == pytest.approx([37.104, 0.0, np.inf], rel=1e-4)


def test_a_tube_that_runs_away_loses_nothing_by_its_ends():
    # correlations of ht, in the hot bay; the surface of a bare tube has the temperature of the tube
    part = hardware()
    bay = Bay(*(jnp.full((1, 1), at) for at in (253.15, 308.15, SEA_LEVEL)))
    conductance, surface = answer_parts._loss(jnp.full((1, 1), 450.0), part, bay)
    assert float(part.surface.spacer_conductance) > 0.0
    lost = loss_by_ht(450.0, 308.15, SEA_LEVEL, 0.0, part.surface)
    assert np.ravel(conductance) * (450.0 - 308.15) == pytest.approx(lost, rel=1e-3)
    assert np.ravel(surface) == pytest.approx(450.0, abs=1e-6)


def test_a_heater_that_stays_on_takes_a_tube_to_its_limit_as_integrated():
    # scipy, loss by the correlations of ht without ends, in the hot bay
    part, limit = hardware(), float(ALLOY.temperature_max)
    power, capacity = 675.0, float(part.capacity_heating[0])
    stage = SimpleNamespace(
        phases=SimpleNamespace(hot=410.0), power=SimpleNamespace(high=jnp.full((1, 2), power)),
        bay=Bay(*(jnp.full((1, 1), at) for at in (253.15, 308.15, SEA_LEVEL))), alloy=ALLOY,
        hardware=part, choices=choices(), assumed=ASSUMED,
    )  # fmt: skip
    vehicle = record(Vehicle, structure_gap=0.02, adjacent_temperature_limit=900.0)
    found = answer_parts.stuck_on_answer(stage, jnp.full((1, 2), 900.0), limit - 20.0, vehicle)
    assert limit > 410.0

    def slope(_, state):
        return [(power - loss_by_ht(state[0], 308.15, SEA_LEVEL, 0.0, part.surface)) / capacity]

    def reached(_, state):
        return state[0] - limit

    reached.terminal = True
    solved = solve_ivp(slope, (0.0, 1e4), [410.0], events=reached, rtol=1e-8, max_step=1.0)
    # alloy, heater at its limit 20 K before, a structure that never gets there
    times = np.array([solved.t[-1], np.interp(limit - 20.0, solved.y[0], solved.t), np.inf])
    assert np.ravel(found["stuck_on_time"][0, 0]) == pytest.approx(times, rel=2e-3)
    adiabatic = float(part.tube_mass) * float(ALLOY.specific_heat) * (limit - 410.0) / power
    assert float(found["stuck_on_earliest"][0, 0]) == pytest.approx(adiabatic, rel=1e-9)


def test_a_structure_reaches_its_limit_where_the_surface_beside_it_does(monkeypatch):
    # a surface 20 K below its tube, a structure half as far above a bay of 300 K (by hand): 370 K
    # behind a tube of 460 K; one that ends at 450 K never heats it so far
    monkeypatch.setattr(answer_parts, "_loss", lambda kelvin, *_: (None, kelvin - 20.0))
    reached = answer_parts.temperature_for_structure(
        lambda surface: 300.0 + (surface - 300.0) / 2.0, 370.0,
        low=400.0, high=jnp.array([500.0, 450.0]), hardware=None, bay=None,
    )  # fmt: skip
    assert np.asarray(reached) == pytest.approx([460.0, np.inf], rel=1e-12)


def test_stuck_heater_of_little_power_settles_at_the_bay():
    result = heat(heater_power=jnp.zeros(2))
    np.testing.assert_allclose(result.stuck_on_temperature[:, 0], [308.15, 303.15], atol=1e-6)


def test_structure_is_between_bay_and_surface_and_cooler_behind_a_wider_gap():
    near = heat(vehicle=record(Vehicle, structure_gap=0.005))
    far = heat(vehicle=record(Vehicle, structure_gap=0.05))
    bay = inputs()["bay_hot_temperature"]
    assert np.all(far.structure_temperature_hot < near.structure_temperature_hot)
    assert np.all(far.structure_temperature_hot > bay)
    assert np.all(near.structure_temperature_hot < near.surface_temperature_hot)


def test_structure_balances_its_heat_flows():
    result = heat()
    surface, bay = float(result.surface_temperature_hot[0]), 308.15
    wall = float(result.structure_temperature_hot[0])
    grey = 1.0 / (1.0 / 0.85 + 1.0 / 0.85 - 1.0)
    air = float(air_film((surface + bay) / 2.0, SEA_LEVEL).conductivity)
    entering = air / 0.02 + grey * float(radiation.radiative_coefficient(surface, bay))
    assert entering * (surface - wall) == pytest.approx(10.0 * (wall - bay), rel=1e-6)


def test_absent_set_is_finite():
    absent = {
        "tube_count": jnp.array([4.0, 0.0]),
        "heater_power": jnp.array([1200.0, 0.0]),
        "operating_stress": jnp.array([1.0e8, 0.0]),
        "choices": choices(set_present=np.array([1.0, 0.0])),
    }
    results = (*heat(**absent), *cool(**absent))
    assert all(np.all(np.isfinite(value)) for value in results)
    assert np.all(heat(**absent).heat_energy[:, 1] == 0.0)
    assert np.all(heat(**absent).power_balance[:, 1] == 1.0)
    given = taken(balance_heating, inputs(**absent))
    slopes = jax.jit(jax.jacfwd(lambda n: balance_heating(**given | {"tube_count": n})))(
        absent["tube_count"]
    )
    assert all(np.all(np.isfinite(value)) for value in slopes)


DESIGN = [
    "tube_outer_radius",
    "wall_ratio",
    "tube_length",
    "tube_count",
    "heater_power",
    "hot_temperature",
    "insulation_thickness",
    "fitting_mass_per_tube",
    "radiation_exposure",
    "convection_exposure",
]


def figures(scale, **changes):
    """Results of order one as a function of ten scale factors on the design."""
    given = inputs(insulation_thickness=0.001, **changes)
    scaled = {name: given[name] * scale[i] for i, name in enumerate(DESIGN)}
    hot, cold = heat(**given | scaled), cool(**given | scaled)
    values = (
        hot.heat_time / 200.0,
        hot.motion_time / 50.0,
        cold.cool_time / 2000.0,
        hot.heat_energy / 1e5,
        hot.hold_power / 50.0,
        hot.power_balance,
        hot.heater_flux / 5e4,
        hot.sheath_temperature / 400.0,
        hot.structure_temperature_hot / 300.0,
        hot.stuck_on_temperature / 1000.0,
        jnp.atleast_1d(hot.blower_power / 100.0),
    )
    return jnp.concatenate([value.ravel() for value in values])


@pytest.fixture(scope="module")
def derivatives():
    """Both jacobians and the value, compiled once for every choice of heater and cooling."""

    def of_choice(x, heater, cooling):
        return figures(x, choices=choices(heater=heater, cooling=cooling))

    forward, reverse = jax.jacfwd(of_choice), jax.jacrev(of_choice)
    return jax.jit(of_choice), jax.jit(forward), jax.jit(reverse)


@pytest.mark.slow
@pytest.mark.parametrize(("heater", "cooling"), [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0)])
def test_gradients_of_the_design(derivatives, heater, cooling):
    value, forward, reverse = derivatives
    at, step = jnp.ones(len(DESIGN)), 1e-5
    ahead = forward(at, heater, cooling)
    central = [
        (value(at + step * unit, heater, cooling) - value(at - step * unit, heater, cooling))
        / (2.0 * step)
        for unit in np.eye(len(DESIGN))
    ]
    np.testing.assert_allclose(ahead, np.array(central).T, rtol=1e-6, atol=1e-7)
    np.testing.assert_allclose(reverse(at, heater, cooling), ahead, rtol=1e-9, atol=1e-12)


def test_designs_in_a_batch_equal_a_loop():
    scales = 1.0 + 0.1 * np.random.default_rng(5).uniform(-1.0, 1.0, (6, len(DESIGN)))
    batch = jax.jit(jax.vmap(figures))(scales)
    np.testing.assert_allclose(batch, [figures(jnp.asarray(s)) for s in scales], rtol=1e-11)


def test_selection_by_number_needs_one_compile():
    heat()
    cool()
    before = HEATING._cache_size(), COOLING._cache_size()
    times = []
    for heater in (0.0, 1.0):
        for cooling in (0.0, 1.0):
            selected = choices(heater=heater, cooling=cooling)
            times.append(float(heat(choices=selected).heat_time[0, 0]))
            times.append(float(cool(choices=selected).cool_time[0, 0]))
    assert (HEATING._cache_size(), COOLING._cache_size()) == before
    assert len(set(times)) == 6  # heating ignores the blower


def test_heater_has_its_hand_mass_with_leads():
    # 7.9 mm by 300 mm at 4750 kg/m3: 69.849 g; foil of 0.4 kg/m2 around 12 mm: 4.524 g (by hand);
    # leads and terminations of 12 g come on top of either
    plain = ASSUMED._replace(
        heater_gap=5e-5,
        cartridge_cold_end=0.0,
        cartridge_density=4750.0,
        wrap_areal_mass=0.4,
        heater_lead_mass=0.012,
    )
    for heater, kilograms in ((1.0, 0.069849), (0.0, 0.004524)):
        choices = record(Choices, heater=heater, emissivity=0.85, set_present=np.ones(2))
        got = heat(thermal_assumptions=plain, choices=choices)
        assert float(got.heater_mass_per_tube) == pytest.approx(kilograms + 0.012, abs=1e-6)
