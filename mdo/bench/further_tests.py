"""Tests that could follow a log: what each would tell on the fitted inputs."""

from __future__ import annotations

from typing import Any

import numpy as np

from mdo.bench.coupon import LEVELS, TITLES, TORQUE, coupon_ends
from mdo.bench.fit import Fit
from mdo.bench.log_cells import Numbers
from mdo.bench.replay import Replay
from mdo.model.coupon import constant_torque, isothermal_twist
from mdo.model.replayed import ALLOY

NOISE = 0.01  # of the span of what a test measures; judgement
STEP = 0.02  # of half a range, in which differences of a coupon are taken
HALF_LOAD = "the same heater power under half the load"
HALF_POWER = "half the heater power of the log, all along"
TWIST = "torque and twist of a tube at a constant temperature, cold and hot"


def further_tests(
    replay: Replay, fit: Fit, alloy: Any, wall_ratio: float, stress_max: float
) -> dict[str, Numbers]:
    """Derivatives of what each test measures, in its noise, by the fitted inputs in half ranges.

    Parameters
    ----------
    replay, fit : of the log
    alloy : card of the prediction
    wall_ratio : wall over outer radius of the tubes [1]
    stress_max : largest mean shear stress [Pa]

    Returns
    -------
    Derivatives (R, F) by the name of the test.
    """
    names = [one.parameter.name for one in fit.fitted]
    places = np.array([[one.name for one in replay.parameters].index(name) for name in names])
    driven, tubes = replay.inputs
    half = driven.plant._replace(load_steady=0.5 * driven.plant.load_steady)
    others = {
        HALF_LOAD: driven._replace(plant=half),
        HALF_POWER: driven._replace(power=0.5 * driven.power),
    }
    found = {}
    for title, inputs in others.items():
        slopes = replay.slopes(fit.values, inputs, tubes, of=places) * replay.spreads[places]
        found[title] = (slopes / replay.scale[:, None, None]).reshape(-1, len(places))
    found["the same log once more"] = fit.slopes / fit.widened
    shear = stress_max * np.arange(1, LEVELS + 1) / LEVELS
    ends = coupon_ends(alloy, stress_max)

    def coupons(card: Any) -> dict[str, Numbers]:
        hot = float(ends[1])
        kelvin = np.array([ends[0], hot])
        return {
            TITLES[TORQUE]: constant_torque(shear, ends, wall_ratio, card).strain,
            TWIST: isothermal_twist(kelvin, stress_max, hot, wall_ratio, card).strain,
        }

    middle = coupons(alloy)
    columns: dict[str, list[Numbers]] = {title: [] for title in middle}
    for name, spread in zip(names, replay.spreads[places], strict=True):
        step = STEP * spread if name in ALLOY else 0.0
        moved = coupons(alloy._replace(**{name: getattr(alloy, name) + step})) if step else middle
        for title, strain in middle.items():
            away = (moved[title] - strain) / STEP
            columns[title].append((away / (NOISE * np.ptp(strain))).ravel())
    return found | {title: np.stack(own, axis=1) for title, own in columns.items()}
