"""How far a design is from what physics allows.

A design that meets its requirements cannot pass such a limit: where one does, the model is at
fault, and the line says so. Bounds of :mod:`mdo.disciplines.tube.bounds`; reference sma-tubes,
section 7.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.optimise.appraisal import Appraisal

ROUND_OFF = 1e-9
LEDGER_LIMIT = 1e-9  # of the energy of a stroke
MEASURED_EFFICIENCY = 0.06  # torsion tests of NiTi gave 1 to 6 %: reference section 7
FULL = 0.999  # heated fraction from which a stroke counts as full
# Limits whose crossing is a fault of the model even in a design that fails its requirements.
ENERGY = "Energy of a stroke against the least"
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


class Strokes(NamedTuple):
    """Legs that heat moves, of one wing; all of shape (strokes,) but ``active_mass`` (2,).

    leg, its name in quotes, side (0 up, 1 down), work against the resisting moment and peak moment
    x travel [J], heat that the alloy must take and heat that the heaters give [J], time [s].
    """

    leg: NDArray[np.intp]
    name: list[str]
    side: NDArray[np.intp]
    work: Floats
    box: Floats
    least_heat: Floats
    heat: Floats
    time: Floats
    active_mass: Floats


def heated_strokes(facts: Facts) -> Strokes:
    """Collect the strokes of one wing that a heated set drives."""
    values, leg = facts.v, np.flatnonzero(facts.driven)
    side = np.where(facts.up[leg], 0, 1)
    return Strokes(
        leg=leg,
        name=[f"'{facts.leg_names[number]}'" for number in leg],
        side=side,
        work=values["stroke_work"][leg],
        box=values["stroke_box"][leg],
        least_heat=values["stroke_least_heat"][leg],
        heat=values["heat_energy"][leg, side],
        time=values["heat_time"][leg, side],
        active_mass=values["active_mass"],
    )


def evaluate_limits(appraisal: Appraisal) -> tuple[LimitLine, ...]:
    """Lines of every physical limit of a design; empty but for the ledger where nothing moves."""
    facts = Facts(appraisal)
    strokes = heated_strokes(facts)
    limits = (
        _least_mass, _work_density, _least_energy, _least_time, _gross_efficiency, _net_efficiency,
        _temperature_span,
    )  # fmt: skip
    lines = [limit(facts, strokes) for limit in limits] if strokes.leg.size else []
    return tuple(_judged(facts, line) for line in (*lines, _ledger(facts)) if line is not None)


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


def _least_mass(facts: Facts, strokes: Strokes) -> LimitLine:
    """Least alloy of the aircraft by work against the alloy in the design [kg].

    Peak moment x travel of every leg (a tube of fixed ratio is sized at the peak) over what the
    life allows, unfactored as the life is; or, with the torque margin, over what the strength
    allows. Friction of the gears, sharing, ends that do not twist and the radial field of stress
    are in it; the work against a cold set is not.
    """
    total, filled = (
        float(facts.v["alloy_mass"]),
        strokes.work / np.where(strokes.box > 0.0, strokes.box, 1.0),
    )
    by_life, by_strength = facts.v["least_alloy_by_life"], facts.v["least_alloy_by_strength"]
    needed = facts.wings * np.maximum(by_life, by_strength)[strokes.leg]
    drivers = [
        own[needed[own].argmax()]
        for own in (np.flatnonzero(strokes.side == side) for side in (0, 1))
        if own.size
    ]  # the stroke of each set that needs most
    least = float(needed[drivers].sum())
    ideal = float((needed * np.where(filled > 0.0, filled, 1.0))[drivers].sum())
    names = " and ".join(strokes.name[driver] for driver in drivers)
    return LimitLine(
        "Alloy mass against the least by work", total, least, "kg", least / total,
        f"aircraft; set by {names}; {ideal:.2f} kg with an ideal variable ratio",
    )  # fmt: skip


def _worst(
    strokes: Strokes, name: str, value: Floats, limit: Floats, unit: str, used: Floats, said: str
) -> LimitLine:
    """Line of the stroke that uses most of a limit; ``{}`` in what is said is its name."""
    at = int(used.argmax())
    text = said.format(strokes.name[at])
    return LimitLine(name, float(value[at]), float(limit[at]), unit, float(used[at]), text)


def _work_density(facts: Facts, strokes: Strokes) -> LimitLine:
    """Work of a stroke per mass of active alloy against the ceiling of the card [J/kg]."""
    work = facts.v["actuator_work"][strokes.leg]
    density = work / np.maximum(strokes.active_mass[strokes.side], ROUND_OFF)
    ceiling = np.full_like(density, facts.v["work_ceiling"])
    return _worst(
        strokes, "Work per stroke and mass of active alloy against its ceiling", density, ceiling,
        "J/kg", density / ceiling, "{}; ceiling at the allowable stress",
    )  # fmt: skip


def _least_energy(_: Facts, strokes: Strokes) -> LimitLine:
    """Heat of a stroke of one wing against what its alloy alone must take [J]."""
    share = strokes.least_heat / strokes.heat
    said = "one wing, {}; the rest heats heaters, ends, bay"
    return _worst(strokes, ENERGY, strokes.heat, strokes.least_heat, "J", share, said)


def _least_time(facts: Facts, strokes: Strokes) -> LimitLine:
    """Time to heat against that of the alloy alone at all of the power granted [s]."""
    least = facts.v["stroke_least_time"][strokes.leg]
    name = "Time to heat against the least at the power granted"
    said = f"{{}}; {facts.supply.power_available:.0f} W for both wings"
    return _worst(strokes, name, strokes.time, least, "s", least / strokes.time, said)


def _gross_efficiency(facts: Facts, strokes: Strokes) -> LimitLine:
    """Work of the heating stroke over its heat against the Clausius-Clapeyron limit [1]."""
    efficiency = np.maximum(facts.v["actuator_work"][strokes.leg], 0.0) / strokes.heat
    limit = facts.v["gross_efficiency_limit"][strokes.leg]
    share = efficiency / np.maximum(limit, 1e-12)
    high = bool(efficiency[share.argmax()] > MEASURED_EFFICIENCY)
    return _worst(
        strokes, "Gross efficiency of a stroke against the Clausius-Clapeyron limit", efficiency,
        limit, "1", share, "{}" + "; above what torsion tests have shown (1 to 6 %)" * high,
    )  # fmt: skip


def _net_efficiency(facts: Facts, strokes: Strokes) -> LimitLine | None:
    """Net work of fold and return over their heat against Carnot [1]; None without a return."""
    legs = facts.appraisal.problem.assembled.legs
    heat = np.zeros(len(legs))
    heat[strokes.leg] = strokes.heat
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


def _temperature_span(facts: Facts, _: Strokes) -> LimitLine | None:
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
