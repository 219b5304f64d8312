"""Design variables of a study: bounds, what is frozen, which of them mean something."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.model.layout import DESIGN_SIZES, SET_NAMES, design_labels, join_design
from mdo.study.sections import Variable
from mdo.study.study import Study


def bounds_of(study: Study) -> tuple[Floats, Floats, Floats]:
    """Bounds and frozen values (NaN where free) of the design vector."""
    sides = variables_of(study)
    lower, upper, frozen = (
        join_design({name: [getattr(side, field) for side in each] for name, each in sides.items()})
        for field in ("lower", "upper", "value")
    )
    return lower, upper, np.asarray(frozen, dtype=float)


def variables_of(study: Study) -> dict[str, list[Variable]]:
    """Design variables of a study by name, those of the two sets side by side."""
    design = {name: getattr(study.design, name) for name in DESIGN_SIZES}
    return {
        name: [variable] if DESIGN_SIZES[name] == 1 else [variable.up, variable.down]
        for name, variable in design.items()
    }


def active_variables(parameters: Mapping[str, Any]) -> Booleans:
    """Variables that mean something with the discrete choices made."""
    choices = parameters["choices"]
    present = dict(zip(SET_NAMES, np.asarray(choices.set_present) > 0.5, strict=True))
    sprung = int(choices.configuration) == 1
    geared = int(choices.topology) == 2
    alone = {"spring_moment": sprung, "spring_rate": sprung, "gear_ratio": geared}
    names = (label.partition(".") for label in design_labels())
    return np.array([alone.get(name, present.get(side, True)) for name, _, side in names])
