"""What one failure does to a design, as far as the low fidelity can say.

One tube, one heater, one sensor, the bus lost, a jam, one side slower than the other. Lines without
a limit in the study are reported, not judged; none of them replaces a safety assessment.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.disciplines import tube
from mdo.disciplines.atmosphere import STANDARD_GRAVITY
from mdo.explore.appraisal import Appraisal
from mdo.explore.optimum import FEASIBLE
from mdo.explore.requirement_lines import REPORTED, REQUIRED, Facts, margin_line
from mdo.model.layout import SET_NAMES

Floats = NDArray[np.float64]
ROUND_OFF = 1e-9


class FailureLine(NamedTuple):
    """One failure and what was evaluated for it.

    ``value`` and ``limit`` in ``unit`` (SI; NaN where there is none); ``margin`` positive where it
    holds; ``holds`` is ``yes``, ``no``, or empty where nothing is required; ``note`` says what must
    be shown elsewhere.
    """

    failure: str
    evaluated: str
    where: str
    value: float
    limit: float
    unit: str
    margin: float
    holds: str
    standing: str
    note: str


def failure_states(appraisal: Appraisal) -> tuple[FailureLine, ...]:
    """Every failure state that this fidelity can evaluate, one line or more each."""
    facts = Facts(appraisal)
    return (
        *_one_tube(facts),
        *_stuck_on(facts),
        *_bus_lost(facts),
        *_jam(facts),
        *_asymmetry(facts),
    )


def failures_table(lines: tuple[FailureLine, ...]) -> pd.DataFrame:
    """Failure states as a table; see :class:`FailureLine`."""
    return pd.DataFrame(lines, columns=list(FailureLine._fields))


def _line(
    failure: str,
    evaluated: str,
    where: str,
    value: float,
    limit: float,
    unit: str,
    *,
    at_least: bool,
    required: bool,
    note: str,
) -> FailureLine:
    margin = value - limit if at_least else limit - value
    judged = bool(np.isfinite(margin))
    slack = FEASIBLE * (1.0 + abs(limit)) if judged else 0.0
    holds = ("yes" if margin >= -slack else "no") if judged else ""
    standing = REQUIRED if required else REPORTED
    return FailureLine(failure, evaluated, where, value, limit, unit, margin, holds, standing, note)


def _one_tube(facts: Facts) -> Iterator[FailureLine]:
    """One tube cold and dragging; a heater that opens leaves its tube in the same state."""
    heated = np.flatnonzero(facts.v["heated"] > 0.5)
    if not heated.size:
        return
    words = "Torque margin with one tube failed"
    lines = [margin_line(facts, "torque_margin_failed", words, int(leg)) for leg in heated]
    required = float(facts.choices.tubes_failed) > 0.5
    resisting = [one for one in lines if not np.isnan(one.value)]
    if not resisting:
        return
    worst = min(resisting, key=lambda one: one.value)
    where = f"{worst.leg}, {np.degrees(worst.fold_angle):.0f} deg"
    text = "least torque margin at limit load, the cold tube dragging"
    asked = "" if required else "no tube is required to fail (requirements.tubes_failed = 0); "
    yield _line(
        "one tube", text, where, worst.value, 0.0, "1", at_least=True, required=required,
        note=f"{asked}a tube that breaks drags less than one that stays cold",
    )  # fmt: skip
    yield _line(
        "one heater open", text, where, worst.value, 0.0, "1", at_least=True, required=required,
        note=f"{asked}its tube stays cold; the others have heaters of their own and keep their "
        "fold time",
    )  # fmt: skip


def _stuck_on(facts: Facts) -> Iterator[FailureLine]:
    """A heater that stays on, and a sensor that reads low: the temperature runs away."""
    present = np.asarray(facts.choices.set_present) > 0.5
    moved = np.flatnonzero((facts.v["heated"] > 0.5) & (np.asarray(facts.legs.moves) > 0.5))
    if not moved.size or not present.any():
        return
    reached = np.where(present, facts.v["stuck_on_temperature"][moved], -np.inf)
    leg, side = np.unravel_index(int(reached.argmax()), reached.shape)
    limit = float(facts.alloy.temperature_max)
    where = f"{facts.leg_names[int(moved[leg])]}, {SET_NAMES[int(side)]} set"
    earliest = earliest_runaway(facts, int(side))
    text = "temperature that the tube runs to at high line, against the alloy's limit"
    seconds = f"at the earliest {earliest:.0f} s after the hot temperature"
    hot = float(reached[leg, side])
    cut = "an independent cut-off must act before" if hot > limit else "stays below it without one"
    yield _line(
        "one heater stuck on", text, where, hot, limit, "K", at_least=False, required=False,
        note=f"{cut}: {seconds}" if hot > limit else cut,
    )  # fmt: skip
    yield _line(
        "one sensor", text, where, hot, limit, "K", at_least=False, required=False,
        note="a sensor that reads low runs its channel away as a stuck heater does, unless a "
        "second one or an independent cut-off stops it; one that reads high leaves its tube cold",
    )  # fmt: skip


def earliest_runaway(facts: Facts, side: int) -> float:
    """Least time from the hot temperature to the alloy's limit with a heater stuck on [s].

    All of the heater's power at high line into the alloy of the active tubes alone: loss, heater
    and fittings left out, so that no real tube is faster.

    Parameters
    ----------
    facts : of the design
    side : set, 0 up, 1 down
    """
    section = tube.section(facts.d["tube_outer_radius"], facts.d["wall_ratio"])
    count = float(facts.d["tube_count"][side])
    mass = float(section.area) * float(facts.d["tube_length"]) * float(facts.alloy.density) * count
    rise = max(float(facts.alloy.temperature_max) - float(facts.d["hot_temperature"]), 0.0)
    high = float(facts.supply.high_voltage_ratio) ** 2
    if float(facts.supply.regulated) > 0.5:
        high = 1.0
    power = float(facts.d["heater_power"][side]) * high * (1.0 + facts.tolerance_high)
    return mass * float(facts.alloy.specific_heat) * rise / max(power, ROUND_OFF)


def _bus_lost(facts: Facts) -> Iterator[FailureLine]:
    """No heat: lock at the ends, cold set and brake between them; how long the hot set pushes."""
    locked = np.asarray(facts.statics.locked) > 0.5
    held = np.where(locked, facts.v["static_held_moment"], -np.inf)
    if locked.any():
        worst = int(held.argmax())
        yield _line(
            "bus lost", "moment that the lock holds without power, at limit load",
            facts.static_names[worst], float(held[worst]),
            float(facts.v["lock_moment"].max() / facts.statics.safety_factor[worst]), "N*m",
            at_least=False, required=True,
            note="one wing; the lock is sized at ultimate load for every locked case",
        )  # fmt: skip
    # where the load itself drives the return, the cooling tubes let it go: nothing runs away
    own = (np.asarray(facts.legs.moves) > 0.5) & (facts.v["returned_by_load"] < 0.5)
    moves = np.flatnonzero(own)
    over = facts.v["overrun_moment"][moves]
    assisting = max(0.0, -float(over.min(initial=0.0)) * float(facts.wanted.overrun_factor))
    if assisting > 0.0:
        place = np.unravel_index(int(over.argmin()), over.shape)
        leg, angle = int(moves[place[0]]), int(place[1])
        brake = float(facts.choices.brake) > 0.5
        holding = max(float(facts.v["holding_moment"][leg, angle]), 0.0)
        yield _line(
            "bus lost", "moment that holds the panel on the way against the factored load",
            f"{facts.leg_names[leg]}, {np.degrees(facts.fold_angle[leg, angle]):.0f} deg",
            assisting if brake else holding, assisting, "N*m", at_least=True, required=True,
            note="one wing; the brake is sized for it and must engage without power"
            if brake else "one wing; cold set and spring alone, no brake",
        )  # fmt: skip
    returning = np.flatnonzero(np.asarray(facts.legs.is_return) > 0.5)
    if returning.size:
        slowest = float(facts.of_cooled("cool_time")[returning].max())
        yield _line(
            "bus lost", "time that the hot set goes on pushing, at most", "hottest bay", slowest,
            np.nan, "s", at_least=False, required=False,
            note="until its last tube is below Mf'; the panel may move on that way meanwhile",
        )  # fmt: skip


def _jam(facts: Facts) -> Iterator[FailureLine]:
    """The hinge is stuck and the heat stays on."""
    section = tube.section(facts.d["tube_outer_radius"], facts.d["wall_ratio"])
    stall = float(facts.v["stall_stress"])
    outer = float(tube.outer_stress(stall, section))
    yield _line(
        "jam with heat on", "outer-fibre stress of the blocked tubes, fully recovering",
        "hot temperature", outer, float(facts.alloy.allowable_shear_stress), "Pa",
        at_least=False, required=False,
        note="gears, fittings, lock and hinge must carry the stall moment or a torque limiter must",
    )  # fmt: skip
    counts = facts.d["tube_count"] * np.asarray(facts.choices.set_present)
    lever = float(facts.d["gear_ratio"]) * float(facts.v["transmission_efficiency"])
    moment = float(counts.max()) * float(tube.torque(stall, section)) * lever
    rated = np.where(facts.v["heated"] > 0.5, facts.v["required_moment"].max(axis=1), 0.0)
    yield _line(
        "jam with heat on", "moment of the larger set that the jammed parts see at the hinge",
        "one wing", moment, np.nan, "N*m", at_least=False, required=False,
        note=f"{moment / max(float(rated.max()), ROUND_OFF):.1f} times the largest required; stop "
        "heating on a motion that does not start",
    )  # fmt: skip


def _asymmetry(facts: Facts) -> Iterator[FailureLine]:
    """One side lags by the tolerance of its heaters, or stays behind altogether."""
    moves = (np.asarray(facts.legs.moves) > 0.5) & (facts.v["heated"] > 0.5)
    legs = np.flatnonzero(moves)
    if not legs.size:
        return
    lag = heater_lag(facts)
    travel = np.abs(facts.fold_angle[:, -1] - facts.fold_angle[:, 0])
    apart = travel * np.minimum(lag / np.maximum(facts.v["motion_time"], 1.0), 1.0)
    worst = int(legs[apart[legs].argmax()])
    yield _line(
        "asymmetry", "largest difference of fold angle between the sides while moving",
        facts.leg_names[worst], float(apart[worst]), np.nan, "rad", at_least=False, required=False,
        note=f"strongest against weakest heaters, {lag[worst]:.0f} s apart at the same line "
        "voltage and bay; synchronise by closed loop",
    )  # fmt: skip
    air = np.flatnonzero(moves & (np.asarray(facts.legs.airborne) > 0.5))
    if not air.size:
        return
    roll = rolling_moment(facts)
    worst = int(air[roll[air].argmax()])
    yield _line(
        "asymmetry", "rolling moment with one panel at the start and the other at the end",
        facts.leg_names[worst], float(roll[worst]), np.nan, "N*m", at_least=False, required=False,
        note="difference of the panels' lift at the symmetric trim; the inner wing and sideslip "
        "are not in it: compare with the roll control that is left",
    )  # fmt: skip


def heater_lag(facts: Facts) -> Floats:
    """Time by which the weakest heaters lag behind the strongest in each leg [s], (legs,).

    Same line voltage and bay on both sides; the heating time goes with the inverse of the power
    left after half of the loss at the hot temperature.
    """
    slow = facts.of_driver("heat_time")
    power = np.maximum(facts.of_driver("heater_power"), ROUND_OFF)
    cold = facts.v["bay_cold_temperature"]
    loss = 0.5 * facts.of_driver("loss_conductance_hot") * (facts.d["hot_temperature"] - cold)
    line = (
        1.0 if float(facts.supply.regulated) > 0.5 else float(facts.supply.low_voltage_ratio) ** 2
    )
    weak = np.maximum(line * power * (1.0 - facts.tolerance_low) - loss, ROUND_OFF)
    strong = np.maximum(line * power * (1.0 + facts.tolerance_high) - loss, ROUND_OFF)
    return np.asarray((slow - float(facts.wanted.dead_time)) * (1.0 - weak / strong))


def rolling_moment(facts: Facts) -> Floats:
    """Rolling moment of the panels, one at each end of a leg [N*m], (legs,).

    Each panel's force is normal to it: its moment about the roll axis is the force times the fold
    station's distance along the panel's normal, plus the hinge moment.
    """
    share = np.asarray(facts.legs.load_factor) * np.asarray(facts.legs.mass_fraction)
    lift = STANDARD_GRAVITY * float(facts.v["closed_vehicle_mass"]) * share
    station = float(facts.planform.fold_station)
    force, arm = facts.v["lift_normal_fraction"], facts.v["lift_moment_arm"]
    moment = lift[:, None] * (force * station * np.cos(facts.fold_angle) + arm)
    return np.asarray(np.abs(moment[:, -1] - moment[:, 0]))
