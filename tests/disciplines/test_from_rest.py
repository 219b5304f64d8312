"""Time of a leg from rest by hand: the definitions of the design page, case by case."""

from types import SimpleNamespace

import jax.numpy as jnp
import numpy as np
import pytest

from mdo.disciplines.heat.from_rest import from_rest

# [s]; the set that pushes up drives and takes 300 to heat, the other one 200; they cool in 700, 900
HEAT, COOL = jnp.array([[300.0, 200.0]]), jnp.array([[700.0, 900.0]])
PAIR, ONE_SET = 2.0, 0.0
UNDER_DRIVE, COOLED_FIRST = 0.0, 1.0


def from_rest_time(*, pair=PAIR, mode=UNDER_DRIVE, returns=0.0, warmed=0.0, cold=0.0, left=0.0):
    leg = SimpleNamespace(
        other_warmed=jnp.array([warmed]), other_cold=jnp.array([cold]),
        is_return=jnp.array([returns]),
    )  # fmt: skip
    choices = SimpleNamespace(configuration=pair, return_mode=mode)
    return from_rest(
        heat_time=HEAT, cool_time=COOL, pushes_up=jnp.ones(1), returned_by_load=jnp.array([left]),
        legs=leg, choices=choices,
    ).from_rest_time  # fmt: skip


@pytest.mark.parametrize(
    ("leg", "seconds"),
    [
        # a fold after rest: long cold, only the driver heats
        ({"cold": 1.0}, 300.0),
        # warmed first for 200, then the set that cools governs
        ({"warmed": 1.0}, 200.0 + 900.0),
        # a return soon after: both at once, or cooled and then wound
        ({"returns": 1.0}, 900.0),
        ({"returns": 1.0, "mode": COOLED_FIRST}, 300.0 + 900.0),
        # a return after a long hold: the other set is long cold, nothing has to cool
        ({"returns": 1.0, "cold": 1.0}, 300.0),
        ({"returns": 1.0, "cold": 1.0, "mode": COOLED_FIRST}, 300.0),
        ({"returns": 1.0, "warmed": 1.0, "mode": COOLED_FIRST}, 200.0 + 300.0 + 900.0),
        # the mode is one of returns alone
        ({"warmed": 1.0, "mode": COOLED_FIRST}, 200.0 + 900.0),
        # one set has no other that could be warm
        ({"pair": ONE_SET, "warmed": 1.0}, 300.0),
        ({"pair": ONE_SET, "returns": 1.0, "left": 1.0}, 900.0),
    ],
)
def test_time_from_rest_by_hand(leg, seconds):
    np.testing.assert_allclose(from_rest_time(**leg), [seconds])
