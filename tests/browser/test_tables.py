"""Tables that can be sorted and filtered, and blocks that open, by pointer and by keyboard."""

from __future__ import annotations

import re

import pytest

SORTED = {"ascending": 1.0, "descending": -1.0}


def column(table, place):
    """Return what stands in a column, top to bottom."""
    return table.locator(f"tbody tr td:nth-child({place + 1})").all_inner_texts()


def numbers(texts):
    """Return the leading numbers of texts, without those that have none."""
    found = [re.match(r"\s*([+−-]?[\d.]+(?:e[+−-]?\d+)?)", text) for text in texts]
    return [float(one[1].replace("−", "-")) for one in found if one]


def sorted_heads(table):
    return table.locator("th[aria-sort='ascending'], th[aria-sort='descending']")


def sortable(view):
    """Return the tables that sort, what they are folded into opened."""
    view.page.locator("details", has=view.page.locator("th button")).evaluate_all(
        "all => all.forEach(one => { one.open = true })"
    )
    tables = view.page.locator("table", has=view.page.locator("th button"))
    assert tables.count() > 0
    return [tables.nth(place) for place in range(tables.count())]


@pytest.mark.parametrize("by", ["click", "Enter"])
def test_tables_sort_by_any_head_and_say_so(look, by):
    view = look("feasible")
    compared = 0
    for table in sortable(view):
        heads = table.locator("thead th, thead td")
        for place in range(heads.count()):
            button = heads.nth(place).get_by_role("button")
            if button.count() == 0:
                continue
            before = column(table, place)
            for _ in range(2):
                if by == "click":
                    button.click()
                else:
                    button.press(by)
                way = SORTED[heads.nth(place).get_attribute("aria-sort")]
                assert sorted_heads(table).count() == 1
                after = column(table, place)
                assert sorted(after) == sorted(before)
                found = numbers(after)
                single = all(re.fullmatch(r"[+−-]?[\d.]+[^\d−]*", one.strip()) for one in after)
                if single and len({re.sub(r"[\d.+−-]", "", one) for one in after}) == 1:
                    assert found == sorted(found, key=lambda one, way=way: way * one)
                    compared += 1
    assert compared > 4


def test_choices_can_be_sorted_and_their_numbers_are_numbers(look):
    view = look("feasible")
    sortable(view)
    section = view.page.locator("section", has=view.page.locator("h3", has_text="choices")).last
    table = section.locator("table", has=view.page.locator("th button")).first
    button = table.get_by_role("button", name=re.compile("mass", re.IGNORECASE)).first
    button.click()
    button.click()
    place = button.evaluate("one => one.closest('th').cellIndex")
    masses = numbers(column(table, place))
    assert len(masses) == 2
    assert masses == sorted(masses, reverse=True)


def test_hundred_is_more_than_twenty(fresh):
    """Rows of our own in a table of the page: letters would sort 100 before 20."""
    view = fresh("feasible")
    table = sortable(view)[0]
    button = table.locator("th button").first
    place = button.evaluate("one => one.closest('th').cellIndex")
    table.evaluate(
        """(table, place) => [100, 20, 3].forEach((value, row) => {
             const cell = table.tBodies[0].rows[row % table.tBodies[0].rows.length].cells[place];
             if (cell.hasAttribute('data-order')) cell.dataset.order = value;
             cell.textContent = String(value); })""",
        place,
    )
    button.click()
    shown = [one for one in column(table, place) if one in {"100", "20", "3"}]
    if table.locator("th").nth(0).get_attribute("aria-sort") == "descending":
        shown.reverse()
    assert shown == sorted(shown, key=int)
    assert len(shown) >= 2


def test_inputs_can_be_filtered_by_words(look):
    view = look("feasible")
    view.open_all()
    field = view.page.get_by_role("searchbox")
    section = field.locator("xpath=ancestor::section[1]")
    rows = section.locator("tbody tr:visible")
    every = rows.count()
    field.focus()
    view.page.keyboard.type("skin_thickness")
    left = rows.count()
    assert 0 < left < every
    assert all("skin_thickness" in text for text in rows.all_inner_texts())
    said = section.get_by_role("status").inner_text()
    assert str(left) in said
    field.fill("")
    view.open_all()
    assert rows.count() == every


@pytest.mark.parametrize("key", ["Enter", "Space"])
def test_folded_blocks_open_and_close_by_keyboard(look, key):
    view = look("feasible")
    summaries = view.page.locator("details:not(.whole) > summary:visible")
    assert summaries.count() > 10
    for place in range(0, summaries.count(), 5):
        summary = summaries.nth(place)
        inside = summary.locator("xpath=following-sibling::*[1]")
        summary.focus()
        view.page.keyboard.press(key)
        assert inside.is_visible()
        view.page.keyboard.press(key)
        assert not inside.is_visible()


def test_a_figure_in_a_block_that_opens_has_its_size(look):
    view = look("feasible")
    view.open_all()
    small = view.page.locator(".js-plotly-plot").evaluate_all(
        "all => all.filter(one => one.getBoundingClientRect().width < 150"
        " || one.querySelector('svg').getBoundingClientRect().width"
        " > one.getBoundingClientRect().width + 1).map(one => one.id)"
    )
    assert small == []
