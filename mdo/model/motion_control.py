"""Controller of a wing as it moves: what it knows of the model, and gains by a stated rule."""

from __future__ import annotations

from functools import cache, partial
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.motion.control import LOSS_SHARE
from mdo.disciplines.motion.controller import Controller
from mdo.disciplines.motion.margins import (
    Linear,
    LoopNumbers,
    frequencies,
    is_stable,
    linear_step,
    margins,
    position_loop,
    responses,
    temperature_loop,
    unstable_poles,
)
from mdo.disciplines.motion.records import Drive, MotionPlant, MotionState
from mdo.disciplines.motion.step import EXCESS_STEP, HUNDRED, MIDDLE, advance
from mdo.model.kept import kept
from mdo.model.motion import MotionModel, start_of

GAIN_MARGIN, PHASE_MARGIN = 8.0, 40.0  # [dB], [deg] of the rule: over the 6 dB, 30 deg asked
TIMES = np.geomspace(3.0, 60.0, 13)  # [s] among which the rule looks for the temperature loop
COURSE_STEP, COURSE_STEPS = 0.4, 1500  # [s] and number, of the course that states are taken from
PLACES = 6  # states on either branch and between them
GAP_SHARE = 0.75  # of the gap's conductance that the controller reckons with: what a heater holds
# beyond its tube comes later, and an overshoot is dear
LEAST_HEAT = 0.1  # of the latent heat of a degree: least that the controller reckons with


class Settings(NamedTuple):
    """Settings of a controller that are chosen, not found: SI units.

    sample, sensor_lag, cut_off_lag [s]; angle_noise, angle_step, dead_band, switch_band,
    lock_band [rad]; kelvin_noise, kelvin_step, caution [K]; cut_off [K]; the rest 1 or 0.
    """

    sample: float = 0.2
    sensor_lag: float = 1.0
    angle_noise: float = 0.0
    angle_step: float = 0.0
    kelvin_noise: float = 0.0
    kelvin_step: float = 0.0
    caution: float = 5.0
    anti_windup: float = 1.0
    dead_band: float = np.radians(0.02)
    switch_band: float = np.radians(0.3)
    cut_off: float = 900.0
    cut_off_lag: float = 0.5
    locks: float = 0.0
    brakes: float = 0.0
    lock_low: float = -np.inf
    lock_high: float = np.inf
    lock_band: float = np.radians(0.2)


def heat_of_turning(model: MotionModel) -> tuple[Floats, Floats, Floats]:
    """Heat that turns the wing, of one tube of each group over the angles [J/rad], (K, A).

    On the heating branch, on the cooling one, and the latent part of both. Slower than its lag the
    heater follows its tube: its heat counts.
    """
    plant, branches = model.plant, model.branches
    latent = np.sum(plant.cell_latent)
    capacity = np.sum(plant.cell_capacity) + float(plant.heater_capacity)
    side = np.asarray(plant.side)[:, None]
    turned = -side * latent * np.gradient(branches.fraction, branches.angle, axis=1)
    least = LEAST_HEAT * np.median(turned, axis=1, keepdims=True)
    most = 4.0 * np.max(turned, axis=1, keepdims=True)
    turned = np.maximum(turned, 0.0)
    heating, cooling = (
        np.clip(turned + capacity * side * np.gradient(of, branches.angle, axis=1), least, most)
        for of in (branches.heating, branches.cooling)
    )
    return heating, cooling, turned


def make_controller(
    model: MotionModel, settings: Settings, times: tuple[float, float], kelvin_max: float
) -> Controller:
    """Controller of a wing.

    Parameters
    ----------
    model : the wing, nominal
    settings : what is chosen
    times : of the temperature and the position loop [s], by the rule of :func:`rule_times`
    kelvin_max : hottest that the controller lets a tube be [K]
    """
    plant, branches = model.plant, model.branches
    groups = len(np.asarray(plant.side))
    warm = (model.hot_temperature - MIDDLE) / HUNDRED
    gap = np.polynomial.polynomial.polyval(warm, np.asarray(plant.gap))
    places = EXCESS_STEP * np.arange(np.asarray(plant.loss).shape[-1])
    within = (places > 20.0) & (places < 1.2 * (model.hot_temperature - float(plant.loss_bay)))
    heating, cooling, latent = heat_of_turning(model)
    step = branches.angle[1] - branches.angle[0]
    between = step * (latent[:, 1:] + latent[:, :-1]) / 2.0
    taken = np.pad(np.cumsum(between, axis=1), ((0, 0), (1, 0)))
    slope, value = np.polyfit(places[within], np.asarray(plant.loss)[0][within], 1)
    none, one = np.zeros(groups), np.ones(groups)
    given: dict[str, Any] = settings._asdict()
    given.pop("sample")
    return Controller(
        table_angle=branches.angle[0],
        table_step=step,
        kelvin_heating=branches.heating,
        kelvin_cooling=branches.cooling,
        heat_up=heating,
        heat_down=cooling,
        heat_taken=np.asarray(plant.side)[:, None] * taken,
        capacity=np.sum(plant.cell_capacity),
        heater_capacity=plant.heater_capacity,
        heater_conductance=GAP_SHARE / (1.0 / gap + float(plant.half_inner)),
        loss=np.array([value, slope]),
        bay=plant.outside_temperature,
        temperature_time=times[0],
        position_time=times[1],
        kelvin_max=kelvin_max,
        angle_bias=0.0,
        angle_gain=1.0,
        kelvin_bias=none,
        kelvin_gain=one,
        cut_off_present=1.0,
        **given,
    )


class LoopState(NamedTuple):
    """One state that the loops were made linear about, and their margins [dB], [deg].

    branch: ``heating``, ``cooling`` or ``between``, where the angle does not follow.
    """

    corner: str
    branch: str
    angle: float
    kelvin: float
    gain_margin: float
    phase_margin: float


class Rule(NamedTuple):
    """Times of the temperature and the position loop [s], and the margins they leave everywhere."""

    times: tuple[float, float]
    states: tuple[LoopState, ...]


@cache
def _course() -> Any:
    """Compiled: heat at full power to the end, then off; linear steps on the way."""

    def states(plant: Any, start: Any, power: Any, group: Any) -> Any:
        plant, step = MotionPlant(*plant), jnp.asarray(COURSE_STEP)
        none = jnp.zeros(())

        def one(state: MotionState, watts: Any) -> Any:
            drive = Drive(watts * group, none, none, none)
            after, _, _ = advance(state, drive, plant, step)
            return after, after

        return tuple(jax.lax.scan(one, MotionState(*start), power)[1])

    return kept(states, "motion course of states")


@cache
def _linear() -> Any:
    def steps(group: int, plant: Any, states: Any, power: Any, step: Any) -> Any:
        none = jnp.zeros(())

        def one(state: Any, watts: Any) -> Any:
            drive = Drive(watts, none, none, none)
            return tuple(linear_step(MotionState(*state), drive, MotionPlant(*plant), step, group))

        return jax.vmap(one)(states, power)

    return {group: kept(partial(steps, group), f"motion linear {group}") for group in (0, 1)}


def _states(model: MotionModel, group: int) -> tuple[Any, list[str]]:
    """States on the heating branch, the cooling one and between them, of the driving group."""
    plant = model.plant
    side = float(np.asarray(plant.side)[group])
    begin = float(plant.stop_low if side > 0 else plant.stop_high)
    span = float(plant.stop_high - plant.stop_low)
    start = start_of(
        model, begin + side * 0.05 * span, float(np.asarray(plant.outside_temperature))
    )
    chosen = (np.arange(len(np.asarray(plant.side))) == group) * 1.0
    tube = float(np.asarray(plant.heater_power)[group])
    whole = tube * np.ones(COURSE_STEPS)
    course = _course()(tuple(plant), tuple(start), whole, chosen)
    hot = np.asarray(course[1])[:, group].min(axis=-1)
    end = int(np.argmax(hot > model.hot_temperature)) or COURSE_STEPS // 2
    whole[end:] = 0.0
    course = [np.asarray(part) for part in _course()(tuple(plant), tuple(start), whole, chosen)]
    angle, rate = course[6], course[7] * side
    fast = 1e-4 * span
    stages = {
        "heating": np.flatnonzero(rate[:end] > fast),
        "cooling": end + np.flatnonzero(rate[end:] < -fast / 20.0),
        "between": end + np.flatnonzero(np.abs(rate[end:]) < 1e-12),
    }
    places, names = list[int](), list[str]()
    for name, found in stages.items():
        if len(found):
            # even in angle: where the wing runs it is there for a few steps only
            of = course[1][found, group, -1] if name == "between" else angle[found]
            wanted = np.linspace(of[0], of[-1], PLACES + 2)[1:-1]
            places += [int(found[np.argmin(np.abs(of - at))]) for at in wanted]
            names += [name] * PLACES
    return tuple(part[np.asarray(places)] for part in course), names


def _numbers(controller: Controller, group: int, point: _Point, sample: float) -> LoopNumbers:
    places = np.asarray(controller.table_angle) + controller.table_step * np.arange(
        np.asarray(controller.heat_up).shape[-1]
    )
    table = controller.heat_down if point.branch == "cooling" else controller.heat_up
    taken = np.abs(np.gradient(np.asarray(controller.heat_taken)[group], controller.table_step))
    kelvin = point.kelvin
    loss, bay = np.asarray(controller.loss), float(np.asarray(controller.bay))
    return LoopNumbers(
        heat=float(np.interp(point.angle, places, np.asarray(table)[group])),
        latent=float(np.interp(point.angle, places, taken)),
        capacity=float(np.asarray(controller.capacity)),
        heater_capacity=float(np.asarray(controller.heater_capacity)),
        heater_conductance=float(np.asarray(controller.heater_conductance)),
        loss_slope=LOSS_SHARE * float(loss[0] + 2.0 * loss[1] * max(kelvin - bay, 0.0)),
        temperature_time=float(controller.temperature_time),
        position_time=float(controller.position_time),
        sensor_lag=float(controller.sensor_lag),
        sample=sample,
    )  # fmt: skip


class _Point(NamedTuple):
    """A state: corner, branch, angle [rad], temperature [K], responses, unstable poles."""

    corner: str
    branch: str
    angle: float
    kelvin: float
    turned: Floats
    warmed: Floats
    runs: int


def _linear_states(corner: str, model: MotionModel, group: int, sample: float) -> list[_Point]:
    """Responses of the plant at its states."""
    states, names = _states(model, group)
    side = float(np.asarray(model.plant.side)[group])
    drive = np.zeros((len(names), len(np.asarray(model.plant.side))))
    tube = float(np.asarray(model.plant.heater_power)[group])
    drive[:, group] = [tube if name == "heating" else 0.0 for name in names]
    matrices = _linear()[group](tuple(model.plant), states, drive, np.asarray(sample))
    omega = frequencies(sample)
    found = []
    for place, name in enumerate(names):
        linear = Linear(*(np.asarray(part)[place] for part in matrices))
        angle, kelvin = responses(linear, omega, sample)
        at, warm = float(states[6][place]), float(states[1][place][group, -1])
        runs = unstable_poles(linear, sample)
        found.append(_Point(corner, name, at, warm, side * angle, kelvin, runs))
    return found


def _lag(model: MotionModel) -> float:
    """Lag of the heater on its tube [s]."""
    heater = make_controller(model, Settings(), (1.0, 1.0), model.hot_temperature)
    gap = float(heater.heater_conductance) / GAP_SHARE * float(np.asarray(model.plant.gap_factor))
    return float(heater.heater_capacity) / gap


def rule_times(
    corners: dict[str, MotionModel], settings: Settings, kelvin_max: float, group: int = 0
) -> Rule:
    """Times of both loops by the rule, and the margins they leave.

    The rule: the shortest time for which as many states as can on both branches, and between them,
    at every corner, keep 8 dB and 40 deg; of 3 s and more, and of the position loop no shorter than
    the longest lag of the heater, whose heat is reckoned and not measured. Where the load falls
    faster with the angle than the tubes, the wing runs away by itself, and no time may serve.

    Parameters
    ----------
    corners : the wing at each corner of the scatter, the nominal one first, by name
    settings : what is chosen
    kelvin_max : hottest that a tube may be [K]
    group : number of the driving group
    """
    nominal = next(iter(corners.values()))
    omega = frequencies(settings.sample)
    points = [
        point for name, model in corners.items()
        for point in _linear_states(name, model, group, settings.sample)
    ]  # fmt: skip

    def of(time: float, here: list[_Point]) -> list[tuple[float, float]]:
        controller = make_controller(nominal, settings, (time, time), kelvin_max)
        found = []
        for point in here:
            numbers = _numbers(controller, group, point, settings.sample)
            loop = (
                temperature_loop(point.warmed, omega, numbers)
                if point.branch == "between"
                else position_loop(point.turned, point.warmed, omega, numbers)
            )
            stable = is_stable(loop, point.runs)
            found.append(margins(omega, loop) if stable else (0.0, 0.0))
        return found

    lag = max(_lag(model) for model in corners.values())
    chosen, states = list[float](), list[LoopState]()
    for between in (True, False):
        here = [point for point in points if (point.branch == "between") is between]
        best, most, margins_of = 0.0, -1, list[tuple[float, float]]()
        for time in TIMES if between else lag / TIMES[0] * TIMES:
            given = of(float(time), here)
            serves = sum(gain >= GAIN_MARGIN and phase >= PHASE_MARGIN for gain, phase in given)
            if serves > most:  # the shortest of those that serve most states
                best, most, margins_of = float(time), serves, given
            if serves == len(here):
                break
        chosen.append(best)
        states += [
            LoopState(*point[:4], *found) for point, found in zip(here, margins_of, strict=True)
        ]
    return Rule((chosen[0], chosen[1]), tuple(states))
