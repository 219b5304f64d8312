"""The same fold over the scatter of units: how each figure is spread."""

from __future__ import annotations

import pandas as pd

from mdo.explore.motion.commands import Command
from mdo.explore.motion.metrics import lane_figures
from mdo.explore.motion.units import drawn_units, unit_of
from mdo.explore.motion.wing import Wing
from mdo.model.motion_run import Lane

SHOWN = (
    "arrival_time", "settling_time", "overshoot", "steady_error", "hold_power_mean", "energy",
    "tube_temperature_peak", "heater_temperature_peak",
)  # fmt: skip
QUANTILES = (0.0, 0.05, 0.5, 0.95, 1.0)


def run_scatter(wing: Wing, command: Command, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Figures of every unit and stage, and their quantiles over the units."""
    units = drawn_units(wing.plan.scatter, seed)
    models = [unit_of(wing.moving, unit) for unit in units.to_dict("records")]
    controller = wing.controller()
    lanes = [
        Lane(model.plant, controller, 1.0 + float(voltage))
        for model, voltage in zip(models, units["voltage"], strict=True)
    ]
    seen = wing.run(lanes, command.course, models).seen
    rows = []
    for place, unit in enumerate(units.to_dict("records")):
        for stage in command.stages:
            figures = lane_figures(stage, seen, place)
            rows.append({"unit": place, "stage": stage.name, **unit, **figures})
    units_table = pd.DataFrame(rows)
    spread = [
        {"stage": stage, "quantity": name, "missing": float(part[name].isna().mean()),
         **{f"quantile_{round(100 * q)}": float(part[name].quantile(q)) for q in QUANTILES}}
        for stage, part in units_table.groupby("stage", sort=False)
        for name in SHOWN
    ]  # fmt: skip
    return units_table, pd.DataFrame(spread)
