"""What decides which rows count in a study: legs, discrete choices and who drives."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from mdo.arrays import Booleans

_FLAGS = ("moves", "holds", "is_return", "other_cold", "other_warmed")
NO_ENVELOPE = 1e5  # [m] a larger envelope is none: the study leaves it out


class Situation(NamedTuple):
    """Legs, choices and who drives, as plain arrays (per leg, set or static case) and flags.

    ``real`` and ``real_static`` are false for entries that only fill the arrays.
    """

    moves: Booleans
    holds: Booleans
    works: Booleans
    real: Booleans
    is_return: Booleans
    other_cold: Booleans
    other_warmed: Booleans
    just_heated: Booleans
    held: Booleans
    heated: Booleans
    by_load: Booleans
    present: Booleans
    static: Booleans
    real_static: Booleans
    opposed: bool
    retwist: bool
    brake: bool
    tubes_failed: bool
    life_law: bool
    nested: bool
    geared: bool
    plated: bool
    envelope_height: bool
    envelope_length: bool
    bench: bool


def situation(parameters: Mapping[str, Any], heated: Any, returned_by_load: Any) -> Situation:
    """Collect what masks need from the parameters and from who drives each leg."""
    legs, choices = parameters["legs"], parameters["choices"]
    statics = parameters["statics"].state
    flag = {name: np.asarray(getattr(legs, name)) > 0.5 for name in _FLAGS}
    topology = int(choices.topology)
    return Situation(
        **flag,
        just_heated=flag["moves"] & ~flag["other_cold"] & ~flag["other_warmed"],
        held=np.asarray(legs.hold_time) > 0.0,
        works=flag["moves"] | flag["holds"],
        real=np.asarray(legs.filler) < 0.5,
        heated=np.asarray(heated) > 0.5,
        by_load=np.asarray(returned_by_load) > 0.5,
        present=np.asarray(choices.set_present) > 0.5,
        static=np.asarray(statics.locked) + np.asarray(statics.soak) > 0.5,
        real_static=np.asarray(statics.filler) < 0.5,
        opposed=int(choices.configuration) == 2,
        retwist=int(choices.configuration) == 2 and choices.return_mode > 0.5,
        brake=choices.brake > 0.5,
        tubes_failed=choices.tubes_failed > 0.5,
        life_law=parameters["alloy"].life_law > 0.5,
        nested=topology == 1,
        geared=topology == 2,
        plated=topology == 3,
        envelope_height=parameters["requirements"].envelope_height < NO_ENVELOPE,
        envelope_length=parameters["requirements"].envelope_length < NO_ENVELOPE,
        bench=choices.assemblies < 1.5,
    )
