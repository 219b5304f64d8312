"""All that answers to the pointer is reached by Tab, seen while it has the focus, and left."""

from __future__ import annotations

import pytest

SPARE = 40  # presses of Tab beyond the number of elements


def walk(view, key):
    """Press a key until the focus leaves the page; return what had the focus, in order."""
    count = view.probe("mark")
    found = []
    for _ in range(count + SPARE):
        view.page.keyboard.press(key)
        focus = view.probe("focus")
        if focus is None:
            if found:
                break
            continue
        found.append(focus)
        if len(found) > 1 and focus["number"] == found[0]["number"] >= 0:
            found.pop()
            break
    return count, found


def check(view, found):
    numbers = [one["number"] for one in found if one["number"] >= 0]
    assert view.probe("unreached", numbers) == []
    assert len(numbers) == len(set(numbers)), "the focus goes round inside the page"
    assert numbers == sorted(numbers), "the order of the focus is not that of the page"
    assert [one["name"] for one in found if not one["ring"]] == [], "focus that is not seen"
    assert [one["name"] for one in found if not one["seen"]] == [], "focus behind something"


@pytest.mark.dear
@pytest.mark.parametrize("width", [1440, pytest.param(800, marks=pytest.mark.slow)])
def test_tab_reaches_everything_and_shows_where_it_is(fresh, name, width):
    view = fresh(name, width=width)
    count, found = walk(view, "Tab")
    assert count > 30
    check(view, found)


@pytest.mark.slow
def test_focus_is_seen_in_the_dark_too(fresh):
    view = fresh("feasible", scheme="dark")
    _, found = walk(view, "Tab")
    assert [one["name"] for one in found if not one["ring"]] == []


@pytest.mark.slow
def test_tab_reaches_everything_when_all_is_open(fresh, name):
    view = fresh(name)
    view.open_all()
    count, found = walk(view, "Tab")
    assert count > 50
    check(view, found)


def test_shift_and_tab_go_back(look):
    view = look("feasible")
    view.page.locator("summary:visible").nth(6).focus()
    places = []
    for _ in range(6):
        view.page.keyboard.press("Shift+Tab")
        places.append(
            view.page.evaluate("document.activeElement.getBoundingClientRect().top + scrollY")
        )
    assert len(set(places)) > 3
    assert places == sorted(places, reverse=True)


def test_first_link_leads_to_the_content(fresh):
    view = fresh("feasible")
    view.page.keyboard.press("Tab")
    focus = view.page.evaluate("document.activeElement.getAttribute('href')")
    assert focus.startswith("#")
    box = view.page.evaluate("document.activeElement.getBoundingClientRect().toJSON()")
    assert box["left"] >= 0.0
    assert box["top"] >= 0.0
    view.page.keyboard.press("Enter")
    view.page.keyboard.press("Tab")
    inside = view.page.evaluate("document.activeElement.closest('main') !== null")
    assert inside
