"""Every number of every record of every level, at the made-up inputs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import Any

import jax.numpy as jnp
import numpy as np

from mdo.disciplines.heat.conduction import conduction
from mdo.disciplines.levels import Levels
from mdo.model.benefit import benefit_points
from mdo.model.layout import DESIGN_SIZES, join_design
from mdo.model.marching import march_design
from mdo.model.sizes import emptied
from mdo.optimise.problem import chain_for

from .kept import Fields
from .laws import laws
from .made_up import CASES, FROM, MadeUp, made_up

# Two chains have every level of tube and heat; the loads are those of the case, as no design
# variable reaches them. The first is that of most studies.
CHAINS = {"radial, balance": ("radial", "balance"), "uniform, network": ("uniform", "network")}
SLOPES = ("opposed, geared", "opposed, plated, re-twisted", "spring returns, nested, down")
# Re-twisted, one of 121 points of the march has two solutions, and round-off chooses: left out.
MARCHED = ("opposed, geared", "load returns, knuckle, up")
RESOLVED = ("opposed, geared", "spring returns, nested, down")
FOLDED = ("opposed, geared", "opposed, geared, large")
FLIGHT = {
    "cranked": [0.43, 0.89, 1.31, 1.83],
    "slender": [0.94, 1.07, 1.47, 2.27],
}  # Mach numbers; the leading edge is sonic at some 1.1 (cranked) and 1.7 (slender)


@cache
def _at(case: str, chain: str) -> tuple[Any, MadeUp, Any, Any, Any]:
    made = made_up(case)
    tube, heat = CHAINS[chain]
    levels = Levels(CASES[case].get("loads", "strip"), tube, heat)
    compiled = chain_for(made.parameters, levels)
    theta = compiled.pack(made.parameters)
    return compiled, made, join_design(made.design), theta, compiled.prelude(theta)


@cache
def values_of(case: str, chain: str) -> Fields:
    """All outputs of the model."""
    compiled, made, x, theta, prelude = _at(case, chain)
    outputs = {**prelude, **compiled.values(x, theta, prelude)}
    return emptied(outputs, FROM.size, len(made.parameters["statics"].state.moves))


def lifting_surfaces(wing: str) -> Fields:
    """Loads of the level `lattice` at a few points, one Mach number and angle each leg."""
    case = next(name for name, own in CASES.items() if own["wing"] == wing)
    parameters = dict(made_up(case).parameters)
    mach = np.resize(FLIGHT[wing], FROM.size)
    angle = np.resize(FROM[: len(FLIGHT[wing])], FROM.size)
    parameters["fold_angle"] = np.repeat(angle[:, None], parameters["fold_angle"].shape[1], axis=1)
    parameters["legs"] = parameters["legs"]._replace(mach=mach, airborne=np.ones(FROM.size))
    chain = chain_for(parameters, Levels("lattice", "radial", "balance"))
    outputs = chain.prelude(chain.pack(parameters))
    return {
        name: np.asarray(of)[: FROM.size] if np.ndim(of) else of for name, of in outputs.items()
    }


def marched(case: str) -> Fields:
    """Legs along their paths."""
    made, values = made_up(case), values_of(case, "radial, balance")
    found = march_design(made.parameters, made.cases, made.design, values)
    own = {"ratio": found.ratio, "drag_factor": found.drag_factor, "strain": found.strain}
    taken = {f"taken {name}": field for name, field in found.values.items()}
    return found.march._asdict() | own | taken


def resolved(case: str) -> Fields:
    """Strokes of the wall in finite volumes."""
    made, values = made_up(case), values_of(case, "uniform, network")
    given = {**made.parameters, **made.design, **values}
    found: Fields = conduction({k: _arrays(v) for k, v in given.items()})._asdict()
    return found


def _arrays(value: Any) -> Any:
    if hasattr(value, "_asdict"):
        return type(value)(*(_arrays(part) for part in value))
    return jnp.asarray(value)


def slopes(case: str) -> Fields:
    """Derivatives of mass and rows in the design variables, of the first chain."""
    compiled, _, x, theta, prelude = _at(case, "radial, balance")
    _, slope = compiled.point_and_gradient(x, theta, prelude)
    columns = np.split(np.asarray(slope.rows), np.cumsum([*DESIGN_SIZES.values()])[:-1], axis=1)
    return {"system_mass": slope.objective} | dict(zip(DESIGN_SIZES, columns, strict=True))


def benefit(case: str) -> Fields:
    """What folding gives at points of flight."""
    points = benefit_points(made_up(case).parameters)
    lines = np.array(points, dtype=float)
    return dict(zip(points[0]._fields, lines.T, strict=True))


PLACES: dict[str, Callable[[], Fields]] = {
    "laws along their ranges": laws,
    **{f"{case}: {chain}": partial(values_of, case, chain) for case in CASES for chain in CHAINS},
    **{f"lifting surfaces, {wing}": partial(lifting_surfaces, wing) for wing in FLIGHT},
    **{f"{case}: marched": partial(marched, case) for case in MARCHED},
    **{f"{case}: conduction": partial(resolved, case) for case in RESOLVED},
    **{f"{case}: slopes": partial(slopes, case) for case in SLOPES},
    **{f"{case}: benefit": partial(benefit, case) for case in FOLDED},
}
