"""Planform integrals against closed forms worked by hand."""

import numpy as np
import pytest

from mdo.disciplines.loads.planform import planform_from_breakpoints


def make(station, leading_edge, chord, fold, *, twist=None, thickness=None):
    return planform_from_breakpoints(
        station=station,
        leading_edge=leading_edge,
        chord=chord,
        twist=np.zeros(len(station)) if twist is None else twist,
        thickness_ratio=np.full(len(station), 0.08) if thickness is None else thickness,
        fold_station=fold,
    )


def numbers(planform):
    """What is no breakpoint: integrals and mean values."""
    return [value for value in planform if np.ndim(value) == 0]


def test_rectangle_has_hand_values():
    p = make([0.0, 2.0], [0.0, 0.0], [1.0, 1.0], 1.2)
    w = 0.8
    assert p.span == 4.0
    assert p.reference_area == pytest.approx(4.0)
    assert p.aspect_ratio == pytest.approx(4.0)
    assert p.panel_area == pytest.approx(w)
    assert p.panel_aspect_ratio == pytest.approx(w)
    assert p.panel_centroid == pytest.approx(w / 2)
    assert p.panel_damping_integral == pytest.approx(w**3 / 3)
    assert p.panel_apparent_inertia == pytest.approx(np.pi / 4 * w**3 / 3)
    assert p.leading_edge_sweep == p.half_chord_sweep == 0.0
    assert p.fold_thickness == pytest.approx(0.08)


def test_apparent_inertia_matches_the_example_at_sea_level():
    # reference hinge-moment 3.4: c = w = 1 m, sea level: 0.32 kg m2
    p = make([0.0, 2.0], [0.0, 0.0], [1.0, 1.0], 1.0)
    assert 1.225 * p.panel_apparent_inertia == pytest.approx(0.32, abs=0.005)


def test_trapezoid_matches_the_worked_example():
    # reference hinge-moment, section 5: S 4, AR 2.5, taper 0.25, quarter chord 30 deg, f 0.35
    half = np.sqrt(10.0) / 2
    root = 4.0 / half / 1.25
    tangent = np.tan(np.radians(30.0)) + 0.25 * root * 0.75 / half
    p = make([0.0, half], [0.0, tangent * half], [root, 0.25 * root], 0.65 * half)
    assert p.span / 2 == pytest.approx(1.58, abs=0.005)
    assert p.panel_span == pytest.approx(0.553, abs=5e-4)
    assert p.panel_area == pytest.approx(0.427, abs=5e-4)
    assert np.degrees(p.quarter_chord_sweep) == pytest.approx(30.0)
    # generic sweep relation of section 1.1 from the leading edge to the half chord
    expected = np.tan(p.leading_edge_sweep) - (2 / 2.5) * 0.75 / 1.25
    assert np.tan(p.half_chord_sweep) == pytest.approx(expected)


def test_extra_breakpoints_on_the_same_lines_change_nothing():
    plain = make([0.0, 2.0], [0.0, 1.0], [1.2, 0.4], 1.3)
    split = make([0.0, 0.7, 1.5, 2.0], [0.0, 0.35, 0.75, 1.0], [1.2, 0.92, 0.6, 0.4], 1.3)
    np.testing.assert_allclose(numbers(split), numbers(plain), rtol=1e-12, atol=1e-15)


def test_breakpoints_are_kept_and_the_tip_repeated():
    # twist at the tip 0 as given by default; a wing of more than eight keeps them all
    p = make([0.0, 0.7, 2.0], [0.0, 0.35, 1.0], [1.2, 0.92, 0.4], 1.3)
    assert p.station.tolist() == [0.0, 0.7, *[2.0] * 6]
    assert p.leading_edge.tolist() == [0.0, 0.35, *[1.0] * 6]
    assert p.chord.tolist() == [1.2, 0.92, *[0.4] * 6]
    many = np.linspace(0.0, 2.0, 11)
    assert make(many, 0.0 * many, 1.0 + 0.0 * many, 1.3).station.tolist() == many.tolist()


def test_cranked_wing_integrals_match_fine_quadrature():
    station, chord, fold = np.array([0.0, 1.0, 2.5]), np.array([2.0, 1.2, 0.5]), 0.8
    p = make(station, [0.0, 0.9, 1.6], chord, fold)
    y = np.linspace(fold, 2.5, 200_001)
    c = np.interp(y, station, chord)
    arm = y - fold
    assert p.panel_area == pytest.approx(np.trapezoid(c, y), rel=1e-9)
    assert p.panel_damping_integral == pytest.approx(np.trapezoid(c * arm**2, y), rel=1e-8)
    assert p.panel_apparent_inertia == pytest.approx(
        np.trapezoid(np.pi / 4 * c**2 * arm**2, y), rel=1e-8
    )


def test_schrenk_factors_match_quadrature_of_the_mean_loading():
    # Schrenk, NACA TM 948: mean of the chord and the ellipse of equal area
    station, chord, fold = np.array([0.0, 1.0, 2.5]), np.array([2.0, 1.2, 0.5]), 1.6
    p = make(station, [0.0, 0.9, 1.6], chord, fold)
    y = 2.5 * np.sin(np.linspace(0.0, np.pi / 2, 400_001))
    c = np.interp(y, station, chord)
    load = 0.5 * (c + 4 * p.reference_area / (np.pi * p.span) * np.sqrt(1 - (y / 2.5) ** 2))
    lift = 2 * np.trapezoid(load, y)
    outer = y >= fold
    moment = np.trapezoid((load * (y - fold))[outer], y[outer])
    assert p.schrenk_moment_factor == pytest.approx(moment / (lift * 2.5), rel=1e-5)
    assert p.schrenk_force_factor == pytest.approx(
        np.trapezoid(load[outer], y[outer]) / lift, rel=1e-4
    )


def test_panel_twist_is_relative_to_the_inboard_wing():
    # linear washout on a rectangle: means at the middle of each part, 0.5 * semi-span apart
    p = make([0.0, 2.0], [0.0, 0.0], [1.0, 1.0], 1.0, twist=[0.0, -0.04])
    assert p.panel_twist == pytest.approx(-0.02)
    lifted = make([0.0, 2.0], [0.0, 0.0], [1.0, 1.0], 1.0, twist=[0.01, -0.03])
    assert lifted.panel_twist == pytest.approx(-0.02)


def test_thickness_at_the_fold_is_interpolated_as_thickness():
    p = make([0.0, 2.0], [0.0, 0.0], [2.0, 1.0], 1.0, thickness=[0.10, 0.05])
    assert p.fold_thickness == pytest.approx(0.5 * (0.2 + 0.05))
