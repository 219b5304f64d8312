"""Keep the numbers of today and print what moved (``python -m`` this module).

What it prints goes into the changelog, with the reason.
"""

from __future__ import annotations

from . import kept
from .evaluated import PLACES

SHOWN = 40


def main() -> None:
    now = kept.kept_of({place: fields() for place, fields in PLACES.items()})
    old = kept.read() if kept.FILE.exists() else {}
    moved = kept.moved_between(old, now)
    gone = {(one.place, one.field) for one in moved}
    for place, fields in now.items():  # what stays is not written anew: round-off differs
        fields |= {f: old[place][f] for f in fields if (place, f) not in gone}
    kept.write(now)
    print(kept.table(moved, SHOWN))  # noqa: T201


if __name__ == "__main__":
    main()
