"""Ends on a kink: what two starts agree on counts, what they do not agree on stays open."""

import numpy as np

from mdo.optimise.many.optima import settled
from mdo.optimise.many.solution import Optima


def ends(status=("not settled",) * 5, **columns):
    words = {"status": status, "reason": ["open"] * 5, "blocks": ["Fold time"] * 5}
    none = dict.fromkeys(Optima._fields, np.zeros(5))
    given = {name: np.array(values, dtype=object) for name, values in words.items()}
    return Optima(**none | given | {name: np.array(values) for name, values in columns.items()})


def test_two_starts_settle_an_optimum_or_a_least_violation():
    old = ends(objective=[1.0, 1.0, 1.0, 1.0, 1.0], violation=[0.0, 0.0, 0.03, 0.03, 0.0])
    new = ends(objective=[1.0 + 1e-8, 1.01, 1.2, 1.2, 1.0], violation=[0.0, 0.0, 0.0301, 0.05, 0.0])
    new = settled(new, old, np.array([True, True, True, True, False]))
    assert new.status.tolist() == [
        "feasible", "not settled", "infeasible", "not settled", "not settled",
    ]  # fmt: skip
    assert new.reason.tolist() == ["", "open", "Fold time", "open", "open"]


def test_an_end_that_is_settled_stays_as_it_is():
    old = ends(objective=[1.0] * 5, violation=[0.0] * 5)
    status = ["feasible", "infeasible", "feasible", "infeasible", "feasible"]
    new = ends(status, objective=[1.0] * 5, violation=[0.0] * 5)
    new = settled(new, old, np.ones(5, dtype=bool))
    assert new.status.tolist()[:2] == ["feasible", "infeasible"]
    assert new.reason.tolist() == ["open"] * 5
