"""The report: one self-contained page with figures."""

from __future__ import annotations

from mdo.report.pages.design_page import render_report
from mdo.report.pages.exploration_page import render_exploration

__all__ = ["render_exploration", "render_report"]
