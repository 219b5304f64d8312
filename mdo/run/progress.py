"""How far a run is: steps done of all, and the time left by what the steps took so far.

The analyses tell what they do, one line at a time, with counts such as ``Start 2 of 4``. From these
lines and from the plan of a run :class:`Tracker` knows the share that is done. The plan says what
each step takes on one ordinary core; the steps that this run has done say how much slower or faster
this machine and this study are, and the rest is scaled by that.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

Say = Callable[[str], None]  # is told what is being done, one line at a time
_COUNT = re.compile(r"\b(\d+) of (\d+)\b")
_PRIOR = 10.0  # [s] weight of the plan against what was measured
_PLANNED_MIN = 2.0  # [s] planned work that must be measured before the time left is told
_PRIOR_OWN = 2.0  # [s] the same for the phase that goes on
_SCALE = (0.1, 20.0)  # trusted range of measured over planned


@dataclass(frozen=True)
class Phase:
    """Steps of one kind.

    Attributes
    ----------
    start
        How the lines of this phase begin (a regular expression).
    seconds
        What one step takes, between that of the small and of a medium study.
    steps
        Expected number of steps; lines with a count correct it.
    measured
        False for a step that says nothing about the speed of the others (compiling: it may be kept
        from an earlier run).
    instead
        True for a phase that comes instead of those after it, up to the last one.
    last
        True for the last phase of an analysis.
    counted
        True where a display counts the steps, and lines are passed on for the first of them alone.
    """

    start: str
    seconds: float
    steps: int = 1
    measured: bool = True
    instead: bool = False
    last: bool = False
    counted: bool = False


@dataclass(frozen=True)
class State:
    """How far a run is: what it does, planned seconds done and in all, seconds left if known."""

    line: str
    done: float
    total: float
    left: float | None


class Tracker:
    """Told each line of a run; passes it on, and tells a display how far the run is.

    Parameters
    ----------
    say
        Takes each line.
    watch
        Takes the state after each line.
    clock
        Seconds that only ever grow: setting the clock of the day changes nothing.
    """

    def __init__(
        self,
        say: Callable[[str], None],
        watch: Callable[[State], None] | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._say = say
        self._watch = watch
        self._clock = clock
        self._phases: list[Phase] = []
        self._steps: list[int] = []
        self._place = -1  # nothing has begun
        self._step = 0
        self._last = clock()
        self._own = [0.0, 0.0]  # the same two for the phase that goes on
        self._measured = 0.0  # [s] that steps took
        self._planned = 0.0  # [s] that the plan had for the same steps

    def begin(self, phases: Sequence[Phase]) -> None:
        """Add phases to the plan, in their order."""
        self._phases += phases
        self._steps += [phase.steps for phase in phases]

    def __call__(self, line: str) -> None:
        """Take the next line: what was done before it is done."""
        now, before, place = self._clock(), self._done(), self._place
        measured = self._place >= 0 and self._phases[self._place].measured
        self._move(line)
        phase = self._phases[place] if place >= 0 else None
        if not (phase and phase.counted and place == self._place and re.match(phase.start, line)):
            self._say(line)
        if measured:
            self._note(now - self._last, self._done() - before)
        self._last = now
        if self._watch is not None:
            self._watch(self.state(line))

    def state(self, line: str = "") -> State:
        """How far the run is now; the time left is known once enough was measured."""
        done = self._done()
        total = self._sum(len(self._phases))
        phase = self._sum(self._place + 1) - done  # planned for the rest of the phase that goes on
        scale = (self._measured + _PRIOR) / (self._planned + _PRIOR)
        scale = min(max(scale, _SCALE[0]), _SCALE[1])
        measured, planned = self._own
        own = (measured + _PRIOR_OWN * scale) / (planned + _PRIOR_OWN)
        left = (
            own * phase + scale * (total - done - phase) if self._planned >= _PLANNED_MIN else None
        )
        return State(line, done, total, left)

    def _note(self, measured: float, planned: float) -> None:
        """Add what steps took, and what the plan had for them."""
        self._measured += measured
        self._planned += planned
        self._own = [self._own[0] + measured, self._own[1] + planned]

    def _sum(self, count: int) -> float:
        """Planned seconds of the first phases."""
        pairs = zip(self._phases[:count], self._steps, strict=False)
        return sum(phase.seconds * steps for phase, steps in pairs)

    def _done(self) -> float:
        """Planned seconds of what is done."""
        if self._place < 0:
            return 0.0
        return self._sum(self._place) + self._phases[self._place].seconds * self._step

    def _move(self, line: str) -> None:
        """Go to the phase and step of a line; an unknown line changes nothing."""
        later = range(max(self._place, 0), len(self._phases))
        found = next((at for at in later if re.match(self._phases[at].start, line)), None)
        if found is None:
            return
        if found > self._place:
            self._place, self._step, self._own = found, 0, [0.0, 0.0]
            if self._phases[found].instead:
                self._drop_after(found)
        elif _COUNT.search(line) is None:
            self._step += 1
        count = _COUNT.search(line)
        if count is not None:
            self._step = max(self._step, int(count[1]) - 1)
            self._steps[found] = int(count[2])
        self._steps[found] = max(self._steps[found], self._step)

    def _drop_after(self, place: int) -> None:
        """Take the phases that will not come out of the plan, up to the last one."""
        for at in range(place + 1, len(self._phases)):
            if self._phases[at].last:
                return
            self._steps[at] = 0
