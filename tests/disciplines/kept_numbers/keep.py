"""Keep the numbers of today and print what moved (``python -m`` this module).

What it prints goes into the changelog, with the reason.
"""

from __future__ import annotations

from . import kept
from .evaluated import PLACES

SHOWN = 40


def main() -> None:
    now = kept.kept_of({place: fields() for place, fields in PLACES.items()})
    moved = kept.moved_between(kept.read(), now) if kept.FILE.exists() else []
    kept.write(now)
    print(kept.table(moved, SHOWN))  # noqa: T201


if __name__ == "__main__":
    main()
