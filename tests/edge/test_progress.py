"""Progress: a bar with a true time left on a terminal, plain lines in a pipe, nothing if quiet."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest

from mdo.cli.terminal import time_text
from mdo.run.analyses import plan
from mdo.run.phases import BESIDE, COMPILING, WRITING
from mdo.run.progress import Phase, State, Tracker
from mdo.study import load_study

STUDIES = Path(__file__).parents[2] / "studies"


class Clock:
    """A clock that is set by hand."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def tracked(*phases: Phase) -> tuple[Tracker, Clock, list[State]]:
    clock, states = Clock(), []
    tracker = Tracker(lambda _: None, states.append, clock=clock)
    tracker.begin(phases)
    return tracker, clock, states


def test_time_left_is_that_of_the_steps_to_come_at_the_speed_of_those_done() -> None:
    # every step takes three times what the plan has, and the plan has the wrong number of them
    tracker, clock, states = tracked(COMPILING, Phase("Step", 2.0, 5), WRITING)
    tracker("Compiling")
    clock.now = 31.0
    for number in range(1, 21):
        tracker(f"Step {number} of 20: done")
        truth = 6.0 * (20 - number + 1) + 3.0 * WRITING.seconds
        clock.now += 6.0
        if number > 5:
            left = states[-1].left
            assert left is not None
            assert left == pytest.approx(truth, rel=0.35)
    tracker("Writing tables and report")
    assert states[-1].left == pytest.approx(3.0 * WRITING.seconds, rel=0.2)


def test_lines_that_only_count_are_passed_on_once_and_shown_each_time() -> None:
    said: list[str] = []
    states: list[State] = []
    tracker = Tracker(said.append, states.append)
    tracker.begin(BESIDE)
    rounds = [f"Verified: round {number}, optimising" for number in range(1, 9)]
    for line in ("Marching every leg", *rounds, "Along the paths: 5 kg", "Neighbouring levels"):
        tracker(line)
    assert said == ["Marching every leg", rounds[0], "Along the paths: 5 kg", "Neighbouring levels"]
    assert [state.line for state in states[1:9]] == rounds


def test_compiling_says_nothing_of_the_speed() -> None:
    tracker, clock, states = tracked(COMPILING, Phase("Step", 5.0, 10))
    tracker("Compiling")
    clock.now = 500.0
    tracker("Step 1 of 10")
    assert states[-1].left is None  # nothing is measured yet
    clock.now += 5.0
    tracker("Step 2 of 10")
    assert states[-1].left == pytest.approx(45.0, rel=0.05)


def test_share_done_never_falls_and_ends_at_one() -> None:
    study = load_study(STUDIES / "deck_small.toml")
    tracker, clock, states = tracked(COMPILING, *plan(study, "defence"))
    lines = [
        "Compiling the coupled model (once; kept for later runs)", "Count problem: designs",
        *(f"Start {n} of 10: 10.7 kg, feasible" for n in range(1, 11)),
        "Marching every leg along its path", "Verified: round 1, optimising",
        "Whole tubes: counts by 8 re-optimisations",
        "Whole tubes: 6.2 x 1.1 mm, best so far 11.994 kg", "Whole tubes: sheet",
        "Marching every leg along its path", "Neighbouring levels of fidelity",
        "Choices: 16 distinct combinations", "Choices: 4 again from their neighbours",
        "Costs of the requirements", *(f"Range of cost {n} of 20: x" for n in range(1, 21)),
        "Slopes of the figures along 149 uncertain inputs", "a line that nobody knows",
        *(f"Break-even of 'Fold time', {n} of 31" for n in range(1, 32)),
        "Numbers of the study that are known", "Mass to hold in reserve",
        "Writing tables and report",
    ]  # fmt: skip
    for line in lines:
        clock.now += 1.0
        tracker(line)
    shares = [state.done / state.total for state in states]
    assert shares[0] < 0.01
    assert all(later >= earlier - 1e-9 for earlier, later in itertools.pairwise(shares))
    assert 0.9 < shares[-1] < 1.0


def test_infeasible_study_leaves_out_what_follows_a_feasible_one() -> None:
    study = load_study(STUDIES / "deck_medium_infeasible.toml")
    tracker, clock, states = tracked(COMPILING, *plan(study, "defence"))
    tracker("Start 10 of 10: infeasible")
    before = states[-1].total
    clock.now = 9.0
    tracker("Conflicts: fold time alone (3 of 20)")
    assert states[-1].total != before
    tracker("Writing tables and report")
    assert states[-1].done == pytest.approx(states[-1].total - WRITING.seconds)


def test_every_analysis_has_a_plan() -> None:
    study = load_study(STUDIES / "deck_small.toml")
    steps = {
        name: sum(phase.steps for phase in plan(study, name)) for name in ("optimum", "defence")
    }
    beside = sum(phase.steps for phase in BESIDE)
    marched = sum(phase.steps for phase in BESIDE[:2])  # the bound, and then whole tubes
    whole = 2 + len(study.analysis.defence.stock.tubes)
    starts = study.analysis.optimum.starts
    assert steps["optimum"] == 1 + starts + marched + whole + beside + 1
    assert steps["defence"] > 10 + 16
    assert plan(study, "evaluate")[-1] == WRITING


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0, "a few seconds"),
        (44.0, "about 40 s"),
        (100.0, "about 2 min"),
        (3.0 * 3600, "about 3 h"),
    ],
)
def test_time_left_has_no_more_digits_than_it_deserves(seconds: float, text: str) -> None:
    assert time_text(seconds) == text


PROGRAM = textwrap.dedent(
    """
    import sys, time
    from mdo.cli.terminal import progress
    from mdo.run.progress import Phase
    with progress(quiet="quiet" in sys.argv) as tracker:
        tracker.begin((Phase("Step", 1.0, 3),))
        for number in (1, 2, 3):
            tracker(f"Step {number} of 3: [red]x[/red]")
            time.sleep(0.3)
    """
)


def test_pipe_gets_plain_lines() -> None:
    told = subprocess.run(
        [sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True,
        env=os.environ | {"FORCE_COLOR": "1", "TERM": "xterm"},
    )  # fmt: skip
    assert told.stderr.splitlines() == [f"Step {n} of 3: [red]x[/red]" for n in (1, 2, 3)]
    assert told.stdout == ""


def test_quiet_shows_nothing() -> None:
    told = subprocess.run(
        [sys.executable, "-c", PROGRAM, "quiet"], capture_output=True, text=True, check=True
    )
    assert (told.stdout, told.stderr) == ("", "")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
@pytest.mark.parametrize("kind", ["xterm", "dumb"])
def test_terminal_gets_a_bar_and_is_clean_at_the_end(kind: str) -> None:
    import pty

    master, slave = pty.openpty()
    told = subprocess.run(
        [sys.executable, "-c", PROGRAM], stdout=subprocess.PIPE, stderr=slave, check=True,
        env={**os.environ, "TERM": kind, "COLUMNS": "100"},
    )  # fmt: skip
    os.close(slave)
    shown = _all(master)
    assert told.stdout == b""
    assert "Step 3 of 3: [red]x[/red]" in shown
    if kind == "dumb":
        assert "\x1b" not in shown
    else:
        assert "%" in shown
        assert shown.rstrip().endswith(("\x1b[2K", "\x1b[?25h"))  # the line is empty again


def _all(descriptor: int) -> str:
    """Everything that waits to be read."""
    data = b""
    while True:
        try:
            more: Any = os.read(descriptor, 65536)
        except OSError:
            more = b""
        if not more:
            os.close(descriptor)
            return data.decode()
        data += more
