"""Objectives of a front: what they are, their ranges, errors for people."""

from __future__ import annotations

import numpy as np
import pytest

from mdo.explore.fronts.study_front import objectives_of
from mdo.study.reader import StudyError
from tests.explore.fronts.known import planned


def of(small, *names, **ranges):
    return objectives_of(planned(small, objectives=names, ranges=ranges))


def test_requirement_is_turned_and_an_output_is_limited(small):
    mass, time, power = of(small, "system_mass", "fold_time", "peak_power")
    assert (mass.output, mass.axis, mass.unit) == ("system_mass", None, "kg")
    assert time.axis is not None
    assert (time.output, time.unit, time.sign) == ("", "s", 1.0)
    assert (power.output, power.within.loose) == ("peak_power", np.inf)


def test_range_is_sought_around_the_value_of_the_study(small):
    _, time = of(small, "system_mass", "fold_time")
    assert tuple(time.within) == pytest.approx((45.0, 720.0))


def test_range_that_is_given_is_taken(small):
    _, time, power = of(
        small, "system_mass", "fold_time", "peak_power",
        fold_time=("80 s", "2 min"), peak_power=("0.9 kW", "1.1 kW"),
    )  # fmt: skip
    assert tuple(time.within) == pytest.approx((80.0, 120.0))
    assert tuple(power.within) == pytest.approx((900.0, 1100.0))


def test_life_is_better_where_it_is_longer(small):
    _, life = of(small, "system_mass", "folds", folds=(500, 2000))
    assert life.sign == -1.0
    assert tuple(life.within) == (-2000.0, -500.0)


def test_energy_per_fold_is_that_of_a_sortie_over_its_folds(small):
    (energy, _) = of(small, "energy_per_fold", "fold_time")
    assert energy.output == "sortie_energy"
    assert energy.factor == pytest.approx(0.5)  # two folds between charges


@pytest.mark.parametrize(
    ("names", "ranges", "words"),
    [
        (("system_mass",), {}, "expected two or three different ones"),
        (("system_mass", "system_mass"), {}, "expected two or three different ones"),
        (("fold_time", "system_mass"), {}, "the first one is minimised, got fold_time"),
        (("system_mass", "fold_tim"), {}, "did you mean fold_time"),
        (("system_mass", "fold_time"), {"fold_time": ("90 s", "80 s")}, "the lower end first"),
        (("system_mass", "fold_time"), {"fold_time": ("90 kg", "99 kg")}, "ranges.fold_time"),
        (("system_mass", "fold_time"), {"return_time": ("9 s", "99 s")}, "no objective of"),
        (("system_mass", "fold_time"), {"system_mass": ("9 kg", "99 kg")}, "expected no range"),
        (("system_mass", "peak_power"), {"peak_power": (900.0, 999.0)}, "missing unit"),
        (("system_mass", "sortie_energy", "energy_per_fold"), {}, "are one thing"),
        (("system_mass", "envelope_height"), {}, "envelope_height"),
    ],
)  # fmt: skip
def test_wrong_options_are_told(small, names, ranges, words):
    with pytest.raises(StudyError) as raised:
        of(small, *names, **ranges)
    assert words in "\n".join(raised.value.problems)
    assert all("analysis.front" in one for one in raised.value.problems)


def test_too_few_points_are_told(small):
    with pytest.raises(StudyError, match="points: out of range, got 2, expected 3 to"):
        planned(small, points=2)
