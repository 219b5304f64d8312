"""How far a design is from what physics allows, and the window of alloys that its cases demand.

A design that meets its requirements cannot pass such a limit: where one does, the model is at
fault, and the line says so. Bounds of :mod:`mdo.disciplines.tube.bounds`; reference sma-tubes,
section 7.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.defend.alloy_window import WindowLine, transformation_window
from mdo.disciplines.records import WINGS

if TYPE_CHECKING:
    from mdo.optimise.appraisal import Appraisal

__all__ = ["LimitLine", "WindowLine", "evaluate_limits", "transformation_window"]

Floats = NDArray[np.float64]
ROUND_OFF = 1e-9
LEDGER_LIMIT = 1e-9  # of the energy of a stroke
MEASURED_EFFICIENCY = 0.06  # torsion tests of NiTi gave 1 to 6 %: reference section 7
FULL = 0.999  # heated fraction from which a stroke counts as full


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
    """Legs that heat moves, of one wing; all arrays of shape (strokes,) but ``active_mass`` (2,).

    leg, side (0 up, 1 down), work against the resisting moment and peak moment x travel [J], heat
    that the alloy must take and heat that the heaters give [J], time [s], cold bay [K].
    """

    leg: NDArray[np.intp]
    side: NDArray[np.intp]
    work: Floats
    box: Floats
    least_heat: Floats
    heat: Floats
    time: Floats
    cold: Floats
    active_mass: Floats


def heated_strokes(appraisal: Appraisal) -> Strokes:
    """Collect the strokes of one wing that a heated set drives."""
    values = appraisal.values
    moves = np.asarray(appraisal.problem.assembled.parameters["legs"].moves) > 0.5
    leg = np.flatnonzero((values["heated"] > 0.5) & moves)
    side = np.where(values["pushes_up"][leg] > 0.5, 0, 1)
    return Strokes(
        leg=leg,
        side=side,
        work=values["stroke_work"][leg],
        box=values["stroke_box"][leg],
        least_heat=values["stroke_least_heat"][leg],
        heat=values["heat_energy"][leg, side],
        time=values["heat_time"][leg, side],
        cold=values["bay_cold_temperature"][leg],
        active_mass=values["active_mass"],
    )


def evaluate_limits(appraisal: Appraisal) -> tuple[LimitLine, ...]:
    """Lines of every physical limit of a design; empty but for the ledger where nothing moves."""
    strokes = heated_strokes(appraisal)
    if not strokes.leg.size:
        return (ledger(appraisal),)
    lines = [
        least_mass(appraisal, strokes),
        work_density(appraisal, strokes),
        least_energy(appraisal, strokes),
        least_time(appraisal, strokes),
        gross_efficiency(appraisal, strokes),
        net_efficiency(appraisal, strokes),
        temperature_span(appraisal),
        ledger(appraisal),
    ]
    return tuple(line for line in lines if line is not None)


def least_mass(appraisal: Appraisal, strokes: Strokes) -> LimitLine:
    """Least alloy of the aircraft by work against the alloy in the design [kg].

    Peak moment x travel of every leg (a tube of fixed ratio is sized at the peak) over what the
    life allows, unfactored as the life is; or, with the torque margin, over what the strength
    allows. Friction of the gears, sharing, ends that do not twist and the radial field of stress
    are in it; the work against a cold set is not.
    """
    values = appraisal.values
    total = float(values["alloy_mass"])
    ratio = strokes.work / np.where(strokes.box > 0.0, strokes.box, 1.0)
    safe = np.where(ratio > 0.0, ratio, 1.0)
    by_life, by_strength = values["least_alloy_by_life"], values["least_alloy_by_strength"]
    needed = WINGS * np.maximum(by_life, by_strength)[strokes.leg]
    drivers = [_worst(strokes, needed, side) for side in (0, 1)]
    least = float(sum(needed[one] for one in drivers if one is not None))
    ideal = float(sum(needed[one] * safe[one] for one in drivers if one is not None))
    names = [_name(appraisal, strokes.leg[one]) for one in drivers if one is not None]
    return _line(
        appraisal,
        "Alloy mass against the least by work",
        value=total,
        limit=least,
        unit="kg",
        ratio=least / total,
        text=f"aircraft; set by {' and '.join(names)}; {ideal:.2f} kg with an ideal variable ratio",
    )


def work_density(appraisal: Appraisal, strokes: Strokes) -> LimitLine:
    """Work of a stroke per mass of active alloy against the ceiling of the card [J/kg]."""
    work = appraisal.values["actuator_work"][strokes.leg]
    density = work / np.maximum(strokes.active_mass[strokes.side], ROUND_OFF)
    worst = int(density.argmax())
    ceiling = float(appraisal.values["work_ceiling"])
    return _line(
        appraisal,
        "Work per stroke and mass of active alloy against its ceiling",
        value=float(density[worst]),
        limit=ceiling,
        unit="J/kg",
        ratio=float(density[worst]) / ceiling,
        text=f"{_name(appraisal, strokes.leg[worst])}; ceiling at the allowable stress",
    )


def least_energy(appraisal: Appraisal, strokes: Strokes) -> LimitLine:
    """Heat of a stroke of one wing against what its alloy alone must take [J]."""
    share = strokes.least_heat / strokes.heat
    worst = int(share.argmax())
    return _line(
        appraisal,
        "Energy of a stroke against the least",
        value=float(strokes.heat[worst]),
        limit=float(strokes.least_heat[worst]),
        unit="J",
        ratio=float(share[worst]),
        text=f"one wing, {_name(appraisal, strokes.leg[worst])}; the rest heats heaters, ends, bay",
        always=True,
    )


def least_time(appraisal: Appraisal, strokes: Strokes) -> LimitLine:
    """Time to heat against that of the alloy alone at all of the power granted [s]."""
    given = appraisal.problem.assembled.parameters
    least = appraisal.values["stroke_least_time"][strokes.leg]
    share = least / strokes.time
    worst = int(share.argmax())
    return _line(
        appraisal,
        "Time to heat against the least at the power granted",
        value=float(strokes.time[worst]),
        limit=float(least[worst]),
        unit="s",
        ratio=float(share[worst]),
        text=f"{_name(appraisal, strokes.leg[worst])}; "
        f"{given['supply'].power_available:.0f} W for both wings",
    )


def gross_efficiency(appraisal: Appraisal, strokes: Strokes) -> LimitLine:
    """Work of the heating stroke over its heat against the Clausius-Clapeyron limit [1]."""
    work = np.maximum(appraisal.values["actuator_work"][strokes.leg], 0.0)
    efficiency = work / strokes.heat
    limit = appraisal.values["gross_efficiency_limit"][strokes.leg]
    share = efficiency / np.maximum(limit, 1e-12)
    worst = int(share.argmax())
    high = "; above what torsion tests have shown (1 to 6 %)"
    return _line(
        appraisal,
        "Gross efficiency of a stroke against the Clausius-Clapeyron limit",
        value=float(efficiency[worst]),
        limit=float(limit[worst]),
        unit="1",
        ratio=float(share[worst]),
        text=_name(appraisal, strokes.leg[worst])
        + (high if efficiency[worst] > MEASURED_EFFICIENCY else ""),
    )


def net_efficiency(appraisal: Appraisal, strokes: Strokes) -> LimitLine | None:
    """Net work of fold and return over their heat against Carnot [1]; None without a return."""
    values, assembled = appraisal.values, appraisal.problem.assembled
    net = values["stroke_net_work"]
    heat = np.zeros(len(assembled.legs))
    heat[strokes.leg] = strokes.heat
    best: tuple[float, float, float, str] | None = None
    for number, leg in enumerate(assembled.legs[:-1]):
        if not leg.has_return or leg.is_return or heat[number : number + 2].sum() <= 0.0:
            continue
        both = slice(number, number + 2)
        efficiency = float(net[both].sum() / heat[both].sum())
        carnot = float(values["carnot_limit"][both].max())  # of the colder bay
        if best is None or efficiency / carnot > best[2]:
            best = (efficiency, carnot, efficiency / carnot, leg.case)
    if best is None:
        return None
    value, limit, share, case = best
    return _line(
        appraisal,
        "Net efficiency of fold and return against Carnot",
        value=value,
        limit=limit,
        unit="1",
        ratio=share,
        text=f"'{case}'; worst loads of both ways and friction count as work",
    )


def temperature_span(appraisal: Appraisal) -> LimitLine | None:
    """Hot temperature above the hottest bay of a return against the least for a full stroke [K]."""
    values, given = appraisal.values, appraisal.problem.assembled.parameters
    returns = [row.label.leg for row in appraisal.rows if row.label.group == "return_temperature"]
    if not returns:
        return None
    present = np.asarray(given["choices"].set_present) > 0.5
    least = values["least_temperature_span"][present].max()
    bays = values["bay_hot_temperature"][returns]
    worst = returns[int(bays.argmax())]
    span = float(appraisal.design["hot_temperature"] - bays.max())
    turned = float(values["heated_fraction"][present].min())
    partial = f"; the stroke is partial, {turned:.1%} turns" if turned < FULL else ""
    return _line(
        appraisal,
        "Temperature span against the least for a full stroke",
        value=span,
        limit=float(least),
        unit="K",
        ratio=float(least) / span if span > 0.0 else np.inf,
        text=_name(appraisal, worst) + partial,
        excused=bool(partial),
    )


def ledger(appraisal: Appraisal) -> LimitLine:
    """Largest residual of the energy ledger over strokes that complete [1]."""
    present = np.asarray(appraisal.problem.assembled.parameters["choices"].set_present) > 0.5
    completes = (appraisal.values["power_balance"] > 0.0) & present
    left = np.abs(appraisal.values["ledger_residual"])[completes]
    worst = float(left.max(initial=0.0))
    return _line(
        appraisal,
        "Ledger of energy: residual of a stroke over its energy",
        value=worst,
        limit=LEDGER_LIMIT,
        unit="1",
        ratio=worst / LEDGER_LIMIT,
        text=f"{left.size} strokes that complete",
        always=True,
    )


def _line(
    appraisal: Appraisal,
    name: str,
    *,
    value: float,
    limit: float,
    unit: str,
    ratio: float,
    text: str,
    always: bool = False,
    excused: bool = False,
) -> LimitLine:
    """Build a line; beyond its limit it is a fault unless the design does not do its work anyway.

    ``always``: a fault whatever the requirements; ``excused``: a limit that does not apply.
    """
    beyond = not ratio <= 1.0 + ROUND_OFF
    failed = bool(appraisal.violated) and not always
    fault = beyond and not excused and not failed
    if fault:
        text = f"FAULT OF THE MODEL: beyond a physical limit; {text}"
    elif beyond:
        text = f"beyond: the design does not do what it is asked; {text}" if failed else text
    return LimitLine(name, value, limit, unit, ratio, text, fault)


def _worst(strokes: Strokes, needed: Floats, side: int) -> int | None:
    """Position of the stroke of a set that needs most; None where the set drives nothing."""
    own = np.flatnonzero(strokes.side == side)
    return int(own[needed[own].argmax()]) if own.size else None


def _name(appraisal: Appraisal, leg: int) -> str:
    """Name of a leg in quotes."""
    return f"'{appraisal.problem.assembled.legs[leg].label}'"
