"""Size, explore and defend wing-fold actuators made of shape-memory-alloy torque tubes.

The same from Python as from the command line::

    study = mdo.load_study("studies/deck_medium.toml")
    outcome = mdo.run(study)                 # every analysis in the file
    appraisal = mdo.evaluate(study, design)  # one design: values and rows
    mdo.judge(appraisal)                     # the verdict on it
    problem = mdo.build_problem(study)       # a set-up OpenMDAO problem

Nothing heavy is imported before it is used: the command line must answer ``--help`` at once.
Double precision is switched on when :mod:`mdo.disciplines` is first imported, before any array.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mdo.api import build_problem, evaluate, judge, load_study, run

__all__ = ["build_problem", "evaluate", "judge", "load_study", "run"]
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    """Import the functions of the interface when they are first asked for."""
    if name in __all__:
        from mdo import api

        return getattr(api, name)
    raise AttributeError(f"module 'mdo' has no attribute '{name}'")
