"""The page as a whole: quiet, alone, within its window, whatever the text of the study."""

from __future__ import annotations

import pytest

from .build import HOSTILE
from .viewing import HEIGHT, SCREEN

LARGEST = 10_000_000  # [bytes]
MOST_SCREENS = 7


@pytest.mark.texts
@pytest.mark.parametrize("width", [800, pytest.param(1440, marks=pytest.mark.slow)])
def test_page_is_quiet_loads_nothing_and_keeps_to_its_width(look, name, width):
    view = look(name, width=width)
    size = (view.result / "report.html").stat().st_size
    assert view.page.title().strip()
    assert view.page.locator("h1").count() == 1
    assert view.probe("overflow") == []
    view.open_all()
    assert view.faults(*SCREEN) == {}
    assert view.said == []
    assert view.requests == []
    assert size < LARGEST


def test_figures_follow_a_window_that_becomes_narrow(fresh):
    view = fresh("feasible", width=1440)
    view.page.set_viewport_size({"width": 800, "height": 900})
    view.page.wait_for_function("probe.overflow().length === 0", timeout=3000)
    assert view.probe("overflow") == []
    assert view.probe("cut") == []


@pytest.mark.dear
def test_every_link_leads_to_a_place_in_the_page(look, name):
    view = look(name)
    links = view.page.locator("a[href]").evaluate_all("all => all.map(a => a.getAttribute('href'))")
    assert links
    beside = [one for one in links if not one.startswith("#")]
    assert [one for one in beside if not (view.result / one).is_file()] == []
    missing = view.page.evaluate(
        "links => links.filter(one => !document.getElementById(one.slice(1)))",
        [one for one in links if one.startswith("#")],
    )
    assert missing == []


@pytest.mark.dear
def test_page_opens_on_few_screens(look, name):
    view = look(name)
    assert view.closed <= MOST_SCREENS * HEIGHT


def test_a_link_to_a_folded_section_opens_it(look):
    view = look("feasible")
    fold = view.page.locator("#torque > details")
    view.page.evaluate("document.querySelector('#torque > details').open = false")
    view.page.locator("nav a[href='#torque']").click()
    assert fold.evaluate("one => one.open")


def test_hostile_text_is_shown_as_text(look):
    view = look("hostile", width=800)
    body = view.page.locator("body").inner_text()
    assert "<script>console.error('title')</script> &" in body
    assert '<img src=x onerror="console.error(1)">' in body
    assert view.page.title().startswith("<script>")
    assert view.page.locator("img").count() == 0
    assert view.page.locator("[onload],[onerror],[onclick]").count() == 0
    view.open_all()
    body = view.page.locator("body").inner_text()
    assert HOSTILE["case.flight_fold.title"][:20] in body
    assert view.said == []
    assert view.requests == []


def test_verdict_is_on_the_first_screen(look, name):
    view = look(name)
    verdict = view.page.get_by_text(r"feasible").first
    box = verdict.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < 900
