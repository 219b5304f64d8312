"""Make the pages that the browser tests read: variants of the small study that run in seconds.

Run ``python tests/browser/build.py FOLDER NAME ...``: each result lies under FOLDER/NAME. It is a
process of its own so that two pages are made at once.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"
QUICK: Mapping[str, object] = {
    "analysis.optimum.starts": 1,
    "analysis.defence.starts": 1,
    "analysis.defence.cost_ranges": False,
    "analysis.defence.break_even": False,
    "analysis.defence.samples": 32,
    "analysis.defence.states": False,
}
FEW_ROUNDS = 3  # of marching and optimising; the small study takes 12
WORD = "unbroken" * 30
MARKUP = (
    '"><img src=x onerror="console.error(1)"><script>console.error(2)</script></section></main>'
)
HOSTILE = {
    "study.title": f"<script>console.error('title')</script> & {WORD}",
    "study.description": f"{MARKUP} {WORD} ${{1}} {{{{2}}}} <!-- ]]>",
    "vehicle.name": f"</title></style>{MARKUP}{WORD}",
    "case.stow_calm.title": f"{MARKUP} {WORD}",
    "case.flight_fold.title": "</script><svg onload=console.error(3)> & <b>bold</b>",
}
TWO = {"analysis.defence.choices": {"cooling": ["passive", "blower"]}}
SHORT = {"requirements.fold_time": "45 s"}
NONE: dict[str, object] = {"analysis.defence.choices": {}}
VARIANTS: Mapping[str, tuple[str, Mapping[str, object]]] = {
    "plain": ("optimum", QUICK | NONE),
    "feasible": ("defence", QUICK | TWO),
    "short": ("optimum", QUICK | NONE | SHORT),
    "infeasible": ("defence", QUICK | NONE | SHORT),
    "hostile": ("evaluate", QUICK | NONE | HOSTILE),
    "whole": ("defence", {}),
}
"""Analysis and fields changed, by the name of the page; ``whole`` is the study as it is shipped."""


def build(folder: Path, name: str) -> Path:
    """Run one variant and return the folder of its result."""
    from mdo.optimise import verify
    from mdo.run.analyses import run_study
    from mdo.study import load_study

    analysis, changes = VARIANTS[name]
    if changes:
        verify.ROUNDS = FEW_ROUNDS  # where it comes to rest is no matter of pages
    study = load_study(STUDY)
    study = replace(study.with_values(changes) if changes else study, analyses=(analysis,))
    outcome = run_study(study, results_root=folder / name)
    found = outcome.done[-1].folder
    if found is None:
        raise RuntimeError(f"{name}: no result was written")
    return found


def main() -> int:
    """Build the variants that are named."""
    folder = Path(sys.argv[1])
    for name in sys.argv[2:]:
        began = time.perf_counter()
        found = build(folder, name)
        sys.stdout.write(f"{name}: {time.perf_counter() - began:.0f} s, {found}\n")
        (folder / f"{name}.done").write_text(str(found), encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
