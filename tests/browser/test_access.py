"""Rules of axe-core, and contrast of all text, in figures and drawings too."""

from __future__ import annotations

from base64 import b64encode

import pytest


@pytest.mark.slow
@pytest.mark.dear
@pytest.mark.parametrize("width", [1440, 800])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious(look, name, scheme, width):
    assert look(name, scheme=scheme, width=width).axe() == []


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_serious_with_all_open(look, name, scheme):
    view = look(name, scheme=scheme)
    view.open_all()
    view.page.set_default_timeout(240_000)
    assert view.axe() == []


@pytest.mark.dear
@pytest.mark.parametrize(("scheme", "low", "high"), [("light", 0.8, 1.0), ("dark", 0.0, 0.05)])
def test_page_is_light_or_dark_and_its_text_stands_out(look, name, scheme, low, high):
    view = look(name, scheme=scheme)
    assert low <= view.probe("page") <= high
    view.open_all()
    assert view.probe("contrast") == []


def test_pixels_are_dark_in_the_dark(look):
    """Not what the style says: what is drawn, in the middle of an empty margin."""
    view = look("feasible", scheme="dark")
    shot = view.page.screenshot(clip={"x": 1425, "y": 300, "width": 8, "height": 8}, type="png")
    light = look("feasible", scheme="light")
    other = light.page.screenshot(clip={"x": 1425, "y": 300, "width": 8, "height": 8}, type="png")
    dark, bright = (
        one.page.evaluate(
            """async data => {
                 const image = new Image();
                 image.src = 'data:image/png;base64,' + data;
                 await image.decode();
                 const sheet = document.createElement('canvas').getContext('2d');
                 sheet.drawImage(image, 0, 0);
                 return [...sheet.getImageData(4, 4, 1, 1).data].slice(0, 3);
               }""",
            b64encode(part).decode("ascii"),
        )
        for one, part in ((view, shot), (light, other))
    )
    assert max(dark) < 60
    assert min(bright) > 220
