"""One tube in torsion: textbook values, conservation of work, limits of the wall."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jax.test_util import check_grads

from mdo.alloys import load_card
from mdo.disciplines.bundle import fittings as fittings_module
from mdo.disciplines.heat.stage import latent_heat_under_stress
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.mass.tubes import end_fitting_mass, mid_support_mass, tube_mass
from mdo.disciplines.tube import torsion as tube
from mdo.disciplines.tube.uniform import uniform_states
from mdo.study.read_sections import read_assumptions
from mdo.study.reader import Reader
from mdo.study.units import parse_quantity

REF1 = load_card("ref1").record()
MASS = MassAssumptions(**read_assumptions(Reader("test"), {})["mass"])
C1 = tube.section(0.010, 0.2)  # ro 10, ri 8 mm
SECTION = jax.jit(tube.section)
RADII = st.floats(1e-3, 0.1)
WALLS = st.floats(0.01, 1.0)


def test_elastic_tube_is_that_of_c1():
    # C1 (textbook): ro 10, ri 8 mm, L 0.5 m, G 26 GPa, 10 deg
    twist = np.radians(10.0)
    polar = float(C1.polar_moment)
    assert polar == pytest.approx(9.273982e-9, rel=1e-6)
    torque = 26e9 * polar * twist / 0.5
    assert torque == pytest.approx(84.16799, rel=1e-6)
    elastic = torque * float(C1.outer_radius) / polar
    assert elastic == pytest.approx(90.7571e6, rel=1e-6)
    # the uniform stress of that torque gives 1.4 times the elastic outer-fibre stress
    uniform = torque / (float(C1.area) * float(C1.effective_radius))
    assert float(tube.torque(uniform, C1)) == pytest.approx(torque, rel=1e-14)
    assert float(tube.outer_stress(uniform, C1)) == pytest.approx(1.4 * 90.7571e6, rel=1e-6)


def test_work_consistent_radius_is_that_of_c13():
    assert float(C1.effective_radius) == pytest.approx(9.037037e-3, rel=1e-6)


def test_uniform_stress_is_the_fully_plastic_torque_of_c2_and_c3():
    # C2, C3 (Timoshenko): T_p of a solid bar R 5 mm at 200 MPa, of a tube 10/6 mm at 150 MPa
    assert float(tube.torque(200e6, tube.section(0.005, 1.0))) == pytest.approx(52.35988, rel=1e-6)
    assert float(tube.torque(150e6, tube.section(0.010, 0.4))) == pytest.approx(246.3009, rel=1e-6)


@settings(max_examples=100, deadline=None)
@given(
    radius=RADII,
    wall=WALLS,
    length=st.floats(0.01, 5.0),
    tau=st.floats(1e5, 1e9),
    gamma=st.floats(1e-5, 0.1),
)
def test_torque_times_twist_is_stress_times_strain_times_volume(radius, wall, length, tau, gamma):
    section = SECTION(radius, wall)
    twist = gamma * length / float(section.effective_radius)
    work = float(tube.torque(tau, section)) * twist
    inner = radius * (1.0 - wall)
    assert work == pytest.approx(tau * gamma * np.pi * (radius**2 - inner**2) * length, rel=1e-12)


@pytest.mark.parametrize(
    ("ratio", "uniform"), [(0.0, 0.66667), (0.5, 0.77778), (0.8, 0.90370), (0.9, 0.95088)]
)
def test_utilisation_of_a_uniform_stress_is_that_of_c7(ratio, uniform):
    # r_w over r_o is the utilisation of a uniform stress (derived)
    section = tube.section(0.02, 1.0 - ratio)
    assert float(section.effective_radius) / 0.02 == pytest.approx(uniform, abs=5e-6)


@pytest.mark.parametrize(
    ("thinness", "uniform", "elastic"), [(0.1, -0.0833, -0.2494), (0.4, -1.316, -3.846)]
)
def test_thin_wall_formulas_err_as_in_c6(thinness, uniform, elastic):
    # C6: error in per cent of 2 pi rm^2 t tau and of 2 pi rm^3 t; t/rm given
    mean, wall = 1.0, thinness
    outer = mean + wall / 2
    section = tube.section(outer, wall / outer)
    exact = float(tube.torque(1.0, section))
    thin = 2 * np.pi * mean**2 * wall
    assert 100 * (thin / exact - 1) == pytest.approx(uniform, abs=5e-4)
    stiff = 2 * np.pi * mean**3 * wall
    assert 100 * (stiff / float(section.polar_moment) - 1) == pytest.approx(elastic, abs=5e-4)


def test_torsional_buckling_is_that_of_c30():
    # C30: E 30 GPa, nu 0.33, r 10, t 0.5, L 500 mm: 75.37 moderate, 86.20 long MPa, the larger
    def stress(length):
        return float(
            tube.buckling_stress(
                outer_radius=0.010,
                wall=0.0005,
                length=length,
                young_modulus=30e9,
                poisson_ratio=0.33,
            )
        )

    assert stress(0.5) == pytest.approx(86.20e6, rel=1e-4)
    # the moderate form falls with L^-0.5, so it is 75.37 MPa at 0.5 m if it is twice that at 0.125
    assert stress(0.125) == pytest.approx(2 * 75.37e6, rel=1e-4)
    assert stress(5.0) == stress(0.5)


def test_twist_of_the_published_cold_activated_tube():
    # C35 (Advanced Materials & Processes, April 2020): OD 3.175 mm, L 89 mm, +-3 % at the outer
    # fibre: +-96.4 deg. Strain at r_w times r_o/r_w is that at r_o.
    section = tube.section(0.003175 / 2, 0.5)
    at_effective = 0.03 * section.effective_radius / section.outer_radius
    twist = float(at_effective * 0.089 / section.effective_radius)
    assert np.degrees(twist) == pytest.approx(96.4, rel=1e-3)


def test_heat_of_the_reference_tube_is_that_of_c24():
    # C24: m 0.3647389 kg, c 470, 293 -> 410 K, dh 20 kJ/kg: 20 057 + 7 294.8 = 27 351.8 J
    kilograms = tube_mass(
        density=REF1.density,
        outer_diameter=0.020,
        inner_diameter=0.016,
        tube_length=0.5,
        inactive_length=0.0,
    )
    assert float(kilograms) == pytest.approx(0.3647389, rel=1e-6)
    # martensite at rest, hot beyond Af: all is transformed, none of it is below As
    state = uniform_states(
        operating_stress=jnp.zeros(2), hot_temperature=410.0, wall_ratio=0.2, alloy=REF1
    )
    sensible = float(kilograms) * REF1.specific_heat * (410.0 - 293.0)
    latent = float(kilograms) * REF1.latent_heat * np.asarray(state.heated_fraction)
    assert sensible == pytest.approx(20057.0, rel=1e-4)
    assert latent == pytest.approx([7294.8, 7294.8], rel=1e-4)
    assert sensible + latent == pytest.approx([27351.8, 27351.8], rel=1e-4)


def test_phases_of_a_set_are_those_of_its_own_stress():
    # C14 at 100 MPa: As' 384.744, Af' 404.744, Ms' 364.744 K; at rest As, Af, Ms of the card
    state = uniform_states(
        operating_stress=jnp.array([100e6, 0.0]),
        hot_temperature=394.744,
        wall_ratio=0.2,
        alloy=REF1,
    )
    assert np.asarray(state.heating_start) == pytest.approx([384.744, 360.0], abs=5e-4)
    assert np.asarray(state.heating_finish) == pytest.approx([404.744, 380.0], abs=5e-4)
    assert np.asarray(state.holding_start) == pytest.approx([364.744, 340.0], abs=5e-4)
    assert np.asarray(state.heated_fraction) == pytest.approx([0.5, 1.0], abs=5e-5)


def test_fittings_of_each_set_follow_its_own_torque():
    stress = jnp.array([50e6, 110e6])
    got = fittings_module.fittings(
        tube_outer_radius=0.010,
        wall_ratio=0.2,
        tube_length=1.6,  # L/OD 80: beyond the slenderness that asks for a mid support
        operating_stress=stress,
        mass_assumptions=MASS,
    )
    one = end_fitting_mass(
        tube.torque(stress, C1), outer_diameter=0.020, inner_diameter=0.016, mass=MASS
    )
    assert np.asarray(got.fitting_mass_per_tube) == pytest.approx(2 * np.asarray(one), rel=1e-14)
    support = mid_support_mass(one, length_to_diameter=80.0, mass=MASS)
    assert np.asarray(got.support_mass_per_tube) == pytest.approx(np.asarray(support), rel=1e-14)
    assert float(got.fitting_mass_per_tube[1]) > float(got.fitting_mass_per_tube[0])
    short = fittings_module.fittings(
        tube_outer_radius=0.010,
        wall_ratio=0.2,
        tube_length=0.5,
        operating_stress=stress,
        mass_assumptions=MASS,
    )
    assert np.asarray(short.support_mass_per_tube) == pytest.approx([0.0, 0.0], abs=1e-15)


@settings(max_examples=30, deadline=None)
@given(radius=RADII, wall=WALLS, factor=st.floats(0.2, 5.0))
def test_lengths_scale_by_their_dimension(radius, wall, factor):
    one, other = SECTION(radius, wall), SECTION(factor * radius, wall)
    powers = {"area": 2, "polar_moment": 4, "effective_radius": 1, "inner_radius": 1}
    for name, power in powers.items():
        expected = factor**power * float(getattr(one, name))
        assert float(getattr(other, name)) == pytest.approx(expected, rel=1e-12, abs=1e-18)
    assert float(tube.outer_stress(1.0, other)) == pytest.approx(
        float(tube.outer_stress(1.0, one)), rel=1e-12
    )


def test_section_has_its_derivatives_down_to_a_solid_bar():
    check_grads(
        jax.jit(lambda r, w: tube.torque(1e8, tube.section(r, w))),
        (jnp.array([0.004, 0.01, 0.02]), jnp.array([0.05, 0.4, 0.98])),
        order=1,
        eps=1e-6,
        rtol=1e-6,
    )


def test_latent_heat_under_stress_holds_the_work_of_the_stroke():
    # Clausius-Clapeyron: C = rho dh/(T0 H) makes the excess heat the work sigma H per volume; a
    # card that obeys it, T0 = (Ms + Af)/2 = 360 K
    slope = 6450.0 * 20e3 / (360.0 * 0.03)
    card = REF1._replace(austenite_slope=slope, martensite_slope=slope)
    tau = jnp.array([0.0, 50e6, 150e6])
    excess = np.asarray(latent_heat_under_stress(tau, card)) - 20e3
    work = 3**0.5 * np.asarray(tau) * 0.03 / 6450.0
    assert excess == pytest.approx(work, rel=1e-9, abs=1e-9)
    # REF-1 itself has 1.71 times that slope (sma-tubes 1.0), so its excess is 1/1.71 of it
    ratio = 7e6 / (6450.0 * 20e3 / (360.0 * 0.03))
    assert 1 / ratio == pytest.approx(1.71, abs=0.005)
    own = float(latent_heat_under_stress(150e6, REF1)) - 20e3
    assert own == pytest.approx(work[2] / ratio, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "value"),
    [("3500 in*lbf", 395.447), ("5000 in*lbf", 564.924), ("20000 in*lbf", 2259.70)],
)
def test_trade_units_of_torque_are_those_of_c8(text, value):
    assert parse_quantity(text, "N*m") == pytest.approx(value, rel=1e-5)
