"""Work in chunks: kept on disk as they are done, on one core or many, always the same bits.

``tasks`` says what a chunk is and does one; ``chunks`` keeps them on disk; ``cluster`` has the
processes that do them, ``pinning`` what such a process needs at its start; ``work`` brings these
together for the analyses; ``problems`` sends a study to another process as text.
"""

from mdo.results.work.chunks import Chunks
from mdo.results.work.run import Work
from mdo.results.work.tasks import Columns, Task, WorkError

__all__ = ["Chunks", "Columns", "Task", "Work", "WorkError"]
