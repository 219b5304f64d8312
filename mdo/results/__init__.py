"""The result store on disk: tables, manifest, resume."""

from __future__ import annotations

from mdo.results.files import StoreError
from mdo.results.opening import open_result
from mdo.results.store import ResultStore, Writer
from mdo.results.stored import StoredResult

__all__ = ["ResultStore", "StoreError", "StoredResult", "Writer", "open_result"]
