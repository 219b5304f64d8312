"""Blocks of explorations in a study file: defaults, what is read, what is refused in words."""

import tomllib
from pathlib import Path

import jsonschema
import pytest

import mdo
from mdo.study import study_from_dict
from mdo.study.reader import StudyError
from mdo.study.schema import json_schema

STUDY = Path(mdo.__file__).parents[1] / "studies" / "deck_small.toml"


def with_block(name, block):
    content = tomllib.loads(STUDY.read_text(encoding="utf-8"))
    content.setdefault("analysis", {})[name] = block
    return content


def read(name, block):
    return getattr(study_from_dict(with_block(name, block)).analysis, name)


def test_defaults_make_a_plan_of_every_exploration():
    content = tomllib.loads(STUDY.read_text(encoding="utf-8"))
    found = study_from_dict(content).analysis
    assert found.front.objectives == ("system_mass", "fold_time")
    assert found.sweep.sample == "latin_hypercube"
    assert found.scaling.sizes[0] < 1.0 < found.scaling.sizes[-1]
    assert found.sensitivity.of == ("design",)
    assert found.map.axes == {}


def test_map_is_read():
    plan = read("map", {"points": 64, "sample": "sobol",
                        "axes": {"fold_time": ["80 s", "120 s"], "flight_load_factor": [0.9, 1.1]},
                        "choices": {"cooling": ["passive", "blower"]}})  # fmt: skip
    assert plan.axes["fold_time"] == ("80 s", "120 s")
    assert plan.choices["cooling"] == ("passive", "blower")
    assert plan.points == 64


@pytest.mark.parametrize(
    ("name", "block", "said"),
    [
        ("map", {"axes": {"fold_time": ["80 s"]}}, "expected lowest and highest value"),
        ("map", {"axes": {"fold_time": ["80 s", True]}}, "expected a quantity"),
        ("map", {"axes": {"fold_time": ["80 s", "long"]}}, "not a quantity"),
        ("map", {"axes": {"fold_time": ["80 s", "inf s"]}}, "not a finite number"),
        ("map", {}, "empty, expected one axis or more"),
        ("map", {"axes": 3}, "expected a table"),
        ("map", {"axes": {"fold_time": ["80 s", "90 s"]}, "sample": "list"}, "missing, expected"),
        ("map", {"axes": {"fold_time": ["80 s", "90 s"]}, "levels": {"fold_time": 1}},
         "out of range, got 1, expected 2 to 10000"),
        ("map", {"axes": {"fold_time": ["80 s", "90 s"]}, "points": 0}, "points"),
        ("map", {"axis": {}}, "unknown key"),
        ("front", {"objectives": ["system_mass"]}, "two or three"),
        ("front", {"objectives": ["system_mass", "cost"]}, "unknown word"),
        ("front", {"objectives": []}, "empty"),
        ("front", {"objectives": "system_mass"}, "expected a list"),
        ("scaling", {"sizes": [1.0, 2.0]}, "three or more different numbers"),
        ("scaling", {"sizes": [0.0, 1.0, 2.0]}, "out of range, got 0.0, expected 0.05 to 20"),
        ("scaling", {"laws": ["froude"]}, "unknown word"),
        ("sweep", {"designs": 10**12}, "designs"),
        ("sweep", {"variables": {"tube_length": "1 m"}}, "expected lowest and highest value"),
        ("sensitivity", {"confidence": 1.5}, "confidence"),
        ("sensitivity", {"of": ["nothing"]}, "unknown word"),
    ],
)  # fmt: skip
def test_faults_are_named(name, block, said):
    with pytest.raises(StudyError, match=said):
        read(name, block)


def test_schema_allows_what_is_read_and_not_what_is_refused():
    good = with_block("map", {"axes": {"fold_time": ["80 s", "120 s"]}})
    jsonschema.validate(good, json_schema())
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(with_block("front", {"objectives": ["cost"]}), json_schema())
