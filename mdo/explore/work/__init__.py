"""Work in chunks: kept on disk as they are done, on one core or many, always the same bits.

``tasks`` says what a chunk is and does one; ``chunks`` keeps them on disk; ``cluster`` has the
processes that do them, ``pinning`` what such a process needs at its start; ``work`` brings these
together for the analyses; ``problems`` sends a study to another process as text.
"""

from mdo.explore.work.chunks import Chunks
from mdo.explore.work.tasks import Columns, Task, WorkError
from mdo.explore.work.work import Work

__all__ = ["Chunks", "Columns", "Task", "Work", "WorkError"]
