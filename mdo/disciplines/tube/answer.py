"""Tubes at any level, for the report: exact margins, stall, stress in the wall.

``A(phi) = n eff sum T_hot - (moment of the cold set and spring)``, margin ``A/R - 1``: the stress
is solved, not bounded.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import phases, torsion
from mdo.disciplines.tube.levers import stress_cap
from mdo.disciplines.tube.record import NO_RESISTANCE, STALLED, TubeAnswer
from mdo.disciplines.tube.section_law import DrivenTubes, LawOf, built
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

    Parameters
    ----------
    available
        A [N*m], shape (legs, angles).
    needed
        What it is divided by: R, or R and its band [N*m].
    required
        R [N*m].

    Returns
    -------
    Array
        [1]; ``NO_RESISTANCE`` where nothing resists, ``STALLED`` where it stands all the same.

    Examples
    --------
    150 for 100 N*m; 0.6 for 0.5 N*m, which is under 1 % of them; -20 where -10 would do:

    >>> required = jnp.array([[100.0, 0.5, -10.0]])
    >>> found = margin(jnp.array([[150.0, 0.6, -20.0]]), required, required)[0]
    >>> [float(value) for value in (found[0], found[1] / NO_RESISTANCE, found[2] / STALLED)]
    [0.5, 1.0, 1.0]

    References
    ----------
    Derived (definition of the margin); judgement (where a moment has vanished).
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
    tubes: DrivenTubes,
    tube_strain: Array,
    locked_strain: Array,
    internal_moment: Array,
    failed_stress: Array,
    moment_band: Array,
) -> TubeAnswer:
    """Available moment over the fold angle and its margin; stall; lines of the alloy.

    Parameters
    ----------
    law_of
        Law of the section, of a level.
    tubes
        Tubes, what they turn and how far.
    tube_strain
        Strain at r_w of the driving set [1], shape (legs, angles).
    locked_strain
        Transformation strain locked in when the leg starts [1], (legs,) or (legs, points).
    internal_moment
        Moment of the cold set and spring at the hinge [N*m], shape (legs, angles).
    failed_stress
        Mean stress with one tube lost, of the demand [Pa], shape (legs, angles).
    moment_band
        Uncertainty of R [N*m], shape (legs, angles).

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
    section, law, lever, counts, up = built(law_of, tubes)
    required_moment = tubes.required_moment
    count = jnp.maximum(pick(counts, up), 1e-3)
    wall_stress = law.hot_wall(tube_strain, tubes.hot_temperature, locked_strain[:, None])
    free_stress = law.mean(wall_stress)
    stress = jnp.minimum(free_stress, stress_cap(section, tubes.alloy))
    # capped, the wall keeps the form of its stress
    kept = stress / jnp.where(free_stress > stress, free_stress, stress)
    kept = jnp.where(free_stress > stress, kept, 1.0)
    available = lever.drive * count * stress - internal_moment
    upper = required_moment + moment_band
    drag = failed_stress * lever.drive * jnp.maximum(count - 1.0, 1e-3) - required_moment
    lame = lever.drive * (count - 1.0) * stress - drag
    stall, stall_outer = law.stall(
        tube_strain[:, 0], tubes.hot_temperature, locked_strain, up[:, 0]
    )
    built_for = jnp.max(tubes.operating_stress * tubes.choices.set_present)
    lines = jnp.stack([0.0, LINE_END * built_for])
    travel = tubes.travel_high - tubes.travel_low
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
        travel_strain=tubes.gear_ratio * travel * lever.to_strain,
        phase_line_stress=lines,
        phase_line_temperature=_phase_lines(lines, tubes.alloy),
    )
