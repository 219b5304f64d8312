"""Figures of explorations: what is drawn is what the tables say, in units of the trade."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from mdo.report.figures import bars, requirement_map
from mdo.report.figures.carpet import carpet_arrays, line_figure
from mdo.report.pages.exploration_front import Front, front_figure, front_sections, gaps_of
from mdo.report.pages.exploration_indices import morris_figure, sobol_figure
from mdo.report.pages.exploration_map import map_sections
from mdo.report.pages.exploration_page import status_counts
from mdo.report.pages.exploration_scaling import scaling_sections, slope_words, slopes_figure
from mdo.report.pages.exploration_views import grid_levels, influence, map_data, planes
from mdo.report.words.exploration_columns import Columns

from . import exploration_tables as invented


def text_of(sections):
    """All that sections of a page hold."""
    return "".join(section.content for section in sections)


def test_best_of_a_point_is_its_lightest_choice():
    tables = invented.map_tables()
    data = map_data(tables, Columns(tables))
    best = tables["map_best"].set_index("point")
    ours = data.best.set_index("point")
    met = ours["status"] == "feasible"
    assert (ours.loc[met, "choice"] == best.loc[met[met].index, "choice"]).all()
    assert (ours.loc[met, "system_mass"] == best.loc[met[met].index, "system_mass"]).all()
    assert best.loc[~met, "system_mass"].isna().all()


def test_a_point_that_did_not_settle_is_not_called_infeasible():
    tables = invented.map_tables(axes=2)
    points = tables["map_points"]
    lost = points["point"] == points.loc[points["status"] == "infeasible", "point"].iloc[0]
    points.loc[lost & (points["choice"] == invented.CHOICES[1]), "status"] = "not settled"
    counts = status_counts("map", tables)
    assert counts["not settled"] == 1


def test_influence_of_axes_is_their_share_of_the_variance():
    """Variance of x + 3 y, both even over 0 to 1: 1/12 and 9/12, so that y has 0.9 of it.

    Within each of eight bands a 64th of the own variance is left out (uniform distribution).
    """
    side = (np.arange(64) + 0.5) / 64.0
    x, y = (one.ravel() for one in np.meshgrid(side, side))
    best = pd.DataFrame({"x": x, "y": y, "system_mass": x + 3.0 * y, "status": "feasible"})
    own_share = 1.0 - 1.0 / 64.0
    assert influence(best, "y") == pytest.approx(0.9 * own_share, rel=1e-3)
    assert influence(best, "x") == pytest.approx(0.1 * own_share, rel=1e-3)
    assert influence(best, "x") < influence(best, "y")


def test_planes_of_a_grid_hold_its_points():
    tables = invented.map_tables(axes=3, levels=5)
    data = map_data(tables, Columns(tables))
    found = planes(data, grid_levels(data))
    assert [len(pair) for pair in found] == [5, 5, 5]
    for pair in found:
        rows = np.concatenate([one.rows.ravel() for one in pair])
        assert sorted(rows) == list(range(125))
        for plane in pair:
            for at_y, at_x in ((0, 0), (1, 3), (4, 2)):
                line = data.best.iloc[plane.rows[at_y, at_x]]
                assert line[plane.x.name] == pytest.approx(plane.x_levels[at_x])
                assert line[plane.y.name] == pytest.approx(plane.y_levels[at_y])
    tables = invented.map_tables(axes=3, sample=125)
    assert grid_levels(map_data(tables, Columns(tables))) is None


def test_heat_map_and_carpet_show_the_masses_of_the_table():
    tables = invented.map_tables(axes=2)
    data = map_data(tables, Columns(tables))
    plane = planes(data, grid_levels(data))[0][0]
    heat, mask, missing, open_ = requirement_map.heat_arrays(data, plane)
    masses = tables["map_best"]["system_mass"].to_numpy()
    drawn = [one for row in heat["z"] for one in row]
    met = np.isfinite(masses)
    assert sum(one is not None for one in drawn) == met.sum() == sum(map(sum, mask["z"]))
    assert sorted(one for one in drawn if one is not None) == pytest.approx(
        sorted(masses[met]), rel=1e-4
    )
    assert len(missing["x"]) == (~met).sum()
    assert open_["x"] == []
    solid, dashed, nodes = carpet_arrays(data, plane)[:3]
    assert sorted(nodes["y"]) == pytest.approx(sorted(masses[met]), rel=1e-4)
    for lines in (solid, dashed):
        assert sorted(y for y in lines["y"] if y is not None) == sorted(nodes["y"])
    wide = [x for x, y in zip(solid["x"][:6], solid["y"][:6], strict=True) if y is not None]
    assert wide == sorted(wide)  # along a line of one level the net goes to the right


def test_a_map_of_one_axis_is_a_line_for_each_choice():
    tables = invented.map_tables(axes=1, levels=20)
    data = map_data(tables, Columns(tables))
    figure = line_figure(tables, data)
    assert [one.name for one in figure.data[:2]] == sorted(invented.CHOICES)
    for line in figure.data[:2]:
        part = tables["map_points"].query("choice == @line.name")
        drawn = [math.nan if one is None else one for one in line.y]
        assert drawn == pytest.approx(part["system_mass"].tolist(), rel=1e-4, nan_ok=True)
    assert len(figure.data[2].x) == (data.best["status"] != "feasible").sum() > 0
    assert figure.data[2].y[0] < tables["map_points"]["system_mass"].min()


def test_a_carpet_of_many_levels_has_few_lines():
    tables = invented.map_tables(axes=2, levels=30)
    data = map_data(tables, Columns(tables))
    solid, dashed, nodes = carpet_arrays(data, planes(data, grid_levels(data))[0][0])[:3]
    for lines in (solid, dashed):
        assert list(lines["x"]).count(None) == 8
    assert len(nodes["x"]) <= 64


def test_white_numbers_stand_out_from_every_cell():
    """Contrast of at least 4.5 as WCAG 2.1 (1.4.3) asks for, relative luminance after it."""

    def luminance(rgb):
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in rgb]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    ends = [
        [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)] for _, colour in requirement_map.HEAT
    ]
    places = [place for place, _ in requirement_map.HEAT]
    for at in np.linspace(0.0, 1.0, 101):
        rgb = [float(np.interp(at, places, [one[i] for one in ends])) for i in range(3)]
        assert 1.05 / (luminance(rgb) + 0.05) >= 4.5


def test_costs_are_those_of_a_harder_step():
    tables = invented.map_tables(axes=2, choices=False)
    points = tables["map_points"]
    axes = [Columns(tables).of(name) for name in ("fold_time", "torque_margin")]
    costs = {one.title: one for one in bars.costs_of(tables, axes)}
    met = points[points["status"] == "feasible"]
    longer, wider = costs["Fold time"], costs["Torque margin"]
    assert longer.spread[2] == pytest.approx(-met["cost.fold_time"].median())
    assert wider.spread[2] == pytest.approx(0.01 * met["cost.torque_margin"].median())
    assert (longer.per, wider.per) == ("1 s", "1 % of margin")
    assert min(longer.spread[0], wider.spread[0]) >= 0.0


def test_where_no_way_is_known_to_be_harder_a_larger_value_is():
    tables = invented.map_tables(axes=2, choices=False)
    tables["map_axes"]["easier"] = 0
    points = tables["map_points"]
    met = points[points["status"] == "feasible"]
    (cost,) = bars.costs_of(tables, [Columns(tables).of("torque_margin")])
    assert cost.spread[2] == pytest.approx(0.01 * met["cost.torque_margin"].median())
    assert cost.spread[2] > 0.0


def test_bars_count_every_point():
    tables = invented.map_tables()
    data = map_data(tables, Columns(tables))
    counts = bars.counts_of(data.best)
    figure = bars.counts_figure(counts, "points", len(data.best))
    assert sum(figure.data[0].x) == len(data.best) == counts["designs"].sum()
    assert list(counts["designs"]) == sorted(counts["designs"], reverse=True)


def test_a_reason_of_several_requirements_counts_at_each():
    frame = pd.DataFrame({"status": ["infeasible"] * 3 + ["feasible"],
                          "reason": ["A; B", "B; C; B", "C", ""]})  # fmt: skip
    found = bars.named_counts(bars.counts_of(frame))
    counts = {(one.status, one.reason): one.designs for one in found.itertuples()}
    assert counts == {("infeasible", "A"): 1, ("infeasible", "B"): 2, ("infeasible", "C"): 2,
                      ("feasible", ""): 1}  # fmt: skip


def test_a_choice_that_did_not_settle_leaves_a_question_mark():
    tables = invented.map_tables(axes=2)
    points = tables["map_points"]
    both = points.groupby("point")["status"].agg(lambda one: (one == "feasible").all())
    point = int(both[both].index[0])
    lost = (points["point"] == point) & (points["choice"] == invented.CHOICES[1])
    points.loc[lost, ["status", "reason", "system_mass"]] = ["not settled", "no end", math.nan]
    data = map_data(tables, Columns(tables))
    assert data.best.set_index("point").loc[point, "doubt"] == invented.CHOICES[1]
    heat = requirement_map.heat_arrays(data, planes(data, grid_levels(data))[0][0])[0]
    marked = [text for row in heat["text"] for text in row if text.endswith("?")]
    assert len(marked) == 1
    won = requirement_map.region_arrays(data, planes(data, grid_levels(data))[0][0])[:-1]
    marks = [one for part in won for one in part["marker.symbol"]]
    assert len(marks) == (data.best["status"] == "feasible").sum()
    assert sum(one.endswith("-open") for one in marks) == 1
    text = text_of(map_sections(tables))
    assert "At 1 of the points one of the choices did not settle" in text
    assert f"not settled: {invented.CHOICES[1]}" in text


def test_front_is_broken_at_its_gap_and_the_gap_has_its_reason():
    tables = invented.front_tables()
    front = Front(tables)
    gaps = gaps_of(front.points, tables["front_gaps"], "fold_time")
    assert len(gaps) == 1
    times = front.points["fold_time"]
    assert times[gaps[0].before] <= 102.0
    assert times[gaps[0].after] >= 116.5
    figure = front_figure(front.points, *front.objectives, gaps, front.texts, front.start)
    line = figure.data[0]
    assert list(line.x).count(None) == 1
    assert list(line.x)[gaps[0].before + 1] is None
    text = text_of(front_sections(tables))
    assert f"Gap 1: Fold time 102 s to 116 s: {invented.HEIGHT}" in text
    assert "; knee" in text


def test_changes_of_what_is_active_are_found():
    frame = pd.DataFrame({"active": ["a; b", "a; b", "a; c", ""]})
    assert bars.changes_of_active(frame) == [(2, ["c"], ["b"]), (3, [], ["a", "c"])]
    assert bars.active_rows(frame["active"]) == ["a", "b", "c"]


def test_indices_are_drawn_with_their_intervals_largest_on_top():
    tables = invented.sensitivity_tables()
    part = tables["sobol_indices"][tables["sobol_indices"]["of"] == "optimum"]
    total, first = sobol_figure(part).data
    assert list(total.x) == sorted(total.x)
    assert (total.name, first.name) == ("total", "first order")
    assert total.error_x.array[-1] == pytest.approx(part["total_interval"].iloc[0])
    assert first.x[-1] == pytest.approx(part["first"].iloc[0], rel=1e-4)
    morris = tables["morris_effects"][tables["morris_effects"]["of"] == "design"]
    marks = morris_figure(morris).data[1]
    assert list(marks.x) == pytest.approx(morris["effect"].tolist(), rel=1e-4)
    assert list(marks.y) == pytest.approx(morris["spread"].tolist(), rel=1e-4)
    assert marks.text[0] == "1"


def test_fitted_and_theoretical_lines_have_their_slopes():
    tables = invented.scaling_tables()
    points = tables["scaling_points"].query("mode == 'full' and law == 'dynamic'")
    fits = tables["scaling_exponents"].query(
        "mode == 'full' and law == 'dynamic' and quantity == 'system_mass'"
    )
    figure = slopes_figure(points, fits, Columns(tables).of("system_mass"))
    lines = {one.name: one for one in figure.data if one.name in {"fitted", "theory"}}
    slopes = {
        name: math.log(one.y[-1] / one.y[0]) / math.log(one.x[-1] / one.x[0])
        for name, one in lines.items()
    }
    assert slopes["fitted"] == pytest.approx(3.2, abs=1e-3)
    assert slopes["theory"] == pytest.approx(3.5, abs=1e-3)
    assert (lines["fitted"].line.dash, lines["theory"].line.dash) == ("solid", "dash")
    assert slope_words(next(fits.itertuples())) == "slope 3.20 ± 0.040, theory 3.50"
    missing = next(one for one in figure.data if one.name == "no feasible design")
    assert list(missing.x) == [4.0]
    assert f"No design at 4 × (dynamic, full): {invented.RETURN}." in text_of(
        scaling_sections(tables)
    )


def test_numbers_have_the_units_of_the_trade():
    tables = invented.map_tables(axes=6, sample=3)
    columns = Columns(tables)
    for name, value, text in (
        ("torque_margin", 0.25, "25.0 %"), ("power_available", 1680.0, "1.68 kW"),
        ("bay_hot", 328.15, "55 °C"), ("envelope_height", 0.03, "30.0 mm"),
        ("fold_time", 90.0, "90.0 s"), ("tube_count.up", 4.5, "4.50"),
        ("operating_stress.down", 1.29e8, "129 MPa"), ("return_gate", 10.0, "10.0 K"),
    ):  # fmt: skip
        assert columns.of(name).text(value) == text
    assert columns.of("fold_time").level(90.0) == "90 s"
    assert columns.of("power_available").level(1200.0) == "1.2 kW"
    assert columns.of("tube_count.up").title == "Tube count, up set"
    drawn, title = columns.of("power_available").drawn([600.0, 2400.0])
    assert list(drawn) == [0.6, 2.4]
    assert title == "Power granted [kW]"
    drawn, title = columns.of("bay_hot").drawn([308.15])
    assert drawn[0] == pytest.approx(35.0)
    assert title == "Hottest bay [°C]"
