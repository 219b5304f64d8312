"""Result of an exploration: tables over many designs, and what they say in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from mdo.optimise.problem import DesignProblem
from mdo.study.study import Study

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Exploration:
    """What an analysis of many designs gave.

    Attributes
    ----------
    kind
        ``map``, ``front``, ``sweep``, ``sensitivity`` or ``scaling``.
    problem
        The study as a problem.
    tables
        By name; SI units, columns named after quantities where they are quantities.
    lines
        What came out, one plain sentence each.
    status_counts
        Designs or points by status.
    files
        Files too large for a table in memory, by the name that they have in the result.
    """

    kind: str
    problem: DesignProblem
    tables: Mapping[str, pd.DataFrame]
    lines: tuple[str, ...]
    status_counts: Mapping[str, int]
    files: Mapping[str, Path] = field(default_factory=dict)

    @property
    def study(self) -> Study:
        """The study."""
        return self.problem.study
