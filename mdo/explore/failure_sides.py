"""Left against right: sides that move with different speed, and one panel up while one is down."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.explore.appraisal import Appraisal
from mdo.explore.requirement_lines import Facts

Floats = NDArray[np.float64]


def _heat_time(appraisal: Appraisal, **records: Any) -> Floats:
    """Heating time of the driver of each leg with records of the parameters replaced [s]."""
    problem = appraisal.problem
    theta = problem.chain.pack({**problem.assembled.parameters, **records}).vector
    values = problem.chain.values(appraisal.x, theta, problem.chain.prelude(theta))
    pair = np.asarray(values["heat_time"])
    return np.where(appraisal.values["pushes_up"] > 0.5, pair[:, 0], pair[:, 1])


def heater_lag(appraisal: Appraisal) -> Floats:
    """Time by which the weakest heaters lag behind the strongest in each leg [s], (legs,).

    Same line voltage (the lowest) and same bay (the coldest) on both sides; the model's own heat
    balance with the one and with the other tolerance.
    """
    assumed = appraisal.problem.assembled.parameters["thermal_assumptions"]
    strong = assumed._replace(heater_tolerance_low=-np.asarray(assumed.heater_tolerance_high))
    return _heat_time(appraisal) - _heat_time(appraisal, thermal_assumptions=strong)


def widest_lag(appraisal: Appraisal) -> Floats:
    """As :func:`heater_lag`, the slow side in the cold bay at low line, the fast one not [s].

    The fast side has strong heaters, high line and the hot bay; both get the command together.
    """
    given, values = appraisal.problem.assembled.parameters, appraisal.values
    assumed, supply = given["thermal_assumptions"], given["supply"]
    hot = values["bay_hot_temperature"]
    fast = _heat_time(
        appraisal,
        thermal_assumptions=assumed._replace(
            heater_tolerance_low=-np.asarray(assumed.heater_tolerance_high)
        ),
        supply=supply._replace(low_voltage_ratio=supply.high_voltage_ratio),
        legs=given["legs"]._replace(bay_prescribed=np.ones_like(hot), bay_cold=hot, bay_hot=hot),
    )
    return _heat_time(appraisal) - fast


def angle_apart(facts: Facts, lag: Floats) -> Floats:
    """Largest difference of fold angle between sides that start a lag apart [rad], (legs,).

    Both move evenly over the motion time of the model, the shortest that it knows.
    """
    travel = np.abs(facts.fold_angle[:, -1] - facts.fold_angle[:, 0])
    share = np.minimum(lag / np.maximum(facts.v["motion_time"], 1.0), 1.0)
    return np.asarray(travel * share)


def rolling_moment(facts: Facts) -> Floats:
    """Rolling moment of the panels, one at each end of a leg [N*m], (legs,).

    A panel's force F is normal to it, at a distance s from the hinge: its moment about the roll
    axis is ``F (y_f cos(phi) + s)``, the second term its hinge moment, y_f the fold station.
    """
    share = np.asarray(facts.legs.load_factor) * np.asarray(facts.legs.mass_fraction)
    lift = STANDARD_GRAVITY * float(facts.v["closed_vehicle_mass"]) * share
    station = float(facts.planform.fold_station)
    force, arm = facts.v["lift_normal_fraction"], facts.v["lift_moment_arm"]
    moment = lift[:, None] * (force * station * np.cos(facts.fold_angle) + arm)
    return np.asarray(np.abs(moment[:, -1] - moment[:, 0]))
