"""Records and arguments of the tests of the disciplines."""

import inspect


def record(cls, **given):
    """Record with zeros where nothing is given."""
    return cls(**dict.fromkeys(cls._fields, 0.0) | given)


def taken(function, given):
    """Those of the inputs that a function asks for."""
    return {name: given[name] for name in inspect.signature(function).parameters}
