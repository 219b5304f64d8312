"""Size, explore and defend wing-fold actuators made of shape-memory-alloy torque tubes.

The same from Python as from the command line::

    study = mdo.load_study("studies/deck_medium.toml")
    outcome = mdo.run(study)                 # every analysis in the file
    appraisal = mdo.evaluate(study, design)  # one design: values and rows
    mdo.judge(appraisal)                     # the verdict on it
    problem = mdo.build_problem(study)       # a set-up OpenMDAO problem

Nothing heavy is imported before it is used: the command line must answer ``--help`` at once.
Double precision is switched on here, whichever module of the package is imported first: by JAX's
environment variable, or, where JAX is imported already, by its configuration.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mdo.api import build_problem, choices, evaluate, judge, load_study, run

__all__ = ["build_problem", "choices", "evaluate", "judge", "load_study", "run"]
__version__ = "0.2.0"

os.environ["JAX_ENABLE_X64"] = "1"
if "jax" in sys.modules:  # it has read its environment
    sys.modules["jax"].config.update("jax_enable_x64", True)

# Where each operation stands in the sources says nothing to a user: without it a chain is traced in
# four fifths of the time, and kept traces are shorter. JAX reads this when it is imported.
os.environ.setdefault("JAX_TRACEBACK_IN_LOCATIONS_LIMIT", "0")

# The compiler writes its warnings (a slow compile on a busy machine) past Python's streams: only
# what it cannot go on from is let through. It reads this when it is loaded.
os.environ.setdefault("TF_CPP_MIN_LOG_LEVEL", "3")


def __getattr__(name: str) -> Any:
    """Import the functions of the interface when they are first asked for."""
    if name in __all__:
        from mdo import api

        return getattr(api, name)
    raise AttributeError(f"module 'mdo' has no attribute '{name}'")
