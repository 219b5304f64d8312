"""Drawings: whole tubes to scale that do not overlap, the numbers of the tables, nothing unsafe."""

from __future__ import annotations

import html
import json
import math
import re
import shutil
import subprocess
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from mdo.defend.alloy_window import transformation_window
from mdo.defend.order.tubes import whole_count
from mdo.defend.tables.facts import Facts
from mdo.defend.tables.legs import driving_point, torque_table
from mdo.disciplines.bundle.wing_room import end_thickness
from mdo.model.layout import join_design
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.problem import make_problem
from mdo.report.drawings import front_view as front
from mdo.report.drawings.alloy_diagram import alloy_diagram
from mdo.report.drawings.end_view import bundle_end_view
from mdo.report.drawings.heat_figures import (
    heat_course,
    ledger_figure,
    ledger_rows,
    rounded,
    temperature_time_figure,
)
from mdo.report.drawings.layout import MOST, bundle_layout, front_end, interleaved
from mdo.report.drawings.side_view import bundle_side_view
from mdo.report.drawings.svg import element, label
from mdo.report.templates import render
from mdo.study.number_text import figure
from mdo.study.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"
SVG = "{http://www.w3.org/2000/svg}"
ROOM = {
    "requirements.fold_time": "400 s",
    "case.cold_start.fold_time": "500 s",
    "requirements.return_time": "1400 s",
    "vehicle.skin_thickness": "1 mm",
    "vehicle.clearance": "1.5 mm",
}
PAIR = {
    "tube_outer_radius": 0.00744, "wall_ratio": 0.70, "tube_length": 0.595,
    "tube_count": [4.655, 5.5], "operating_stress": [1.045e8, 1.11e8], "gear_ratio": 0.854,
    "pre_twist": [2.48, 2.495], "heater_power": [1920.0, 2250.0], "hot_temperature": 476.0,
    "insulation_thickness": 0.00028, "spring_moment": 1.0, "spring_rate": 0.0,
}  # fmt: skip
ONE_SET = {
    "tube_outer_radius": 0.00607, "wall_ratio": 0.603, "tube_length": 0.4855,
    "tube_count": [1.0, 6.97], "operating_stress": [1.2e8, 1.254e8], "gear_ratio": 1.63,
    "pre_twist": [3.4, 2.951], "heater_power": [50.0, 2667.0], "hot_temperature": 476.4,
    "insulation_thickness": 0.00085, "spring_moment": 1.0, "spring_rate": 0.0,
}  # fmt: skip
HOSTILE = '</script><script>alert("1")</script>&<b>fold'


def appraise(name, design, changes):
    problem = make_problem(load_study(STUDIES / f"{name}.toml").with_values(changes))
    x = join_design(design)
    return Appraisal("evaluate", problem, x, problem.values(x), None, "fixed")


def pair(**changes):
    return appraise("deck_medium", PAIR, ROOM | {f"actuator.{k}": v for k, v in changes.items()})


@pytest.fixture(scope="module")
def medium():
    return pair()


@pytest.fixture(scope="module")
def flight():
    return appraise("deck_medium_flight_only", ONE_SET, {})


@pytest.fixture(scope="module", params=["geared", "nested", "knuckle", "plated"])
def bundle(request):
    """The pair in each topology, whether or not it fits there."""
    return pair(topology=request.param)


def front_piece(appraisal):
    """Wing with its slider as a piece of the page."""
    return render("design/front.html", **front.front_view(appraisal))


DRAWINGS = {
    "bundle_side_view": bundle_side_view,
    "bundle_end_view": bundle_end_view,
    "front_view": front_piece,
    "transformation_figure": lambda design: alloy_diagram(design, transformation_window(design)),
    "temperature_time_figure": lambda design: temperature_time_figure(heat_course(design)),
    "ledger_figure": lambda design: ledger_figure(heat_course(design)),
}


def parsed(text):
    """Elements of a drawing; it has no namespace since a page of HTML needs none."""
    return ET.fromstring(text)


def circles(text, *kinds):
    found = [one for one in parsed(text).iter("circle") if one.get("class") in kinds]
    return [tuple(float(one.get(name)) for name in ("cx", "cy", "r")) for one in found]


def box(text, kind):
    one = next(one for one in parsed(text).iter("rect") if one.get("class") == kind)
    return [float(one.get(name)) for name in ("x", "y", "width", "height")]


def counts(appraisal):
    present = np.asarray(Facts(appraisal).choices.set_present) > 0.5
    return {
        side: whole_count(float(appraisal.design["tube_count"][side]))
        for side in (0, 1)
        if present[side]
    }


def test_layout_has_the_whole_tubes_of_the_order(bundle, flight):
    for appraisal in (bundle, flight):
        layout, wanted = bundle_layout(appraisal), counts(appraisal)
        assert layout.counts == wanted
        sides = [tube.side for tube in layout.tubes]
        assert {side: sides.count(side) for side in wanted} == wanted


@pytest.mark.parametrize("name", ["medium", "flight"])
def test_end_view_draws_every_whole_tube(name, request):
    appraisal = request.getfixturevalue(name)
    text = bundle_end_view(appraisal)
    wanted = counts(appraisal)
    assert len(circles(text, "up")) == wanted.get(0, 0)
    assert len(circles(text, "down")) == wanted[1]
    # the sets differ by letter and hatching, not by colour alone
    letters = [one.text for one in parsed(text).iter("text") if one.text in {"U", "D"}]
    assert letters.count("D") == wanted[1] == len(circles(text, "hatch"))


@pytest.mark.parametrize("name", ["medium", "flight"])
def test_tubes_do_not_overlap_and_lie_within_the_room(name, request):
    appraisal = request.getfixturevalue(name)
    layout, text = bundle_layout(appraisal), bundle_end_view(appraisal)
    assert layout.height_available >= layout.height
    sleeves = circles(text, "paper thin")
    assert len(sleeves) == len(layout.tubes)
    for (x1, y1, r1), (x2, y2, r2) in combinations(sleeves, 2):
        assert math.hypot(x1 - x2, y1 - y2) > r1 + r2
    _, top, _, high = box(text, "ink dashed")
    pinions = circles(text, "thin dashed")
    assert min(y - r for _, y, r in (*pinions, *sleeves)) >= top - 0.02
    assert max(y + r for _, y, r in (*pinions, *sleeves)) <= top + high + 0.02


@pytest.mark.parametrize("name", ["medium", "flight"])
def test_pinions_of_a_lane_touch_the_wheel_and_not_each_other(name, request):
    layout = bundle_layout(request.getfixturevalue(name))
    ring = [tube for tube in layout.tubes if tube.lane == 0]
    for tube in ring:
        assert math.hypot(tube.x, tube.y) == pytest.approx(layout.wheel + layout.pinion)
    for one, two in combinations(ring, 2):
        assert math.hypot(one.x - two.x, one.y - two.y) > 2.0 * layout.pinion
    # a tube beside the ring passes the first lane's pinions on its way to its own
    for tube in layout.tubes:
        for other in ring if tube.lane else ():
            apart = math.hypot(tube.x - other.x, tube.y - other.y)
            assert apart > layout.pinion + layout.dressed


def test_scale_is_the_same_in_both_axes(medium):
    layout, text = bundle_layout(medium), bundle_end_view(medium)
    _, _, wide, high = box(text, "ink dashed")
    scale = circles(text, "up")[0][2] / layout.radius
    assert wide / layout.width == pytest.approx(scale, rel=1e-3)
    assert high / layout.height == pytest.approx(scale, rel=1e-3)
    side = bundle_side_view(medium)
    _, _, wide, high = box(side, "metal")  # the bundle in its section comes first
    assert wide / high == pytest.approx(layout.extent / layout.height, rel=1e-3)
    sets = [one for one in parsed(side).iter("rect") if one.get("class") in {"up", "down"}]
    heated = [(float(one.get("width")), float(one.get("height"))) for one in sets]
    assert {one.get("class") for one in sets[:-2]} == {"up", "down"}  # the last two: the key
    for wide, high in heated[:-2]:
        assert wide / high == pytest.approx(layout.active / (2.0 * layout.radius), rel=1e-3)


def test_bundle_lies_where_both_ends_see_the_height_of_the_model(medium):
    # NACA four-digit half thickness, written out again
    facts, layout = Facts(medium), bundle_layout(medium)
    chord, thick = float(facts.planform.fold_chord), float(facts.planform.fold_thickness)

    def thickness(x):
        form = 0.2969 * x**0.5 - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4
        return 10.0 * form * thick

    cut = 2.0 * float(facts.vehicle.skin_thickness + facts.vehicle.clearance)
    for end in (layout.front, layout.front + layout.length):
        assert thickness(end / chord) - cut == pytest.approx(layout.height_available, abs=2e-5)


def test_front_end_of_any_length_is_finite():
    for biconvex in (False, True):
        for length in (1e-4, 0.3, 0.8, 0.97, 0.999, 1.0, 1.7):
            height = float(end_thickness(length, float(biconvex)))
            assert math.isfinite(front_end(length, height, biconvex=biconvex))
    assert front_end(0.6, 1.0 - 0.6**2, biconvex=True) == pytest.approx(0.2, abs=1e-6)


def test_sets_are_mixed():
    assert interleaved({0: 1, 1: 2}) == [1, 0, 1]
    assert interleaved({1: 3}) == [1, 1, 1]


def test_plated_tubes_do_not_overlap():
    layout = bundle_layout(pair(topology="plated"))
    for one, two in combinations(layout.tubes, 2):
        assert math.hypot(one.x - two.x, one.y - two.y) > 2.0 * layout.dressed
    assert max(math.hypot(t.x, t.y) for t in layout.tubes) + layout.dressed < layout.height / 2.0


def test_nested_tubes_lie_inside_one_another():
    layout = bundle_layout(pair(topology="nested"))
    radii = [tube.radius for tube in layout.tubes]
    wall = layout.radius - layout.bore
    assert all(inner < outer - wall for outer, inner in pairwise(radii))


def test_drawings_of_every_topology_are_whole_and_named(bundle):
    texts = [bundle_side_view(bundle), bundle_end_view(bundle)]
    names = []
    for text in texts:
        root = parsed(text)
        assert root.get("role") == "img"
        assert [one.tag for one in root][:2] == ["title", "desc"]
        names += [one.get("id") for one in root.iter() if one.get("id")]
        assert root.get("aria-labelledby") == f"{root[0].get('id')} {root[1].get('id')}"
        bare = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
        assert not re.search(r"\b(nan|inf)\b", bare)
        assert "url(" not in text
    assert len(names) == len(set(names))


def test_design_far_from_working_is_drawn(medium):
    x = np.asarray(medium.x)
    x = np.clip(
        x * np.where(np.arange(x.size) % 2, 0.3, 3.0), medium.problem.lower, medium.problem.upper
    )
    wild = Appraisal("evaluate", medium.problem, x, medium.problem.values(x), None, "wild")
    for draw in DRAWINGS.values():
        assert draw(wild) is not None


@pytest.mark.parametrize("topology", ["geared", "plated"])
def test_very_many_tubes_are_drawn_in_part(topology):
    design = PAIR | {"tube_count": [40_000.0, 380.0]}
    crowd = appraise("deck_medium", design, ROOM | {"actuator.topology": topology})
    layout = bundle_layout(crowd)
    assert layout.total == 40_380
    assert 0.8 * MOST < len(layout.tubes) <= MOST
    assert len(bundle_end_view(crowd)) + len(bundle_side_view(crowd)) < 250_000


def test_all_drawings_together_are_small(medium):
    pieces = [draw(medium) for draw in DRAWINGS.values()]
    sizes = [len(one if isinstance(one, str) else one.to_json()) for one in pieces]
    assert sum(sizes) < 120_000


# ---- The slider


def embedded(text):
    found = re.search(r'<script type="application/json"[^>]*>(.*?)</script>', text, flags=re.DOTALL)
    return json.loads(found.group(1))


def test_numbers_of_the_slider_are_those_of_the_table(medium, flight):
    for appraisal in (medium, flight):
        data = embedded(front_piece(appraisal))
        table = torque_table(Facts(appraisal))
        assert [leg["name"] for leg in data["legs"]] == list(table["leg"].unique())
        for leg in data["legs"]:
            part = table[table["leg"] == leg["name"]].sort_values("fold_angle", kind="stable")
            part = part.iloc[: len(leg["angles"])]
            assert np.allclose(np.radians(leg["angles"]), part["fold_angle"], rtol=1e-5, atol=1e-7)
            assert np.allclose(leg["required"], part["required_moment"], rtol=1e-5)
            if leg["available"] is None:
                assert part["available_moment"].isna().all()
            else:
                assert np.allclose(leg["available"], part["available_moment"], rtol=1e-5)
        assert data["largest"] == pytest.approx(
            np.nanmax(np.abs(table[["required_moment", "available_moment"]])), rel=1e-5
        )


def test_slider_runs_over_the_travel_and_starts_at_the_driving_point(medium):
    text = front_piece(medium)
    slider = re.search(r"<input ([^>]*)>", text).group(1)
    numbers = {k: int(v) for k, v in re.findall(r'(min|max|value)="(-?\d+)"', slider)}
    ends = np.degrees([float(medium.values[name]) for name in ("travel_low", "travel_high")])
    assert numbers["min"] == math.ceil(ends[0])
    assert numbers["max"] == math.floor(ends[1])
    point = driving_point(medium)
    assert numbers["value"] == round(math.degrees(point.fold_angle))
    for control in ("angle", "leg"):
        assert f'<label for="fold-front-{control}">' in text


def hostile(appraisal):
    """The same design with a name of a leg that tries to break out."""
    problem = appraisal.problem
    legs = tuple(leg._replace(label=HOSTILE + str(at)) for at, leg in
                 enumerate(problem.assembled.legs))  # fmt: skip
    bad = replace(problem, assembled=replace(problem.assembled, legs=legs))
    return replace(appraisal, problem=bad)


def test_names_of_the_user_are_escaped(medium):
    bad = hostile(medium)
    for name, draw in DRAWINGS.items():
        piece = draw(bad)
        text = piece if isinstance(piece, str) else str(piece.to_dict())
        assert "<b>" not in text
        assert "<script>alert" not in text
        assert text.count("</script>") == text.count("<script") == 2 * (name == "front_view")
    assert "alert" in str(DRAWINGS["temperature_time_figure"](bad).to_dict())
    assert embedded(front_piece(bad))["legs"][0]["name"] == f"{HOSTILE}0"
    assert "<b>" not in label(0.0, 0.0, HOSTILE)
    assert element("g", id='"x') == '<g id="&#34;x"/>'


SHOWN = ("said", "turned", "available", "head", "words", "spoken")
TRIES = [["", angle] for angle in (-41, -35, -20, 0, 33, 50, 77, 100, 105)]
TRIES += [["0", 40], ["0", -10], ["9", -35], ["10", 17]]
DRIVER = """
<script>
const slider = document.getElementById("fold-front-angle");
const choice = document.getElementById("fold-front-leg");
const part = (name) => document.getElementById("fold-front-" + name);
const seen = [];
const look = () => seen.push([part("said").textContent, part("panel").getAttribute("transform"),
  part("available").getAttribute("d"), part("required-head").getAttribute("d"),
  part("required-words").textContent, slider.getAttribute("aria-valuetext")]);
look();
for (const [leg, angle] of TRIES) {
  choice.value = leg; choice.dispatchEvent(new Event("change"));
  slider.value = angle; slider.dispatchEvent(new Event("input"));
  look();
}
const out = document.createElement("pre");
out.id = "seen"; out.textContent = JSON.stringify(seen);
document.body.append(out);
</script>
"""


@pytest.fixture(scope="module")
def shown(medium, tmp_path_factory):
    """What the script shows first, then at some legs ("": it chooses) and angles."""
    if shutil.which("chromium") is None:
        pytest.skip("needs Chromium")
    folder = tmp_path_factory.mktemp("slider")
    page, driver = folder / "page.html", DRIVER.replace("TRIES", json.dumps(TRIES))
    text = front_piece(medium)
    page.write_text(f"<!doctype html><meta charset=utf-8><body>{text}{driver}", encoding="utf-8")
    command = [
        "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--dump-dom",
        f"--user-data-dir={folder / 'profile'}", page.as_uri(),
    ]  # fmt: skip
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    seen = json.loads(html.unescape(re.search(r'<pre id="seen">(.*?)</pre>', dom).group(1)))
    return [dict(zip(SHOWN, each, strict=True)) for each in seen]


def moments_at(table, angle):
    """Required, available and margin to spare of each leg at an angle, straight from the table."""
    found = {}
    for leg, part in table.groupby("leg", sort=False):
        rows = part.sort_values("fold_angle")
        places = np.degrees(rows["fold_angle"])
        if not places.min() - 0.5 <= angle <= places.max() + 0.5:
            continue
        required, available = (
            float(np.interp(angle, places, rows[f"{name}_moment"]))
            for name in ("required", "available")
        )
        spare = available / required - 1.0 - rows["torque_margin_required"].iloc[0]
        spare = spare if required > 0.0 and math.isfinite(available) else math.inf
        found[leg] = (required, available, spare)
    return found


def test_slider_first_shows_the_driving_point(medium, shown):
    point = driving_point(medium)
    assert shown[0]["said"].startswith(point.leg)
    assert f"required {figure(point.required_moment, 3)} N·m" in shown[0]["said"]


def test_script_shows_the_moments_of_the_table_and_the_leg_with_least_to_spare(medium, shown):
    table = torque_table(Facts(medium))
    legs = list(table["leg"].unique())
    for (choice, angle), state in zip(TRIES, shown[1:], strict=True):
        assert state["turned"] == f"rotate({-angle})"
        assert state["spoken"] == f"{angle}°".replace("-", "−")
        moments = moments_at(table, angle)
        leg = (
            legs[int(choice)]
            if choice
            else min(moments, key=lambda leg: moments[leg][2], default="")
        )
        if leg not in moments:
            assert state["said"] == "This leg does not pass this angle."
            assert (state["available"], state["head"], state["words"]) == ("", "", "required –")
            continue
        required, available, spare = moments[leg]
        assert state["said"].startswith(leg)
        words = f"required {figure(required, 3)} N·m".replace("-", "−")
        assert state["words"] == words
        if math.isfinite(available):
            assert (
                f"{words}, available {figure(available, 3)} N·m".replace("-", "−") in state["said"]
            )
        if math.isfinite(spare):
            margin = f"{100.0 * (available / required - 1.0):.1f} %".replace("-", "−")
            assert f"margin {margin}," in state["said"]


def test_arrows_turn_the_way_of_the_moment_by_its_size(medium, shown):
    """The panel at the start of the arc, its end 130 deg of the largest moment further on."""
    data, table = embedded(front_piece(medium)), torque_table(Facts(medium))
    legs = {leg["name"]: leg for leg in data["legs"]}
    compared = 0
    for (_, angle), state in zip(TRIES, shown[1:], strict=True):
        leg = legs.get(state["said"].partition(" (")[0])
        if leg is None or not state["available"]:
            continue
        _, available, _ = moments_at(table, angle)[leg["name"]]
        sweep = leg["sense"] * 130.0 * available / data["largest"]
        radius = data["radii"]["available"]
        arc = [float(each) for each in re.findall(r"-?[\d.]+", state["available"])]
        start = np.radians(angle)
        assert arc[:2] == pytest.approx([radius * np.cos(start), -radius * np.sin(start)], abs=0.02)
        assert arc[5:7] == [abs(sweep) > 180.0, sweep < 0.0]
        end = start + np.radians(sweep) - np.sign(sweep) * 12.0 / radius
        assert arc[7:] == pytest.approx([radius * np.cos(end), -radius * np.sin(end)], abs=0.05)
        compared += 1
    assert compared > 5


# ---- Heat


@pytest.mark.parametrize("name", ["medium", "flight"])
def test_course_ends_at_the_times_of_the_model(name, request):
    appraisal = request.getfixturevalue(name)
    course, values = heat_course(appraisal), appraisal.values
    heated, hot = np.array(course.heating[-1])[:, -1]
    cooled, cold = np.array(course.cooling[-1])[:, -1]
    assert heated == pytest.approx(values["heat_time"][course.leg, course.side])
    assert cooled == pytest.approx(values["cool_time"][course.back, course.cooled])
    assert course.heating[0].time[0] == float(Facts(appraisal).wanted.dead_time)
    assert hot == pytest.approx(float(appraisal.design["hot_temperature"]))
    assert cold == pytest.approx(float(values["cooling_finish"][course.cooled]))
    for before, after in pairwise(map(np.array, course.heating)):
        assert before[:, -1] == pytest.approx(after[:, 0], rel=1e-12)
    time, temperature = course.heating[0]
    assert np.all(np.diff(time) > 0.0)
    assert np.all(np.diff(temperature) > 0.0)


@pytest.mark.parametrize("name", ["medium", "flight"])
def test_ledger_sums_to_the_heat_given(name, request):
    appraisal = request.getfixturevalue(name)
    course = heat_course(appraisal)
    energy = appraisal.values["heat_energy"][course.leg, course.side]
    assert course.given == pytest.approx(energy, rel=1e-12)
    assert sum(course.parts.values()) == pytest.approx(energy, rel=1e-9)
    assert len(ledger_rows(course)) == len(course.parts)
    # latent heat by hand: mass of the set x heat x share transformed
    facts, d = Facts(appraisal), appraisal.design
    r = float(d["tube_outer_radius"])
    area = math.pi * (r**2 - (r * (1.0 - float(d["wall_ratio"]))) ** 2)
    mass = float(facts.alloy.density) * area * float(d["tube_length"])
    share = float(appraisal.values["heated_fraction"][course.side])
    by_hand = mass * float(d["tube_count"][course.side]) * float(facts.alloy.latent_heat) * share
    assert course.parts["latent heat of the alloy"] == pytest.approx(by_hand, rel=1e-9)


def test_numbers_of_the_ledger_add_up_as_printed(medium):
    figure = DRAWINGS["ledger_figure"](medium)
    *parts, total = [float(text.split()[0]) for text in figure.data[1].text]
    assert round(sum(parts), 6) == total
    bars = figure.data[0]
    assert bars.base[-1] == 0.0
    assert bars.base[-2] + bars.x[-2] == pytest.approx(bars.x[-1])


def test_rounding_keeps_the_sum():
    texts, total = rounded([333.4, 333.4, 333.4])
    assert (texts, total) == (["0.334", "0.333", "0.333"], "1.000")
    assert rounded([1.0e6, 2.34e6])[1] == "3340"


def test_what_the_heater_cannot_reach_has_a_line_of_its_own(medium):
    weak = np.asarray(medium.x)
    weak = np.where([name.startswith("heater_power") for name in medium.problem.labels], 60.0, weak)
    problem = medium.problem
    cold = Appraisal("evaluate", problem, weak, problem.values(weak), None, "weak")
    rows = ledger_rows(heat_course(cold))
    assert rows[-1][0].startswith("not balanced")
    assert sum(heat for _, heat in rows) == pytest.approx(heat_course(cold).given)
    assert DRAWINGS["temperature_time_figure"](cold).data


def test_transformation_figure_shows_the_temperatures_of_the_model():
    # of one stress a section, as the figure has it: at `radial` As' and Af' are of two fibres
    medium = appraise("deck_medium", PAIR, ROOM | {"fidelity.optimise.tube": "uniform"})
    figure = DRAWINGS["transformation_figure"](medium)
    lines = {trace.text[1]: trace for trace in figure.data if trace.text is not None}
    stress = np.asarray(medium.design["operating_stress"]) / 1e6
    for name, wanted in (("As", "heating_start"), ("Af", "heating_finish")):
        at = np.interp(stress, lines[name].y, lines[name].x)
        assert at == pytest.approx(np.asarray(medium.values[wanted]) - 273.15, abs=0.01)
    points = {trace.name: trace for trace in figure.data if trace.showlegend is not False}
    hot = points["hot, up set"]
    assert (hot.x[0], hot.y[0]) == pytest.approx((476.0 - 273.15, 104.5))
    back = points["returned, up set"]
    assert back.x[0] == pytest.approx(50.0)
    assert back.y[0] == pytest.approx(float(medium.values["smallest_return_stress"][0]) / 1e6)
    at = np.interp(back.y[0], lines["Mf"].y, lines["Mf"].x)
    assert at == pytest.approx(float(medium.values["cooling_finish"][0]) - 273.15, abs=0.01)
