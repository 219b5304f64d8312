"""Fitted exponents against a reference library, theory of the pure family, what takes over."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import linregress

from mdo.explore.scaling.scaling import change_rows, fit, theory
from mdo.study.reader import StudyError
from mdo.study.scaling_laws import LAWS

SIZES = np.geomspace(0.5, 4.0, 7)
STUDENT_5 = 2.571  # t at 97.5 % with 5 degrees of freedom, tables of Student's t (from memory)


def test_power_law_is_found_exactly():
    found = fit(SIZES, 3.0 * SIZES**3.5)
    assert found.exponent == pytest.approx(3.5, abs=1e-12)
    assert found.high - found.low < 1e-10
    assert found.sizes == 7


def test_interval_is_that_of_linear_regression():
    values = SIZES**2.0 * (1.0 + 0.1 * np.cos(np.arange(7.0)))
    found = fit(SIZES, values)
    known = linregress(np.log(SIZES), np.log(values))
    assert found.exponent == pytest.approx(known.slope, abs=1e-12)
    assert 0.5 * (found.high - found.low) == pytest.approx(STUDENT_5 * known.stderr, rel=2e-4)
    assert found.low + found.high == pytest.approx(2.0 * found.exponent)


def test_sizes_without_a_value_do_not_count():
    values = SIZES**2.0
    values[[0, 3]] = np.nan
    assert fit(SIZES, values).sizes == 5
    assert fit(SIZES, values).exponent == pytest.approx(2.0)


def test_two_sizes_have_no_interval_and_one_no_exponent():
    two = fit(SIZES[:2], SIZES[:2] ** 3)
    assert two.exponent == pytest.approx(3.0)
    assert np.isnan(two.low)
    assert np.isnan(two.high)
    assert np.isnan(fit(SIZES[:1], SIZES[:1]).exponent)


def test_theory_of_the_pure_family_is_that_of_similar_tubes():
    # torque tau r^3, length r, volume r^3, surface r^2: all from the moment of the law
    for law, rule in LAWS.items():
        length = theory(law, "pure", "tube_outer_radius")
        assert 3.0 * length == pytest.approx(rule.moment)
        assert theory(law, "pure", "alloy_mass") == pytest.approx(3.0 * length)
        assert theory(law, "pure", "peak_power") == pytest.approx(2.0 * length)
        energy = theory(law, "pure", "peak_power") + theory(law, "pure", "fold_time")
        assert theory(law, "pure", "sortie_energy") == pytest.approx(energy)
    assert np.isnan(theory("mach", "full", "tube_count"))


def test_changes_tell_what_appears_and_vanishes_over_feasible_sizes():
    points = pd.DataFrame(
        {
            "law": "mach", "mode": "full", "size": [0.5, 1.0, 2.0, 4.0],
            "status": ["feasible", "feasible", "infeasible", "feasible"],
            "active": ["Fold time; Bore", "Fold time; Bore", "", "Fold time; Return time"],
        }
    )  # fmt: skip
    (row,) = change_rows(points)
    assert (row["size"], row["appears"], row["vanishes"]) == (4.0, "Return time", "Bore")


def test_every_fault_of_the_plan_is_told(small):
    with pytest.raises(StudyError) as caught:
        small.with_values({"analysis.scaling": {"laws": ["froude"], "sizes": [0.0, 1.0, 2.0]}})
    text = "\n".join(caught.value.problems)
    assert 'analysis.scaling.laws: unknown word, got "froude", expected one of: dynamic' in text
    assert "analysis.scaling.sizes: out of range, got 0.0, expected 0.05 to 20" in text
    with pytest.raises(StudyError, match=r"analysis\.scaling\.laws: empty"):
        small.with_values({"analysis.scaling.laws": []})
