"""Legs of a design marched along their paths, and what the outputs of the model become by it.

The level that follows a path (:mod:`mdo.disciplines.tube.marched_legs`) stands in no chain: it is
run on the outputs of one. So is the level of the heat that resolves the wall.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.disciplines.heat.conduction import conduction
from mdo.disciplines.tube import torsion
from mdo.disciplines.tube.answer import margin
from mdo.disciplines.tube.levers import factored, least_drag, levers
from mdo.disciplines.tube.marched_legs import LegPath, march_legs
from mdo.disciplines.tube.record import MarchedLeg
from mdo.disciplines.tube.roles import OPPOSED
from mdo.model.kept import kept, optimiser_options
from mdo.model.sizes import LEG_SIZES, size_for

JUDGED_FACTOR = torsion.OUTER_STRESS_FACTOR  # of the outer stress, where nothing is marched
UNLOADED = 1e6  # [Pa] outer stress of the level below which a ratio to it says nothing
COLD_BELOW = 5.0  # [K] below M_f: a cold set is no warmer than this
LEAST_DRAG = 1e-3  # [N*m] below it there is none
# share of the largest moment of its leg that a march must lack to stall where a load assists
NOTICED = 0.005
# of the level, which may have next to none where a leg starts
LEAST_FACTOR, MOST_FACTOR = 1e-3, 100.0


@dataclass(frozen=True)
class Marched:
    """Legs of a design along their paths.

    Attributes
    ----------
    march
        By leg and fold angle; meaningless where no heated set drives.
    driven
        Legs that a heated set drives, (legs,).
    ratio
        Largest outer stress of that set, driving or wound before, over that of the level of the
        coupled model [1], (legs,); NaN elsewhere, and where the level has next to none.
    drag_factor, strain
        Drag of the set that is wound over that of the level by itself [1], and strain that the
        driver lacks along its path [1], (legs, angles); 1 and 0 where no heated set drives.
    values
        Outputs of the model that the march has otherwise, by name.
    """

    march: MarchedLeg
    driven: Booleans
    ratio: Floats
    drag_factor: Floats
    strain: Floats
    values: dict[str, Floats]


@cache
def _marching() -> Any:
    """Compiled march of all legs, its trace kept."""

    def march(path: tuple[Any, ...], wall_ratio: Any, alloy: Any) -> tuple[Any, ...]:
        return tuple(march_legs(LegPath(*path), wall_ratio, alloy))

    return kept(march, march_legs.__qualname__, optimiser_options())


def march_design(
    parameters: Mapping[str, Any],
    cases: Sequence[str],
    design: Mapping[str, Any],
    values: Mapping[str, Floats],
) -> Marched:
    """March every leg of a design.

    Parameters
    ----------
    parameters : of the study
    cases : case of each leg
    design, values : design, and the outputs of the model there
    """
    path = _paths(parameters, cases, design, values)
    legs = len(path.driver_arm)
    whole = jax.tree.map(lambda part: _padded(part, size_for(legs, LEG_SIZES)), path)
    given = (tuple(whole), design["wall_ratio"], parameters["alloy"])
    marched = _marching()(*jax.tree.map(np.asarray, given))
    arrays: list[Any] = [np.asarray(part)[:legs] for part in marched]
    march = MarchedLeg(*arrays)
    driven = (np.asarray(parameters["legs"].moves) > 0.5) & (values["heated"] > 0.5)
    changed = _as_marched(values, march, path, driven)
    own = values["leg_outer_stress"] / np.asarray(parameters["legs"].outer_stress_factor)
    outer = np.maximum(march.driven_outer_stress, march.wound_outer_stress)
    ratio = np.where(driven & (own > UNLOADED), outer / np.maximum(own, UNLOADED), np.nan)
    stress = np.where(driven, outer, values["leg_outer_stress"])
    work = values["leg_work_density"] * stress / np.maximum(values["leg_outer_stress"], 1.0)
    lost = _lost_along_path(parameters, values, march, driven)
    changed |= {"leg_outer_stress": stress, "leg_work_density": work}
    return Marched(march, driven, ratio, *lost, changed)


def _padded(part: Any, size: int) -> Floats:
    values = np.asarray(part, dtype=float)
    return np.concatenate([values, np.repeat(values[-1:], size - len(values), axis=0)])


def _paths(
    parameters: Mapping[str, Any],
    cases: Sequence[str],
    design: Mapping[str, Any],
    values: Mapping[str, Floats],
) -> LegPath:
    """What both sets of every leg are marched along."""
    legs, choices, alloy = (parameters[name] for name in ("legs", "choices", "alloy"))
    lever = levers(
        section=torsion.section(design["tube_outer_radius"], design["wall_ratio"]),
        tube_length=design["tube_length"],
        gear_ratio=design["gear_ratio"],
        efficiency=values["transmission_efficiency"],  # type: ignore[arg-type]
        drag_efficiency=values["drag_efficiency"],  # type: ignore[arg-type]
    )
    pair = float(choices.configuration == OPPOSED)
    up = values["pushes_up"] > 0.5
    counts = np.maximum(np.asarray(choices.set_present) * design["tube_count"], 1e-3)
    beside = values["internal_moment"] - values["cold_moment"]
    required = np.asarray(factored(values["required_moment"], legs.torque_margin_required[:, None]))
    same = np.ones(up.size)
    cold = np.minimum(values["bay_cold_temperature"], alloy.martensite_finish - COLD_BELOW)
    fed_back = values["heated"][:, None] * np.asarray(parameters["path_strain"])
    driver = values["tube_strain"] + fed_back
    path: dict[str, Any] = {
        "driver_strain": driver,
        "other_strain": values["return_needed_strain"] if pair else driver[:, ::-1],
        "wound_stress": _winding_stress(cases, values),
        "driver_arm": np.asarray(lever.drive) * np.where(up, counts[0], counts[1]),
        "other_arm": np.asarray(lever.drag) * np.where(up, counts[1], counts[0]),
        "load_moment": values["required_moment"] + beside,
        "factored_moment": required + beside,
        "cold_temperature": cold,
        "hot_temperature": same * design["hot_temperature"],
        "other_present": same * pair,
        # detwinned when cold: as the leg says, or as the return mode of the pair
        "other_cold": np.asarray(np.maximum(legs.other_cold, choices.return_mode)),
        "wound_cold": np.asarray(np.maximum(legs.wound_cold, choices.return_mode)),
        "wound_by_load": same * (1.0 - pair),
    }
    return LegPath(**path)


def _winding_stress(cases: Sequence[str], values: Mapping[str, Floats]) -> Floats:
    """Mean stress by load or spring under which the driver of each leg was wound [Pa]."""
    up = values["pushes_up"] > 0.5
    least = np.where(up, values["smallest_return_stress"][0], values["smallest_return_stress"][1])
    stress = np.repeat(least[:, None], values["return_stress"].shape[1], axis=1)
    for place, case in enumerate(cases):
        for other, back in enumerate(cases):
            if back == case and other != place and values["returned_by_load"][other] > 0.5:
                stress[place] = values["return_stress"][other]
    return stress


def level_drag(parameters: Mapping[str, Any], values: Mapping[str, Floats]) -> Floats:
    """Moment of the set that is wound by the level alone, no march fed back [N*m].

    What :func:`mdo.disciplines.tube.levers.drag_along_path` makes of it turned round.
    """
    factor, moment = parameters["path_drag_factor"], values["cold_moment"]
    drag = moment / np.maximum(factor, LEAST_FACTOR)
    least = np.asarray(least_drag(drag))
    own: Floats = np.where(drag < least, np.maximum(moment - (factor - 1.0) * least, 0.0), drag)
    return own


def _lost_along_path(
    parameters: Mapping[str, Any], values: Mapping[str, Floats], march: MarchedLeg, driven: Booleans
) -> tuple[Floats, Floats]:
    """Factor on the drag of the level, and strain the driver lacks, that make it the march [1]."""
    drag = level_drag(parameters, values)
    acted_on = np.maximum(drag, np.asarray(least_drag(jnp.asarray(drag))))
    ratio = 1.0 + (march.cold_moment - drag) / np.maximum(acted_on, LEAST_DRAG)
    factor = np.where(
        driven[:, None] & (acted_on > LEAST_DRAG), np.clip(ratio, LEAST_FACTOR, MOST_FACTOR), 1.0
    )
    lacks = march.required_strain - values["required_strain"]
    return factor, np.asarray(np.where(driven[:, None], lacks, 0.0))


def _as_marched(
    values: Mapping[str, Floats], march: MarchedLeg, path: LegPath, driven: Booleans
) -> dict[str, Floats]:
    """Moments of the model with those of the march where a heated set drives."""
    arm, rows = path.driver_arm[:, None], driven[:, None]
    internal = march.cold_moment + values["internal_moment"] - values["cold_moment"]
    hot = np.minimum(march.hot_stress, values["stress_cap"])
    available = arm * hot - internal
    required = values["required_moment"]
    moves = required - NOTICED * np.abs(required).max(axis=-1, keepdims=True)
    marched: dict[str, Any] = {
        "required_strain": march.required_strain,
        "required_stress": (path.factored_moment + march.cold_moment) / arm,
        "cold_moment": march.cold_moment,
        "internal_moment": internal,
        "hot_stress": hot,
        "available_moment": available,
        "torque_margin": np.asarray(margin(*map(jnp.asarray, (available, required, moves)))),
    }
    return {name: np.where(rows, new, values[name]) for name, new in marched.items()}


RESOLVED = "conduction"


def with_resolved_heat(
    parameters: Mapping[str, Any], design: Mapping[str, Any], values: Mapping[str, Floats]
) -> dict[str, Floats]:
    """Outputs of the model, times and temperatures of the strokes as the resolved wall has them.

    What follows from the times elsewhere (inertia, hold power) stays that of the model.

    Parameters
    ----------
    parameters : of the study
    design, values : design, and the outputs of the model there
    """
    strokes = conduction({**parameters, **design, **values})._asdict()
    return {**values, **{name: np.asarray(strokes[name]) for name in strokes if name in values}}
