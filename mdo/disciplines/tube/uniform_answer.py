"""Level `uniform` of the tubes, for the report: exact margins, stall, stress in the wall.

``A(phi) = n eff sum T_hot - (moment of the cold set and spring)``, margin ``A/R - 1``: the stress
is solved, not bounded.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

from mdo.disciplines.records import Alloy, Choices
from mdo.disciplines.tube import hot, phases, torsion
from mdo.disciplines.tube.levers import levers, stress_cap
from mdo.disciplines.tube.record import NO_RESISTANCE, STALLED, TubeAnswer
from mdo.disciplines.tube.travel import pick

ROUND_OFF = 1e-6  # share of R by which A may be short of it and still count as equal
LINE_END = 1.3  # of the largest operating stress: where transformation lines are drawn to


def uniform_answer(
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
    load_uncertainty: Array,
    transmission_efficiency: Array,
    choices: Choices,
    alloy: Alloy,
) -> TubeAnswer:
    """Available moment over the fold angle and its margin; stall; lines of the alloy.

    Parameters
    ----------
    tube_outer_radius, tube_length [m], wall_ratio, gear_ratio : the design
    tube_count, operating_stress [Pa] : per set, (2,)
    hot_temperature : [K]
    travel_low, travel_high : [rad]
    tube_strain : strain at r_w of the driving set, (legs, angles)
    locked_strain : transformation strain locked in at the start of the leg, (legs,)
    internal_moment : moment of the cold set and spring at the hinge [N*m], (legs, angles)
    pushes_up : 1 where the up set drives, (legs,)
    failed_stress : [Pa] with one tube lost, as :func:`uniform_demand` gives it, (legs, angles)
    required_moment : R [N*m], (legs, angles)
    load_uncertainty : relative uncertainty of the load model, (legs,)
    transmission_efficiency : tube torque to hinge
    choices, alloy : records

    Notes
    -----
    The hot stress is capped where the outer fibre reaches the allowable stress. With one tube of
    the driving set failed, N - 1 tubes drive and the failed one drags as :func:`uniform_demand`
    has it. The margin at the upper band divides by ``R (1 + u)``; it is printed, not required.
    """
    section = torsion.section(tube_outer_radius, wall_ratio)
    lever = levers(
        section=section,
        tube_length=tube_length,
        gear_ratio=gear_ratio,
        efficiency=transmission_efficiency,
    )
    up = pushes_up[:, None] > 0.5
    counts = jnp.asarray(choices.set_present) * tube_count
    count = jnp.maximum(pick(counts, up), 1e-3)
    stress = jnp.minimum(
        hot.hot_stress(tube_strain, hot_temperature, locked_strain[:, None], alloy),
        stress_cap(section, alloy),
    )
    available = lever.drive * count * stress - internal_moment
    resists = required_moment > 0.0
    needed = jnp.where(resists, required_moment, 1.0)
    # where the load assists, the cold set and the spring may still stall the motion: A < R <= 0
    # to round-off: an optimum may stand at A = R
    enough = required_moment - ROUND_OFF * (1.0 + jnp.abs(required_moment))
    free = jnp.where(available >= enough, NO_RESISTANCE, STALLED)
    margin = jnp.where(resists, available / needed - 1.0, free)
    band = (1.0 + margin) / (1.0 + load_uncertainty[:, None]) - 1.0
    drag = failed_stress * lever.drive * jnp.maximum(count - 1.0, 1e-3) - required_moment
    lame = lever.drive * (count - 1.0) * stress - drag
    slope = jnp.asarray(alloy.austenite_slope) * alloy.slope_factor / phases.ROOT3
    stall = slope * (hot_temperature - alloy.austenite_start)
    lines = jnp.stack([0.0, LINE_END * jnp.max(operating_stress * choices.set_present)])
    shifted = phases.phase_temperatures(lines, alloy)
    travel = travel_high - travel_low
    return TubeAnswer(
        hot_stress=stress,
        available_moment=available,
        available_moment_failed=lever.drive * jnp.maximum(count - 1.0, 1e-3) * stress - drag,
        torque_margin=margin,
        torque_margin_upper_band=jnp.where(resists, band, free),
        torque_margin_failed=jnp.where(
            resists,
            lame / needed - 1.0,
            jnp.where(lame >= enough, NO_RESISTANCE, STALLED),
        ),
        stall_stress=stall,
        stall_outer_stress=torsion.outer_stress(stall, section),
        stall_moment=counts * lever.drive * stall,
        wall_radius=section.effective_radius[None],
        wall_stress=stress[..., None],
        elastic_stress_ratio=torsion.outer_stress(1.0, section) / torsion.OUTER_STRESS_FACTOR,
        outer_stress_factor=jnp.asarray(torsion.OUTER_STRESS_FACTOR),
        travel_strain=gear_ratio * travel * lever.to_strain,
        phase_line_stress=lines,
        phase_line_temperature=jnp.stack(
            [
                shifted.martensite_finish,
                shifted.martensite_start,
                shifted.austenite_start,
                shifted.austenite_finish,
            ],
            axis=-1,
        ),
    )
