"""What the inputs of a study are, as far as a page must know."""

from __future__ import annotations

from mdo.study.assumptions import assumption_fields
from mdo.study.cases import Case
from mdo.study.fields import declared
from mdo.study.sections import Requirements


def differences() -> frozenset[str]:
    """Names of the inputs that are differences of temperature."""
    groups = [declared(Requirements), declared(Case), *assumption_fields().values()]
    return frozenset(
        name for fields in groups for name, field in fields.items() if field.kind == "difference"
    )
