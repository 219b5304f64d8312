"""Cross-check of verdicts by the count problem (see :mod:`mdo.optimise.starts`).

With tube, stress and twist of a design given, the tubes that each set needs against loads and the
drag of the other set are a linear problem; where it has no solution no number of such tubes works.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import jax
import numpy as np

from mdo.arrays import Booleans, Floats, Indices
from mdo.model.chain import Chain
from mdo.model.layout import design_labels
from mdo.optimise.axes import Parameters
from mdo.optimise.blocks import block_size, in_blocks
from mdo.optimise.starts import FEW, PROBED, least_counts

BLOCK, WIDE_BLOCK = 64, 4096


@lru_cache(maxsize=4)
def _probes(chain: Chain) -> Any:
    def probed(x: Any, theta: Any, prelude: Any) -> dict[str, Any]:
        values = chain.evaluate_chain(x, theta, prelude)
        return {name: values[name] for name in PROBED}

    return chain.compiled("probes of the count problem", jax.vmap(probed))


def counts_exist(chain: Chain, parameters: Parameters, designs: Floats) -> Booleans:
    """Whether counts of the two sets exist for the tubes of each design."""
    labels = design_labels()
    sets = [place for place, label in enumerate(labels) if label.startswith("tube_count")]
    probes = designs.copy()
    probes[:, sets] = FEW

    def solvable(places: Indices) -> Booleans:
        chosen = parameters.take(places)
        values = _probes(chain)(probes[places], chosen.theta, chosen.prelude)
        return least_counts(jax.tree.map(np.asarray, values))[1]

    exist: Booleans = in_blocks(solvable, len(designs), block_size(BLOCK, WIDE_BLOCK))
    return exist
