"""Span loads and fold factors against closed forms and independent solutions."""

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax.test_util import check_grads

from mdo.disciplines.loads import fold_factors as fold
from mdo.disciplines.loads import span_load, supersonic_span_load
from mdo.disciplines.loads.planform import planform_from_breakpoints
from mdo.disciplines.records import Planform

BETA_ONE = float(np.sqrt(2.0))


def wing(aspect, fraction, taper=1.0, quarter_sweep=0.0):
    """Trapezoidal wing of mean chord 1."""
    half = aspect / 2
    root = 2 / (1 + taper)
    slope = np.tan(quarter_sweep) + 0.25 * root * (1 - taper) / half
    return planform_from_breakpoints(
        station=[0.0, half],
        leading_edge=[0.0, slope * half],
        chord=[root, taper * root],
        twist=[0.0, 0.0],
        thickness_ratio=[0.05, 0.05],
        fold_station=(1 - fraction) * half,
    )


@jax.jit
def factors(planform, mach, angle):
    return fold.fold_factors(planform, mach, jnp.radians(angle))


# ---- flat span loads ------------------------------------------------------------------------


def test_elliptic_share_matches_case_b13():
    found = span_load.elliptic_span_load(0.4)
    assert found.moment == pytest.approx(0.0232227, abs=1e-7)
    assert found.moment * np.pi / 2 == pytest.approx(0.0364781, abs=1e-7)


def test_elliptic_share_matches_quadrature_of_the_ellipse():
    y = np.sin(np.linspace(0.0, np.pi / 2, 200_001))
    load = np.sqrt(1 - y**2) * 4 / np.pi / 2
    for fraction in (0.2, 0.5):
        outer = y >= 1 - fraction
        found = span_load.elliptic_span_load(fraction)
        assert found.force == pytest.approx(np.trapezoid(load[outer], y[outer]), rel=1e-4)
        moment = np.trapezoid((load * (y - 1 + fraction))[outer], y[outer])
        assert found.moment == pytest.approx(moment, rel=1e-5)


def test_elliptic_share_of_the_whole_half_wing():
    # one half carries half the lift at 4/(3 pi) of the semi-span
    whole = span_load.elliptic_span_load(1.0)
    assert whole.force == pytest.approx(0.5, rel=1e-12)
    assert whole.moment == pytest.approx(2 / (3 * np.pi), rel=1e-12)


def test_subsonic_span_load_blends_by_sweep():
    elliptic = span_load.elliptic_span_load(0.4).moment
    unswept = wing(4.0, 0.4)
    assert span_load.subsonic_span_load(unswept).moment == pytest.approx(float(elliptic))
    swept = wing(4.0, 0.4, 0.4, np.radians(45.0))
    assert span_load.subsonic_span_load(swept).moment == pytest.approx(swept.schrenk_moment_factor)


@pytest.mark.parametrize(
    ("sweep", "weight"), [(0, 0), (15, 0), (20, 0), (23, 0.2), (30, 2 / 3), (-30, 2 / 3), (35, 1)]
)
def test_span_load_between_20_and_35_deg_is_linear_in_the_sweep(sweep, weight):
    # rule of the docstring by hand: fold at 0.6, F_1 = 0.0364781 and F_0 = 0.223648 times 2/pi
    angle = np.radians(float(sweep))
    share = span_load.subsonic_span_load(
        wing(4.0, 0.4)._replace(
            quarter_chord_sweep=angle, schrenk_moment_factor=0.03, schrenk_force_factor=0.16
        )
    )
    by_hand = weight * 0.03 + (1 - weight) * 0.0232227, weight * 0.16 + (1 - weight) * 0.142379
    assert (float(share.moment), float(share.force)) == pytest.approx(by_hand, abs=1e-6)


@pytest.mark.parametrize(
    ("aspect", "taper", "sweep", "fraction", "ratio_elliptic", "ratio_schrenk"),
    [
        # ratios to one lattice result, reference hinge-moment, table of section 1.2
        (4.0, 1.0, 0.0, 0.40, 1.00, 1.36),
        (4.0, 0.4, 0.0, 0.40, 1.06, 1.16),
        (6.0, 0.4, 0.0, 0.30, 1.03, 1.18),
        (10.0, 0.5, 0.0, 0.25, 0.93, 1.18),
        (2.5, 0.3, 30.0, 0.35, 1.02, 1.06),
    ],
)
def test_schrenk_over_elliptic_matches_the_table(
    aspect, taper, sweep, fraction, ratio_elliptic, ratio_schrenk
):
    p = wing(aspect, fraction, taper, np.radians(sweep))
    ratio = p.schrenk_moment_factor / span_load.elliptic_span_load(fraction).moment
    assert ratio == pytest.approx(ratio_schrenk / ratio_elliptic, rel=0.015)


def test_tip_cone_integrals_match_case_values():
    # reference section 1.5: int I = 3/4, int e I = 7/16
    found = supersonic_span_load.tip_cone_integrals(1.0 - 1e-12)
    assert found.force == pytest.approx(0.75, abs=1e-6)
    assert found.moment == pytest.approx(0.75 - 7 / 16, abs=1e-6)


def test_tip_cone_integrals_are_smooth_at_one():
    grad = jax.grad(lambda x: supersonic_span_load.tip_cone_integrals(x).moment)
    assert grad(1.0 - 1e-9) == pytest.approx(float(grad(1.0 + 1e-9)), abs=1e-5)


def test_rectangular_panel_load_matches_case_e30_flat():
    # beta 1, c 1, w 2.2: M/(q alpha) = 7.7300, N/(q alpha) = 7.800
    load = supersonic_span_load.panel_edge_load(wing(8.4, 2.2 / 4.2), 1.0)
    assert 4 * load.moment == pytest.approx(7.7300, abs=5e-5)
    assert 4 * load.force == pytest.approx(7.800, abs=5e-5)
    # of the lift, E26: 3.5 x 4 per q alpha; a panel of 1.2 has 0.2 before the tip cone (by hand)
    share = span_load.flat_span_load(wing(4.0, 0.6), BETA_ONE)
    assert share.force == pytest.approx(4 * (0.2 + 0.75) / 14, rel=1e-6)
    moment = 4 * (0.2 * 0.1 + 0.2 * 0.75 + 0.75 - 7 / 16)
    assert share.moment == pytest.approx(moment / 14 / 2, rel=1e-6)  # over the semi-span


def test_span_load_of_a_subsonic_edge_delta_matches_case_e29():
    # m = 0.5, eta = 0.6, beta 1, root chord 1: M/(q alpha) = 0.0150605 (elliptic loading)
    p = planform_from_breakpoints(
        station=[0.0, 0.5],
        leading_edge=[0.0, 1.0],
        chord=[1.0, 0.0],
        twist=[0.0, 0.0],
        thickness_ratio=[0.05, 0.05],
        fold_station=0.3,
    )
    share = span_load.flat_span_load(p, BETA_ONE).moment
    assert 2.5941 * p.reference_area * 0.5 * share == pytest.approx(0.0150605, abs=1e-6)


def conical_delta_share(m, fraction):
    """Hinge share of a delta with a supersonic edge by its exact conical pressure (textbook)."""
    points = 1500
    y = (np.arange(200) + 0.5)[:, None] / 200
    s = (np.arange(points) + 0.5)[None] / points
    x = (y + (1 - y) * s**2) / m
    ratio = np.clip((1 - (y / x) ** 2) / (m**2 - (y / x) ** 2), 0.0, 1.0)
    pressure = np.where(y >= x, 1.0, 1 - 2 / np.pi * np.arcsin(np.sqrt(ratio)))
    load = np.sum(pressure * 2 * s * (1 - y) / m, axis=1)
    arm = np.clip(y[:, 0] - 1 + fraction, 0.0, None)
    return np.sum(load * arm) / (2 * np.sum(load))


@pytest.mark.parametrize("m", [1.5, 2.0, 3.0])
def test_span_load_of_a_supersonic_edge_delta_is_within_the_band(m):
    # exact linear theory (Stewart, from memory); the level's own band is +-15 %
    p = planform_from_breakpoints(
        station=[0.0, m],
        leading_edge=[0.0, 1.0],
        chord=[1.0, 0.0],
        twist=[0.0, 0.0],
        thickness_ratio=[0.05, 0.05],
        fold_station=0.65 * m,
    )
    found = span_load.flat_span_load(p, BETA_ONE).moment
    assert found == pytest.approx(conical_delta_share(m, 0.35), rel=0.15)


# ---- fold factors ---------------------------------------------------------------------------


def cross_flow(fraction, angle, count=90):
    """Slender wing with folded tips: two-dimensional vortices along the trace (Munk), one side."""

    def place(s):
        outer = np.clip(s - 1 + fraction, 0.0, None)
        return np.minimum(s, 1 - fraction) + outer * np.cos(angle), outer * np.sin(angle)

    steps = np.arange(count + 1)
    inner = (1 - fraction) * np.sin(steps * np.pi / 2 / count)
    outer = 1 - fraction + fraction * 0.5 * (1 - np.cos(steps * np.pi / count))
    edges = np.concatenate([inner, outer[1:]])
    halves = np.arange(count) + 0.5
    middles = np.concatenate(
        [
            (1 - fraction) * np.sin(halves * np.pi / 2 / count),
            1 - fraction + fraction * 0.5 * (1 - np.cos(halves * np.pi / count)),
        ]
    )
    out = middles > 1 - fraction
    normal = np.where(out, -np.sin(angle), 0.0), np.where(out, np.cos(angle), 1.0)
    (y, z), (ym, zm) = place(edges), place(middles)
    matrix = np.zeros((2 * count, 2 * count))
    for side in (1.0, -1.0):
        dy, dz = ym[:, None] - side * y, zm[:, None] - z
        wash = (-dz * normal[0][:, None] + dy * normal[1][:, None]) / (dy**2 + dz**2) / 2 / np.pi
        matrix += side * np.diff(wash, axis=1)
    load = np.abs(np.linalg.solve(matrix, normal[1])) * np.diff(edges)
    arm = np.clip(0.5 * (edges[1:] + edges[:-1]) - 1 + fraction, 0.0, None)
    force = np.sum(load[out])
    lift = np.sum(load[~out]) + force * np.cos(angle)
    return np.array([np.sum(load * arm), force, np.sum(load[~out]), lift])


@pytest.mark.parametrize("fraction", [0.15, 0.2, 0.3, 0.4, 0.5, 0.6])
def test_slender_factors_match_an_independent_cross_flow_solution(fraction):
    flat, folded = cross_flow(fraction, 1e-9), cross_flow(fraction, np.pi / 2)
    right = fold.right_angle_factors(wing(1.0, fraction), 1.0)
    np.testing.assert_allclose(right[:3], (folded / flat)[:3], atol=3e-3)


def test_slender_fold_matches_case_d23():
    # f 0.4: K_M 60 0.7946, 90 0.5865 (0.2 %); K_L is the apparent-area ratio 0.7762, 0.5990
    p = wing(1.0, 0.4)
    at_60, at_90 = factors(p, 1.0, 60.0), factors(p, 1.0, 90.0)
    assert at_60.moment == pytest.approx(0.7946, rel=2e-3)
    assert at_90.moment == pytest.approx(0.5865, rel=2e-3)
    assert at_60.lift == pytest.approx(0.7762, rel=1e-2)
    assert at_90.lift == pytest.approx(0.5990, rel=2e-3)


@pytest.mark.parametrize(
    ("aspect", "fraction", "expected"),
    [
        # lattice K_M at 30, 45, 60, 75, 90 deg: reference section 1.3
        (4.0, 0.4, [0.927, 0.841, 0.730, 0.601, 0.463]),
        (2.0, 0.3, [0.950, 0.891, 0.813, 0.723, 0.627]),
        (10.0, 0.3, [0.912, 0.808, 0.673, 0.516, 0.350]),
    ],
)
def test_subsonic_moment_factor_is_within_the_regression_error(aspect, fraction, expected):
    found = factors(wing(aspect, fraction), 0.0, np.array([30.0, 45.0, 60.0, 75.0, 90.0])).moment
    np.testing.assert_allclose(found, expected, atol=0.07)  # its stated maximum error


def test_trimmed_relief_matches_case_f34():
    # lattice 0.943 at 60 deg, 0.753 at 90 deg; 3 % allowed for the regression
    p = wing(4.0, 0.4)
    for angle, expected in ((60.0, 0.943), (90.0, 0.753)):
        found = factors(p, 0.0, angle)
        assert found.moment / found.lift == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("aspect", [2.0, 4.0, 6.0, 10.0])
def test_trimmed_relief_over_aspect_ratio_and_fraction(aspect):
    # reference section 1.3, taper 0.5, quarter chord 20 deg, f 0.2 to 0.5; K_M90 errors up to 0.07
    table = {
        2.0: ([0.93, 0.95, 0.99, 1.05], [0.83, 0.85, 0.90, 0.99]),
        4.0: ([0.90, 0.91, 0.95, 1.00], [0.76, 0.75, 0.77, 0.83]),
        6.0: ([0.86, 0.87, 0.91, 0.97], [0.69, 0.66, 0.66, 0.70]),
        10.0: ([0.81, 0.82, 0.85, 0.91], [0.56, 0.52, 0.51, 0.52]),
    }
    for column, fraction in enumerate((0.2, 0.3, 0.4, 0.5)):
        p = wing(aspect, fraction, 0.5, np.radians(20.0))
        for angle, expected in zip((60.0, 90.0), table[aspect], strict=True):
            found = factors(p, 0.0, angle)
            ratio = float(found.moment / found.lift)
            assert ratio == pytest.approx(expected[column], abs=0.07 / float(found.lift))


def cone_series(angle, rho, terms=4000, *, inboard=False):
    """Loading near the fold of a supersonic panel: the series of the reference, section 1.5.

    On the panel, the far wall of both sectors; or on the wing inboard, their near one.
    """
    r = rho / (1 + np.sqrt(1 - rho**2))
    total = 0.0
    for theta in (np.pi - angle, np.pi + angle):
        k = np.arange(1, terms + 1)[:, None] * np.pi / theta
        source = np.sin(k * np.pi / 2) + np.cos(angle) * (
            np.sin(k * theta) - np.sin(k * (theta - np.pi / 2))
        )
        wall = 1.0 if inboard else np.cos(k * theta)
        series = np.sum(2 / theta * r**k * wall * source / k, axis=0)
        total = total + 0.5 * ((1 + np.cos(angle)) * np.pi / 2 / theta + series)
    return total


def test_fold_line_pressure_matches_case_e31():
    assert cone_series(np.pi / 2, np.array([0.0]))[0] == pytest.approx(2 / 3, rel=1e-12)


def test_cone_tables_match_the_series_and_the_reference():
    nodes, weights = np.polynomial.legendre.leggauss(100)
    rho = np.sin((nodes + 1) * np.pi / 4)
    measure = weights * np.pi / 4 * np.sqrt(1 - rho**2)
    published = {15: (0.01811, 0.00774), 45: (0.15795, 0.06888), 90: (0.57735, 0.27778)}
    tables = fold._CONE_FORCE, fold._CONE_MOMENT, fold._CONE_INBOARD
    for at, (force, moment, inboard) in enumerate(zip(*tables, strict=True)):
        degrees = 5 * at or 1  # the first column
        angle = np.radians(degrees)
        relief = 1 - np.cos(angle)
        excess = (cone_series(angle, rho, 500) - np.cos(angle)) * measure / relief
        lost = (cone_series(angle, rho, 500, inboard=True) - 1.0) * measure / relief
        found = np.sum(excess), np.sum(excess * rho), np.sum(lost)
        assert found == pytest.approx((force, moment, inboard), rel=1e-5), degrees
        if degrees in published:
            assert (relief * force, relief * moment) == pytest.approx(published[degrees], abs=1e-5)


@pytest.mark.parametrize(
    ("angle", "moment", "force"),
    [(0.0, 7.7300, 7.800), (30.0, 6.7355, 6.8982), (90.0, 0.3704, 1.1547)],
)
def test_folded_supersonic_panel_matches_case_e30(angle, moment, force):
    p = wing(8.4, 2.2 / 4.2)
    flat, found = supersonic_span_load.panel_edge_load(p, 1.0), factors(p, BETA_ONE, angle)
    assert 4 * flat.moment * found.moment == pytest.approx(moment, abs=2e-4)
    assert 4 * flat.force * found.force == pytest.approx(force, abs=2e-4)


def test_inboard_loss_of_the_cone_conserves_the_mirror_case():
    # at 90 deg the panel sees only what the wing sheds, the wing only what the panel takes: by the
    # symmetry of the sectors the two integrals are n0 = 1/sqrt3 and -1/(3 sqrt3)
    assert fold._CONE_INBOARD[18] == pytest.approx(-1 / (3 * np.sqrt(3)), abs=1e-6)


@pytest.mark.parametrize("mach", [0.0, 0.7, 0.95, 1.0, 1.2, 1.6, 2.5])
def test_factors_are_even_in_the_fold_angle_and_one_when_flat(mach):
    p = wing(3.0, 0.35, 0.4, 0.3)
    for up, down in zip(factors(p, mach, 50.0), factors(p, mach, -50.0), strict=True):
        assert up == pytest.approx(float(down), rel=1e-14)
    np.testing.assert_allclose(factors(p, mach, 0.0), 1.0, atol=1e-12)


def test_folded_panel_keeps_load_at_a_right_angle():
    # reference section 8, item 1: 33 to 70 % of flat for aspect ratio 2 to 10, f up to 0.3
    for aspect in (2.0, 5.0, 10.0):
        assert 0.28 < factors(wing(aspect, 0.3), 0.0, 90.0).moment < 0.75


def test_factors_and_loads_are_continuous_in_mach():
    mach = np.linspace(0.5, 2.5, 4001)
    for p in (wing(2.5, 0.35, 0.25, 0.5), wing(8.4, 2.2 / 4.2), wing(6.0, 0.3, 0.5)):
        run = jax.jit(
            lambda m, p=p: (*fold.fold_factors(p, m, 1.0), *span_load.flat_span_load(p, m))
        )
        for values in run(mach):
            assert np.all(np.isfinite(values))
            assert np.max(np.abs(np.diff(values))) < 0.02 * np.max(np.abs(values))


def test_factor_gradients_match_differences():
    base = wing(3.0, 0.35, 0.4, 0.3)

    @jax.jit
    def ratio(mach, span_scale, angle):
        p = Planform(*(jnp.asarray(value) for value in base))
        p = p._replace(panel_span=p.panel_span * span_scale)
        found = fold.fold_factors(p, mach, angle)
        return found.moment / found.lift * span_load.flat_span_load(p, mach).moment

    for mach in (0.4, 0.93, 1.5):
        check_grads(ratio, (mach, 1.0, 0.8), order=1, modes=("rev",), rtol=1e-5, atol=1e-7)


def test_factors_vmap_equals_loop():
    p = wing(3.0, 0.35, 0.4, 0.3)
    angles = np.radians([-70.0, -20.0, 0.0, 45.0, 90.0])
    together = jax.vmap(lambda angle: factors(p, 1.4, angle).lift)(np.degrees(angles))
    single = [float(factors(p, 1.4, angle).lift) for angle in np.degrees(angles)]
    np.testing.assert_allclose(together, single, rtol=1e-13)


def test_conical_lift_is_that_of_inner_wing_and_panels():
    # rectangle of chord 1 and 8.4 m2 at Mach sqrt(2), panels of 2.2 m at 60 deg, by hand: half the
    # wing carries 3.95, a flat panel 1.95, so the inner part 2.0; n_0(60 deg) = 0.27362 (conical
    # series, derived); what the inner part loses is that of the same cone, from the result itself
    rectangle = wing(8.4, 2.2 / 4.2)._replace(
        fold_chord=1.0, panel_mean_chord=1.0, panel_span=2.2, panel_area=2.2, panel_centroid=1.1,
        reference_area=8.4, aspect_ratio=8.4,
    )  # fmt: skip
    got = fold.conical_factors(rectangle, np.sqrt(2.0), np.radians(60.0))
    force = 0.5 + 0.27362 / (2 * 1.95)
    assert float(got.force) == pytest.approx(force, rel=1e-4)
    by_hand = (2.0 * float(got.inboard) + 1.95 * force * 0.5) / 3.95
    assert float(got.lift) == pytest.approx(by_hand, rel=1e-4)
    assert float(got.lift) == pytest.approx(0.6383, abs=1e-3)
