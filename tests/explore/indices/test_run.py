"""Inputs, screening and indices of a study; a design evaluated in blocks against one by one."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from mdo.explore.indices.sensitivity import columns_at, outputs_of, run_sensitivity
from mdo.explore.indices.subject import (
    Evaluated,
    Input,
    agrees,
    inputs_of,
    study_subject,
    values_at,
)
from mdo.optimise.axes import ParametricProblem, axes_of
from mdo.optimise.knobs import with_fields
from mdo.optimise.problem import make_problem
from mdo.optimise.starts import starting_designs
from mdo.report.words.explorations import sentences
from mdo.results.work import Work
from mdo.study.reader import StudyError
from mdo.study.study import load_study

STUDY = Path(__file__).parents[3] / "studies" / "deck_small.toml"
RANGES = {
    "fold_time": ("160 s", "240 s"),
    "alloy.latent_heat": ("12 kJ/kg", "18 kJ/kg"),
    "assumptions.mass.brake_torque_density": ("6 N*m/kg", "10 N*m/kg"),
}


@pytest.fixture(scope="module")
def problem():
    return make_problem(load_study(STUDY))


def planned(*, seed=0, **plan):
    changes = {
        f"analysis.sensitivity.{name}": value
        for name, value in json.loads(json.dumps(plan)).items()
    }
    return make_problem(load_study(STUDY).with_values({"study.seed": seed, **changes}))


def test_judged_inputs_are_axes_that_can_be_named_again(problem):
    inputs = inputs_of(problem)
    names = [one.axis.name for one in inputs]
    assert len(names) == len(set(names))
    assert "alloy.latent_heat" in names
    assert "assumptions.thermal.natural_factor" in names
    assert not any("baseline" in name for name in names)
    for one in inputs:
        (move,) = one.axis.knob.moves
        assert one.axis.low < one.axis.high
        assert move.base == one.axis.knob.value


def test_wide_ranges_are_even_in_the_logarithm(problem):
    by_name = {one.axis.name: one for one in inputs_of(problem)}
    wide = by_name["assumptions.mass.brake_torque_density"]  # 4 to 16 N*m/kg
    assert wide.logarithmic
    np.testing.assert_allclose(wide.at(np.array([0.0, 0.5, 1.0])), [4.0, 8.0, 16.0])
    near = by_name["assumptions.aero.moment_scale"]
    np.testing.assert_allclose(near.at(np.array([0.0, 0.5, 1.0])), [0.85, 1.0, 1.15])


def test_number_of_the_card_as_an_axis_moves_the_alloy(problem):
    (axis,) = axes_of(problem, {"alloy.latent_heat": ("12 kJ/kg", "18 kJ/kg")}, "axes")
    there = ParametricProblem(problem, [axis]).at(np.array([13e3]))
    assert there.assembled.parameters["alloy"].latent_heat == 13e3
    with pytest.raises(StudyError, match=r"alloy\.latent_heat: outside its range"):
        axes_of(problem, {"alloy.latent_heat": ("1 kJ/kg", "18 kJ/kg")}, "axes")
    with pytest.raises(StudyError, match=r"alloy\.colour: no number that can be turned"):
        axes_of(problem, {"alloy.colour": (1.0, 2.0)}, "axes")


def test_points_of_an_alloy_that_contradicts_itself_are_told(problem):
    inputs = [one for one in inputs_of(problem) if "martensite_" in one.axis.name]
    names = [one.axis.name for one in inputs]
    start, finish = (names.index(f"alloy.martensite_{end}") for end in ("start", "finish"))
    shares = np.full((2, len(inputs)), 0.5)
    values = values_at(inputs, shares)
    values[1, finish] = values[1, start] + 1.0
    assert agrees(problem, inputs, values).tolist() == [True, False]


def fake(inputs):
    """Outputs of a model without a chain: a sum, a number that nothing moves, a hole."""

    def evaluate(stage, chosen, points):
        names = [one.axis.name for one in chosen]
        weights = np.array([RANK[name] for name in names])
        shares = np.column_stack(
            [(points[:, n] - one.axis.low) / (one.axis.high - one.axis.low)
             for n, one in enumerate(chosen)]
        )  # fmt: skip
        total = shares @ weights
        return Evaluated(
            {"sum": total, "still": np.full(len(points), 2.0)}, {"feasible": len(points)}
        )

    return evaluate


RANK = dict(zip(RANGES, (1.0, 5.0, 3.0), strict=True))


def test_screening_leaves_the_inputs_with_the_largest_effects(problem):
    inputs = inputs_of(planned(axes=RANGES))
    screened = planned(inputs_most=2, trajectories=5)
    found = study_subject(screened, inputs, 256, fake(inputs))
    np.testing.assert_allclose(found.morris["sum"].effect, [1.0, 5.0, 3.0], atol=1e-9)
    assert [one.axis.name for one in found.left["sum"]] == list(RANGES)[1:]
    assert found.left["still"] == ()
    assert "still" not in found.sobol
    # a sum of even inputs: variances add up, S_i = c_i^2/sum c^2 (Saltelli et al. 2008, ch. 1)
    known = np.array([25.0, 9.0]) / 34.0
    np.testing.assert_allclose(found.sobol["sum"].first, known, atol=0.02)
    np.testing.assert_allclose(found.sobol["sum"].total, known, atol=0.02)
    assert found.statuses["feasible"] == 5 * 4 + 256 * 4


def test_ranges_are_drawn_in_for_an_output_with_holes_until_samples_are_whole(problem):
    inputs = inputs_of(planned(axes=RANGES))

    def holed(stage, chosen, points):
        found = fake(inputs)(stage, chosen, points)
        own = np.array([one.axis.knob.value for one in chosen])
        width = np.array([one.axis.high - one.axis.low for one in chosen])
        far = (np.abs(points - own) > 0.26 * width).any(axis=1)
        return Evaluated(
            {"sum": np.where(far, np.nan, found.outputs["sum"]), "near": (~far).astype(float)},
            {"feasible": int((~far).sum()), "infeasible": int(far.sum())},
        )

    found = study_subject(planned(trajectories=6), inputs, 256, holed, (1.0, 0.5, 0.25, 0.125))
    assert found.parts["near"] == 1.0
    assert found.parts["sum"] in {0.5, 0.25}
    assert found.whole["infeasible"] > 0
    assert found.sobol["sum"].kept > 128
    np.testing.assert_allclose(
        found.morris["sum"].effect, found.parts["sum"] * np.array([1.0, 5.0, 3.0]), atol=1e-9
    )


def test_points_drawn_in_stay_about_the_value_of_the_study(problem):
    inputs = inputs_of(planned(axes=RANGES))
    own = np.array([one.axis.knob.value for one in inputs])
    corners = np.array([[0.0] * 3, [1.0] * 3])
    wide, narrow = values_at(inputs, corners), values_at(inputs, corners, 0.25)
    np.testing.assert_allclose(narrow - own, 0.25 * (wide - own), rtol=1e-12)


def test_every_fault_of_the_plan_is_told():
    with pytest.raises(StudyError) as caught:
        inputs_of(planned(samples=100, optimum_samples=6))
    text = "\n".join(caught.value.problems)
    assert "analysis.sensitivity.samples: got 100, expected a power of two" in text
    assert "analysis.sensitivity.optimum_samples: got 6, expected a power of two" in text
    with pytest.raises(StudyError) as caught:
        planned(optimum_samples=1, of=["mass"], confidence=1.0)
    text = "\n".join(caught.value.problems)
    assert "analysis.sensitivity.optimum_samples: out of range, got 1, expected 4 to" in text
    assert 'analysis.sensitivity.of: unknown word, got "mass", expected one of: design' in text
    assert "analysis.sensitivity.confidence: out of range, got 1.0, expected 0.5 to" in text


@pytest.mark.slow
def test_design_in_blocks_equals_the_design_one_by_one(problem):
    axes = axes_of(problem, RANGES, "axes")
    inputs = [Input(axis, logarithmic=False) for axis in axes]
    design = starting_designs(problem, 1)[0].design
    points = values_at(inputs, np.array([[0.1, 0.9, 0.5], [0.7, 0.2, 0.0]]))
    found = columns_at(ParametricProblem(problem, axes), design, points)
    for number, point in enumerate(points):
        fields = {}
        for axis, value in zip(axes, point, strict=True):
            fields |= axis.knob.fields(float(value))
        there = with_fields(problem, fields)
        values = there.values(design)
        rows = dict(zip(there.counting_labels, there.rows_of(values)[there.counting], strict=True))
        assert found["system_mass"][number] == pytest.approx(float(values["system_mass"]), rel=1e-9)
        for name, group in (
            ("fold_time_margin", "fold_time_row"),
            ("twist_margin", "drive_strain"),
        ):
            least = min(row for label, row in rows.items() if label.group == group)
            assert found[name][number] == pytest.approx(least, rel=1e-8, abs=1e-10)
        heated = {label.leg for label in rows if label.group == "drive_stress"}
        exact = values["torque_margin"][sorted(heated)].min()
        assert found["torque_margin_min"][number] == pytest.approx(exact, rel=1e-8)
    assert set(outputs_of(problem)) <= set(found)


@pytest.mark.slow
def test_sensitivity_of_a_study_is_whole_and_the_same_again():
    explored_study = planned(
        axes=RANGES, of=["design", "optimum"], samples=64, optimum_samples=16, trajectories=4,
        seed=1,
    )  # fmt: skip

    def explored():
        with Work(None, "x" * 64, scheduler="serial") as work:
            return run_sensitivity(explored_study, work, lambda _: None)

    first, again = explored(), explored()
    for name, table in first.tables.items():
        assert table.equals(again.tables[name]), name
    assert sentences(first) == sentences(again)
    sobol = first.tables["sobol_indices"]
    assert set(sobol["of"]) == {"design", "optimum"}
    mass = sobol[(sobol["of"] == "optimum") & (sobol["output"] == "system_mass")]
    assert mass["total"].between(-0.1, 1.3).all()
    # a design as drawn does not get heavier by a shorter time; one drawn for it does
    morris = first.tables["morris_effects"].set_index(["of", "output", "input"])["effect"]
    assert morris["design", "system_mass", "fold_time"] == 0.0
    assert morris["optimum", "system_mass", "fold_time"] > 0.01
    assert sum(first.status_counts.values()) == 4 * 4 + 16 * (len(mass) + 2)
