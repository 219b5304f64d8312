"""Sweeps: many designs of a study evaluated as they are, none optimised, streamed to one file.

``options`` says what is swept; ``samples`` makes the points of a chunk without making the others,
``list_file`` takes them from a file; ``space`` turns them into designs; ``evaluate`` does a chunk;
``gather`` brings the chunks together; ``sweep`` is the analysis.
"""

from mdo.explore.sweeps.options import SweepOptions
from mdo.explore.sweeps.sweep import run_sweep

__all__ = ["SweepOptions", "run_sweep"]
