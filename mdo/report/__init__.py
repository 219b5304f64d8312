"""The report: self-contained pages with figures, a page to print, a page with sliders."""

from __future__ import annotations

from mdo.report.pages.design_page import render_report
from mdo.report.pages.exploration_page import render_exploration
from mdo.report.pages.parts import Head, Source
from mdo.report.pages.review_page import render_review
from mdo.report.pages.trade_page import trade_page

__all__ = [
    "Head", "Source", "render_exploration", "render_report", "render_review", "trade_page",
]  # fmt: skip
