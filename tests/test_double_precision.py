"""Numbers have 64 bits whichever module of the package is imported first, JAX before it or not."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

FIRST = (
    "mdo",
    "mdo.optimise.batch.quadratic",
    "mdo.optimise.batch.functions",
    "mdo.disciplines.atmosphere",
    "mdo.quantities",
)


@pytest.mark.parametrize("before", ["", "import jax; "])
@pytest.mark.parametrize("module", FIRST)
def test_every_first_import_gives_double_precision(module: str, before: str) -> None:
    environment = {name: value for name, value in os.environ.items() if "X64" not in name}
    code = f"{before}import {module}; import jax.numpy as jnp; print(jnp.ones(2).dtype)"
    told = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    assert told.stdout.strip() == "float64"
