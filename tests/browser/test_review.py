"""The page to print for a review: one side of A4 and of letter, complete, quiet."""

from __future__ import annotations

import io

import pytest

from .viewing import SCREEN, View

PAPERS = ("A4", "Letter")
SAID = (
    "kg", "upper band", "Longest fold time", "Longest return time", "Hinge moment",
    "Bundle of one wing", "Open items", "Cautions that must be cleared", "Airworthiness rules",
    "not certification evidence", "Levels of fidelity", "hash", "seed",
)  # fmt: skip


@pytest.fixture
def review(browser, builder):
    views = []

    def opened(name, *, width=1440, scheme="light"):
        result = builder.result(name)
        views.append(View(browser, result, width=width, scheme=scheme, file="review.html"))
        return views[-1]

    yield opened
    for view in views:
        view.close()


def sheets(view, paper):
    import pypdfium2

    return pypdfium2.PdfDocument(io.BytesIO(view.page.pdf(format=paper)))


@pytest.mark.texts
@pytest.mark.parametrize("paper", PAPERS)
def test_it_is_one_side_of_paper_with_everything_on_it(review, name, paper):
    view = review(name)
    printed = sheets(view, paper)
    assert len(printed) == 1
    words = " ".join(printed[0].get_textpage().get_text_bounded().split())
    lost = [one for one in view.page.locator("main li").all_inner_texts()
            if "".join(one.split())[-20:] not in words.replace(" ", "")]  # fmt: skip
    assert lost == []
    if name != "hostile":
        assert [one for one in SAID if one not in words] == []


def test_it_is_one_side_from_a_phone_too(review):
    assert len(sheets(review("feasible", width=390), "A4")) == 1


@pytest.mark.parametrize(("scheme", "width"), [("light", 1440), ("dark", 390), ("light", 800)])
def test_it_is_quiet_readable_and_within_its_width(review, scheme, width):
    view = review("feasible", scheme=scheme, width=width)
    assert view.faults(*SCREEN, "unnamed", "soleColour") == {}
    assert view.probe("contrast") == []
    assert view.axe() == []
    assert view.said == []
    assert view.requests == []
