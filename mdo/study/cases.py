"""Cases of a study: each a flight or deck state, a motion or a hold, its limits and its life."""

from __future__ import annotations

from dataclasses import dataclass

from mdo.study.fields import boolean, choice, many, number, quantity, words

OTHER_SETS = ("just_heated", "cold", "warmed")
KINDS = ("fold", "hold", "soak", "jam", "heat_loss")
RETURN_KEYS = (
    "location", "mach", "airspeed_equivalent", "altitude", "temperature_offset", "load_factor",
    "side_load_factor", "bank", "deck_roll", "pitch", "sideslip", "roll_rate", "roll_acceleration",
    "gust_speed", "wind_speed", "mass_fraction", "bay_cold", "bay_hot", "bay_soak_factor",
    "structure_temperature", "cooling_air_speed", "torque_margin", "other_set",
    "outer_stress_factor", "path_strain", "path_drag_factor",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Case:
    """One ``[[case]]``; fields that a case does not use are zero, times it has not are None."""

    id: str = words(required=True, name=True)
    title: str = words(default="")
    kind: str = choice(KINDS, required=True)
    reacted_by: str = choice(("actuator", "lock"), otherwise="by `kind`; needed for a `hold`")
    fold_from: float = quantity(otherwise="none: needed for a `fold`")
    fold_to: float = quantity(otherwise="none: needed for a `fold`")
    fold_at: float | None = quantity(otherwise="none: needed for `hold`, `jam`, `heat_loss`")
    returns: bool = boolean()
    location: str = choice(("deck", "air"), required=True)
    mach: float = quantity(otherwise="none: in flight give this or `airspeed_equivalent`")
    airspeed_equivalent: float | None = quantity(otherwise="none: in flight give this or `mach`")
    altitude: float = quantity(default="0 m")
    temperature_offset: float = quantity(default="0 K")
    load_factor: float = quantity(default=1)
    side_load_factor: float = quantity(default=0)
    bank: float = quantity(default="0 deg")
    deck_roll: float = quantity(default="0 deg")
    pitch: float = quantity(default="0 deg")
    sideslip: float = quantity(default="0 deg")
    roll_rate: float = quantity(default="0 rad/s")
    roll_acceleration: float = quantity(default="0 rad/s2")
    gust_speed: float = quantity(default="0 m/s")
    wind_speed: float = quantity(default="0 m/s")
    mass_fraction: float = quantity(default=1)
    bay_cold: float | None = quantity(inherits="requirements")
    bay_hot: float | None = quantity(inherits="requirements")
    bay_soak_factor: float | None = quantity(otherwise="none: the bay is given")
    structure_temperature: float | None = quantity(otherwise="none: needed with `bay_soak_factor`")
    soak_temperature: float | None = quantity(
        otherwise="71 degC for a `soak`",
        source="71 degC, induced hot storage, MIL-STD-810 method 501 (from memory)",
    )
    cooling_air_speed: float = quantity(inherits="actuator")
    fold_time: float | None = quantity(inherits="requirements")
    return_time: float | None = quantity(inherits="requirements")
    other_set: str | None = choice(
        OTHER_SETS, otherwise="cold for a fold after rest; for a return what `hold_time` leaves"
    )
    hold_time: float | None = quantity(
        nullable=True, otherwise="long: the set that folded is cold when the panel returns"
    )
    folds_per_life: float = quantity(otherwise="0; needed for a `fold`")
    torque_margin: float = quantity(inherits="requirements")
    outer_stress_factor: float = quantity(
        default=1.4, judged="covers what a path leaves in a wall; `incremental` may replace it"
    )
    path_strain: tuple[float, ...] = many(number("path_strain"), default=())
    path_drag_factor: tuple[float, ...] = many(number("path_drag_factor"), default=())
    safety_factor: float = quantity(default=1.5, source="14 CFR 25.303")
    probability: str = words(default="probable")
    lock_state: str = choice(("unlocked", "locked"), otherwise="by what carries the load")
    return_case: Case | None = None
    """State of the return leg: this case's, ``[case.return]`` over it, angles swapped."""
