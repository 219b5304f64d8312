"""Level `conduction` of the heat, which verifies: the wall in many cells.

Run on the design that comes out, never in the coupled model. The cells are radial finite volumes
with their latent heat as enthalpy; heater, other set and bay are those of the level `network`, the
steps a sixth of its.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import pairwise
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.heat.network_stroke import Rungs
from mdo.disciplines.heat.network_strokes import (
    NETWORK,
    TURNS,
    WHOLE,
    CoolingTube,
    Mesh,
    cooling_lanes,
    courses_of,
    figures_of,
    heating_lanes,
)
from mdo.disciplines.heat.network_tube import present_sets
from mdo.disciplines.heat.stage import blown_speed, heating_stage
from mdo.disciplines.heat.steady import driver_motion
from mdo.disciplines.heat.tubes import HeatedTubes, HeatingStrokes

FINER = 6  # steps for one of the level `network`
WALL_CELLS = 16
REST = ("hold_temperature", "cooling_start", "cooling_finish")


class Conduction(NamedTuple):
    """Times [s] and temperatures [K] of both sets in every leg, of one wing.

    As the records of every level: heat_time, cool_time, warm_cooling_time, bay_peak_temperature,
    ledger_residual [1], shape (legs, 2); motion_time (legs,). wall_difference (legs, 2): first
    minus last cell of the chain of the wall at the end of heating [K].
    """

    heat_time: Array
    motion_time: Array
    ledger_residual: Array
    cool_time: Array
    warm_cooling_time: Array
    bay_peak_temperature: Array
    wall_difference: Array


def finer(rungs: Rungs, times: int) -> Rungs:
    """Divide every step of a ladder.

    Parameters
    ----------
    rungs
        Places of the steps in each stretch [1].
    times
        Steps for one [1].

    Returns
    -------
    tuple
        Places [1].

    Examples
    --------
    >>> finer(((0.5, 1.0),), 2)
    ((0.25, 0.5, 0.75, 1.0),)

    References
    ----------
    Derived.
    """
    return tuple(
        tuple(
            first + (last - first) * (part + 1) / times
            for first, last in pairwise((0.0, *shares))
            for part in range(times)
        )
        for shares in rungs
    )


FINE = Mesh(WALL_CELLS, finer(NETWORK.heating, FINER), finer(NETWORK.cooling, FINER))


def conduction(values: Mapping[str, Any], mesh: Mesh = FINE) -> Conduction:
    """Strokes of a design with the wall resolved.

    Parameters
    ----------
    values
        Parameters and values of the design by name, in the units of their names [K], [W], [m].
    mesh
        Cells and steps.

    Returns
    -------
    Conduction
        Times [s], temperatures [K], ledger [1].

    Notes
    -----
    A cell conducts as its share of both phases.

    References
    ----------
    Reference thermal-power-mass, sections 2.3 and 2.4; Voller 1985, IMA J. Numer. Anal. 5, 201
    (first page seen).
    """
    names = HeatedTubes._fields + HeatingStrokes._fields + REST
    needed = jax.tree.map(jnp.asarray, {name: values[name] for name in names})
    strokes: Conduction = _strokes(needed, mesh)
    return strokes


@partial(jax.jit, static_argnames="mesh")
def _strokes(given: dict[str, Any], mesh: Mesh) -> Conduction:
    """Strokes of both sets in every leg."""
    tubes = HeatedTubes(*(given[name] for name in HeatedTubes._fields))
    strokes = HeatingStrokes(*(given[name] for name in HeatingStrokes._fields))
    stage = heating_stage(tubes, strokes, given["hold_temperature"])
    sets = present_sets(tubes.tube_count, tubes.choices)
    ends = (given["cooling_start"], given["cooling_finish"])
    cooled = CoolingTube(
        stage.hardware, sets, tubes.hot_temperature, *ends, tubes.radiation_exposure
    )
    bay, exposure = stage.bay, given["radiation_exposure"]
    cold = heating_lanes(stage, exposure, stage.power.low, bay.cold[:, 0], mesh=mesh)
    warm = heating_lanes(stage, exposure, stage.power.high, bay.hot[:, 0], mean=True, mesh=mesh)
    lanes = jax.tree.map(lambda *both: jnp.stack(both), cold, warm)
    wanted = jnp.broadcast_to(jnp.asarray([WHOLE, TURNS]), (*lanes.corners.shape[:-1], 2, 4))
    times, residual = figures_of(lanes._replace(wanted=wanted), heats=True, mesh=mesh)
    end = courses_of(cold, heats=True, mesh=mesh).end
    inner, outer = (jnp.where(cold.network.inside, end[..., place], end[..., place - 1])
                    for place in (1, mesh.cells))  # fmt: skip
    cooling = cooling_lanes(
        cooled,
        bay,
        blown_speed(given["legs"], stage.choices),
        stage.alloy,
        stage.choices,
        stage.assumed,
        mesh=mesh,
    )
    figures, _ = figures_of(cooling, heats=False, mesh=mesh)
    return Conduction(
        heat_time=jnp.asarray(given["requirements"].dead_time) + times[0, ..., 0],
        motion_time=driver_motion(times[1, ..., 1], given["legs"], stage.choices),
        ledger_residual=residual[0],
        cool_time=figures[..., 0],
        warm_cooling_time=figures[..., 1],
        bay_peak_temperature=figures[..., 2],
        wall_difference=inner - outer,
    )
