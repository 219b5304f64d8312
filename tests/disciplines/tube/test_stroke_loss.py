"""Strain that the life takes off the twist that is left: reference sma-tubes, section 3, law 4."""

import numpy as np
import pytest

from mdo.defend.verdict import open_items
from mdo.optimise.problem import problem_of


def test_stroke_falls_with_the_logarithm_of_the_folds_and_keeps_residual_strain(medium):
    # hand: stroke(N) = stroke_1 (1 - d log10 N), so a stroke D asks for D/(1 - d log10 N);
    # residual strain r N in tension is sqrt(3) r N in shear
    losing = problem_of(medium.study, {"stroke_loss": 0.02, "residual_strain_rate": 2e-7})
    strain = losing.values(medium.x, "tube_strain")["tube_strain"]
    parameters = medium.problem.assembled.parameters
    legs, angle = parameters["legs"], parameters["fold_angle"]
    up = medium.values["pushes_up"] > 0.5
    radius = medium.values["tube_strain"][0, 0] - medium.values["tube_strain"][0, -1]
    per_angle = radius / abs(angle[0, -1] - angle[0, 0])  # strain at r_w per fold angle
    for leg in np.flatnonzero(legs.moves > 0.5):
        folds = sum(
            legs.folds_per_life[each]
            for each in np.flatnonzero(legs.moves > 0.5)
            if up[each] == up[leg] and medium.values["heated"][each] > 0.5
        )
        share = 0.02 * np.log10(folds)
        stroke = per_angle * abs(angle[leg] - angle[leg, 0])
        lost = stroke / (1.0 - share) - stroke + 3**0.5 * 2e-7 * folds
        assert medium.values["tube_strain"][leg] - strain[leg] == pytest.approx(lost, rel=1e-9)
    assert folds > 100.0


def test_nothing_is_lost_where_the_card_is_blank_and_the_verdict_says_so(medium):
    card, alloy = medium.problem.assembled.card, medium.problem.assembled.parameters["alloy"]
    assert not {"stroke_loss", "residual_strain_rate"} & card.fields.keys()
    assert (alloy.stroke_loss, alloy.residual_strain_rate) == (0.0, 0.0)
    assert any("loss of stroke over the life is not known" in item for item in open_items(medium))
