"""The whole coupled chain of a real study: batches, loop, derivatives, monotony, 1,000 designs."""

from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mdo.model.declaration import run_disciplines
from mdo.model.layout import DESIGN_LENGTH, design_labels, join_design, split_design
from mdo.model.sizes import filled
from mdo.model.system import declare_system
from mdo.optimise.problem import make_problem
from mdo.study import load_study

STUDY = Path(__file__).parents[1] / "studies" / "deck_medium.toml"
LABELS = design_labels()
# near the optimum of the study, rounded
DESIGN = {
    "tube_outer_radius": 0.0075,
    "wall_ratio": 0.65,
    "tube_length": 0.58,
    "tube_count": [4.8, 5.7],
    "operating_stress": [1.03e8, 1.10e8],
    "gear_ratio": 0.85,
    "pre_twist": [2.5, 2.55],
    "heater_power": [2100.0, 2450.0],
    "hot_temperature": 475.0,
    "insulation_thickness": 0.0004,
    "spring_moment": 50.0,
    "spring_rate": 5.0,
}
X = join_design(DESIGN)


class Case:
    """The medium study and what is compiled for every study of its size."""

    def __init__(self):
        self.problem = make_problem(load_study(STUDY))
        self.chain, self.theta = self.problem.chain, self.problem.theta
        self.prelude, self.counts = self.problem.prelude, self.problem.rows.counts

    def point(self, x):
        return self.chain.point_and_gradient(jnp.asarray(x), self.theta, self.prelude)[0]

    def values(self, x):
        return self.problem.values(x)

    def everything(self, x):
        """With what only fills."""
        return {**self.prelude, **self.chain.values(x, self.theta, self.prelude)}


@pytest.fixture(scope="module")
def case():
    return Case()


def changed(**values):
    return join_design(DESIGN | values)


def random_designs(count, rng, spread):
    """Designs around the base; ``spread`` is the largest factor either way."""
    factors = np.exp(rng.uniform(-1.0, 1.0, (count, DESIGN_LENGTH)) * np.log(spread))
    designs = X * factors
    at = LABELS.index("wall_ratio")
    designs[:, at] = np.minimum(designs[:, at], 0.97)
    designs[:, LABELS.index("hot_temperature")] = rng.uniform(330.0, 600.0, count)
    designs[:, LABELS.index("insulation_thickness")] = rng.uniform(0.0, 0.02, count)
    return designs


def test_base_design_is_that_of_a_plausible_actuator(case):
    rows = np.asarray(case.point(X).rows)
    assert rows.size == case.counts.size
    # near the limits, so that the other tests mean something
    assert -1.0 < rows[case.counts].min() < 0.5


def test_loop_on_the_vehicle_mass_is_closed(case):
    names = ("hinge_moment", "lock", "mass")
    disciplines = tuple(d for d in case.chain.system.disciplines if d.name in names)
    parameters = filled(case.problem.assembled.parameters)
    turn = jax.jit(lambda known: run_disciplines(disciplines, known))
    for x in (X, changed(tube_count=[40.0, 60.0]), changed(tube_count=[1.0, 1.0])):
        got = case.everything(x)
        mass = float(got["system_mass"]) + parameters["vehicle"].mass_without_actuator
        assert float(got["closed_vehicle_mass"]) == pytest.approx(mass, rel=1e-15)
        # one more turn of the loop at the closed mass changes nothing
        known = {**parameters, **split_design(x)}
        again = turn(known | got | {"vehicle_mass": got["closed_vehicle_mass"]})
        assert float(again["closed_vehicle_mass"]) == pytest.approx(mass, rel=1e-12)


@pytest.mark.slow
def test_evaluation_without_the_prelude_is_the_same(case):
    # all disciplines in the declared order, none set apart, at the closed mass
    got = case.everything(X)
    known = {**filled(case.problem.assembled.parameters), **split_design(jnp.asarray(X))}
    known["vehicle_mass"] = got["closed_vehicle_mass"]
    as_float = jax.tree.map(lambda v: jnp.asarray(v, dtype=float), known)
    whole = jax.jit(
        lambda given: {
            name: value
            for name, value in run_disciplines(case.chain.system.disciplines, given).items()
            if name not in given
        }
    )(as_float)
    assert whole.keys() == got.keys()
    for name, value in got.items():
        ours, own = np.asarray(whole[name]), np.asarray(value)
        scale = np.abs(own[np.isfinite(own)]).max(initial=0.0)  # a set that is absent is never hot
        np.testing.assert_allclose(
            ours, own, rtol=0.0, atol=1e-10 * scale + 1e-13, equal_nan=False, err_msg=name
        )


def test_point_is_objective_and_rows_of_the_values(case):
    point, values = case.point(X), case.everything(X)
    assert float(point.objective) == pytest.approx(float(values["system_mass"]), rel=1e-13)
    rows = np.concatenate([np.ravel(values[name]) for name in case.chain.row_names])
    assert np.asarray(point.rows) == pytest.approx(rows, rel=1e-10, abs=1e-10)


@pytest.mark.slow
def test_thousand_wide_designs_are_finite_and_each_has_a_status(case):
    designs = random_designs(1000, np.random.default_rng(1), spread=8.0)
    got = case.chain.batch(designs, case.theta, case.prelude)
    mass, rows = np.asarray(got.objective), np.asarray(got.rows)
    assert np.all(np.isfinite(mass))
    assert np.all(mass > 0.0)
    assert np.all(np.isfinite(rows))
    # a status follows from the rows that count: feasible, or the row that fails worst, by name
    worst = np.where(case.counts, rows, np.inf).argmin(axis=1)
    causes = {case.problem.rows.labels[i].group for i in worst}
    assert len(causes) > 3
    assert "driver" not in causes
    # batch equals loop
    for i in (0, 17, 500, 999):
        one = case.point(designs[i])
        assert float(one.objective) == pytest.approx(mass[i], rel=1e-12)
        assert np.asarray(one.rows) == pytest.approx(rows[i], rel=1e-9, abs=1e-9)


def test_designs_at_the_ends_of_their_bounds_are_finite(case):
    design = load_study(STUDY).design
    ends = []
    for name in DESIGN:
        variable = getattr(design, name)
        sides = [variable.up, variable.down] if hasattr(variable, "up") else [variable]
        ends += [(side.lower, side.upper) for side in sides]
    rng = np.random.default_rng(2)
    corners = np.array(ends)[np.arange(DESIGN_LENGTH), rng.integers(0, 2, (1000, DESIGN_LENGTH))]
    got = case.chain.batch(corners, case.theta, case.prelude)
    assert np.all(np.isfinite(np.asarray(got.objective)))
    assert np.all(np.isfinite(np.asarray(got.rows)))


@settings(max_examples=15, deadline=None)
@given(more=st.floats(1.01, 3.0))
def test_times_fall_with_heater_power(case, more):
    one, other = case.values(X), case.values(changed(heater_power=[2100.0 * more, 2450.0 * more]))
    heated = one["heated"] > 0.5
    assert np.all(other["heat_time"][heated] < one["heat_time"][heated])
    assert np.all(other["motion_time"][heated] < one["motion_time"][heated])
    assert np.all(other["power_balance"] > one["power_balance"])
    assert float(other["peak_power"]) > float(one["peak_power"])
    assert np.all(other["heater_flux"] > one["heater_flux"])


@settings(max_examples=15, deadline=None)
@given(factor=st.floats(1.05, 3.0))
def test_more_tubes_carry_more_and_weigh_more(case, factor):
    counts = np.array(DESIGN["tube_count"])
    one, other = case.values(X), case.values(changed(tube_count=factor * counts))
    assert float(other["system_mass"]) > float(one["system_mass"])
    assert other["mass_lines"][:2] == pytest.approx(factor * one["mass_lines"][:2], rel=1e-12)


def test_both_sides_of_a_mirrored_design_swap_what_does_not_depend_on_the_load(case):
    # the two sets share the tube: with the same stress, power and count they are the same
    same = changed(
        tube_count=[5.0, 5.0], operating_stress=[1.05e8, 1.05e8], heater_power=[2200.0, 2200.0]
    )
    got = case.values(same)
    for name in ("heat_time", "heat_energy", "hold_power", "power_balance", "stuck_on_temperature"):
        assert got[name][:, 0] == pytest.approx(got[name][:, 1], rel=1e-12), name
    for name in ("heating_start", "heating_finish", "heater_flux", "sheath_temperature"):
        assert got[name][0] == pytest.approx(got[name][1], rel=1e-12), name


def test_margins_of_the_study_say_what_its_rows_say(case):
    needed = np.asarray(case.problem.assembled.parameters["legs"].torque_margin_required)[:, None]
    designs = random_designs(60, np.random.default_rng(5), spread=1.6)
    seen = []
    for x in designs:
        got = case.values(x)
        resists = (got["heated"][:, None] > 0.5) & (got["required_moment"] > 0.0)
        good = got["drive_strain"] >= 0.0
        capped = got["required_stress"] > got["hot_stress"].max() * (1 + 1e-9)
        use = resists & ~capped & (np.abs(got["drive_strain"]) > 1e-8)
        assert np.array_equal((got["torque_margin"] >= needed)[use], good[use])
        seen.append(good[use])
    share = np.concatenate(seen).mean()
    assert 0.05 < share < 0.95


def test_margins_reach_no_row(case):
    # the exact margins are printed only: leaving them out changes neither mass nor rows
    lean = declare_system(report=False)
    whole = case.chain.system.disciplines
    names = {d.name for d in whole} - {d.name for d in lean.disciplines}
    assert names == {"comparison", "tube_answer", "heat_answer", "bounds", "from_rest"}
    read = {n for d in lean.disciplines for n in d.quantities}
    margin = next(d for d in whole if d.name == "tube_answer")
    assert read.isdisjoint(margin.outputs)


@pytest.mark.slow
def test_whole_chain_has_its_derivatives(case):
    rng = np.random.default_rng(11)
    for x in (X, *random_designs(3, rng, spread=1.3)):
        _, gradient = case.chain.point_and_gradient(jnp.asarray(x), case.theta, case.prelude)
        slope, jacobian = np.asarray(gradient.objective), np.asarray(gradient.rows)[case.counts]
        for i, label in enumerate(LABELS):
            central = []
            for relative in (1e-5, 1e-6):
                step = relative * x[i]
                high, low = (case.point(x + sign * step * np.eye(x.size)[i]) for sign in (1, -1))
                rows = (np.asarray(high.rows) - np.asarray(low.rows))[case.counts] / (2 * step)
                central.append(
                    np.append(rows, (float(high.objective) - float(low.objective)) / (2 * step))
                )
            exact = np.append(jacobian[:, i], slope[i])
            miss = np.minimum(*(np.abs(exact - one) for one in central)) * x[i]
            size = np.abs(exact) * x[i]
            # rows are of order one: 1e-5 relative, or 1e-7 of the row per relative change
            bad = miss > 1e-5 * size + 1e-7
            assert not bad.any(), (label, int(bad.sum()), float(miss.max()))
        assert jax.numpy.isfinite(gradient.rows).all()


@pytest.mark.slow
def test_derivatives_of_wide_designs_are_finite(case):
    for x in random_designs(60, np.random.default_rng(13), spread=8.0):
        _, gradient = case.chain.point_and_gradient(jnp.asarray(x), case.theta, case.prelude)
        assert np.all(np.isfinite(np.asarray(gradient.objective)))
        assert np.all(np.isfinite(np.asarray(gradient.rows)))
