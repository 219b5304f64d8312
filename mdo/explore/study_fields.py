"""Where axes and choices of an exploration stand in its study, to be written back as its lines.

A field follows its axis linearly between the two ends, or by a power where the knob says so.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

import pandas as pd

from mdo.explore.exploration import Choice
from mdo.optimise.axes import Axis
from mdo.optimise.knobs import Move, left_open
from mdo.quantities import quantity_of
from mdo.study.study import Study
from mdo.study.units import example_unit, in_unit, split_quantity
from mdo.study.variation import given


def fields_table(study: Study, axes: Sequence[Axis]) -> pd.DataFrame:
    """Fields that follow each axis: unit as the study writes it, values at both ends in it."""
    rows = []
    for axis in axes:
        for move in axis.knob.moves:
            si, unit = _units(study, axis, move)
            ends = [
                end if math.isnan(axis.knob.value) else move.field(end, axis.knob.value)
                for end in (axis.low, axis.high)
            ]
            low, high = (in_unit(end, si, unit) for end in ends)
            rows.append((axis.name, move.path, unit, low, high, move.power is not None))
    return pd.DataFrame(rows, columns=["axis", "field", "unit", "low", "high", "power"])


def _units(study: Study, axis: Axis, move: Move) -> tuple[str, str]:
    """SI unit of a field, and the one that the study writes it in."""
    found = {one.path: one for one in study.inputs}.get(move.path) or left_open(move.path)
    if found is None:  # of the alloy card
        return axis.unit, axis.unit
    written = given(study.content, move.path)
    unit = split_quantity(written)[1] if isinstance(written, str) else ""
    if unit or found.unit == "1":
        return found.unit, unit or "1"
    quantity = quantity_of(move.path.rpartition(".")[2])
    difference = quantity is not None and quantity.is_difference
    return found.unit, example_unit(found.unit, difference=difference)


def built_table(study: Study, choices: Sequence[Choice]) -> pd.DataFrame:
    """How each choice is built, by its words: for its drawing, and its lines of the study."""
    rows = []
    for choice in choices:
        own = study if choice.problem is None else choice.problem.study
        form = own.actuator.configuration, own.actuator.topology, own.actuator.gear_lanes or 1
        levels = str(own.fidelity._replace(verify={}))  # nothing verifies a point of a map
        rows.append((choice.words, *form, levels, _lines(study, own)))
    names = ["choice", "configuration", "topology", "gear_lanes", "levels", "lines"]
    return pd.DataFrame(rows, columns=names)


def _lines(study: Study, changed: Study) -> str:
    """Lines of ``[actuator]`` in which a choice differs from the study."""
    own, other = study.content["actuator"], changed.content["actuator"]
    lines = [
        f"{name} = {json.dumps(value)}"
        for name, value in other.items()
        if value not in (own.get(name), getattr(study.actuator, name, None))
    ]
    lines += [f"# leave out: {name}" for name in own if name not in other]
    return "\n".join(lines)
