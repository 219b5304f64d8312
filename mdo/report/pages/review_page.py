"""One page to print for a review: the design, whether it holds, and what is not known of it."""

from __future__ import annotations

import textwrap

import numpy as np

from mdo.defend.cautions.base import STOP
from mdo.defend.validation import validation
from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.pages.parts import Facts, Source
from mdo.report.pages.verdict_part import least_margins, verdict
from mdo.report.templates import render
from mdo.report.words.bench import bench_page
from mdo.report.words.printed import margin_words, number, prose
from mdo.results.manifest import TOOL

MOST_LEGS, MOST_OPEN, MOST_CAUTIONS, MOST_LIMITS = 6, 8, 12, 3
LETTERS = 260  # of an item; the report has all of them
HASH = 12  # letters of the hash of the study


def render_review(source: Source) -> str:
    """Return the page to print of a result, complete in itself: A4 or letter, one side."""
    appraisal, study, facts = source.appraisal, source.appraisal.study, verdict(source)
    cautions = source.table("cautions")
    stops = cautions[cautions["severity"] == STOP]
    page = render(
        "review.html", **facts, **source.head.shown(), study=study,
        levels_used=str(study.fidelity), moments_shown=_moments(source),
        missed=source.shown("misses", facts["misses"]), drawing=bundle_end_view(appraisal),
        open_few=few(facts["items"], MOST_OPEN),
        stops=few([f"{line.id} {line.text}" for line in stops.itertuples()], MOST_CAUTIONS),
        others=len(cautions) - len(stops),
        left_out=few(list(validation().not_modelled), MOST_LIMITS),
        short_hash=study.hash[:HASH], version=f"{TOOL} {source.versions.get(TOOL, '')}",
    )  # fmt: skip
    return bench_page(study.content, page)


def few(texts: list[str], most: int) -> Facts:
    """Return the first items, each cut after a whole word, and how many are left out."""
    kept = [prose(text) for text in texts if text]
    cut = [textwrap.shorten(text, LETTERS, placeholder=" …") for text in kept[:most]]
    return {"items": cut, "more": max(0, len(kept) - most)}


def _moments(source: Source) -> list[Facts]:
    """Required and available moment of each driven leg at its least margin, least margin first."""
    lines = least_margins(source)[:MOST_LEGS]
    sizes = np.abs(lines[["required_moment", "available_moment"]].to_numpy(float))
    shares = sizes / max(float(sizes.max(initial=0.0)), 1e-9)
    return [
        {
            "leg": line.leg, "shares": share.tolist(),
            "required": number(line.required_moment, "N*m"),
            "available": number(line.available_moment, "N*m"),
            "nominal": margin_words(line.torque_margin),
            "upper": margin_words(line.torque_margin_upper_band),
        }
        for line, share in zip(lines.itertuples(), shares, strict=True)
    ]  # fmt: skip
