from __future__ import annotations

import dataclasses
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from mdo.study import analyses, cases, fields, sections
from mdo.study.schema import json_schema

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def validator() -> Draft202012Validator:
    schema = json.loads(json.dumps(json_schema()))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@pytest.mark.parametrize("path", sorted(STUDIES.glob("*.toml")), ids=lambda path: path.stem)
def test_schema_accepts_the_shipped_studies(validator: Draft202012Validator, path: Path) -> None:
    assert list(validator.iter_errors(tomllib.loads(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize(
    ("section", "key", "value"),
    [
        ("vehicle", "fold_statoin", "1 m"),
        ("vehicle", "mass", 1600),
        ("vehicle", "mass", "1600"),
        ("vehicle", "mass", "heavy"),
        ("vehicle", "fold_station", "1 m"),
        ("vehicle", "section", "round"),
        ("vehicle", "wing", []),
        ("requirements", "torque_margin", -1),
        ("requirements", "tubes_failed", 0.5),
        ("study", "name", "a b"),
        ("supply", "regulated", "yes"),
        ("design", "gear_ratio", {"value": 3, "start": 2}),
        ("assumptions", "mass", {"plate_fil": 1}),
    ],
)
def test_schema_refuses(
    validator: Draft202012Validator, content: dict[str, Any], section: str, key: str, value: object
) -> None:
    content.setdefault(section, {})[key] = value
    assert list(validator.iter_errors(content))


@pytest.mark.parametrize(
    "design",
    [
        {"gear_ratio": 3},
        {"gear_ratio": {"value": 3}},
        {"tube_length": "0.5 m"},
        {"tube_length": {"start": "0.5 m", "upper": "1 m"}},
        {"tube_count": {"up": 3, "down": {"start": 2}}},
    ],
)
def test_schema_accepts_every_form_of_a_design_variable(
    validator: Draft202012Validator, content: dict[str, Any], design: dict[str, Any]
) -> None:
    assert list(validator.iter_errors(content | {"design": design})) == []


@pytest.mark.parametrize("text", ["1,600 kg", "1.6e3 kg", ".5 t", " 1600kg ", "1600 kg "])
def test_schema_and_reader_read_numbers_alike(
    validator: Draft202012Validator, content: dict[str, Any], text: str
) -> None:
    from mdo.study import study_from_dict

    content["vehicle"]["mass"] = text
    assert list(validator.iter_errors(content)) == []
    assert study_from_dict(content, folder=STUDIES).vehicle.mass in {1600.0, 500.0}


def test_every_field_of_the_schema_is_described() -> None:
    def undescribed(schema: dict[str, Any], path: str) -> list[str]:
        found = []
        for name, one in schema.get("properties", {}).items():
            where = f"{path}.{name}"
            if "properties" in one:
                found += undescribed(one, where)
            elif "items" not in one and "description" not in one:
                found.append(where)
        return found

    assert undescribed(json_schema(), "") == []


def test_every_text_of_a_field_is_that_of_a_field_that_is_no_number() -> None:
    texts = tomllib.loads((Path(fields.__file__).with_name("field_texts.toml")).read_text())
    classes = {
        name: of for module in (analyses, cases, sections) for name, of in vars(module).items()
        if dataclasses.is_dataclass(of)
    }  # fmt: skip
    for name, of in texts.items():
        known = fields.declared(classes[name])
        assert {field: known[field].text for field in of} == of
        assert [field for field in of if known[field].quantity] == []
