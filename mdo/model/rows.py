"""Which constraint rows count in a study, what each means, and how its number is read.

The rows themselves come from :mod:`mdo.disciplines.constraints`; here are their shapes, their
words, and the masks that follow from legs and discrete choices.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Booleans = NDArray[np.bool_]
SCALAR, SETS, LEGS, ANGLES, STATICS = "scalar", "set", "leg", "angle", "static case"


class Situation(NamedTuple):
    """What masks depend on, as plain arrays: legs, choices and who drives."""

    moves: Booleans
    holds: Booleans
    works: Booleans
    is_return: Booleans
    heated: Booleans
    by_load: Booleans
    present: Booleans
    static: Booleans
    opposed: bool
    retwist: bool
    brake: bool
    tubes_failed: bool
    life_law: bool
    nested: bool
    plated: bool
    envelope_height: bool
    envelope_length: bool


class RowGroup(NamedTuple):
    """One kind of row: what it says, over what it runs, and where it counts."""

    title: str
    over: str
    counts: Callable[[Situation], Any]


def _heated_motion(s: Situation) -> Booleans:
    return s.heated & s.moves


def _cooled_return(s: Situation) -> Booleans:
    """Legs at whose start a set must cool: returns of a pair, and legs left to load or spring."""
    return (s.moves & s.is_return & s.opposed) | s.by_load


ROW_GROUPS: dict[str, RowGroup] = {
    "drive_stress": RowGroup("Stress needed for the factored moment", ANGLES, lambda s: s.heated),
    "drive_strain": RowGroup("Twist left for the factored moment", ANGLES, lambda s: s.heated),
    "failed_stress_row": RowGroup(
        "Stress with one tube failed", ANGLES, lambda s: s.heated & s.tubes_failed
    ),
    "failed_strain_row": RowGroup(
        "Twist left with one tube failed", ANGLES, lambda s: s.heated & s.tubes_failed
    ),
    "load_return": RowGroup("Load or spring re-twists the cold tubes", ANGLES, lambda s: s.by_load),
    "overrun": RowGroup(
        "Load that runs over is held by the cold set",
        ANGLES,
        lambda s: _heated_motion(s) & (not s.brake),
    ),
    "fold_time_row": RowGroup("Fold time", LEGS, lambda s: _heated_motion(s) & ~s.is_return),
    "return_time_row": RowGroup("Return time", LEGS, _cooled_return),
    "return_heat_row": RowGroup(
        "Heating time of the returning set",
        LEGS,
        lambda s: _heated_motion(s) & s.is_return & (not s.retwist),
    ),
    "power_reserve": RowGroup("Power above the loss at temperature", LEGS, lambda s: s.heated),
    "return_temperature": RowGroup(
        "Return gate: martensite finish above the hottest bay",
        LEGS,
        _cooled_return,
    ),
    "self_start": RowGroup(
        "Self-start gate: austenite start above bay and soak", LEGS, lambda s: np.ones_like(s.moves)
    ),
    "driver": RowGroup("A driver for the leg", LEGS, lambda s: s.works),
    "structure_temperature_row": RowGroup(
        "Adjacent structure temperature", LEGS, lambda s: s.heated
    ),
    "declared_stress": RowGroup(
        "Declared life: stress", LEGS, lambda s: _heated_motion(s) & (not s.life_law)
    ),
    "declared_strain": RowGroup(
        "Declared life: strain", LEGS, lambda s: _heated_motion(s) & (not s.life_law)
    ),
    "strength": RowGroup("Outer-fibre stress", SETS, lambda s: s.present),
    "recoverable": RowGroup("Recoverable strain", SETS, lambda s: s.present),
    "life": RowGroup("Life (Miner)", SETS, lambda s: s.present),
    "heater_watt_density": RowGroup("Heater flux at high line", SETS, lambda s: s.present),
    "heater_sheath": RowGroup("Heater temperature", SETS, lambda s: s.present),
    "buckling": RowGroup("Torsional buckling below t/r 0.1", SETS, lambda s: s.present),
    "alloy_temperature": RowGroup("Alloy temperature", SCALAR, lambda _: True),
    "bus_power": RowGroup("Peak power from the bus", SCALAR, lambda _: True),
    "slenderness": RowGroup("Length over diameter", SCALAR, lambda _: True),
    "stubbiness": RowGroup("Length over diameter, least", SCALAR, lambda _: True),
    "wall": RowGroup("Wall that can be made", SCALAR, lambda _: True),
    "bore": RowGroup("Bore that takes a heater", SCALAR, lambda _: True),
    "bundle_room": RowGroup("Height of the bundle in the wing", SCALAR, lambda _: True),
    "bundle_chord": RowGroup("Length of the bundle along the chord", SCALAR, lambda _: True),
    "envelope_height_row": RowGroup("Envelope height", SCALAR, lambda s: s.envelope_height),
    "envelope_length_row": RowGroup("Envelope length", SCALAR, lambda s: s.envelope_length),
    "plated_gate": RowGroup("Bending of offset tubes between plates", SCALAR, lambda s: s.plated),
    "nested_gate": RowGroup("Innermost nested tube", SCALAR, lambda s: s.nested),
    "static_self_start": RowGroup(
        "Self-start gate of the soaks and locked states", STATICS, lambda s: s.static
    ),
}


def situation(parameters: Mapping[str, Any], heated: Any, returned_by_load: Any) -> Situation:
    """Collect what the masks need from parameters and from who drives each leg."""
    legs, choices = parameters["legs"], parameters["choices"]
    statics = parameters["statics"].state
    flag = {name: np.asarray(getattr(legs, name)) > 0.5 for name in ("moves", "holds", "is_return")}
    topology = int(choices.topology)
    return Situation(
        **flag,
        works=flag["moves"] | flag["holds"],
        heated=np.asarray(heated) > 0.5,
        by_load=np.asarray(returned_by_load) > 0.5,
        present=np.asarray(choices.set_present) > 0.5,
        static=np.asarray(statics.locked) + np.asarray(statics.soak) > 0.5,
        opposed=int(choices.configuration) == 2,
        retwist=int(choices.configuration) == 2 and choices.return_mode > 0.5,
        brake=choices.brake > 0.5,
        tubes_failed=choices.tubes_failed > 0.5,
        life_law=parameters["alloy"].life_law > 0.5,
        nested=topology == 1,
        plated=topology == 3,
        envelope_height=parameters["requirements"].envelope_height < 1e5,
        envelope_length=parameters["requirements"].envelope_length < 1e5,
    )


class RowLabel(NamedTuple):
    """Where a row comes from: its group, and leg, angle or set where it has one."""

    group: str
    leg: int
    angle: int
    side: int


class RowIndex(NamedTuple):
    """Labels of all rows in the order of the vector, and the mask of those that count."""

    labels: tuple[RowLabel, ...]
    counts: Booleans


def index_rows(
    row_names: tuple[str, ...], where: Situation, *, leg_count: int, angle_count: int
) -> RowIndex:
    """Labels and mask of the row vector of a study.

    A hold has one fold angle: only its first row counts, the copies would only make multipliers
    ambiguous.
    """
    labels: list[RowLabel] = []
    masks: list[Booleans] = []
    for name in row_names:
        group = ROW_GROUPS[name]
        counts = np.asarray(group.counts(where))
        if group.over == ANGLES:
            grid = np.repeat(counts[:, None], angle_count, axis=1)
            grid[where.holds, 1:] = False
            labels += [
                RowLabel(name, leg, angle, -1)
                for leg in range(leg_count)
                for angle in range(angle_count)
            ]
            masks.append(grid.ravel())
        elif group.over == LEGS:
            labels += [RowLabel(name, leg, -1, -1) for leg in range(leg_count)]
            masks.append(counts)
        elif group.over == STATICS:
            labels += [RowLabel(name, case, -1, -1) for case in range(counts.size)]
            masks.append(counts)
        elif group.over == SETS:
            labels += [RowLabel(name, -1, -1, side) for side in range(2)]
            masks.append(counts)
        else:
            labels.append(RowLabel(name, -1, -1, -1))
            masks.append(counts.reshape(1))
    return RowIndex(tuple(labels), np.concatenate(masks).astype(bool))
