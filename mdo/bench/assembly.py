"""A sized wing beside a log: which of its inputs are known within a range, and its replay."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from mdo.bench.coupon import ROOT3
from mdo.bench.log import Log
from mdo.bench.log_cells import Numbers, refused
from mdo.bench.replay import Parameter, Replay
from mdo.model.motion import MotionCase, motion_plant
from mdo.model.replayed import ALLOY, replay_function, replay_inputs
from mdo.optimise.appraisal import Appraisal
from mdo.quantities import QUANTITIES

LEVEL = "motion (walls incremental, heat in nodes)"
# Ranges of what stands in no card. Judgement: the film is what is not known of convection, friction
# that of dry hinges, the load that of a bench's own weights and arms.
FACTORS = {
    "film_factor": (0.6, 1.6, "loss of heat to the bay over the one predicted"),
    "friction_factor": (0.0, 3.0, "friction of the hinge over the one predicted"),
    "load_factor": (0.9, 1.1, "moment of the load over that of the study"),
}
# Zeros of sensors: half range, SI, and words; judgement (a hinge set by hand, thermocouples).
ZEROS = {
    "angle_zero": (np.radians(2.0), "rad", "zero of the sensor of the fold angle"),
    "temperature_zero": (3.0, "K", "error of all thermometers of the tubes"),
}
BAY_SPREAD = 10.0  # [K] of the air about the tubes, where a log does not hold it; judgement
BAY_LOGGED = 2.0  # [K] and where it does; judgement
GAP = "heater_gap"
SPARE, LESS = 1.2, 0.8  # of times, and of the power of the second cycle, in a demonstration
DEMONSTRATION = 2000  # samples
OUTER = 1.3  # stress of the outer fibre over the mean one; judgement
COLD = 1.0  # [K] below M_f, in which tubes are all martensite


def replay_of(appraisal: Appraisal, log: Log, case: str = "") -> Replay:
    """Replay of a sized wing under the heater power of a log.

    Parameters
    ----------
    appraisal : the design and its study
    log : begins at rest with cold tubes
    case : of the study that was run; the first that moves if empty

    Raises
    ------
    StudyError
        If the log lacks what a replay needs, or does not fit the design.
    """
    leg = _leg(appraisal, case)
    plant: Any = motion_plant(
        appraisal.problem.assembled.parameters, appraisal.design, appraisal.values, MotionCase(leg)
    )
    counts = np.asarray(plant.count)
    power = _power(log, appraisal, counts * np.asarray(plant.heater_power))
    tubes = _tubes(log, len(counts))
    limit = float(plant.alloy.martensite_finish) - COLD
    rest = _at_rest(power)
    start = _angle(log, plant, rest), _temperature(log, plant, limit, rest)
    parameters = tuple(_parameters(appraisal, plant, log))
    names = [one.name for one in parameters]
    own = [name for name in names if name not in ZEROS]  # the zeros come last
    function = replay_function(own)
    inputs, times = replay_inputs(plant, log.time, power, *start)

    def courses(values: Any, driven: Any, groups: Any) -> Mapping[str, Any]:
        found = function(values[: len(own)], driven)
        angle, kelvin = values[len(own) :]
        return found | {
            "measured_angle": found["measured_angle"] + angle,
            "tube_temperature": found["tube_temperature"][:, groups.astype(int)] + kelvin,
        }

    stress = OUTER * float(np.max(appraisal.design["operating_stress"]))

    def sound(values: Numbers) -> bool:
        pairs = zip(names, map(float, values), strict=True)
        own = {name: value for name, value in pairs if name in ALLOY}
        return _agrees(plant.alloy._replace(**own), stress)

    identity = f"replayed {' '.join(names)}"
    return Replay(log, parameters, courses, LEVEL, (inputs, tubes), times, identity, sound)


def _agrees(alloy: Any, stress: float) -> bool:
    """Whether martensite forms below where austenite does, without load and under a stress [Pa]."""
    if alloy.detwinning_start_stress >= alloy.detwinning_finish_stress:
        return False
    ends = ("start", "finish")
    for sigma in (0.0, ROOT3 * stress / alloy.slope_factor):
        cold, warm = (alloy.martensite_slope, alloy.austenite_slope)
        starts = [getattr(alloy, f"martensite_{end}") + sigma / cold for end in ends]
        heats = [getattr(alloy, f"austenite_{end}") + sigma / warm for end in ends]
        if not (starts[1] < starts[0] < heats[1] and starts[1] < heats[0] < heats[1]):
            return False
    return True


def demonstration(appraisal: Appraisal) -> Log:
    """Inputs of a log to be made: the heater on till the tubes are hot, off, and once more.

    It begins at rest. The second time the heater has less power. What would be measured is there,
    empty.
    """
    there = np.asarray(appraisal.known["choices"].set_present) > 0.0
    power = np.asarray(appraisal.design["heater_power"])[there]
    longest = SPARE * float(np.max(appraisal.values["heat_time"][0, there]))
    time = np.linspace(0.0, longest, 500)
    trial = replay_of(appraisal, _empty(appraisal, time, np.tile(power, (time.size, 1))))
    hot = trial.predict(trial.nominal)[-power.size :].max(axis=0)
    reached = hot >= float(appraisal.design["hot_temperature"])
    on = float(time[np.argmax(reached)]) if reached.any() else longest
    cycle = on + SPARE * float(np.max(appraisal.values["cool_time"][0, there]))
    rest = DEMONSTRATION // 20
    step = 2.0 * cycle / (DEMONSTRATION - 1 - rest)
    time = step * np.arange(float(DEMONSTRATION))
    since = time - step * rest
    second = since >= cycle
    heats = np.where(second, since - cycle < on / LESS, since < on) & (since > 0.0)
    watts = heats[:, None] * power * np.where(second, LESS, 1.0)[:, None]
    return _empty(appraisal, time, watts)


def _empty(appraisal: Appraisal, time: Numbers, power: Numbers) -> Log:
    """Log that holds its inputs alone, of a wing at rest in a cold bay."""
    leg = appraisal.problem.assembled.legs[0]
    channels = {
        "heater_power": power,
        "measured_angle": np.full(time.size, float(leg.state.fold_from or 0.0)),
        "torque": np.zeros(time.size),
        "tube_temperature": np.full(power.shape, appraisal.study.requirements.bay_cold),
    }
    return Log("made", "", time, channels, (), (), appraisal.study.name, leg.case)


def _leg(appraisal: Appraisal, case: str) -> int:
    """First leg of a case."""
    legs = appraisal.problem.assembled.legs
    known = list(dict.fromkeys(leg.case for leg in legs))
    if case and case not in known:
        raise refused(f"log.case: got {case!r}, expected one of {', '.join(known)}")
    return next(n for n, leg in enumerate(legs) if leg.case == (case or known[0]))


def _power(log: Log, appraisal: Appraisal, nominal: Numbers) -> Numbers:
    """Heater power of each group [W], (N, K)."""
    for name in ("heater_power", "heater_voltage"):
        if name not in log.channels:
            continue
        values = log.channels[name]
        if values.shape[1] != len(nominal):
            raise refused(
                f"log.{name}: got {values.shape[1]} columns, expected {len(nominal)}: one for "
                "each set of tubes that is heated by itself, the one that turns up first"
            )
        if name == "heater_power":
            return np.maximum(values, 0.0)
        return nominal * (values / appraisal.study.supply.nominal_voltage) ** 2
    raise refused(
        "log: no heater power, expected heater_power or heater_voltage (what drives a replay)"
    )


def _tubes(log: Log, groups: int) -> Any:
    """Group of each thermometer."""
    kelvin = log.channels.get("tube_temperature")
    count = groups if kelvin is None else kelvin.shape[1]
    if count % groups:
        raise refused(
            f"log.tube_temperature: got {count} columns, expected as many for each of the {groups} "
            "sets, the one that turns up first"
        )
    return np.repeat(np.arange(groups, dtype=float), count // groups)


def _at_rest(power: Numbers) -> slice:
    """Samples by which the wing is known at its start: those before any heat, one at least."""
    heated = np.append(np.any(power > 0.0, axis=1), True)
    return slice(0, max(int(np.argmax(heated)), 1))


def _start(measured: Numbers, rest: slice) -> float:
    """Median of what is measured at rest; its first sample where all of these are missing."""
    known = measured[np.isfinite(measured)]
    at_rest = measured[rest][np.isfinite(measured[rest])]
    return float(np.median(at_rest if at_rest.size else known[:1]))


def _angle(log: Log, plant: Any, rest: slice) -> float:
    """Angle at which the log begins [rad]."""
    for name in ("measured_angle", "commanded_angle"):
        if name in log.channels:
            start = _start(log.channels[name], rest)
            return float(np.clip(start, plant.stop_low, plant.stop_high))
    return float(np.asarray(plant.start_angle)[0])


def _temperature(log: Log, plant: Any, limit: float, rest: slice) -> float:
    """Temperature of the tubes when the log begins [K].

    Raises
    ------
    StudyError
        If they are not cold.
    """
    if "tube_temperature" not in log.channels:
        return float(plant.outside_temperature)
    start = _start(log.channels["tube_temperature"], rest)
    if start > limit:
        raise refused(
            f"{log.name}: tubes are at {start - 273.15:.0f} degC when the log begins, expected "
            f"cold ones below {limit - 273.15:.0f} degC (begin it before the heater is on)"
        )
    return start


def _parameters(appraisal: Appraisal, plant: Any, log: Log) -> Iterator[Parameter]:
    """Inputs of the replay that are known within a range."""
    card = appraisal.problem.assembled.card.fields
    for name in ALLOY:
        field = card.get(name)
        if field is None or field.low is None or field.high is None or field.low == field.high:
            continue
        known = QUANTITIES[name]
        value = float(getattr(plant.alloy, name))
        yield Parameter(name, value, field.low, field.high, known.unit, known.meaning)
    for name, (low, high, meaning) in FACTORS.items():
        yield Parameter(name, float(getattr(plant, name)), low, high, "1", meaning)
    gap = next(one for one in appraisal.study.inputs if one.path == f"assumptions.thermal.{GAP}")
    if gap.low and gap.high and isinstance(gap.value, float):
        low, high = gap.value / gap.high, gap.value / gap.low
        meaning = "conductance between heater and tube over the one predicted (a smaller gap)"
        yield Parameter("gap_factor", float(plant.gap_factor), low, high, "1", meaning)
    bay = log.channels.get("bay_temperature")
    spread = BAY_SPREAD if bay is None else BAY_LOGGED
    value = float(plant.outside_temperature if bay is None else np.mean(bay))
    meaning = "temperature of the air about the tubes"
    yield Parameter("outside_temperature", value, value - spread, value + spread, "K", meaning)
    for name, (half, unit, words) in ZEROS.items():
        yield Parameter(name, 0.0, -half, half, unit, words)
