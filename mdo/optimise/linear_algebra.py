"""Linear algebra on one thread: matrices here are small, and its threads take the model's cores."""

from __future__ import annotations

from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from threadpoolctl import ThreadpoolController

_libraries = cache(ThreadpoolController)


def one_thread() -> AbstractContextManager[Any]:
    """Return a context in which numpy and scipy use one thread; it may be nested."""
    context: AbstractContextManager[Any] = _libraries().limit(limits=1, user_api="blas")
    return context
