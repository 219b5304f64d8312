"""What folding gives at the points of flight of a study, each number with its error."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import jax
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.loads.benefit import subsonic_points, supersonic_points
from mdo.disciplines.loads.lift_slope import TRANSONIC_START
from mdo.disciplines.loads.lifting_surfaces import Wing
from mdo.disciplines.loads.strip import flow_regime
from mdo.disciplines.loads.supersonic_slope import transonic_end

FRACTIONS = (0.2, 0.3, 0.4)  # shown beside that of the study
ANGLES = 9  # over the range flown
CENTRE_DOUBT = 0.10  # of the mean chord, where the centre of gravity may be; judgement
SIDEWASH = 0.10  # less stability by the sidewash of the inner wing; reference hinge-moment 6
SHIFT_DOUBT = 0.002  # of the mean chord, by mesh: twice the elements move it by 0.0003
DRAG_DOUBT = 0.004  # of the drag, by mesh: twice the elements move it by 0.0035 at 90 deg
FIN_SLOPE = 3.0  # side force of a fin per radian and area: aspect ratio some 3; judgement
APART = 0.1  # Mach numbers nearer than this are one


@jax.jit  # compiled whole, not operation by operation
def _load_doubt(planform: Any, aero: Any, mach: Any) -> Any:
    """Relative uncertainty of air loads at a Mach number."""
    return flow_regime(planform, aero, mach=mach, airborne=1.0)[1]


_transonic_end = jax.jit(transonic_end)


class BenefitPoint(NamedTuple):
    """What a fold does at one point of flight, against the flat wing, with the ends of its error.

    ``yaw_stability`` is per radian of sideslip, positive: the nose turns into the wind;
    ``roll_per_sideslip`` per radian, negative: rolls away from the wind. ``drag_change`` is that of
    the drag due to lift at a given lift, ``drag_change_least`` with the load of least drag both
    times (another twist for each angle). ``centre_shift`` in mean chords, positive aft.
    ``fin_volume`` is area times arm of a fin of equal effect [m**3], ``width`` the span as folded
    [m].
    """

    mach: float
    fold_fraction: float
    fold_angle: float
    width: float
    yaw_stability: float
    yaw_stability_low: float
    yaw_stability_high: float
    fin_volume: float
    roll_per_sideslip: float
    drag_change: float
    drag_change_least: float
    drag_change_low: float
    drag_change_high: float
    centre_shift: float
    centre_shift_low: float
    centre_shift_high: float


def benefit_points(parameters: Mapping[str, Any]) -> tuple[BenefitPoint, ...]:
    """What folding gives at the lowest and the highest Mach number at which the actuator works.

    Also the span at the largest angle on deck: there the rest is nan, and so is the Mach number.

    Parameters
    ----------
    parameters : of the model

    Returns
    -------
    tuple of BenefitPoint
        By Mach number, fold fraction and fold angle. Between Mach 0.85 and the end of the
        transonic range the nearer end stands in, with the uncertainty of that range.
    """
    legs, planform = parameters["legs"], parameters["planform"]
    works = np.asarray(legs.moves) + np.asarray(legs.holds) > 0.5
    flown = works & (np.asarray(legs.airborne) > 0.5)
    folds = np.asarray(parameters["fold_angle"])
    own = 1.0 - 2.0 * float(planform.fold_station) / float(planform.span)
    points: list[BenefitPoint] = []
    if (works & ~flown).any():
        points.append(_stowed(planform, own, folds[works & ~flown]))
    if not flown.any():
        return tuple(points)
    speeds, folds = np.asarray(legs.mach)[flown], folds[flown]
    vehicle = parameters["vehicle"]
    wing = Wing(planform, vehicle.hinge_height, vehicle.section_lift_efficiency)
    plan = _plan(own, min(float(folds.min()), 0.0), max(float(folds.max()), 0.0))
    low, high = float(speeds.min()), float(speeds.max())
    subsonic = _at(wing, min(low, TRANSONIC_START), plan)  # kept: the lowest speed is mostly that
    gravity = float(subsonic.lift_centre[np.argmin(np.abs(plan[:, 1]))])
    for mach in (low, high) if high - low > APART else (high,):
        slopes = subsonic if mach == low <= TRANSONIC_START else _at(wing, mach, plan)
        doubt = float(_load_doubt(planform, parameters["aero"], mach))
        points += _compared(planform, mach, plan, slopes, gravity, doubt)
    return tuple(points)


def _stowed(planform: Any, own: float, folds: Floats) -> BenefitPoint:
    """Span at the largest angle on deck, nothing else."""
    angle = float(folds.ravel()[np.argmax(np.abs(folds))])
    width = float(planform.span) * (1.0 - own + own * math.cos(angle))
    nothing = dict.fromkeys(BenefitPoint._fields, math.nan)
    return BenefitPoint(**nothing | {"fold_fraction": own, "fold_angle": angle, "width": width})


def _plan(own: float, low: float, high: float) -> Floats:
    """Fractions and angles: the study's over the range flown, the others at its ends and flat."""
    others = [each for each in FRACTIONS if abs(each - own) > 0.02]
    ends = sorted({low, 0.0, high})
    angles = sorted({*np.linspace(low, high, ANGLES).tolist(), 0.0})
    lines = [(own, angle) for angle in angles]
    lines += [(fraction, angle) for fraction in others for angle in ends]
    return np.array(lines)


def _at(wing: Wing, mach: float, plan: Floats) -> Any:
    """Slopes of the wing at a Mach number, that of the nearer end in the transonic range."""
    method, used = subsonic_points, mach
    if mach > TRANSONIC_START:
        end = float(_transonic_end(wing.planform.aspect_ratio))
        nearer_start = mach < 0.5 * (TRANSONIC_START + end)
        method = subsonic_points if nearer_start else supersonic_points
        used = TRANSONIC_START if nearer_start else max(mach, end)
    return jax.tree.map(np.asarray, method(wing, used, plan[:, 1], plan[:, 0]))


def _compared(
    planform: Any, mach: float, plan: Floats, at: Any, gravity: float, doubt: float
) -> Iterator[BenefitPoint]:
    """Compare each point with the flat wing."""
    area, span = float(planform.reference_area), float(planform.span)
    chord = area / span
    folded = plan[:, 1] != 0.0
    # the flat wing with the mesh of the same fraction
    flat = np.array([int(np.argmin(folded | (plan[:, 0] != own))) for own in plan[:, 0]])
    scale = area * span
    yaw = (at.side_moment + gravity * at.side_force) / scale
    moved = CENTRE_DOUBT * chord * np.abs(at.side_force) / scale
    error = np.hypot(doubt * yaw, moved)
    drag = at.span_square[flat] / at.span_square - 1.0
    least = at.span_square_least
    shift = (at.lift_centre - at.lift_centre[flat]) / chord
    drag_error = folded * (doubt * np.abs(drag) + DRAG_DOUBT)
    shift_error = folded * (doubt * np.abs(shift) + SHIFT_DOUBT)
    width = span * (1.0 - plan[:, 0] + plan[:, 0] * np.cos(plan[:, 1]))
    columns: Iterable[Any] = (
        plan[:, 0], plan[:, 1], width,
        yaw, yaw - np.hypot(error, SIDEWASH * yaw), yaw + error, yaw * scale / FIN_SLOPE,
        at.roll_moment / scale,
        drag, least[flat] / least - 1.0, drag - drag_error, drag + drag_error,
        shift, shift - shift_error, shift + shift_error,
    )  # fmt: skip
    for line in zip(*columns, strict=True):
        yield BenefitPoint(mach, *map(float, line))
