"""What the other tests look with does see faults: a page that has one of each."""

from __future__ import annotations

import pytest

from .viewing import View

STYLE = """body { background: #fff; color: #111; margin: 0; } .plain:focus { outline: none; }
  td.narrow { width: 20px; max-width: 20px; word-break: break-all; }"""
FAULTY = f"""<!doctype html><html lang="en"><head><title>faults</title><style>{STYLE}</style></head>
<body><main><h1>Faults</h1>
<div id="wide" style="width: 3000px">wide</div>
<h2 style="width: 40px; overflow: hidden; white-space: nowrap">a title that is cut</h2>
<svg width="100" height="40"><text x="60" y="20">cut at the side</text></svg>
<svg width="300" height="40"><text x="10" y="20">one text</text>
  <text x="12" y="20">other</text></svg>
<svg width="200" height="40"><rect width="200" height="40" fill="#222"></rect>
  <text x="5" y="20" fill="#333">dark on dark</text></svg>
<p style="color: #ccc">pale words</p>
<table><tr><td class="narrow">broken</td></tr></table>
<details><summary>Folded</summary><p>what is folded in here</p></details>
<input type="text"><a class="plain" href="#wide">no ring</a>
<div tabindex="0" style="position: absolute; left: 600px; top: 300px">below</div>
<div style="position: absolute; left: 590px; top: 290px; width: 200px; height: 60px;
  background: #eee">above</div>
<script>console.error("said"); new Image().src = "https://example.invalid/x.png";</script>
</main></body></html>"""


@pytest.fixture
def faulty(browser, tmp_path):
    (tmp_path / "report.html").write_text(FAULTY, encoding="utf-8")
    view = View(browser, tmp_path, width=1440, scheme="light")
    yield view
    view.close()


def test_width_cuts_and_overlaps_are_seen(faulty):
    assert any("3000" in one for one in faulty.probe("overflow"))
    cut = faulty.probe("cut")
    assert any("a title that is cut" in one for one in cut)
    assert any("cut at the side" in one for one in cut)
    assert any("one text" in one and "other" in one for one in faulty.probe("overlapping"))
    assert any("broken" in one for one in faulty.probe("broken"))


def test_pale_text_and_unnamed_pictures_are_seen(faulty):
    found = faulty.probe("contrast")
    assert any("pale words" in one for one in found)
    assert any("dark on dark" in one for one in found)
    assert len(faulty.probe("unnamed")) == 3
    assert faulty.probe("page") == pytest.approx(1.0)


def test_console_and_requests_are_heard(faulty):
    assert any("said" in one for one in faulty.said)
    assert faulty.requests == ["https://example.invalid/x.png"]


def test_axe_is_heard(faulty):
    found = faulty.axe()
    assert any("label" in one for one in found)
    assert any("color-contrast" in one for one in found)


def test_focus_without_a_ring_or_behind_something_is_seen(faulty):
    count = faulty.probe("mark")
    found = []
    for _ in range(count):
        faulty.page.keyboard.press("Tab")
        found.append(faulty.probe("focus"))
    assert [one["name"] for one in found if not one["ring"]] == ["a plain 'no ring'"]
    assert [one["name"] for one in found if not one["seen"]] == ["div 'below'"]
    assert faulty.probe("unreached", [one["number"] for one in found[:-1]]) != []


def test_what_is_folded_is_known(faulty):
    assert faulty.probe("behindFolds") == [["", "Folded", "whatisfoldedinhere"]]
