"""Write the table that a programme asks first into its page: what each choice of sets comes to.

    python docs/build_first_table.py deck_small deck_medium deck_large

Every combination of configuration, state of the other set and training is optimised: some minutes a
study. Lines of studies that are not named stay as they are.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

import mdo

HERE = Path(__file__).parent
PAGE = HERE / "first_table.md"
OPTIONS = {
    "configuration": ["opposed", "load_return", "spring_return"],
    "other_set": ["just_heated", "cold", "warmed"],
    "trained": [False, True],
}
HEAD = (
    "| sets | other set | trained | mass, aircraft | fold | return | from rest | peak power |"
    " verdict | ruled out by |"
)
RULE = "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"


def line(row: pd.Series) -> str:
    """One combination as a line of the page."""
    sets = row["configuration"] + (f", {row['drive_side']}" if row["drive_side"] else "")
    works = row["status"] in {"feasible", "excluded"}
    figures = ["–"] * 5
    if works:
        seconds = (row[name] for name in ("fold_time", "return_time", "from_rest_time"))
        figures = [
            f"{row['system_mass']:.4g} kg",
            *(f"{time:.0f} s" if pd.notna(time) else "–" for time in seconds),
            f"{row['peak_power'] / 1e3:.3g} kW",
        ]
    killed = "" if works else row["requirement"] or row["notes"]
    cells = [sets.replace("_", " "), row["other_set"].replace("_", " ") or "–", row["trained"],
             *figures, row["verdict"], killed]  # fmt: skip
    return f"| {' | '.join(cells)} |"


def block(study: str) -> str:
    """Table of one study between its marks."""
    table = mdo.choices(HERE.parent / "studies" / f"{study}.toml", OPTIONS, progress=print)
    lines = [line(row) for _, row in table.iterrows()]
    return "\n".join([HEAD, RULE, *lines])


def main() -> None:
    """Rewrite the tables of the studies that are named."""
    for study in sys.argv[1:]:
        made = block(study)
        text = PAGE.read_text(encoding="utf-8")
        start, end = f"<!-- {study} -->\n", f"\n<!-- end of {study} -->"
        before, _, rest = text.partition(start)
        PAGE.write_text(f"{before}{start}{made}{end}{rest.partition(end)[2]}", encoding="utf-8")


if __name__ == "__main__":
    main()
