"""The page of an exploration: one file, escaped, honest about what is thinned, missing or empty."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from mdo.explore.assurance.assurance import AssuranceFacts
from mdo.explore.exploration import Exploration
from mdo.explore.maps.dear import dear_figures
from mdo.report import Head, render_exploration
from mdo.report.pages.exploration_page import status_counts
from mdo.report.words.exploration_columns import safe, short, thinned, thinned_words
from mdo.report.words.explorations import sentences

from . import exploration_tables as invented
from .outline import LIMIT, outline_of, own


def page_of(name, **changes):
    tables = changes.pop("tables", None) or invented.EXPLORATIONS[name]()
    lines, kind = changes.pop("lines", ("One.", "Two.")), invented.KINDS.get(name, name)
    versions = changes.pop("versions", {"tool": "1"})
    said = {"name": "demo", "title": "A demo", "vehicle": "none", "description": "Invented."}
    head = Head(kind, invented.content(**said | changes), versions)
    return render_exploration(head, lines, tables)


@lru_cache(maxsize=32)
def plain(name):
    """Page of invented tables as they are."""
    return page_of(name)


def words(page):
    """Text of a page, tags and scripts left out."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", own(page), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


@pytest.mark.parametrize(
    "name",
    [
        name if name in {"map", "front"} else pytest.param(name, marks=pytest.mark.slow)
        for name in invented.EXPLORATIONS
    ],
)
def test_page_is_one_whole_file_the_same_every_time(name):
    page = plain(name)
    assert page == page_of(name)
    assert len(page.encode()) < LIMIT
    found = outline_of(page)
    assert found.loaded == []
    assert len(found.ids) == len(set(found.ids))
    assert {one[1:] for one in found.links} <= set(found.ids)
    assert found.unnamed == []
    assert set(found.fields) <= set(found.labels)
    assert found.captions >= 2
    text = words(page)
    assert "One." in text
    assert "nan" not in re.findall(r"[a-z]+", text.lower())
    for data in re.findall(r'<script type="application/json"[^>]*>(.*?)</script>', own(page)):
        json.loads(data, parse_constant=pytest.fail)


def test_hostile_text_is_text():
    evil = f"{invented.MARKUP}</script></title><svg onload=x>"
    page = page_of("wild", title=evil, description=evil, vehicle=evil, lines=(evil,),
                   versions={evil: evil})  # fmt: skip
    found = outline_of(page)
    assert found.loaded == []
    assert "<img src=x" not in own(page)
    assert "<svg onload" not in own(page)
    assert safe('<b>%{x}</b>"') == '&lt;b&gt;%&#123;x}&lt;/b&gt;"'
    assert len(short("unbroken" * 30)) < 45


@pytest.mark.parametrize("name", ["map", "spread", "front", "triple", "sweep", "scaling"])
def test_page_of_empty_tables_says_so(name):
    tables = {key: table.iloc[:0] if not key.endswith(("axes", "objectives", "columns")) else table
              for key, table in invented.EXPLORATIONS[name]().items()}  # fmt: skip
    page = page_of(name, tables=tables)
    outline_of(page)
    assert "nothing was computed" in words(page)
    assert "is-bad" in own(page)


def test_page_of_no_sensitivities_says_so():
    tables = {key: one.iloc[:0] for key, one in invented.sensitivity_tables().items()}
    assert words(page_of("sensitivity", tables=tables)).count("The table has no rows") == 2


def test_page_of_an_infeasible_map_or_front_says_so():
    text = words(plain("barren"))
    assert "None of the 36 points of the map is feasible" in text
    assert "No feasible design was found at any point" in text
    front = invented.front_tables()
    front["front_points"]["status"] = "infeasible"
    front["front_points"]["reason"] = "nothing fits"
    text = words(page_of("front", tables=front))
    points = len(front["front_points"])
    assert f"The front has no point. {points} bounds have no feasible design." in text
    front["front_points"].loc[3, "status"] = "not settled"
    said = words(page_of("front", tables=front))
    assert f"{points - 1} bounds have no feasible design, at 1 the optimiser did not settle" in said
    assert f"None of the {points} front points tried is feasible, 1 not settled" in said
    assert "nothing fits" in text
    family = invented.scaling_tables()
    family["scaling_points"]["status"] = "infeasible"
    text = words(page_of("scaling", tables=family))
    assert "No size is feasible" in text


@pytest.mark.parametrize(("axes", "sample"), [(1, 40), (2, 0), (3, 90)])
def test_a_map_of_corrected_rows_draws_its_bound(axes, sample):
    tables = invented.with_dear(invented.map_tables(axes=axes, sample=sample, choices=False))
    page = page_of("map", tables=tables)
    assert "figure-map-bound" in outline_of(page).ids
    for said in (
        "solved dear",
        "held out, inside",
        "held out, outside",
        "bound not known",
        "kg; held",
    ):
        assert said in page
    assert "figure-map-bound" not in page_of("map", tables=invented.map_tables(axes=2))


def test_how_far_off_a_map_of_corrected_rows_is():
    tables = invented.with_dear(invented.map_tables(axes=2, choices=False))
    figures = dear_figures(tables["map_points"])
    assert figures.held_out == figures.held_out_inside + 1
    assert figures.mass_bound_median == pytest.approx(0.004)
    assert figures.mass_bound_unknown == 1
    assert dear_figures(invented.map_tables(axes=2)["map_points"]) is None


@pytest.mark.parametrize("axes", [1, 2])
@pytest.mark.parametrize("sample", [0, 1, 40])
def test_small_maps_are_drawn(axes, sample):
    tables = invented.map_tables(axes=axes, sample=sample, choices=False)
    found = outline_of(page_of("map", tables=tables))
    carpet = "figure-map-carpet" in found.ids
    assert carpet == (axes == 2 and sample == 0)


def test_counts_are_those_of_the_tables():
    tables = invented.EXPLORATIONS["spread"]()
    points = tables["map_points"]
    met = points[points["status"] == "feasible"]["point"].nunique()
    counts = status_counts("map", tables)
    assert counts["feasible"] == met
    assert sum(counts.values()) == points["point"].nunique() == 1000
    assert f"{met:,} of 1,000 points of the map are feasible" in words(plain("spread"))
    sweep = invented.sweep_tables()
    assert sum(status_counts("sweep", sweep).values()) == sweep["sweep_status"]["designs"].sum()


def test_text_that_a_file_gave_back_as_nothing_is_empty():
    tables = invented.map_tables(axes=2)
    points = tables["map_points"]
    for column in ("reason", "choice", "active"):
        points[column] = points[column].where(points[column] != "", None)
    assert page_of("map", tables=tables) == page_of("map", tables=invented.map_tables(axes=2))


def test_thinning_keeps_the_ends_and_is_said():
    frame = pd.DataFrame({"a": np.arange(10_001)})
    few = thinned(frame, 101)["a"].to_numpy()
    assert few[0] == 0
    assert few[-1] == 10_000
    assert set(np.diff(few)) == {100}
    assert thinned(frame, 20_000) is frame
    said = thinned_words(101, 10_001, "points", "map_points")
    assert said.startswith("101 of 10,001 points are shown here")
    assert thinned_words(5, 5, "points", "map_points") == ""
    assert "2,000 of 1,000,000 designs are shown here" in words(plain("sweep"))


@pytest.mark.slow
def test_large_maps_stay_under_the_limit():
    for tables in (
        invented.map_tables(axes=6, sample=10_000),
        invented.map_tables(axes=4, levels=9),
    ):
        page = page_of("map", tables=tables)
        assert len(page.encode()) < LIMIT
        assert "are shown here" in words(page) or "the page holds" in words(page).lower()


def test_a_probability_that_is_not_reached_is_said_beside_those_that_are():
    study = SimpleNamespace(fidelity=SimpleNamespace(optimise="strip, uniform, balance"))
    facts = AssuranceFacts(2, "triangular", 64, 64, 9.0, 0.9, 1)
    found = Exploration(
        "assurance", SimpleNamespace(study=study), invented.assurance_tables(), {}, facts
    )
    said = " ".join(sentences(found))
    assert "Probability 90.0 %: 11 kg, +2 kg; in 64 samples of another seed 89.0 % hold" in said
    assert "Probability 99.0 %: not reached. Reached 97.1% of the samples" in said
    # variance of a share p of n samples p (1 - p) / n (textbook): 2 sqrt(0.25 / 1024) is 3.12 %
    assert "1,024 samples, which tell that to 3.1 points (two standard deviations): too few" in said
    assert "to show 1.0 points, which takes some 10,000 ('samples')" in said
    assert "no evidence of reliability" in said
