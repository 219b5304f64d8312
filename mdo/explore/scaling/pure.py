r"""The pure family: nothing that has a size of its own, so that a law gives one exponent exactly.

Where a law makes all loads go as ``size^k``, an actuator that carries them at the same stresses
and strains is a copy of the given one whose lengths go as the cube root of the load,

.. math:: \lambda = s^{k/3},\qquad T = \tau\,r^2\,t \sim \lambda^3 ,

with the same numbers of tubes, gear ratio, wall and length over radius. Its alloy has the volume of
moment times angle over work per volume, so mass and work go as :math:`\lambda^3 = s^k`. Heat is
stored in the volume and leaves through the surface: with one film coefficient, as radiation has,
times go as :math:`\lambda` and powers as :math:`\lambda^2`.

What keeps a size of its own in reality is freed. Gauges (wall, bore, housing, plates), fixed masses
and masses per piece (controller, sensors, leads) are zero, and the room in the wing is without
limit. Masses per power and conductivities follow the actuator, so that masses go with the volume
and conductances with the surface. What follows no power of a length is left out: still air (its
film coefficient goes with no power of a diameter; tubes radiate), the lock (its mass goes with the
thickness of the wing too), the wires. Load factors on deck follow the law too, and the dynamic law
keeps Mach number and takes its dynamic pressure from denser air. The mass that flies, actuator
included, goes as the law says. Time limits are longer than those of the study, since without still
air tubes cool slower; they go as :math:`\lambda`.

The optimiser knows none of this: it gets each size as a problem like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

from mdo.arrays import Floats
from mdo.data_files import toml_beside
from mdo.model.parts import air_pressure
from mdo.optimise.problem import DesignProblem
from mdo.study.scaling_laws import LAWS

PATIENCE = 3.0  # time limits over those of the study
ALTITUDES = (-40_000.0, 30_000.0)  # [m] between which a pressure is looked for

_DATA = toml_beside(__file__)
# Exponents of the actuator's length and values whatever the size, by record and field.
FOLLOWS: dict[str, dict[str, float]] = _DATA["follows"]
FREED: dict[str, dict[str, float]] = _DATA["freed"]


class Anchor(NamedTuple):
    """Masses at the given size [kg]: that of the aircraft with its actuator, and the actuator's."""

    closed: float
    system: float


def actuator_length(law: str, size: float) -> float:
    """Length of the actuator over that of the given one."""
    return float(size ** (LAWS[law].moment / 3.0))


def pure_problem(
    given: DesignProblem, natural: DesignProblem, law: str, size: float, anchor: Anchor | None
) -> DesignProblem:
    """Problem of one size without anything that has a size of its own.

    Parameters
    ----------
    given : the given vehicle, as its study says
    natural : the vehicle scaled by the law, its cases as they are
    law, size : as for :func:`mdo.study.scaling_laws.scaled`
    anchor : masses of the pure optimum at the given size; None while that is looked for
    """
    length = actuator_length(law, size)
    own = given.assembled.parameters
    changed = dict(natural.assembled.parameters)

    def change(record: str, **fields: Any) -> None:
        changed[record] = changed[record]._replace(**fields)

    for record, fields in FOLLOWS.items():
        kept = {name: getattr(own[record], name) * length**power for name, power in fields.items()}
        change(record, **kept)
    for record, values in FREED.items():
        change(record, **values)
    large = changed["power_assumptions"].converter_specific_mass_large
    change("power_assumptions", converter_specific_mass_small=large)
    growth = own["mass_assumptions"].growth_electronics_medium
    change("mass_assumptions", growth_electronics_small=growth, growth_electronics_large=growth)
    change("vehicle", mass_without_actuator=_flying(own, law, size, anchor))
    change("supply", power_available=own["supply"].power_available * length**2)
    changed["legs"] = _states(own["legs"], law, size)
    stretch = variable_stretch(given.labels, length)
    bounds = {name: getattr(given, name) * stretch for name in ("lower", "upper", "frozen")}
    return replace(natural.with_parameters(changed), **bounds)


def variable_stretch(labels: tuple[str, ...], length: float) -> Floats:
    """Factor on each design variable of an actuator of another length."""
    return np.array(
        [length ** _DATA["variables"].get(label.split(".")[0], 0.0) for label in labels]
    )


def _flying(own: Mapping[str, Any], law: str, size: float, anchor: Anchor | None) -> float:
    """Mass of the aircraft without its actuator, so that with it it goes as the law says [kg]."""
    if anchor is None:
        return float(own["vehicle"].mass_without_actuator)
    rule = LAWS[law]
    return float(anchor.closed * size**rule.mass - anchor.system * size**rule.moment)


def _states(own: Any, law: str, size: float) -> Any:
    """States of legs by the law, load factors on deck too; Froude's law in flight by denser air."""
    rule = LAWS[law]
    flying = np.asarray(own.airborne) > 0.5
    denser = size ** (2.0 * rule.speed)
    altitude = [
        _altitude_of(float(height), denser) if flies and denser != 1.0 else float(height)
        for height, flies in zip(np.asarray(own.altitude), flying, strict=True)
    ]
    kinds = {"wind_speed": "speed", "roll_rate": "rate", "roll_acceleration": "acceleration",
             "load_factor": "load_factor", "side_load_factor": "load_factor"}  # fmt: skip
    return own._replace(
        altitude=np.array(altitude),
        time_limit=PATIENCE * np.asarray(own.time_limit) * actuator_length(law, size),
        **{name: np.asarray(getattr(own, name)) * size ** getattr(rule, kind)
           for name, kind in kinds.items()},
    )  # fmt: skip


def _altitude_of(height: float, ratio: float) -> float:
    """Altitude at which the pressure is a ratio of that at another [m]."""
    wanted = ratio * air_pressure(height)
    return float(brentq(lambda h: air_pressure(h) / wanted - 1.0, *ALTITUDES, xtol=1e-9))
