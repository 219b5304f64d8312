"""The folding wing: its slider turns it, and the moments are those of the result."""

from __future__ import annotations

import re

import numpy as np
import pytest

NUMBER = r"([−-]?[\d.]+)"
HALF_DIGIT = 0.0051  # a number of three significant digits is within half of its last one


class Wing:
    """Slider, drawing and words of the folding wing."""

    def __init__(self, view):
        self.page = view.page
        self.slider = view.page.get_by_role("slider", name=re.compile("angle", re.IGNORECASE))
        self.slider.scroll_into_view_if_needed()
        self.section = self.slider.locator("xpath=ancestor::section[1]")
        self.leg = self.section.get_by_role("combobox")
        self.words = self.section.get_by_role("status")

    def state(self):
        """Angle, everything drawn, and the sentence."""
        drawn = self.section.locator("svg").first.evaluate("node => node.outerHTML")
        return float(self.slider.input_value()), drawn, self.words.inner_text()

    def turn_to(self, angle):
        self.slider.evaluate(
            "(one, to) => { one.value = to; one.dispatchEvent(new Event('input', {bubbles: true}));"
            " one.dispatchEvent(new Event('change', {bubbles: true})); }",
            str(angle),
        )


@pytest.fixture
def wing(look):
    return Wing(look("feasible"))


def test_slider_moves_by_mouse(wing):
    angle, drawn, words = wing.state()
    box = wing.slider.bounding_box()
    middle = box["y"] + box["height"] / 2.0
    wing.page.mouse.move(box["x"] + 0.3 * box["width"], middle)
    wing.page.mouse.down()
    wing.page.mouse.move(box["x"] + 0.8 * box["width"], middle, steps=4)
    wing.page.mouse.up()
    moved = wing.state()
    assert abs(moved[0] - angle) > 5.0
    assert moved[1] != drawn
    assert moved[2] != words


def test_slider_moves_by_keyboard_and_says_its_angle(wing):
    wing.slider.focus()
    wing.page.keyboard.press("Home")  # the page may show the end of the travel
    angle, drawn, words = wing.state()
    for _ in range(7):
        wing.page.keyboard.press("ArrowRight")
    after = wing.state()
    assert after[0] == pytest.approx(angle + 7.0)
    assert after[1] != drawn
    assert after[2] != words
    said = wing.slider.get_attribute("aria-valuetext")
    assert said.replace("−", "-").rstrip("°") == f"{after[0]:g}"
    wing.page.keyboard.press("Home")
    assert wing.state()[0] == float(wing.slider.get_attribute("min"))
    wing.page.keyboard.press("End")
    assert wing.state()[0] == float(wing.slider.get_attribute("max"))


def test_panel_is_drawn_at_the_angle_of_the_slider(wing):
    for angle in (-20, 0, 45):
        wing.turn_to(angle)
        turned = wing.section.locator("svg [transform^='rotate(']").first.get_attribute("transform")
        assert float(re.search(rf"rotate\({NUMBER}", turned)[1]) == -angle


def number_after(word, text):
    found = re.search(rf"{word} {NUMBER} N·m", text)
    return float(found[1].replace("−", "-")) if found else None


def test_printed_moments_are_those_of_the_result(look):
    view = look("feasible")
    wing = Wing(view)
    torque = view.table("torque")
    compared = 0
    for leg, part in torque.groupby("leg", sort=False):
        ordered = part.sort_values("fold_angle")
        places = np.degrees(ordered["fold_angle"].to_numpy())
        wing.leg.select_option(label=leg)
        for share in (0.0, 0.37, 1.0):
            angle = round(places[0] + share * (places[-1] - places[0]))
            wing.turn_to(angle)
            text = wing.words.inner_text()
            assert leg in text
            for word, column in (
                ("required", "required_moment"),
                ("available", "available_moment"),
            ):
                printed = number_after(word, text)
                expected = float(np.interp(angle, places, ordered[column]))
                assert printed == pytest.approx(expected, rel=HALF_DIGIT, abs=1e-6)
                compared += 1
    assert compared >= 6 * 3 * 2


def test_an_angle_that_a_leg_does_not_pass_is_said_so(wing):
    label = wing.leg.locator("option", has_text="cold_start").first.inner_text()
    wing.leg.select_option(label=label)
    wing.turn_to(-20)
    assert "does not pass" in wing.words.inner_text()
