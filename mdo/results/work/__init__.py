"""Work in chunks: kept on disk as they are done, on one core or many, always the same bits.

``tasks`` says what a chunk is and does one; ``chunks`` keeps them on disk; ``processes`` of this
machine do them, ``pinning`` what such a process needs at its start, or a ``cluster`` that runs
already; ``run`` brings these together for the analyses.
"""

from mdo.results.work.chunks import Chunks
from mdo.results.work.cluster import LOCAL
from mdo.results.work.run import Work
from mdo.results.work.tasks import Columns, Task, WorkError, in_parts

__all__ = ["LOCAL", "Chunks", "Columns", "Task", "Work", "WorkError", "in_parts"]
