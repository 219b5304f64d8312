"""Errors of what a user gives: each is one message, without a traceback."""

from __future__ import annotations

from collections.abc import Iterable

PROBLEMS_SHOWN = 100


class InputError(Exception):
    """Something given that cannot be used; the message says where, what is wrong, what to do."""


class ProblemsError(InputError):
    """A file that cannot be used; every problem of it at once.

    Attributes
    ----------
    problems
        One line per problem: file, field, what is wrong, value got, what is expected.
    """

    def __init__(self, problems: Iterable[str]) -> None:
        self.problems = list(problems)
        shown = self.problems[:PROBLEMS_SHOWN]
        more = len(self.problems) - len(shown)
        if more:
            shown.append(f"and {more} more problems (mend these first, then check again)")
        super().__init__("\n".join(shown))

    def __reduce__(self) -> tuple[type[ProblemsError], tuple[list[str]]]:
        """Keep the problems on the way to another process."""
        return type(self), (self.problems,)
