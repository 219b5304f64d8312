"""What the motion says, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from mdo.explore.exploration import Exploration
from mdo.report.words.cells import BESIDE
from mdo.report.words.printed import number

OVERSHOOT = math.radians(3.0)  # beyond which the page says why
NOT_SHOWN = "Nothing of this has been shown on a real bench."


def motion_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences of a motion."""
    tables = exploration.tables
    facts = dict(zip(tables["motion_facts"]["fact"], tables["motion_facts"]["value"], strict=True))
    if not facts["feasible"]:
        yield "The design is not feasible; it is moved as it came out."
    yield f"Design: {exploration.facts}."
    for row in tables["motion_stages"].to_dict("records"):
        yield _stage(row)
        yield from _why_past(row, tables["motion_branches"])
    loops = tables["motion_loops"]
    if len(loops):
        yield (
            f"Gains by the rule: temperature loop {facts['temperature_time']:.3g} s, position loop "
            f"{facts['position_time']:.3g} s. Least margins {facts['gain_margin']:.3g} dB and "
            f"{facts['phase_margin']:.3g} deg over {len(loops)} states on both branches and "
            f"between them; {facts['loop_states_short']:.0f} of them keep less than 6 dB or 30 deg."
        )
    if facts["loop_states_short"]:
        short = loops.query("gain_margin < 6 or phase_margin < 30")["angle"].map(math.degrees)
        yield (
            f"They lie between {short.min():.0f} and {short.max():.0f} deg. There the load falls "
            "faster with the angle than what the tubes give, so the wing runs ahead with hardly "
            "any heat: no gain holds it. A brake does, with a damper at the hinge where it springs "
            "on, or a second set."
        )
    yield from _beside(tables["motion_sizing"])
    if "motion_faults" in tables:
        faults = tables["motion_faults"]
        count, failed = len(faults), faults[faults["verdict"] == "fail"]
        names = "; ".join(f"{row.fault} ({row.reason})" for row in failed.itertuples())
        lacking = f"; not: {names}" if names else ""
        yield f"Faults: {count - len(failed)} of {count} pass{lacking}."
    if "motion_spread" in tables:
        yield from _spread(tables["motion_spread"])
    yield (
        f"Energy ledger closes to {facts['ledger_residual']:.1e} of "
        f"{facts['energy_given'] / 1e3:.4g} kJ given. {NOT_SHOWN}"
    )


def _seconds(value: float) -> str:
    return "not within its time" if math.isnan(value) else f"{value:.4g} s"


def _stage(row: dict[Any, Any]) -> str:
    degrees = {name: math.degrees(row[name]) for name in ("overshoot", "steady_error", "ripple")}
    stalls = "; it stalls on the way" if row["stalled"] else ""
    return (
        f"Command {row['stage']}: arrives {_seconds(row['arrival_time'])}, settled "
        f"{_seconds(row['settling_time'])}, overshoot {degrees['overshoot']:.2g} deg, steady error "
        f"{degrees['steady_error']:+.2g} deg; holds with {row['hold_power_mean']:.3g} W, "
        f"{row['energy'] / 1e3:.3g} kJ, tubes to {row['tube_temperature_peak'] - 273.15:.0f} degC, "
        f"heaters to {row['heater_temperature_peak'] - 273.15:.0f} degC{stalls}."
    )


def _why_past(row: dict[Any, Any], branches: pd.DataFrame) -> Iterator[str]:
    """Why a wing goes past its command: the branch of the set that drives there leans back."""
    rises = row["stage_to"] > row["stage_from"]
    start = f"kelvin_heating.{'up' if rises else 'down'}"
    name = next((column for column in branches if column.startswith(start)), None)
    if row["overshoot"] <= OVERSHOOT or name is None:
        return
    way = branches if rises else branches.iloc[::-1]
    low, high = sorted((row["stage_from"], row["stage_to"]))
    way = way[way["fold_angle"].between(low, high)]
    hottest = way.loc[way[name].idxmax()]
    fall = float(hottest[name] - way[name].iloc[-1])
    if fall > 0.0:
        yield (
            f"It goes {math.degrees(row['overshoot']):.2g} deg past: from "
            f"{math.degrees(hottest['fold_angle']):.0f} deg on the load falls faster with the "
            f"angle than what the tubes give, and {fall:.1f} K colder tubes stand at the end. The "
            "wing runs ahead with what its tubes and heaters hold by then, whatever the margins of "
            "the states that it rests in. A brake stops it, or a second set."
        )


def _beside(table: pd.DataFrame) -> Iterator[str]:
    for row in table.to_dict("records"):
        why = f": {row['reason']}" if row["reason"] else ""
        moved, sized = (number(row[name], row["unit"]) for name in ("moved", "sized"))
        yield (
            f"At the corner of sizing, {BESIDE[row['quantity']]}: {moved} against {sized}, ratio "
            f"{row['ratio']:.3f}{why}."
        )


def _spread(table: pd.DataFrame) -> Iterator[str]:
    for stage, part in table.groupby("stage", sort=False):
        rows = part.set_index("quantity")
        time, error = rows.loc["settling_time"], rows.loc["steady_error"]
        over = np.degrees(rows.loc["overshoot", "quantile_95"])
        yield (
            f"Over the units, {stage}: settled {time.quantile_5:.4g} to {time.quantile_95:.4g} s "
            f"(5 to 95 %; {100 * time.missing:.3g} % not within the time), overshoot up to "
            f"{over:.2g} deg, steady error {np.degrees(error.quantile_5):+.2g} to "
            f"{np.degrees(error.quantile_95):+.2g} deg."
        )
