"""Where the comparison turns if several numbers move together: what it would take in all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from mdo.defend.comparison.break_even import (
    NEVER,
    RIVAL,
    TURNS,
    BreakEven,
    find_break_even,
    kilograms,
    said,
)
from mdo.optimise.knobs import Knob, Move
from mdo.optimise.optimum import Optimum
from mdo.optimise.problem import DesignProblem

TOGETHER = 4  # most knobs turned together


@dataclass(frozen=True)
class JointBreakEven:
    """Knobs turned together, in proportion, each toward the value where it alone came closest.

    ``found.knob`` runs from 0 (now) to 1 (all of them there).
    """

    parts: tuple[BreakEven, ...]
    found: BreakEven

    @property
    def values(self) -> tuple[float, ...]:
        """Value of each knob where it turns, or where both masses came closest."""
        share = self.found.closest.value
        return tuple(
            one.now.value + share * (one.closest.value - one.now.value) for one in self.parts
        )


def find_joint_break_even(
    problem: DesignProblem,
    optimum: Optimum,
    singles: Sequence[BreakEven],
    *,
    rival: str = RIVAL,
    progress: Callable[[str], None] | None = None,
) -> JointBreakEven | None:
    """Turn two, three, then four knobs together: those that alone narrow the difference most.

    Parameters
    ----------
    problem, optimum : the study and its optimum
    singles : results of :func:`find_break_even`
    rival : figure of the rival's mass
    progress : told what is being done

    Returns
    -------
    The first that turns, else the last one; None where fewer than two knobs narrow anything.
    """
    say = progress or (lambda _: None)
    narrowing = [
        one
        for one in singles
        if one.outcome == NEVER and one.knob.name != "torque_density" and _gain(one) > 0.0
    ]
    parts = sorted(narrowing, key=_gain, reverse=True)[:TOGETHER]
    result = None
    for number in range(2, len(parts) + 1):
        knob = joint_knob(parts[:number])
        say(f"Break-even of {number} numbers together")
        (found,) = find_break_even(problem, optimum, knobs=[knob], rival=rival)
        result = JointBreakEven(tuple(parts[:number]), found)
        if found.outcome == TURNS:
            break
    return result


def _gain(one: BreakEven) -> float:
    return abs(one.now.difference) - abs(one.closest.difference)


def joint_knob(parts: Sequence[BreakEven]) -> Knob:
    """Knob from 0 to 1 that turns several knobs to their closest values in proportion."""
    moves = tuple(
        Move(move.path, move.base, move.slope * (one.closest.value - one.now.value))
        for one in parts
        for move in one.knob.moves
    )
    return Knob(
        name=" + ".join(one.knob.name for one in parts),
        title=", ".join(one.knob.title for one in parts) + " together",
        kind=parts[0].knob.kind,
        unit="1",
        value=0.0,
        low=0.0,
        high=1.0,
        step=0.01,
        per="percent of the way",
        easier=1,
        moves=moves,
    )


def joint_sentence(joint: JointBreakEven, units: str = "si") -> str:
    """Return the result of knobs turned together in words."""
    text = ", ".join(
        f"{one.knob.title.lower()}: {said(one.knob, value, units)}"
        for one, value in zip(joint.parts, joint.values, strict=True)
    )
    if joint.found.outcome == TURNS:
        return f"Both weigh the same ({kilograms(joint.found.closest.mass, units)}) at {text}."
    apart = kilograms(abs(joint.found.closest.difference), units)
    return f"Even together the masses stay {apart} apart, closest at {text}."
