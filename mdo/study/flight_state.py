"""Whether a wing can do the cases of a study: panels apart, lift coefficient, thick sections."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from mdo.disciplines.atmosphere import HEAT_RATIO, STANDARD_GRAVITY, standard_pressure
from mdo.study.reader import Reader
from mdo.study.sections import Breakpoint

# A plain wing stalls at a lift coefficient of 1.2 to 1.6, one with slotted flaps near 2.5: common
# practice, no source. The load models are linear in incidence and know no stall.
LIFT_COEFFICIENT_MAX = 2.5
# Sum of Mach number and thickness ratio at which shocks form on a section that carries no lift:
# Korn's rule with the constant of an advanced section, 0.95 (from memory). Above Mach 1 linear
# theory asks for thin sections: 8 %, common practice, no source.
MACH_AND_THICKNESS = 0.95
THICKNESS_SUPERSONIC = 0.08

Values = Mapping[str, Any]
Cases = Sequence[tuple[Values, Values | None]]


def check_panels_apart(reader: Reader, vehicle: Values, cases: Cases) -> None:
    """Refuse angles at which the panels of both wings meet in the plane of symmetry.

    Parameters
    ----------
    reader
        Takes problems.
    vehicle, cases
        Values of the vehicle and of each case, as far as they are sound.
    """
    fold, fraction = vehicle.get("fold_station"), vehicle.get("fold_fraction")
    if not fold or not fraction or not 0.0 < fraction < 1.0:
        return
    panel = fold * fraction / (1.0 - fraction)
    for values, _ in cases:
        for name in ("fold_from", "fold_to", "fold_at"):
            angle = values.get(name)
            if angle is not None and fold + panel * math.cos(angle) <= 0.0:
                most = math.degrees(math.acos(-fold / panel))
                reader.problem(
                    f"case.{values.get('id')}.{name}",
                    f"the panels of both wings meet, got {math.degrees(angle):.4g} deg with a fold "
                    f"fraction of {fraction:.3g}, expected less than {most:.3g} deg either way",
                )


def check_flight(reader: Reader, vehicle: Values, cases: Cases) -> None:
    """Refuse cases that no wing can fly; warn where the section is thick for its Mach number.

    Parameters
    ----------
    reader
        Takes problems and warnings.
    vehicle, cases
        Values of the vehicle, and of each case and its return, as far as they are sound.
    """
    area = vehicle.get("reference_area")
    wing: Sequence[Breakpoint] = vehicle.get("wing") or ()
    thickness = max((section.thickness_ratio for section in wing), default=0.0)
    for path, state in _flown(cases):
        mach, mass = state["mach"], vehicle.get("mass")
        if mass and area:
            lift = abs(state["load_factor"]) * state["mass_fraction"] * mass * STANDARD_GRAVITY
            pressure = 0.5 * HEAT_RATIO * standard_pressure(state["altitude"]) * mach**2
            coefficient = lift / (pressure * area)
            if coefficient > LIFT_COEFFICIENT_MAX:
                reader.problem(
                    path,
                    f"too slow to fly, got a lift coefficient of {coefficient:.3g} (mass, load "
                    f"factor, speed, altitude and wing area), expected at most "
                    f"{LIFT_COEFFICIENT_MAX:g}",
                )
        thin = THICKNESS_SUPERSONIC if mach >= 1.0 else MACH_AND_THICKNESS - mach
        if thickness > thin:
            reader.warn(
                path,
                f"thickness ratio {thickness:g} at Mach {mach:.3g} is thick for that speed: shocks "
                "form on the section, which the load models do not know",
            )


def _flown(cases: Cases) -> Iterator[tuple[str, Values]]:
    """Paths and values of the states in flight that are known in full."""
    needed = ("id", "mach", "altitude", "load_factor", "mass_fraction")
    for values, back in cases:
        for state, end in ((values, ""), (back or {}, ".return")):
            known = all(state.get(name) is not None for name in needed)
            if known and state.get("location") == "air" and state["mach"] > 0.0:
                yield f"case.{state['id']}{end}", state
