r"""One implicit step of a wing: wall, heat and hinge solved together.

Unknown are the temperatures of heaters and cells, the stress of each cell, and the fold angle. The
walls play between their envelopes as in :mod:`mdo.disciplines.tube.incremental`; Newton on all of
it at once, elimination along each wall, then one equation for the hinge. Conductances are those of
the start of the step; every flow counts on both sides, so the ledger closes to the tolerance.
"""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.cells import Local, alloy_of, at_group, local_law, state_of_cells
from mdo.disciplines.motion.mechanics import (
    given_way,
    group_moment,
    kept_share,
    load_moment,
    table_at,
    twist_strain,
)
from mdo.disciplines.motion.records import Drive, Flows, MotionPlant, MotionState
from mdo.disciplines.tube.incremental import next_point

EXCESS_STEP = 10.0  # [K] of the table of losses
MIDDLE, HUNDRED = 400.0, 100.0  # [K] of the gap's quadratic
LEAST_SLOPE, ANGLE_STEP = 1e-3, 0.03  # of the rated moment per radian; [rad] largest of a round
ROUNDS = 80  # of Newton, most
CALM_ROUNDS, SLOW_ROUNDS = 8, 24  # full steps; then half ones, then quarters: no swing about a kink
STRESS_STEP, KELVIN_STEP = 80e6, 20.0  # largest change of a round
TOLERANCE = 1e-8  # of strain over 0.01, kelvin, and moment over the rated one


class _Guess(NamedTuple):
    """Unknowns of a step: heater (K,), cells, stress (K, C), strain at r_w (K,), angle."""

    heater: Array
    cells: Array
    stress: Array
    strain: Array
    angle: Array


class _Frozen(NamedTuple):
    """What stays as it is within a step: conductances of a tube, flows from beside, the load."""

    inner: Array
    outer: Array
    beside: Array
    load: Array
    load_slope: Array
    load_from: Array
    friction: Array


def _frozen(state: MotionState, drive: Drive, plant: MotionPlant) -> _Frozen:
    """Conductances and flows at the start of a step."""
    loss_node = jnp.where(plant.loss_at_heater > 0.5, state.heater, state.cells[:, -1])
    excess = loss_node - state.bay
    still, _ = table_at(jnp.asarray(plant.loss), jnp.abs(excess) / EXCESS_STEP)
    outer = plant.film_factor * (still[0] + (state.bay - plant.loss_bay) * still[1])
    warm = ((state.heater + state.cells[:, 0]) / 2.0 - MIDDLE) / HUNDRED
    gap = jnp.asarray(plant.gap)
    inner = plant.gap_factor * (gap[0] + warm * (gap[1] + warm * gap[2]))
    between = jnp.asarray(plant.beside)
    beside = between @ loss_node - jnp.sum(between, axis=1) * loss_node
    load, slope = load_moment(state.angle, drive.air, drive.mass, plant)
    friction, _ = table_at(
        jnp.asarray(plant.friction), (state.angle - plant.load_angle) / plant.load_step
    )
    return _Frozen(
        inner=inner / (1.0 + inner * plant.half_inner),
        outer=outer / (1.0 + outer * plant.half_outer),
        beside=beside / jnp.maximum(jnp.asarray(plant.count), 1e-9),
        load=load,
        load_slope=slope,
        load_from=state.angle,
        friction=plant.friction_factor * jnp.maximum(friction, 0.0),
    )


class _Walls(NamedTuple):
    """Changes of each group, linear in that of its strain at r_w: constant, and per strain."""

    heater: tuple[Array, Array]
    cells: tuple[Array, Array]
    stress: tuple[Array, Array]
    mean: tuple[Array, Array]
    missed: Array


def _eliminate(
    at: _Guess, state: MotionState, drive: Drive, frozen: _Frozen, plant: MotionPlant, step: Array
) -> tuple[_Walls, Local]:
    """Heat balance of heaters and cells, linear in the strain at r_w of each group."""
    alloy, ratio, share = alloy_of(plant), jnp.asarray(plant.wall_ratio), plant.wall_share
    local = local_law(at.stress, at.cells, state_of_cells(state), alloy)
    missed = ratio * at_group(at.strain) - local.strain  # of strain
    latent, capacity = jnp.asarray(plant.cell_latent), jnp.asarray(plant.cell_capacity)
    volume = plant.torque_per_stress / plant.strain_per_twist * jnp.asarray(share)
    worked = at_group(at.strain - state.twist_strain)
    stiff = volume * worked / local.strain_stress  # work that follows the stress
    soft = local.fraction_stress / local.strain_stress
    turned = local.fraction - state.fraction + soft * missed
    cold = local.fraction_kelvin - soft * local.strain_kelvin
    # cell: (C - L cold) dT + flows = rest + by_strain dE
    own = (capacity - latent * cold + stiff * local.strain_kelvin) / step
    stored = capacity * (at.cells - state.cells) - latent * turned
    rest = (volume * at.stress * worked + stiff * missed - stored) / step
    by_strain = (latent * soft * ratio + stiff * ratio + volume * at.stress) / step
    heater_own = jnp.asarray(plant.heater_capacity) / step
    heater_rest = drive.power - heater_own * (at.heater - state.heater)
    at_heater = plant.loss_at_heater > 0.5
    lossy = frozen.beside - frozen.outer * (
        jnp.where(at_heater, at.heater, at.cells[:, -1]) - state.bay
    )
    heater_rest = heater_rest + jnp.where(at_heater, lossy, 0.0)
    diagonal = [heater_own + jnp.where(at_heater, frozen.outer, 0.0)]
    diagonal += [own[:, c] for c in range(own.shape[1])]
    diagonal[-1] = diagonal[-1] + jnp.where(at_heater, 0.0, frozen.outer)
    right = [heater_rest, *(rest[:, c] for c in range(own.shape[1]))]
    right[-1] = right[-1] + jnp.where(at_heater, 0.0, lossy)
    slope = [jnp.zeros_like(at.heater), *(by_strain[:, c] for c in range(own.shape[1]))]
    links = [frozen.inner, *jnp.broadcast_to(plant.wall_conductance, (own.shape[1] - 1,))]
    kelvin = [at.heater, *(at.cells[:, c] for c in range(own.shape[1]))]
    for place, link in enumerate(links):
        flow = link * (kelvin[place] - kelvin[place + 1])
        right[place] = right[place] - flow
        right[place + 1] = right[place + 1] + flow
        diagonal[place] = diagonal[place] + link
        diagonal[place + 1] = diagonal[place + 1] + link
    unbalanced = jnp.max(
        jnp.stack([jnp.abs(r * step) / (plant.heater_capacity + capacity[0]) for r in right])
    )
    change = _thomas(diagonal, links, right, slope)
    heater, cells = (
        (change[0][0], change[1][0]),
        tuple(jnp.stack(part[1:], axis=-1) for part in change),
    )
    stress = (
        (missed - local.strain_kelvin * cells[0]) / local.strain_stress,
        (ratio - local.strain_kelvin * cells[1]) / local.strain_stress,
    )
    mean = tuple(jnp.sum(share * part, axis=-1) for part in stress)
    worst = jnp.maximum(unbalanced, jnp.max(jnp.abs(missed)) / 0.01)
    return _Walls(heater, cells, stress, mean, worst), local  # type: ignore[arg-type]


def _thomas(
    diagonal: list[Array], links: list[Array], right: list[Array], slope: list[Array]
) -> tuple[list[Array], list[Array]]:
    """Solve a chain of nodes for two right sides."""
    diagonal, right, slope = list(diagonal), list(right), list(slope)
    for place, link in enumerate(links):
        share = link / diagonal[place]
        diagonal[place + 1] = diagonal[place + 1] - share * link
        right[place + 1] = right[place + 1] + share * right[place]
        slope[place + 1] = slope[place + 1] + share * slope[place]
    first, second = [right[-1] / diagonal[-1]], [slope[-1] / diagonal[-1]]
    for place in range(len(links) - 1, -1, -1):
        first.insert(0, (right[place] + links[place] * first[0]) / diagonal[place])
        second.insert(0, (slope[place] + links[place] * second[0]) / diagonal[place])
    return first, second


def _hinge(
    at: _Guess,
    walls: _Walls,
    state: MotionState,
    drive: Drive,
    frozen: _Frozen,
    plant: MotionPlant,
    step: Array,
) -> tuple[Array, Array, Array]:
    """Change of the angle, changes of the strains, and how far the hinge is from its balance."""
    share = jnp.asarray(plant.wall_share)
    mean = jnp.sum(share * at.stress, axis=-1)
    gives, yields = given_way(mean, plant)
    by_angle = -jnp.asarray(plant.side) * plant.gear_ratio * plant.strain_per_twist
    gap = twist_strain(at.angle, plant) - gives - at.strain
    soft = 1.0 / (1.0 + yields * walls.mean[1])
    strain_0 = (gap - yields * walls.mean[0]) * soft  # change at a fixed angle
    strain_1 = by_angle * soft  # per change of the angle
    moved = at.angle - state.angle
    heavy = plant.inertia / step**2 + plant.damping / step
    passive = frozen.load + frozen.load_slope * moved - heavy * moved
    passive = passive + plant.inertia * state.rate / step
    arm = group_moment(jnp.ones_like(mean), plant)

    def net(way: Array) -> tuple[Array, Array]:
        """Moment beyond friction and its slope, once the walls have settled at this angle."""
        kept = arm * kept_share(arm * mean, way, plant)
        settled = mean + walls.mean[0] + walls.mean[1] * strain_0
        moment = passive + jnp.sum(kept * settled) - way * frozen.friction
        slope = heavy - frozen.load_slope - jnp.sum(kept * walls.mean[1] * strain_1)
        return moment, slope

    (up, up_slope), (down, down_slope) = net(jnp.asarray(1.0)), net(jnp.asarray(-1.0))
    rises = jnp.where(moved == 0.0, up > 0.0, moved > 0.0)
    falls = jnp.where(moved == 0.0, (up <= 0.0) & (down < 0.0), moved < 0.0)
    push, slope = jnp.where(rises, up, down), jnp.where(rises, up_slope, down_slope)
    rated = jnp.sum(jnp.abs(arm)) * 100e6 + 1e-9
    # where the balance is unstable, the wing goes the way it is pushed until it is stable again
    slope = jnp.maximum(slope, LEAST_SLOPE * rated)
    wanted = jnp.where(rises | falls, jnp.clip(push / slope, -ANGLE_STEP, ANGLE_STEP), 0.0)
    target = at.angle + wanted
    target = jnp.where(rises, jnp.maximum(target, state.angle), target)
    target = jnp.where(falls, jnp.minimum(target, state.angle), target)
    target = jnp.clip(target, plant.stop_low, plant.stop_high)
    # a brake that grips within the step leaves the part before it, at the rate that the wing has
    reach = (1.0 - drive.held) * jnp.abs(state.rate) * step
    gripped = jnp.clip(target, state.angle - reach, state.angle + reach)
    change = jnp.where(drive.held > 0.0, gripped, target) - at.angle
    off = jnp.maximum(jnp.abs(change * slope) / rated, jnp.max(jnp.abs(gap)) / 0.01)
    return change, strain_0 + strain_1 * change, off


def _round(
    at: _Guess, state: MotionState, drive: Drive, frozen: _Frozen, plant: MotionPlant, step: Array
) -> tuple[_Guess, Array]:
    """Newton's change of all unknowns, and how far they are from their balance."""
    walls, _ = _eliminate(at, state, drive, frozen, plant, step)
    angle, strain, off = _hinge(at, walls, state, drive, frozen, plant, step)
    along = at_group(strain)
    change = _Guess(
        heater=walls.heater[0] + walls.heater[1] * strain,
        cells=walls.cells[0] + walls.cells[1] * along,
        stress=walls.stress[0] + walls.stress[1] * along,
        strain=strain,
        angle=angle,
    )
    return change, jnp.maximum(walls.missed, off)


def _added(at: _Guess, change: _Guess, share: Array) -> _Guess:
    large = jnp.maximum(
        jnp.max(jnp.abs(change.stress)) / STRESS_STEP, jnp.max(jnp.abs(change.cells)) / KELVIN_STEP
    )
    part = share / jnp.maximum(large, 1.0)
    added: _Guess = jax.tree.map(lambda value, by: value + part * by, at, change)
    return added


def advance(
    state: MotionState, drive: Drive, plant: MotionPlant, step: Array, *, exact: bool = True
) -> tuple[MotionState, Flows, Array]:
    r"""Take one implicit step.

    .. math:: C\,\dot T = q + L\,\dot\xi + V\tau\dot\gamma, \quad
        I\ddot\varphi = M_{load} + \sum_k \pm n\,\eta\,N T_k - D\dot\varphi \mp F

    Parameters
    ----------
    state
        At its start.
    drive
        Power, load and whether the panel is held.
    plant
        Record.
    step
        Length of the step [s].
    exact
        Whether derivatives go through it: one more round of Newton, the one that they take.

    Returns
    -------
    tuple
        State at its end; flows [J]; largest miss [1].

    Notes
    -----
    Coulomb friction holds exactly where it can. Elastic energy of the tubes counts as heat (under
    0.1 % of what is stored).

    References
    ----------
    Derived; reference sma-tubes, sections 1.2 (a) and 1.3; thermal-power-mass, section 2.2.
    """
    stop = jax.lax.stop_gradient
    frozen = _frozen(state, drive, plant)
    still = stop((state, drive, frozen, plant, step))
    strain = state.twist_strain
    first = _Guess(state.heater, state.cells, state.stress, strain, state.angle)

    def turn(loop: tuple[Array, _Guess, Array]) -> tuple[Array, _Guess, Array]:
        count, at, _ = loop
        change, off = _round(at, *still)
        share = jnp.where(count < CALM_ROUNDS, 1.0, jnp.where(count < SLOW_ROUNDS, 0.5, 0.25))
        share = jnp.where(off < TOLERANCE, 1.0, share)
        return count + 1, _added(at, change, share), off

    begin = (jnp.array(0), stop(first), jnp.asarray(jnp.inf))
    _, at, off = jax.lax.while_loop(
        lambda loop: (loop[0] < ROUNDS) & (loop[2] >= TOLERANCE), turn, begin
    )
    if exact:
        change, _ = _round(at, state, drive, frozen, plant, step)
        at = _added(at, change, jnp.asarray(1.0))
    return (*_after(at, state, drive, frozen, plant, step), off)


def _after(
    at: _Guess, state: MotionState, drive: Drive, frozen: _Frozen, plant: MotionPlant, step: Array
) -> tuple[MotionState, Flows]:
    """State after a step and what flowed."""
    count = jnp.asarray(plant.count)
    before, alloy = state_of_cells(state), alloy_of(plant)
    after = next_point(at.stress, at.cells, before, alloy)
    loss_node = jnp.where(plant.loss_at_heater > 0.5, at.heater, at.cells[:, -1])
    to_bay = jnp.sum(count * frozen.outer * (loss_node - state.bay))
    capacity, way_out = plant.bay_capacity / step, plant.bay_conductance
    bay = (capacity * state.bay + to_bay + way_out * plant.outside_temperature) / (
        capacity + way_out
    )
    mean = jnp.sum(plant.wall_share * at.stress, axis=-1)
    volume = plant.torque_per_stress / plant.strain_per_twist
    stopped = (drive.held > 0.0) | (at.angle <= plant.stop_low) | (at.angle >= plant.stop_high)
    flows = Flows(
        given=step * jnp.sum(count * drive.power),
        lost=step * way_out * (bay - plant.outside_temperature),
        work=jnp.sum(count * volume * mean * (at.strain - state.twist_strain)),
    )
    rate = jnp.where(stopped, 0.0, (at.angle - state.angle) / step)
    return MotionState(
        at.heater, at.cells, bay, after.fraction, after.transformed, at.stress,
        at.angle, rate, at.strain, state.time + step,
    ), flows  # fmt: skip
