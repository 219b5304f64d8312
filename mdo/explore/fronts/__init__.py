"""Pareto fronts in two and three objectives: exact points, spread evenly, by bounded optima.

``known`` keeps what was solved, ``ends`` finds the ends, ``curve`` traces two objectives and
``surface`` three, against any solver of bounds; ``shape`` reads knee and gaps off them;
``objectives`` and ``chain_solver`` make a study such a solver; ``front`` is the analysis.
"""

from mdo.explore.fronts.front import run_front
from mdo.explore.fronts.objectives import FrontOptions

__all__ = ["FrontOptions", "run_front"]
