"""Moved: see :mod:`mdo.runner`."""

from mdo.runner import run_study

__all__ = ["run_study"]
