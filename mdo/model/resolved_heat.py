"""A design with its heat at the level `conduction`: the wall resolved, on values of the model."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.heat.conduction import conduction

LEVEL = "conduction"


def with_resolved_heat(
    parameters: Mapping[str, Any], design: Mapping[str, Any], values: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Outputs of the model, times and temperatures of the strokes as the resolved wall has them.

    What follows from the times elsewhere (inertia, hold power) stays that of the model.

    Parameters
    ----------
    parameters : of the study
    design, values : design, and the outputs of the model there
    """
    strokes = conduction({**parameters, **design, **values})._asdict()
    return {**values, **{name: np.asarray(strokes[name]) for name in strokes if name in values}}
