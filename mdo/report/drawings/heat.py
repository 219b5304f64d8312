"""Heat of a fold and of its return: temperature against time, and where the joules go.

The lumped balance of :mod:`mdo.disciplines.heat.balance`, stretch by stretch, through the same
functions; a test holds the sums to the values of the design.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import jax.numpy as jnp
import numpy as np
from numpy.typing import NDArray

from mdo.defend.tables.legs import times_table
from mdo.defend.tables.requirements import Facts
from mdo.disciplines.heat.balance import latent_heat_under_stress
from mdo.disciplines.heat.energy_balance import REACH, segment_loss, segment_time
from mdo.disciplines.heat.hardware import TubeHardware, heating_spans, tube_hardware
from mdo.disciplines.heat.heater import line_power_ratios
from mdo.disciplines.heat.strokes import Bay, cooling_time, still_losses
from mdo.model.layout import SET_NAMES
from mdo.optimise.appraisal import Appraisal

Floats = NDArray[np.float64]


class Stretch(NamedTuple):
    """One stretch of a course: times and temperatures at both ends, and where it would settle.

    Times [s] from the command, temperatures [K]; ``settles`` is the temperature that the stretch
    tends to (:func:`mdo.disciplines.heat.energy_balance.segment_time`).
    """

    begins: float
    ends: float
    first: float
    last: float
    settles: float

    def curve(self, points: int = 25) -> tuple[Floats, Floats]:
        """Times [s] and temperatures [K] between the ends: exponential, or straight where none."""
        time = np.linspace(self.begins, self.ends, points)
        first, last = self.first - self.settles, self.last - self.settles
        share = np.linspace(0.0, 1.0, points)
        if first * last <= 0.0 or min(abs(first), abs(last)) < REACH:
            return time, self.first + share * (self.last - self.first)
        return time, self.settles + first * (last / first) ** share


class Course(NamedTuple):
    """Tightest fold and its return, of the sets of one wing.

    Attributes
    ----------
    leg, side : the fold and the set that it heats
    fold, back_fold : the same in words, of the fold and of its return
    motion_time : of the fold at its fastest [s]
    heating_finish : Af' of the set that is heated [K]
    heating : stretches from the coldest bay to As', to Af' and to the hot temperature
    parts : where the heat goes, words to joules of the whole set, and ``given``, what the heater
        gives
    back, cooled, cooling : the return leg, the set that cools in it, its stretches to Ms' and to
        Mf'; None and empty where no leg returns
    """

    leg: int
    side: int
    fold: str
    back_fold: str
    motion_time: float
    heating_finish: float
    heating: tuple[Stretch, ...]
    parts: dict[str, float]
    given: float
    back: int | None
    cooled: int
    cooling: tuple[Stretch, ...]


def heat_course(appraisal: Appraisal) -> Course | None:
    """Heat of the tightest fold and of its return; None where no heated set folds."""
    facts = Facts(appraisal)
    times = times_table(facts)
    folds = times[(times["what"] == "fold time") & times["time"].notna()]
    if not len(folds):
        return None
    leg = int((folds["time"] / folds["time_limit"]).idxmax())
    side = 0 if facts.up[leg] else 1
    hardware = _hardware(appraisal, facts)
    heating, parts, given = _heating(appraisal, facts, hardware, leg, side)
    back = _return_of(appraisal, facts, times["time"] / times["time_limit"], leg)
    cooled = 1 if back is not None and facts.up[back] else 0
    cooling = () if back is None else _cooling(facts, hardware, back, cooled)
    return Course(
        leg,
        side,
        f"{facts.leg_names[leg]}: {SET_NAMES[side]}",
        "" if back is None else f"{facts.leg_names[back]}: {SET_NAMES[cooled]}",
        float(facts.v["motion_time"][leg]),
        float(facts.v["heating_finish"][side]),
        heating,
        parts,
        given,
        back,
        cooled,
        cooling,
    )


def _return_of(appraisal: Appraisal, facts: Facts, use: Any, leg: int) -> int | None:
    """Return leg of the same case, else the tightest one, else none."""
    legs = appraisal.problem.assembled.legs
    moves = np.asarray(facts.legs.moves) > 0.5
    backs = [at for at, one in enumerate(legs) if one.is_return and moves[at]]
    own = [at for at in backs if legs[at].case == legs[leg].case]
    return max(own or backs, key=lambda at: float(use[at]), default=None)


def _hardware(appraisal: Appraisal, facts: Facts) -> TubeHardware:
    parameters = appraisal.problem.assembled.parameters
    return tube_hardware(
        **{
            name: jnp.asarray(facts.d[name])
            for name in (
                "tube_outer_radius",
                "wall_ratio",
                "tube_length",
                "insulation_thickness",
            )
        },
        **{
            name: jnp.asarray(facts.v[name])
            for name in (
                "fitting_mass_per_tube",
                "radiation_exposure",
                "convection_exposure",
            )
        },
        alloy=facts.alloy,
        choices=facts.choices,
        assumed=parameters["thermal_assumptions"],
    )


def _heating(
    appraisal: Appraisal, facts: Facts, hardware: TubeHardware, leg: int, side: int
) -> tuple[tuple[Stretch, ...], dict[str, float], float]:
    """Stretches of the heating of one set in one leg, and where its heat goes [J]."""
    assumed = appraisal.problem.assembled.parameters["thermal_assumptions"]
    bay = Bay(
        *(
            jnp.asarray(facts.v[name])[leg].reshape(1, 1)
            for name in ("bay_cold_temperature", "bay_hot_temperature", "air_pressure")
        )
    )
    hot = jnp.asarray(facts.d["hot_temperature"])
    spans = heating_spans(
        start=bay.cold,
        heating_start=jnp.asarray(facts.v["heating_start"]),
        heating_finish=jnp.asarray(facts.v["heating_finish"]),
        hot_temperature=hot,
    )
    losses = still_losses(spans, jnp.asarray(facts.v["hold_temperature"]), hot, bay, hardware)
    count = float(facts.d["tube_count"][side])
    low_line, _ = line_power_ratios(facts.supply)
    power = float(facts.d["heater_power"][side]) / count * float(low_line)
    power *= 1.0 - float(assumed.heater_tolerance_low)
    mass, share = float(hardware.tube_mass), float(facts.v["heated_fraction"][side])
    free = mass * float(facts.alloy.latent_heat) * share
    loaded = mass * share * float(
        latent_heat_under_stress(jnp.asarray(facts.d["operating_stress"]), facts.alloy)[side]
    )  # fmt: skip
    capacity = float(hardware.capacity_heating[side])
    cold = float(bay.cold[0, 0])
    time, at, lost = float(facts.wanted.dead_time), cold, 0.0
    stretches = []
    for span, conductance, extra in zip(spans, losses.stretches, (0.0, loaded, 0.0), strict=True):
        wide, ua = float(span[0, side]), float(conductance[0, side])
        heat = capacity * wide + extra
        numbers = {"heat": heat, "conductance": ua, "span": wide}
        arrays = {name: jnp.asarray(value) for name, value in numbers.items()}
        reach = jnp.asarray(power / ua - (at + wide - cold))
        took = segment_time(**arrays, reach=reach)
        excess = jnp.asarray(at - cold)
        lost += float(segment_loss(time=took, **arrays, excess=excess, power=jnp.asarray(power)))
        stretches.append(Stretch(time, time + float(took), at, at + wide, cold + power / ua))
        time, at = time + float(took), at + wide
    warmed = at - cold
    tubes = mass * float(facts.alloy.specific_heat) * warmed
    fitting = float(facts.v["fitting_mass_per_tube"][side]) * float(assumed.fitting_specific_heat)
    ends = fitting * float(assumed.fitting_soak_heating) * warmed
    parts = {
        "warming the tubes": tubes,
        "warming heaters and sleeves": capacity * warmed - tubes - ends,
        "warming the end fittings": ends,
        "latent heat of the alloy": free,
        "work of a whole stroke at operating stress": loaded - free,
        "lost to the bay": lost,
    }
    given = power * (time - float(facts.wanted.dead_time))
    return tuple(stretches), {words: count * heat for words, heat in parts.items()}, count * given


def _cooling(facts: Facts, hardware: TubeHardware, leg: int, side: int) -> tuple[Stretch, ...]:
    """Stretches of the cooling of one set in one leg: to Ms', and to Mf'."""
    names = ("bay_hot_temperature", "bay_hot_temperature", "air_pressure")
    bay = Bay(*(jnp.asarray(facts.v[name])[leg].reshape(1, 1) for name in names))
    blown = float(facts.choices.cooling) > 0.5
    speed = float(np.broadcast_to(facts.legs.bay_air_speed, facts.up.shape)[leg]) if blown else 0.0
    start = jnp.asarray(facts.v["cooling_start"])
    sensible = cooling_time(
        hardware=hardware,
        latent=jnp.asarray(0.0),
        hot_temperature=jnp.asarray(facts.d["hot_temperature"]),
        cooling_start=start,
        cooling_finish=start,
        bay=bay,
        speed=jnp.asarray(speed),
    )
    first, whole = float(sensible[0, side]), float(facts.v["cool_time"][leg, side])
    settles = float(bay.hot[0, 0])
    middle, end = float(start[side]), float(facts.v["cooling_finish"][side])
    hot = max(float(facts.d["hot_temperature"]), middle)
    return (
        Stretch(0.0, first, hot, middle, settles),
        Stretch(first, whole, middle, end, settles),
    )
