"""Cross-check of verdicts by the count problem (see :mod:`mdo.explore.starts`).

With tube, stress and twist of a design given, the tubes that each set needs against loads and the
drag of the other set are a linear problem; where it has no solution no number of such tubes works.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import jax
import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.actuator import factored
from mdo.explore.starts import FEW, PROBED, solve_counts
from mdo.model.chain import Chain
from mdo.model.layout import design_labels

if TYPE_CHECKING:
    from mdo.explore.many.bench import Bench

Floats = NDArray[np.float64]
BLOCK = 64


@lru_cache(maxsize=4)
def _probes(chain: Chain) -> Any:
    def probed(x: Any, theta: Any, prelude: Any) -> dict[str, Any]:
        values = chain.evaluate_chain(x, theta, prelude)
        legs, known = values["legs"], {name: values[name] for name in PROBED}
        return {**known, "margin": legs.torque_margin_required}

    return jax.jit(jax.vmap(probed))


def counts_exist(bench: Bench, points: Floats, designs: Floats) -> NDArray[np.bool_]:
    """Whether counts of the two sets exist for the tubes of each design."""
    labels = design_labels()
    sets = [place for place, label in enumerate(labels) if label.startswith("tube_count")]
    probes = designs.copy()
    probes[:, sets] = FEW
    parameters = bench.turner.parameters(points)
    found = []
    for at in range(0, len(points), BLOCK):
        take = np.resize(np.arange(at, min(at + BLOCK, len(points))), BLOCK)
        chosen = parameters.take(take)
        values = _probes(bench.chain)(probes[take], chosen.theta, chosen.prelude)
        values = jax.tree.map(np.asarray, values)
        for n in range(min(BLOCK, len(points) - at)):
            one = {name: value[n] for name, value in values.items()}
            found.append(_solvable(dict(zip(labels, probes[at + n], strict=True)), one))
    return np.array(found)


def _solvable(design: dict[str, float], values: dict[str, Any]) -> bool:
    radius, wall = design["tube_outer_radius"], design["wall_ratio"]
    arm = (2.0 / 3.0) * np.pi * radius**3 * (1.0 - (1.0 - wall) ** 3)
    up = values["pushes_up"] > 0.5
    heated = values["heated"] > 0.5
    stress = np.where(up, design["operating_stress.up"], design["operating_stress.down"])
    per_tube = design["gear_ratio"] * float(values["transmission_efficiency"]) * arm * stress
    demand = np.asarray(factored(values["required_moment"], values["margin"][:, None]))
    demand = demand + values["internal_moment"] - values["cold_moment"]
    base = demand / per_tube[:, None]
    coupling = values["cold_moment"] / FEW / per_tube[:, None]
    masks = [heated & up, heated & ~up]
    stacked = np.stack([np.where(mask[:, None], base, -np.inf).ravel() for mask in masks])
    return solve_counts(stacked, np.stack([coupling.ravel()] * 2)) is not None
