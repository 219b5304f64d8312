"""Cases of a study: each a flight or deck state, a motion or a hold, its limits and its life."""

from __future__ import annotations

from dataclasses import dataclass

from mdo.study.fields import boolean, choice, quantity, words

KINDS = ("fold", "hold", "soak", "jam", "heat_loss")
FOLD_LIMIT = ("-110 deg", "110 deg")  # the load models hold to about 110 deg of fold
RETURN_KEYS = (
    "location", "mach", "airspeed_equivalent", "altitude", "temperature_offset", "load_factor",
    "side_load_factor", "bank", "deck_roll", "pitch", "sideslip", "roll_rate", "roll_acceleration",
    "gust_speed", "wind_speed", "mass_fraction", "bay_cold", "bay_hot", "bay_soak_factor",
    "structure_temperature", "cooling_air_speed", "torque_margin",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Case:
    """One ``[[case]]``; fields that a case does not use are zero, times it has not are None."""

    id: str = words("Name of the case, unique", required=True, name=True)
    title: str = words("What the case is", default="")
    kind: str = choice(
        KINDS, "Motion, hold, heat soak, jam on one side, loss of heat", required=True
    )
    reacted_by: str = choice(
        ("actuator", "lock"), "What carries the load (fold: actuator; jam, heat_loss: lock)"
    )
    fold_from: float = quantity(
        "rad", "Fold angle at the start", low=FOLD_LIMIT[0], high=FOLD_LIMIT[1]
    )
    fold_to: float = quantity("rad", "Fold angle at the end", low=FOLD_LIMIT[0], high=FOLD_LIMIT[1])
    fold_at: float | None = quantity(
        "rad", "Fold angle held (hold, jam, heat_loss)", low=FOLD_LIMIT[0], high=FOLD_LIMIT[1]
    )
    returns: bool = boolean("True if the panel goes back, in a leg of its own")
    location: str = choice(("deck", "air"), "On deck or in flight", required=True)
    mach: float = quantity("1", "Mach number (or airspeed_equivalent)", low=0.01, high=3)
    airspeed_equivalent: float | None = quantity(
        "m/s", "Equivalent airspeed (or mach)", low="1 m/s", high="800 m/s"
    )
    altitude: float = quantity(
        "m", "Geopotential altitude", low="-500 m", high="30 km", default="0 m"
    )
    temperature_offset: float = quantity(
        "K", "Air against the standard atmosphere", low="-80 K", high="60 K", default="0 K",
        difference=True,
    )  # fmt: skip
    load_factor: float = quantity("1", "Normal load factor", low=-6, high=12, default=1)
    side_load_factor: float = quantity(
        "1", "Side load factor, to the right", low=-4, high=4, default=0
    )
    bank: float = quantity(
        "rad", "Bank, right wing down", low="-90 deg", high="90 deg", default="0 deg"
    )
    deck_roll: float = quantity(
        "rad", "Roll of the deck to either side", low="0 deg", high="45 deg", default="0 deg"
    )
    pitch: float = quantity("rad", "Pitch", low="-60 deg", high="60 deg", default="0 deg")
    sideslip: float = quantity(
        "rad", "Sideslip to either side", low="0 deg", high="30 deg", default="0 deg"
    )
    roll_rate: float = quantity(
        "rad/s", "Roll rate to either side", low="0 rad/s", high="400 deg/s", default="0 rad/s"
    )
    roll_acceleration: float = quantity(
        "rad/s**2", "Roll acceleration to either side", low="0 rad/s2", high="50 rad/s2",
        default="0 rad/s2",
    )  # fmt: skip
    gust_speed: float = quantity(
        "m/s", "Gust, true speed, any direction", low="0 m/s", high="40 m/s", default="0 m/s"
    )
    wind_speed: float = quantity(
        "m/s", "Wind on deck, any direction", low="0 m/s", high="100 kt", default="0 m/s"
    )
    mass_fraction: float = quantity(
        "1", "Vehicle mass in this case over full mass", low=0.2, high=1.2, default=1
    )
    bay_cold: float | None = quantity(
        "K", "Coldest bay (else of [requirements])", low="-90 degC", high="200 degC"
    )
    bay_hot: float | None = quantity(
        "K", "Hottest bay (else of [requirements])", low="-90 degC", high="400 degC"
    )
    bay_soak_factor: float | None = quantity(
        "1", "Bay between structure (0) and recovery temperature (1), instead of a given bay",
        low=0, high=1,
    )  # fmt: skip
    structure_temperature: float | None = quantity(
        "K", "Structure around the bay, with bay_soak_factor", low="-90 degC", high="400 degC"
    )
    soak_temperature: float | None = quantity(
        "K", "Bay of a heat soak", low="-20 degC", high="400 degC",
        source="71 degC, induced hot storage, MIL-STD-810 method 501 (from memory)",
    )  # fmt: skip
    cooling_air_speed: float = quantity(
        "m/s", "Air over the tubes with a blower (else of [actuator])", low="0 m/s", high="60 m/s"
    )
    fold_time: float | None = quantity(
        "s", "Longest fold (else of [requirements])", low="1 s", high="4 h"
    )
    return_time: float | None = quantity(
        "s", "Longest return (else of [requirements])", low="1 s", high="12 h"
    )
    folds_per_life: float = quantity("1", "Folds in this case over the life", low=0, high=1e7)
    torque_margin: float = quantity("1", "Torque margin (else of [requirements])", low=0, high=3)
    safety_factor: float = quantity(
        "1", "Ultimate over limit load, for a lock", low=1, high=3, default=1.5,
        source="14 CFR 25.303",
    )  # fmt: skip
    probability: str = words("Class of probability, for the record", default="probable")
    lock_state: str = choice(
        ("unlocked", "locked"), "State of the fold lock (locked where a lock carries the load)"
    )
    return_case: Case | None = None
    """State of the return leg: this case's, ``[case.return]`` over it, angles swapped."""
