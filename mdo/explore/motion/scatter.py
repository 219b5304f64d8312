"""The same fold over the scatter of units: how each figure is spread."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from mdo.explore.motion.commands import Command
from mdo.explore.motion.metrics import stage_figures
from mdo.explore.motion.wing import Wing
from mdo.model.motion import MotionModel
from mdo.model.motion_run import Lane

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
SHOWN = (
    "arrival_time", "settling_time", "overshoot", "steady_error", "hold_power_mean", "energy",
    "tube_temperature_peak", "heater_temperature_peak",
)  # fmt: skip
QUANTILES = (0.0, 0.05, 0.5, 0.95, 1.0)


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


def run_scatter(wing: Wing, command: Command, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Figures of every unit and stage, and their quantiles over the units."""
    units = drawn_units(wing.plan.scatter, seed)
    models = [unit_of(wing.model, unit) for unit in units.to_dict("records")]
    controller = wing.controller()
    lanes = [
        Lane(model.plant, controller, 1.0 + float(voltage))
        for model, voltage in zip(models, units["voltage"], strict=True)
    ]
    seen = wing.run(lanes, command.course, models).seen
    rows = []
    for place, unit in enumerate(units.to_dict("records")):
        for stage in command.stages:
            figures = stage_figures(
                stage, seen["time"][place], seen["fold_angle"][place],
                seen["heater_power"][place].sum(axis=-1),
                seen["tube_temperature"][place].max(axis=-1),
                seen["heater_temperature"][place].max(axis=-1),
            )  # fmt: skip
            rows.append({"unit": place, "stage": stage.name, **unit, **figures})
    units_table = pd.DataFrame(rows)
    spread = [
        {"stage": stage, "quantity": name, "missing": float(part[name].isna().mean()),
         **{f"quantile_{round(100 * q)}": float(part[name].quantile(q)) for q in QUANTILES}}
        for stage, part in units_table.groupby("stage", sort=False)
        for name in SHOWN
    ]  # fmt: skip
    return units_table, pd.DataFrame(spread)
