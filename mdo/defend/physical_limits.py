"""How far a design is from what physics allows.

A design that meets its requirements cannot pass such a limit: where one does, the model is at
fault, and the line says so. Bounds of :mod:`mdo.disciplines.tube.bounds`; reference sma-tubes,
section 7.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.optimise.appraisal import Appraisal

ROUND_OFF = 1e-9
LEDGER_LIMIT = 1e-9  # of the energy of a stroke
MEASURED_EFFICIENCY = 0.06  # torsion tests of NiTi gave 1 to 6 %: reference section 7
FULL = 0.999  # heated fraction from which a stroke counts as full
# Limits whose crossing is a fault of the model even in a design that fails its requirements.
ENERGY = "Energy of a stroke against the least"
ENERGY_SAID = "one wing, {}; the rest heats heaters, ends, bay"
LEDGER = "Ledger of energy: residual of a stroke over its energy"
SPAN = "Temperature span against the least for a full stroke"


class LimitLine(NamedTuple):
    """One physical limit beside the design.

    value and limit in ``unit``; ``ratio`` is the share of the limit that is used: 1 at the limit,
    above 1 beyond it, whichever side the limit is on. ``fault`` marks a fault of the model.
    """

    name: str
    value: float
    limit: float
    unit: str
    ratio: float
    text: str
    fault: bool = False


def heated_strokes(facts: Facts) -> pd.DataFrame:
    """Legs of one wing that a heated set drives.

    Leg, its name in quotes, side (0 up, 1 down), work against the resisting moment and peak moment
    x travel [J], heat that the alloy must take and heat that the heaters give [J], time [s].
    """
    values, leg = facts.v, np.flatnonzero(facts.driven)
    side = np.where(facts.up[leg], 0, 1)
    return pd.DataFrame(
        {
            "leg": leg,
            "name": [f"'{facts.leg_names[number]}'" for number in leg],
            "side": side,
            "work": values["stroke_work"][leg],
            "box": values["stroke_box"][leg],
            "least_heat": values["stroke_least_heat"][leg],
            "heat": values["heat_energy"][leg, side],
            "time": values["heat_time"][leg, side],
        }
    )


def evaluate_limits(appraisal: Appraisal) -> tuple[LimitLine, ...]:
    """Lines of every physical limit of a design; empty but for the ledger where nothing moves."""
    facts = Facts(appraisal)
    strokes = heated_strokes(facts)
    lines = [_ledger(facts)]
    if len(strokes):
        found = (
            _least_mass(facts, strokes), *_by_stroke(facts, strokes),
            _net_efficiency(facts, strokes), _temperature_span(facts),
        )  # fmt: skip
        lines = [line for line in found if line is not None] + lines
    return tuple(_judged(facts, line) for line in lines)


def _judged(facts: Facts, line: LimitLine) -> LimitLine:
    """Line with its fault: beyond the limit, in a design that does the work it is asked for.

    A stroke that is not full needs no full span of temperature.
    """
    if line.ratio <= 1.0 + ROUND_OFF or (line.name == SPAN and _turned(facts) < FULL):
        return line
    if facts.appraisal.violated and line.name not in (ENERGY, LEDGER):
        return line._replace(text=f"beyond: the design does not do what it is asked; {line.text}")
    return line._replace(
        text=f"FAULT OF THE MODEL: beyond a physical limit; {line.text}", fault=True
    )


def _least_mass(facts: Facts, strokes: pd.DataFrame) -> LimitLine:
    """Least alloy of the aircraft by work against the alloy in the design [kg].

    Peak moment x travel of every leg (a tube of fixed ratio is sized at the peak) over what the
    life allows, unfactored as the life is; or, with the torque margin, over what the strength
    allows. Friction of the gears, sharing, ends that do not twist and the radial field of stress
    are in it; the work against a cold set is not.
    """
    by_life, by_strength = facts.v["least_alloy_by_life"], facts.v["least_alloy_by_strength"]
    filled = (strokes["work"] / strokes["box"].where(strokes["box"] > 0.0, 1.0)).to_numpy()
    needed = facts.wings * np.maximum(by_life, by_strength)[strokes["leg"]]
    all_needed = strokes.assign(needed=needed, ideal=needed * np.where(filled > 0.0, filled, 1.0))
    # the stroke of each set that needs most
    drivers = all_needed.loc[all_needed.groupby("side")["needed"].idxmax()]
    total, least = float(facts.v["alloy_mass"]), float(drivers["needed"].sum())
    return LimitLine(
        "Alloy mass against the least by work", total, least, "kg", least / total,
        f"aircraft; set by {' and '.join(drivers['name'])}; {drivers['ideal'].sum():.2f} kg with "
        "an ideal variable ratio",
    )  # fmt: skip


def _by_stroke(facts: Facts, strokes: pd.DataFrame) -> Iterator[LimitLine]:
    """Limits of a single stroke, each of the one that uses most of it.

    Work per mass of active alloy against the ceiling of the card [J/kg]; heat of one wing against
    what its alloy alone must take [J]; time to heat against that of the alloy alone at all of the
    power granted [s]; work of the heating over its heat against the Clausius-Clapeyron limit [1].
    """
    legs, heat = strokes["leg"], strokes["heat"].to_numpy()

    def line(
        name: str, unit: str, value: Floats, limit: Floats, used: Floats, said: str
    ) -> LimitLine:
        at = int(used.argmax())
        text = said.format(strokes["name"][at])
        return LimitLine(name, float(value[at]), float(limit[at]), unit, float(used[at]), text)

    work = facts.v["actuator_work"][legs]
    density = work / np.maximum(facts.v["active_mass"][strokes["side"]], ROUND_OFF)
    limit = np.full_like(density, facts.v["work_ceiling"])
    name = "Work per stroke and mass of active alloy against its ceiling"
    said = "{}; ceiling at the allowable stress"
    yield line(name, "J/kg", density, limit, density / limit, said)

    limit = strokes["least_heat"].to_numpy()
    yield line(ENERGY, "J", heat, limit, limit / heat, ENERGY_SAID)

    limit, time = facts.v["stroke_least_time"][legs], strokes["time"].to_numpy()
    said = f"{{}}; {facts.supply.power_available:.0f} W for both wings"
    name = "Time to heat against the least at the power granted"
    yield line(name, "s", time, limit, limit / time, said)

    efficiency, limit = np.maximum(work, 0.0) / heat, facts.v["gross_efficiency_limit"][legs]
    used = efficiency / np.maximum(limit, 1e-12)
    high = bool(efficiency[used.argmax()] > MEASURED_EFFICIENCY)
    said = "{}" + "; above what torsion tests have shown (1 to 6 %)" * high
    name = "Gross efficiency of a stroke against the Clausius-Clapeyron limit"
    yield line(name, "1", efficiency, limit, used, said)


def _net_efficiency(facts: Facts, strokes: pd.DataFrame) -> LimitLine | None:
    """Net work of fold and return over their heat against Carnot [1]; None without a return."""
    legs = facts.appraisal.problem.assembled.legs
    heat = np.zeros(len(legs))
    heat[strokes["leg"]] = strokes["heat"]
    lines = []
    for number, leg in enumerate(legs[:-1]):
        both = slice(number, number + 2)
        if leg.has_return and not leg.is_return and heat[both].sum() > 0.0:
            efficiency = float(facts.v["stroke_net_work"][both].sum() / heat[both].sum())
            carnot = float(facts.v["carnot_limit"][both].max())  # of the colder bay
            text = f"'{leg.case}'; worst loads of both ways and friction count as work"
            name = "Net efficiency of fold and return against Carnot"
            lines.append(LimitLine(name, efficiency, carnot, "1", efficiency / carnot, text))
    return max(lines, key=lambda line: line.ratio, default=None)


def _temperature_span(facts: Facts) -> LimitLine | None:
    """Hot temperature above the hottest bay of a return against the least for a full stroke [K]."""
    rows = facts.appraisal.rows
    returns = [row.label.leg for row in rows if row.label.group == "return_temperature"]
    if not returns:
        return None
    least = float(facts.v["least_temperature_span"][facts.present].max())
    bays = facts.v["bay_hot_temperature"][returns]
    span = float(facts.d["hot_temperature"] - bays.max())
    turned = _turned(facts)
    partial = (
        f"; the stroke is partial, {turned:.1%} turns at the operating stress"
        if turned < FULL
        else ""
    )
    return LimitLine(
        SPAN, span, least, "K",
        least / span if span > 0.0 else np.inf,
        f"'{facts.leg_names[returns[int(bays.argmax())]]}'{partial}",
    )  # fmt: skip


def _turned(facts: Facts) -> float:
    """Least share of the martensite that a set turns."""
    return float(facts.v["heated_fraction"][facts.present].min())


def _ledger(facts: Facts) -> LimitLine:
    """Largest residual of the energy ledger over strokes that complete [1]."""
    completes = (facts.v["power_balance"] > 0.0) & facts.present
    left = np.abs(facts.v["ledger_residual"])[completes]
    worst = float(left.max(initial=0.0))
    text = f"{left.size} strokes that complete"
    return LimitLine(LEDGER, worst, LEDGER_LIMIT, "1", worst / LEDGER_LIMIT, text)
