"""Left against right: sides that move with different speed, and one panel up while one is down."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.defend.tables.facts import Facts
from mdo.optimise.appraisal import Appraisal

SHORTEST = 1.0  # [s] of a motion


class Side(NamedTuple):
    """One side of the aircraft: when each leg is heated, and how long it moves [s], (legs,)."""

    ready: Floats
    motion: Floats

    def moved(self, time: Floats) -> Floats:
        """Share of the motion that is done at a time; even, and done when the tubes are hot."""
        left = (self.ready - time) / np.maximum(self.motion, SHORTEST)
        return np.asarray(np.clip(1.0 - left, 0.0, 1.0))


def side_at(appraisal: Appraisal, *, line: float, tolerance: float, bay: Floats) -> Side:
    """One side by the model's own heat balance, in conditions of its own.

    Parameters
    ----------
    appraisal : the design
    line : line voltage over the nominal one
    tolerance : of its heaters, relative power
    bay : temperature of its bay in each leg [K], (legs,)
    """
    problem = appraisal.problem
    given = problem.assembled.parameters
    records = {
        "thermal_assumptions": given["thermal_assumptions"]._replace(
            heater_tolerance_low=-tolerance, heater_tolerance_high=tolerance
        ),
        "supply": given["supply"]._replace(low_voltage_ratio=line, high_voltage_ratio=line),
        "legs": given["legs"]._replace(bay_prescribed=np.ones_like(bay), bay_cold=bay, bay_hot=bay),
    }
    theta = problem.chain.pack({**given, **records})
    values = problem.values_with(appraisal.x, theta)
    pair = values["heat_time"]
    ready = np.where(appraisal.values["pushes_up"] > 0.5, pair[:, 0], pair[:, 1])
    return Side(ready, values["motion_time"])


def same_conditions(appraisal: Appraisal) -> tuple[Side, Side]:
    """Fast and slow side at the lowest line in the coldest bay: only their heaters differ."""
    given = appraisal.problem.assembled.parameters
    assumed, line = given["thermal_assumptions"], float(given["supply"].low_voltage_ratio)
    cold = appraisal.values["bay_cold_temperature"]
    tolerances = float(assumed.heater_tolerance_high), -float(assumed.heater_tolerance_low)
    fast, slow = (side_at(appraisal, line=line, tolerance=share, bay=cold) for share in tolerances)
    return fast, slow


def widest_conditions(appraisal: Appraisal) -> tuple[Side, Side]:
    """Fast side: high line, hot bay, strong heaters; slow side: the ends opposite to these."""
    given, values = appraisal.problem.assembled.parameters, appraisal.values
    assumed, supply = given["thermal_assumptions"], given["supply"]
    fast = side_at(
        appraisal,
        line=float(supply.high_voltage_ratio),
        tolerance=float(assumed.heater_tolerance_high),
        bay=values["bay_hot_temperature"],
    )
    return fast, same_conditions(appraisal)[1]


def angle_apart(facts: Facts, fast: Side, slow: Side) -> Floats:
    """Largest difference of fold angle between two sides commanded together [rad], (legs,).

    It occurs when the slow side starts or when the fast one arrives.
    """
    travel = np.abs(facts.fold_angle[:, -1] - facts.fold_angle[:, 0])
    moments = (slow.ready - slow.motion, fast.ready)
    shares = [fast.moved(time) - slow.moved(time) for time in moments]
    return np.asarray(travel * np.maximum(*shares))
