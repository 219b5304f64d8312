"""How one unit differs from the next: drawn ones, and those at the corners of the scatter."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from mdo.model.motion import MotionModel

# Two standard deviations of what differs from unit to unit, as a share but for the first [K]: all
# judged; transformation temperatures within a bar: reference of the trade, judgement.
SPREAD = {
    "transformation_shift": 5.0,
    "wall": 0.05,
    "gap_conductance": 0.30,
    "film": 0.20,
    "voltage": 0.04,
    "friction": 0.30,
}
IN_LOOPS = ("transformation_shift", "wall", "gap_conductance", "film")  # what a loop feels


def drawn_units(count: int, seed: int) -> pd.DataFrame:
    """Draws of units: normal, two standard deviations as in the table, cut off at three."""
    rng = np.random.default_rng(seed)
    drawn = np.clip(rng.standard_normal((count, len(SPREAD))), -3.0, 3.0) / 2.0
    return pd.DataFrame(drawn * np.array(list(SPREAD.values())), columns=list(SPREAD))


def unit_of(model: MotionModel, unit: Any) -> MotionModel:
    """Model of one unit that differs from the nominal one."""
    plant, wall = model.plant, 1.0 + unit["wall"]
    return model._replace(
        plant=plant._replace(
            transformation_shift=np.asarray(plant.transformation_shift)
            + unit["transformation_shift"],
            torque_per_stress=np.asarray(plant.torque_per_stress * wall),
            cell_capacity=np.asarray(plant.cell_capacity) * wall,
            cell_latent=np.asarray(plant.cell_latent) * wall,
            gap_factor=np.asarray(1.0 + unit["gap_conductance"]),
            film_factor=np.asarray(1.0 + unit["film"]),
            friction_factor=np.asarray(plant.friction_factor * (1.0 + unit["friction"])),
        )
    )


def corners_of(model: MotionModel) -> dict[str, MotionModel]:
    """Nominal model, and those of the units at two standard deviations of what a loop feels."""
    found = {"nominal": model}
    for signs in product((1.0, -1.0), repeat=len(IN_LOOPS)):
        unit = dict.fromkeys(SPREAD, 0.0) | {
            name: sign * SPREAD[name] for name, sign in zip(IN_LOOPS, signs, strict=True)
        }
        name = ", ".join(
            f"{part.replace('_', ' ')} {'+' if sign > 0.0 else '-'}"
            for part, sign in zip(IN_LOOPS, signs, strict=True)
        )
        found[name] = unit_of(model, unit)
    return found
