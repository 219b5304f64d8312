"""Designs of the tests of the defence: one near an optimum, and one with values changed."""

import inspect
from dataclasses import replace

import numpy as np

from mdo.disciplines.tube.bounds import bounds
from mdo.disciplines.tube.levers import factored

# Near the optimum of deck_small, so that one start does.
START = {
    "tube_outer_radius": 0.0031655,
    "wall_ratio": 0.36818,
    "tube_length": 0.154806,
    "tube_count": [3.74908, 4.563746],
    "operating_stress": [1.1438e8, 1.2137e8],
    "gear_ratio": 0.509013,
    "pre_twist": [1.4703, 1.48327],
    "heater_power": [378.195, 460.247],
    "hot_temperature": 476.3245,
    "insulation_thickness": 0.000809,
    "spring_moment": 1.0,
    "spring_rate": 0.0,
}


def with_values(appraisal, **values):
    """Appraisal with values changed, and the bounds of its strokes that follow from them."""
    given = {**appraisal.problem.assembled.parameters, **appraisal.design}
    known = {**appraisal.values, **values}
    if "required_moment" in values:
        margin = np.asarray(given["legs"].torque_margin_required)[:, None]
        known["factored_moment"] = np.asarray(factored(known["required_moment"], margin))
    arguments = {name: (given | known)[name] for name in inspect.signature(bounds).parameters}
    found = {name: np.asarray(value) for name, value in bounds(**arguments)._asdict().items()}
    return replace(appraisal, values=known | found)
