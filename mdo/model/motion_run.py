"""Courses of many wings at once, in blocks of steps: one compile for every length of a course."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from functools import cache
from threading import Lock
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.motion.control import at_rest
from mdo.disciplines.motion.controller import Asked, Controller, Loop
from mdo.disciplines.motion.mechanics import stored_energy
from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.motion.simulate import closed_loop, seen_of
from mdo.model.kept import kept
from mdo.model.motion import MotionModel

BLOCK, STRIDE = 500, 5  # steps of a block; steps between two records
WIDTHS = (4, 16, 64, 256, 1024)  # of lanes, filled up so that runs share compiled code
COMPILING = Lock()  # once, not by each core for itself
ON_A_CORE = 256  # lanes of one core; more of them fill its memory, not its time
COURSE = (
    "time", "fold_angle", "fold_rate", "torque", "load_moment", "tube_temperature",
    "heater_temperature", "heater_power", "martensite", "outer_stress", "bay_temperature",
    "held", "tripped", "residual",
)  # fmt: skip


class Course(NamedTuple):
    """What is asked over time, N steps: step [s]; angle [rad], rate [rad/s], way, rests (N,).

    air, mass (N,): loads over their half widths; voltage (N,) over nominal; seed of the noise.
    """

    step: float
    angle: Floats
    rate: Floats
    way: Floats
    rests: Floats
    air: Floats
    mass: Floats
    voltage: Floats
    seed: int


class Lane(NamedTuple):
    """One wing: plant, controller, voltage over that of the course, and held at the start."""

    plant: MotionPlant
    controller: Controller
    voltage: float = 1.0
    held: float = 1.0


class Courses(NamedTuple):
    """Courses of L lanes, every fifth step: (L, M) or (L, M, K) by name; ledger (L,) by name."""

    seen: dict[str, Floats]
    ledger: dict[str, Floats]
    commanded: Floats


@cache
def _block() -> Any:
    """Compiled block of steps of all lanes."""

    def record(carry: Any, given: Any, plant: Any, controller: Any, voltage: Any, step: Any) -> Any:
        def one(carry: Any, sample: Any) -> Any:
            state, loop, sums, worst = carry
            asked, (air, mass, bus) = Asked(*sample[:6]), sample[6:]
            outside = (air, mass, bus * voltage)
            state, loop, flows, drive, off = closed_loop(
                state, loop, asked, outside, plant, controller, step, step
            )
            sums = tuple(total + part for total, part in zip(sums, flows, strict=True))
            return (state, loop, sums, jnp.maximum(worst, off)), (drive.power, drive.held)

        (state, loop, sums, off), (power, held) = jax.lax.scan(one, (*carry, jnp.zeros(())), given)
        seen = seen_of(state, loop.sensor, jnp.mean(power, axis=0), plant)
        seen |= {"residual": off, "held": held[-1], "tripped": jnp.max(loop.tripped)}
        return (state, loop, sums), tuple(seen[name] for name in COURSE)

    def block(carry: Any, lanes: Any, given: Any, step: Any) -> Any:
        def lane(carry: Any, lane: Any) -> Any:
            plant, controller = MotionPlant(*lane[0]), Controller(*lane[1])
            begin = (MotionState(*carry[0]), Loop(*carry[1]), carry[2])

            def some(carry: Any, part: Any) -> Any:
                return record(carry, part, plant, controller, lane[2], step)

            end, seen = jax.lax.scan(some, begin, given)
            return (tuple(end[0]), tuple(end[1]), end[2]), seen

        return jax.vmap(lane)(carry, lanes)

    return kept(block, "motion block")


@cache
def _ends() -> tuple[Any, Any]:
    """Compiled start of the loops of all lanes, and the energy that they store."""

    def begin(state: Any, holds: Any, controller: Any) -> Any:
        return tuple(at_rest(MotionState(*state), holds, Controller(*controller)))

    def stored(state: Any, plant: Any) -> Any:
        return stored_energy(MotionState(*state), MotionPlant(*plant))

    return kept(jax.vmap(begin), "motion begin"), kept(jax.vmap(stored), "motion stored")


def _stacked(records: list[Any]) -> Any:
    """Records with the numbers of all of them in each field."""
    return tuple(
        jax.tree.map(lambda *parts: np.stack([np.asarray(one, float) for one in parts]), *records)
    )


def run_lanes(lanes: list[Lane], course: Course, starts: list[MotionState]) -> Courses:
    """Run wings through one course.

    Parameters
    ----------
    lanes : the wings, of the same number of groups
    course : what is asked of all of them
    starts : state of each at the start
    """
    most = ON_A_CORE if jax.default_backend() == "cpu" else WIDTHS[-1]
    parts = [slice(at, at + most) for at in range(0, len(lanes), most)]

    def run(part: slice) -> Courses:
        return _run(lanes[part], course, starts[part])

    with ThreadPoolExecutor(os.cpu_count()) as cores:
        return _joined([*cores.map(run, parts)])


def _run(lanes: list[Lane], course: Course, starts: list[MotionState]) -> Courses:
    """Courses of lanes that are run at once."""
    wanted, groups = len(lanes), len(np.asarray(lanes[0].plant.side))
    count = next(width for width in WIDTHS if width >= wanted)
    lanes = [*lanes, *lanes[-1:] * (count - wanted)]
    starts = [*starts, *starts[-1:] * (count - wanted)]
    plants = _stacked([lane.plant for lane in lanes])
    controllers = _stacked([lane.controller for lane in lanes])
    held = np.array([lane.held for lane in lanes])
    states = _stacked(starts)
    begin, stored = _ends()
    with COMPILING:
        first, loops = stored(states, plants), begin(states, held, controllers)
    # what a kept function gives is bound to its device: a block would be compiled for that and anew
    carry = (states, jax.tree.map(np.asarray, loops), (np.zeros(count),) * 3)
    steps = len(course.angle)
    blocks = -(-steps // BLOCK)
    noise = np.random.default_rng(course.seed).standard_normal((blocks * BLOCK, 1 + groups))

    def padded(values: Floats) -> Floats:
        return np.concatenate([values, np.repeat(values[-1:], blocks * BLOCK - steps)])

    asked = map(padded, (course.angle, course.rate, course.way, course.rests))
    loads = map(padded, (course.air, course.mass, course.voltage))
    given = [
        values.reshape(blocks, BLOCK // STRIDE, STRIDE, *values.shape[1:])
        for values in (*asked, noise, np.ones(blocks * BLOCK), *loads)
    ]
    wings = plants, controllers, np.array([lane.voltage for lane in lanes])
    records: list[Any] = []
    for at in range(blocks):
        part = tuple(values[at] for values in given)
        with nullcontext() if at else COMPILING:
            carry, seen = _block()(carry, wings, part, np.asarray(course.step))
        carry, seen = jax.tree.map(np.asarray, (carry, seen))
        records.append(seen)
    whole = [
        np.concatenate(parts, axis=1)[:, : steps // STRIDE] for parts in zip(*records, strict=True)
    ]
    sent, lost, work = (np.asarray(part) for part in carry[2])
    gained = np.asarray(stored(carry[0], plants)) - np.asarray(first)
    miss = np.abs(sent + work - lost - gained) / np.maximum(sent + np.abs(lost), 1e-9)
    ledger = {"given": sent, "lost": lost, "work": work, "stored": gained, "residual": miss}
    seen = {name: part[:wanted] for name, part in zip(COURSE, whole, strict=True)}
    ledger = {name: part[:wanted] for name, part in ledger.items()}
    return Courses(seen, ledger, course.angle[STRIDE - 1 :: STRIDE])


def _joined(parts: list[Courses]) -> Courses:
    """Courses of more lanes than are run at once."""
    seen, ledger = (
        {name: np.concatenate([one[name] for one in each]) for name in each[0]}
        for each in ([part.seen for part in parts], [part.ledger for part in parts])
    )
    return Courses(seen, ledger, parts[0].commanded)


def with_spare_tube(model: MotionModel) -> MotionModel:
    """Wing whose first set has one tube as a group of its own, for a fault of one tube."""

    def doubled(values: Any, axis: int = 0) -> Floats:
        part = np.asarray(values)
        return np.concatenate([part, np.take(part, [0], axis=axis)], axis=axis)

    plant, branches = model.plant, model.branches
    one = dict.fromkeys(
        ("transformation_shift", "side", "pre_twist", "start_angle", "heater_power",
         "heater_factor", "stuck_on"), None,
    )  # fmt: skip
    given: dict[str, Any] = {name: doubled(getattr(plant, name)) for name in one}
    share = np.asarray(plant.torque_count) / np.asarray(plant.count)
    count = np.append(np.asarray(plant.count), 1.0)
    count[0] = max(count[0] - 1.0, 1e-3)
    torque = count * np.append(share, share[0])
    beside = np.pad(np.asarray(plant.beside), (0, 1))
    plant = plant._replace(**given, count=count, torque_count=torque, beside=beside)
    tables: list[Any] = [doubled(part) for part in branches[1:]]
    return model._replace(plant=plant, branches=type(branches)(branches.angle, *tables))
