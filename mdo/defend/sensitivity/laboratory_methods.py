"""How each uncertain input is measured: quantity, specimen, standard test method.

The methods stand in ``laboratory_methods.toml``, with the fields that each of them gives.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import NamedTuple

IN_HOUSE, DRAWING = "in-house test", "detailed design"
NO_STANDARD = "no standard method known: in-house test"
CONFIRM = "from memory, confirm the current issue"


class Method(NamedTuple):
    """How an input is measured.

    Attributes
    ----------
    kind
        ``standard test``, ``in-house test``, or ``detailed design`` where a drawing settles it.
    measure
        What is measured.
    specimen
        On what; may name ``{tube}``.
    condition
        How; may name ``{stress}``, ``{hot}``, ``{cold}``, ``{folds}``.
    standards
        Test methods by number and scope; empty where none is known.
    specimens
        How many, as a suggestion: judgement.
    fields
        Inputs that it gives.
    """

    kind: str
    measure: str
    specimen: str
    condition: str
    standards: list[str]
    specimens: int
    fields: list[str]


UNKNOWN = Method(IN_HOUSE, "the quantity itself", "a part as drawn", "as in service", [], 3, [])
METHODS = {
    name: Method(**entry)
    for name, entry in tomllib.loads(
        Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
    ).items()
}
FIELDS = {field: name for name, method in METHODS.items() for field in method.fields}


def method_of(field: str) -> Method:
    """Method by which a field is measured; one of our own where none is listed."""
    return METHODS[FIELDS[field]] if field in FIELDS else UNKNOWN
