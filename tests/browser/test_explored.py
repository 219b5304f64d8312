"""Pages of explorations, made from invented tables: what is drawn, chosen, brushed and printed."""

from __future__ import annotations

import re

import pytest

from mdo.report import Head, render_exploration
from tests.report import exploration_tables as tables

from .test_keyboard import check, walk
from .viewing import PRINTED, SCREEN, View

LOOKS = [
    pytest.param("light", 1440, id="light"),
    *(
        pytest.param(scheme, width, id=f"{scheme}-{width}", marks=pytest.mark.slow)
        for scheme, width in (("dark", 1440), ("light", 800), ("dark", 800))
    ),
]
LARGEST = 10_000_000  # [bytes]
UNITS = ("kg", "s", "kW", "%", "×", "points", "designs")


def every(quick=""):
    """Names of all pages, all but one of them slow."""
    return [
        name if name == quick else pytest.param(name, marks=pytest.mark.slow)
        for name in tables.EXPLORATIONS
    ]


def write(folder, name):
    """Write the page of invented tables and return its folder."""
    evil = f" {tables.MARKUP}{tables.WORD}" if name == "wild" else ""
    content = tables.content(
        f"demo{evil}", f"Demo of a page{evil}", f"a vehicle{evil}", f"Invented numbers.{evil}"
    )
    head = Head(tables.KINDS.get(name, name), content, {"tool": "1"})
    said = ("First sentence.", f"Second sentence.{evil}")
    page = render_exploration(head, said, tables.EXPLORATIONS[name]())
    (folder / name).mkdir(exist_ok=True)
    (folder / name / "report.html").write_text(page, encoding="utf-8")
    return folder / name


@pytest.fixture(scope="module")
def pages(browser, tmp_path_factory):
    folder, open_views = tmp_path_factory.mktemp("explored"), {}

    def opened(name, *, width=1440, scheme="light"):
        key = (name, width, scheme)
        if key not in open_views:
            open_views[key] = View(browser, write(folder, name), width=width, scheme=scheme)
        view = open_views[key]
        view.refresh()
        return view

    yield opened
    for view in open_views.values():
        view.close()


@pytest.mark.parametrize(("scheme", "width"), LOOKS)
@pytest.mark.parametrize("page", every("map"))
def test_page_is_quiet_alone_and_within_its_width(pages, page, scheme, width):
    view = pages(page, scheme=scheme, width=width)
    for opened in (False, True):
        if opened:
            view.open_all()
        assert view.faults(*SCREEN, "unnamed", "soleColour", "graphics") == {}
    assert view.said == []
    assert view.requests == []
    assert (view.result / "report.html").stat().st_size < LARGEST
    assert view.page.locator("img, [onload], [onerror], [onclick]").count() == 0


@pytest.mark.parametrize(("scheme", "width"), LOOKS)
@pytest.mark.parametrize("page", every("front"))
def test_axe_finds_nothing_serious_and_text_stands_out(pages, page, scheme, width):
    view = pages(page, scheme=scheme, width=width)
    assert view.axe() == []
    # White numbers lie on cells that are a bitmap: their contrast is tested with the scale.
    view.page.add_style_tag(content=".heatmap-label { display: none }")
    assert view.probe("contrast") == []


@pytest.mark.parametrize("page", every("map"))
def test_pointing_at_a_figure_shows_a_value_with_its_unit(pages, page):
    view = pages(page)
    silent = []
    for figure in view.probe("figures"):
        places = [one for one in view.probe("points", figure) if one[2] != "heatmap"]
        labels = []
        for x, y, _ in places[:6]:
            view.point_at(x, y, off=20.0)
            view.page.wait_for_timeout(120)
            labels += view.probe("hovered")
            if labels:
                break
        if places and not any(unit in text for unit in UNITS for text in labels):
            if "sobol" in figure or "morris" in figure or "active" in figure:
                assert labels
            else:
                silent.append(figure)
        view.page.mouse.move(2.0, 2.0)
    assert silent == []
    assert view.said == []


DRAWN = """name => [document.querySelectorAll(`#${name}-bundle circle`).length,
    document.getElementById(`${name}-drawn`).textContent,
    document.getElementById(`${name}-what`).textContent]"""
LOST = "() => JSON.parse(document.getElementById('map-chosen-data').textContent).lost"


@pytest.mark.parametrize("page", ["map", "front"])
def test_bundle_of_the_chosen_point_is_drawn_and_a_cross_says_why(pages, page):
    view, name = pages(page), f"{page}-chosen"
    circles, said, what = view.page.evaluate(DRAWN, name)
    assert circles > 4
    assert re.search(r"outer diameter [\d.]+ mm", said)
    assert what == "Active:"
    assert "spring" not in view.page.inner_text(f"#{name}-values")
    if page == "map":
        view.page.locator("#map-chosen-slider").fill(str(view.page.evaluate(LOST).index(True)))
        assert view.page.evaluate(DRAWN, name) == [0, "No design to draw.", "Conflicting:"]
        blocked = {tables.TIME, tables.CONVERTER, tables.HEIGHT}
        assert view.page.inner_text("#map-chosen-active") in blocked


@pytest.fixture
def untouched(browser, tmp_path):
    """Open a page in a window that no other test has touched."""
    views = []

    def opened(name):
        views.append(View(browser, write(tmp_path, name), width=1440, scheme="light"))
        return views[-1]

    yield opened
    for view in views:
        view.close()


@pytest.mark.parametrize("page", every())
@pytest.mark.parametrize("opened", [False, True])
def test_tab_reaches_everything(untouched, page, opened):
    view = untouched(page)
    if opened:
        view.open_all()
    _, found = walk(view, "Tab")
    check(view, found)


@pytest.mark.parametrize("page", every())
def test_print_has_no_controls_and_nothing_is_cut(untouched, page):
    view = untouched(page)
    view.to_paper()
    assert view.controls() == []
    assert view.faults(*SCREEN, *(("broken",) if page != "wild" else ())) == {}
    assert view.probe("splittable", PRINTED[1]) == []
    assert view.probe("page") > 0.95


def test_lines_take_the_width_of_the_paper_and_give_it_back(pages):
    view = pages("map")
    width = "() => document.getElementById('map-lines').clientWidth"
    before, screen = view.page.evaluate(width), view.page.viewport_size
    view.to_paper()
    assert view.page.evaluate(width) <= PRINTED[0] < before
    view.page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    view.page.emulate_media(media="screen")
    view.page.set_viewport_size(screen)
    view.settle()
    assert view.page.evaluate(width) == before
    assert view.said == []


def heat(view):
    """Axis titles and masses of the heat map as it is drawn."""
    return view.page.evaluate(
        "() => { const plot = document.getElementById('figure-map-heat');"
        " return [plot.layout.xaxis.title.text, plot.layout.yaxis.title.text,"
        " plot._fullData[0].z.map(row => Array.from(row))]; }"
    )


def test_another_plane_is_shown_from_the_keyboard(pages):
    view = pages("map")
    points = tables.EXPLORATIONS["map"]()["map_best"]
    before = heat(view)
    view.page.locator("#map-plane-held").focus()
    view.page.keyboard.press("ArrowDown")
    other = heat(view)
    assert other[:2] == before[:2]
    assert other[2] != before[2]
    view.page.locator("#map-plane-pair").focus()
    view.page.keyboard.press("ArrowDown")
    wide, tall, masses = heat(view)
    assert [wide, tall] != before[:2]
    drawn = {float(f"{one:.5g}") for row in masses for one in row if one is not None}
    assert drawn <= {float(f"{one:.5g}") for one in points["system_mass"].dropna()}
    assert view.page.locator("#map-plane-said").inner_text().startswith(wide.partition(" [")[0])
    labels = view.page.evaluate(
        "document.getElementById('figure-map-heat')._fullData[0].customdata.flat()"
    )
    assert all("Power granted" in text and "Torque margin" in text for text in labels)
    assert view.said == []


def test_ranges_leave_lines_out_and_list_what_is_within(pages):
    view = pages("map")
    best = tables.EXPLORATIONS["map"]()["map_best"]
    within = int((best["system_mass"] <= 18.0).sum())
    place = view.page.locator('#part-map .brush p:has-text("System mass")')
    place.locator("input").nth(1).fill("18")
    text = view.page.locator("#map-lines-count").inner_text()
    assert text.startswith(f"{within} of {len(best)} lines")
    drawn = view.page.locator("#map-lines path.line").evaluate_all(
        "all => all.map(one => (one.getAttribute('d').match(/M/g) || []).length)"
    )
    assert sum(drawn) == within
    view.open_all()
    shown = view.page.locator("#map-lines-rows tr")
    assert shown.count() == min(within, 50)
    view.page.locator("#map-lines-clear").click()
    text = view.page.locator("#map-lines-count").inner_text()
    assert text.startswith(f"{len(best)} of {len(best)} lines")


def test_dragging_along_an_axis_gives_a_range(pages):
    view = pages("map")
    grip = view.page.locator("#map-lines .grip").first
    grip.scroll_into_view_if_needed()
    box = grip.bounding_box()
    x = box["x"] + box["width"] / 2
    view.page.mouse.move(x, box["y"] + 0.25 * box["height"])
    view.page.mouse.down()
    view.page.mouse.move(x, box["y"] + 0.75 * box["height"], steps=4)
    view.page.mouse.up()
    low, high = (
        float(view.page.locator(f"#map-lines-{end}-0").input_value()) for end in ("low", "high")
    )
    assert low == pytest.approx(50.0 + 0.25 * 90.0, abs=1.0)  # the axis goes from 50 to 140 s
    assert high == pytest.approx(50.0 + 0.75 * 90.0, abs=1.0)
    view.page.mouse.click(x, box["y"] + 0.5 * box["height"])
    assert view.page.locator("#map-lines-low-0").input_value() == ""


def chosen(view):
    """What the panel says, and where the mark of the chosen point is."""
    return view.page.evaluate(
        "() => { const plot = document.getElementById('figure-front');"
        " const last = plot._fullData[plot._fullData.length - 1];"
        " return [document.getElementById('front-chosen-said').textContent,"
        " Number(last.x[0]), Number(last.y[0])]; }"
    )


def test_a_click_shows_the_design_behind_a_point(pages):
    view = pages("front")
    table = tables.EXPLORATIONS["front"]()["front_points"]
    place = view.page.evaluate(
        "() => { const plot = document.getElementById('figure-front');"
        " plot.scrollIntoView({block: 'center'}); const box = plot.getBoundingClientRect();"
        " const full = plot._fullLayout, one = plot._fullData[0];"
        " return [box.x + full.xaxis._offset + full.xaxis.c2p(one.x[3]),"
        " box.y + full.yaxis._offset + full.yaxis.c2p(one.y[3])]; }"
    )
    view.point_at(*place)
    view.page.mouse.click(*place)
    line = table.sort_values("fold_time").iloc[3]
    words, x, y = chosen(view)
    assert f"{line['fold_time']:.1f} s" in words
    assert x == pytest.approx(line["fold_time"], rel=1e-4)
    assert y == pytest.approx(line["system_mass"], rel=1e-4)
    cells = view.page.locator("#front-chosen-values td").all_inner_texts()
    assert f"{1e3 * line['tube_outer_radius']:.2f} mm" in cells


CELL = """name => {
  const plot = document.getElementById(name);
  plot.scrollIntoView({block: 'center'});
  const box = plot.getBoundingClientRect(), full = plot._fullLayout, one = plot._fullData[0];
  const heat = one.type === 'heatmap';
  for (let row = 0; row < one.y.length; row += 1) {
    const column = heat ? one.z[row].findLastIndex((value) => value !== null) : row;
    if (column < 0) continue;
    return [box.x + full.xaxis._offset + full.xaxis.c2p(one.x[column]),
      box.y + full.yaxis._offset + full.yaxis.c2p(one.y[row]),
      heat ? one.customdata[row][column] : one.customdata[row]];
  }
  return null;
}"""


@pytest.mark.parametrize(
    ("page", "figure"), [("map", "map-heat"), pytest.param("spread", "map-cloud",
                                                           marks=pytest.mark.slow)]
)  # fmt: skip
def test_a_click_in_a_map_shows_the_design_behind_a_point(pages, page, figure):
    view = pages(page)
    x, y, label = view.page.evaluate(CELL, f"figure-{figure}")
    words = view.page.locator("#map-chosen-said")
    view.page.locator("#map-chosen-slider").focus()
    view.page.keyboard.press("Home")
    if words.inner_text() == label.replace("<br>", ", "):
        view.page.keyboard.press("End")
    view.page.evaluate(CELL, f"figure-{figure}")  # back in view
    before = words.inner_text()
    view.point_at(x, y, off=4.0)
    view.page.wait_for_timeout(200)  # a label follows the pointer with some delay
    hovered = view.page.locator(f"#figure-{figure} .hovertext").first.text_content()
    view.page.mouse.click(x, y)
    after = words.inner_text()
    assert after != before
    letters = [re.sub(r"[,\s]", "", text) for text in (after, hovered)]
    assert letters[0] == letters[1]
    cells = view.page.locator("#map-chosen-values td").all_inner_texts()
    assert any(" mm" in cell for cell in cells)


def test_keys_and_buttons_show_the_design_behind_a_point(pages):
    view = pages("front")
    table = tables.EXPLORATIONS["front"]()["front_points"].sort_values("fold_time")
    slider = view.page.locator("#front-chosen-slider")
    slider.focus()
    view.page.keyboard.press("Home")
    assert chosen(view)[1] == pytest.approx(table["fold_time"].iloc[0], rel=1e-4)
    view.page.keyboard.press("ArrowRight")
    words, x, _ = chosen(view)
    assert x == pytest.approx(table["fold_time"].iloc[1], rel=1e-4)
    assert slider.get_attribute("aria-valuetext") == words
    view.page.get_by_label("Show point 10", exact=True).press("Enter")
    assert chosen(view)[1] == pytest.approx(table["fold_time"].iloc[9], rel=1e-4)
    assert view.page.locator("#front-chosen-active").inner_text() == table["active"].iloc[9]


@pytest.mark.slow
def test_a_click_in_a_projection_moves_all_pictures(pages):
    view = pages("triple")
    points = view.probe("points", "figure-front-pair-0")
    view.point_at(*points[1][:2])
    before = view.page.locator("#front-chosen-said").inner_text()
    view.page.mouse.click(*points[1][:2])
    assert view.page.locator("#front-chosen-said").inner_text() != before
    marks = [
        view.page.evaluate(
            "name => { const all = document.getElementById(name)._fullData;"
            " const one = all[all.length - 1]; return [one.x[0], one.y[0]].map(Number); }",
            f"figure-{name}",
        )
        for name in ("front-pair-0", "front-pair-1", "front-pair-2")
    ]
    assert marks[0][1] == marks[1][1]  # mass upwards in both
    assert marks[0][0] == marks[2][0]
    assert marks[1][0] == marks[2][1]


@pytest.mark.slow
@pytest.mark.parametrize("page", ["spread", "sweep"])
def test_another_column_is_shown(pages, page):
    name, figure = {
        "spread": ("map-cloud-axes", "map-cloud"),
        "sweep": ("sweep-cloud-axes", "sweep-cloud"),
    }[page]
    view = pages(page)
    view.page.locator(f"#{name}-x").select_option(index=2)
    title = view.page.evaluate(
        f"document.getElementById('figure-{figure}').layout.xaxis.title.text"
    )
    chosen = view.page.locator(f"#{name}-x option").nth(2).inner_text()
    assert title.startswith(chosen)
    assert view.said == []
