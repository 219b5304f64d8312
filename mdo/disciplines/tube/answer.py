"""Tubes at any level, for the report: exact margins, stall, stress in the wall.

``A(phi) = n eff sum T_hot - (moment of the cold set and spring)``, margin ``A/R - 1``: the stress
is solved, not bounded.
"""

from __future__ import annotations

from collections.abc import Callable

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.tube import phases, torsion
from mdo.disciplines.tube.levers import levers, stress_cap
from mdo.disciplines.tube.record import NO_RESISTANCE, STALLED, TubeAnswer
from mdo.disciplines.tube.section_law import LawOf, by_law
from mdo.disciplines.tube.travel import pick

ROUND_OFF = 1e-6  # share of R by which A may be short of it and still count as equal
# Share of the largest moment that a leg needs below which a moment has vanished: a ratio to it says
# nothing (a load as cos(angle) at 90 deg). Under the friction of any real hinge, a few per cent.
VANISHED = 0.01
LINE_END = 1.3  # of the largest operating stress: where transformation lines are drawn to


def margin(available: Array, needed: Array, required: Array) -> Array:
    """Margin ``A/R - 1`` over a moment that is needed; where that is not, whether it moves.

    Where the load assists or has vanished against the rest of its leg, the cold set and the spring
    may still stall the motion: A < R, to round-off, since an optimum may stand at A = R.
    """
    largest = jnp.max(needed, axis=-1, keepdims=True)
    resists = needed > VANISHED * jnp.maximum(largest, 0.0)
    enough = required - ROUND_OFF * (1.0 + jnp.abs(required))
    free = jnp.where(available >= enough, NO_RESISTANCE, STALLED)
    return jnp.where(resists, available / jnp.where(resists, needed, 1.0) - 1.0, free)


def _phase_lines(stress: Array, alloy: Alloy) -> Array:
    """Mf', Ms', As', Af' under stress [K], (stresses, 4)."""
    at = phases.phase_temperatures(stress, alloy)
    lines = [at.martensite_finish, at.martensite_start, at.austenite_start, at.austenite_finish]
    return jnp.stack(lines, axis=-1)


def tube_answer(
    law_of: LawOf,
    *,
    tube_outer_radius: Array,
    wall_ratio: Array,
    tube_length: Array,
    tube_count: Array,
    operating_stress: Array,
    gear_ratio: Array,
    hot_temperature: Array,
    travel_low: Array,
    travel_high: Array,
    tube_strain: Array,
    locked_strain: Array,
    internal_moment: Array,
    pushes_up: Array,
    failed_stress: Array,
    required_moment: Array,
    moment_band: Array,
    transmission_efficiency: Array,
    drag_efficiency: Array,
    choices: Choices,
    alloy: Alloy,
) -> TubeAnswer:
    """Available moment over the fold angle and its margin; stall; lines of the alloy.

    Parameters
    ----------
    tube_outer_radius, tube_length
        Outer radius and active length of a tube [m].
    wall_ratio
        Wall over outer radius [1].
    tube_count
        Tubes of each set (up, down) [1], shape (2,).
    operating_stress
        Mean stress that each set is built for [Pa], shape (2,).
    gear_ratio
        Tube twist over fold angle [1].
    hot_temperature
        Temperature at the end of heating [K].
    travel_low, travel_high
        Ends of the travel [rad].
    tube_strain
        Strain at r_w of the driving set [1], shape (legs, angles).
    locked_strain
        Transformation strain locked in when the leg starts [1], (legs,) or (legs, points).
    internal_moment
        Moment of the cold set and spring at the hinge [N*m], shape (legs, angles).
    pushes_up
        1 where the up set drives [1], shape (legs,).
    failed_stress
        Mean stress with one tube lost, of the demand [Pa], shape (legs, angles).
    required_moment
        Required moment R [N*m], shape (legs, angles).
    moment_band
        Uncertainty of R [N*m], shape (legs, angles).
    transmission_efficiency, drag_efficiency
        Tube torque to hinge moment, of tubes that drive and that are dragged [1].
    choices, alloy
        Records.

    Returns
    -------
    TubeAnswer
        Stresses [Pa], moments at the hinge [N*m], margins [1].

    Notes
    -----
    The hot stress is capped where the outer fibre reaches the allowable stress. With one tube
    of the driving set failed, N - 1 tubes drive and the failed one drags as the demand has it.
    The margin at the upper band divides by R and its band; it is printed, not required.

    References
    ----------
    Derived (definitions of the margins); the law of the section is the level's own.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    law = law_of(section, wall_ratio, alloy)
    lever = levers(
        section=section,
        tube_length=tube_length,
        gear_ratio=gear_ratio,
        efficiency=transmission_efficiency,
        drag_efficiency=drag_efficiency,
    )
    up = pushes_up[:, None] > 0.5
    counts = jnp.asarray(choices.set_present) * tube_count
    count = jnp.maximum(pick(counts, up), 1e-3)
    wall_stress = law.hot_wall(tube_strain, hot_temperature, locked_strain[:, None])
    free_stress = law.mean(wall_stress)
    stress = jnp.minimum(free_stress, stress_cap(section, alloy))
    # capped, the wall keeps the form of its stress
    kept = stress / jnp.where(free_stress > stress, free_stress, stress)
    kept = jnp.where(free_stress > stress, kept, 1.0)
    available = lever.drive * count * stress - internal_moment
    upper = required_moment + moment_band
    drag = failed_stress * lever.drive * jnp.maximum(count - 1.0, 1e-3) - required_moment
    lame = lever.drive * (count - 1.0) * stress - drag
    stall, stall_outer = law.stall(tube_strain[:, 0], hot_temperature, locked_strain, up[:, 0])
    lines = jnp.stack([0.0, LINE_END * jnp.max(operating_stress * choices.set_present)])
    travel = travel_high - travel_low
    return TubeAnswer(
        hot_stress=stress,
        available_moment=available,
        available_moment_failed=lever.drive * jnp.maximum(count - 1.0, 1e-3) * stress - drag,
        torque_margin=margin(available, required_moment, required_moment),
        torque_margin_upper_band=margin(available, upper, required_moment),
        torque_margin_failed=margin(lame, required_moment, required_moment),
        stall_stress=jnp.max(stall),
        stall_outer_stress=jnp.max(stall_outer),
        stall_moment=counts * lever.drive * stall,
        wall_radius=law.radius,
        wall_stress=wall_stress * kept[..., None],
        elastic_stress_ratio=torsion.outer_stress(1.0, section) / torsion.OUTER_STRESS_FACTOR,
        travel_strain=gear_ratio * travel * lever.to_strain,
        phase_line_stress=lines,
        phase_line_temperature=_phase_lines(lines, alloy),
    )


def answer_by(law_of: LawOf, name: str) -> Callable[..., TubeAnswer]:
    """Answers for the report by the law of a level, under a name of its own."""
    return by_law(tube_answer, law_of, name)
