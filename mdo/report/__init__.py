"""The report: one self-contained page with figures."""

from __future__ import annotations

from mdo.report.explored import render_exploration
from mdo.report.page import render_report

__all__ = ["render_exploration", "render_report"]
