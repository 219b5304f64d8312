"""Disciplines wired by names, made of functions whose arguments are gathered in records."""

from __future__ import annotations

import functools
import inspect
import typing
from collections.abc import Callable
from typing import Any, TypeVar

_GATHERED: set[object] = set()
Record = TypeVar("Record", bound=type)


def gathered(record: Record) -> Record:
    """Mark a record whose fields are wired each by its own name: quantities and records."""
    _GATHERED.add(record)
    return record


def is_gathered(record: object) -> bool:
    """Whether the fields of a record are wired each by its own name."""
    return record in _GATHERED


def by_names(
    function: Callable[..., Any], *first: Any, name: str = "", module: str = ""
) -> Callable[..., Any]:
    """Discipline of a function: fields of gathered records become arguments of their own.

    Parameters
    ----------
    function : all arguments but the first are keyword-only
    first : what a level gives as the first arguments
    name, module : of the discipline, where they are not those of the function: they tell the
        compiled chains of two levels apart
    """
    hints = typing.get_type_hints(function)
    own = hints.pop("return")
    result = _flat(own)
    flattened = result is not own
    left = dict(list(hints.items())[len(first) :])
    records = {key: hint for key, hint in left.items() if is_gathered(hint)}
    arguments: dict[str, Any] = {}
    for key, hint in left.items():
        arguments |= typing.get_type_hints(hint) if key in records else {key: hint}

    @functools.wraps(function)
    def discipline(**given: Any) -> Any:
        made = {key: kind(*(given[f] for f in kind._fields)) for key, kind in records.items()}
        found = function(*first, **made, **{key: given[key] for key in left if key not in records})
        return result(*_values(found)) if flattened else found

    keyword = inspect.Parameter.KEYWORD_ONLY
    discipline.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [inspect.Parameter(key, keyword, annotation=hint) for key, hint in arguments.items()],
        return_annotation=result,
    )
    discipline.__annotations__ = {**arguments, "return": result}
    discipline.__module__ = module or function.__module__
    discipline.__qualname__ = discipline.__name__ = name or function.__name__
    return discipline


def _flat(result: Any) -> Any:
    """Record of a result with the fields of gathered records in it as its own."""
    if not hasattr(result, "_fields"):  # no record
        return result
    hints = typing.get_type_hints(result)
    if not any(map(is_gathered, hints.values())):
        return result
    fields: dict[str, Any] = {}
    for key, hint in hints.items():
        fields |= typing.get_type_hints(hint) if is_gathered(hint) else {key: hint}
    return typing.NamedTuple(result.__name__, list(fields.items()))


def _values(found: Any) -> list[Any]:
    """Values of a result as :func:`_flat` has them."""
    parts = ([*value] if is_gathered(type(value)) else [value] for value in found)
    return [value for part in parts for value in part]
