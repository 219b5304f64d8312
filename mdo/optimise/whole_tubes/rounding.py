"""From the continuous optimum to what can be bought: stock tube, whole counts, sleeve, wire, sheet.

Every step freezes one more thing and re-optimises the rest, so that each has its price. Tubes are
gone through one by one; counts and sleeve follow by branch and bound. Wire and sheet then follow by
rule: the next size up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from mdo.arrays import Floats
from mdo.model.layout import SET_NAMES
from mdo.optimise.blocking_rows import Cause, causes_of
from mdo.optimise.optimum import Optimum, Progress, find_optimum
from mdo.optimise.problem import DesignProblem, Fixed
from mdo.optimise.whole_tubes.branching import Discrete, Search, branch_and_bound
from mdo.optimise.whole_tubes.standard_parts import Bought, Feeder, buy_sheets, buy_wire
from mdo.optimise.whole_tubes.stock_search import (
    RADIUS,
    SLEEVE,
    WALL_RATIO,
    Stock,
    Tube,
    discrete_of,
    nearest_miss,
    present_sets,
    search_stock,
    stock_within,
)
from mdo.study.reader import StudyError

NOTICED = 1e-9  # relative change of mass from which it is a step of its own
WHOLE_MODULES = 0.06  # excess over a whole number that the smoothing of the model leaves


class Step(NamedTuple):
    """One step: mass after it, price [kg], price over the relaxed mass, words."""

    step: str
    system_mass: float
    price: float
    share: float
    words: str


@dataclass(frozen=True)
class Rounded:
    """A design that can be bought, and what the rounding cost.

    Attributes
    ----------
    optimum
        The re-optimised rest; its design is the answer. Of least violation if none is feasible.
        Its problem is the study with everything bought frozen; wire area and sheet thicknesses are
        in its parameters.
    relaxed_mass
        Mass of the continuous optimum of the study [kg, aircraft].
    steps
        Prices, in the order of the steps; only the steps that lead to a design.
    stock
        The stock tubes in the order given; one without a size where the tube is free.
    feeder
        Wire of one wing; None where it was not rounded.
    sheets
        Thickness bought for each part [m].
    claim
        What may be said about the answer.
    causes
        What kills it, where it is not feasible.
    remarks
        What the reader has to know beside.
    """

    optimum: Optimum
    relaxed_mass: float
    steps: tuple[Step, ...]
    stock: tuple[Stock, ...]
    feeder: Feeder | None
    sheets: Mapping[str, float]
    claim: str
    causes: tuple[Cause, ...]
    remarks: tuple[str, ...]

    @property
    def problem(self) -> DesignProblem:
        """The study with everything bought frozen."""
        return self.optimum.problem

    @property
    def feasible(self) -> bool:
        """Whether every row of the rounded problem holds to 1e-6, by evaluation."""
        return self.optimum.feasible

    @property
    def design(self) -> Floats:
        """The design vector, SI."""
        return self.optimum.design

    @property
    def mass(self) -> float:
        """System mass of the aircraft [kg]."""
        return self.optimum.mass

    def ended_at(self, optimum: Optimum) -> Rounded:
        """The same with the design as it came out of its verification, which may have its price."""
        steps = self.steps
        if optimum.feasible and abs(optimum.mass / self.mass - 1.0) > NOTICED:
            price = optimum.mass - self.mass
            share = price / self.relaxed_mass
            steps = (*steps, Step("verified", optimum.mass, price, share, "levels that verify"))
        return replace(self, optimum=optimum, steps=steps, causes=causes_of(optimum))

    @property
    def price(self) -> float:
        """Price of all rounding over the relaxed mass."""
        return self.mass / self.relaxed_mass - 1.0


def round_design(
    problem: DesignProblem,
    optimum: Optimum,
    *,
    tubes: Sequence[Tube] | None = None,
    sleeves: Sequence[float] | None = None,
    wires: bool = False,
    sheets: Sequence[float] | None = None,
    progress: Progress | None = None,
) -> Rounded:
    """Round the continuous optimum of a study to what can be bought.

    Parameters
    ----------
    problem, optimum : the study and its continuous optimum, from several starts
    tubes : outer diameter and wall of each stock tube [m]; None or none leaves the tube free
    sleeves : stock thicknesses of the insulating sleeve [m], 0 for none; None leaves it free
    wires : take the next standard gauge of wire
    sheets : stock thicknesses of sheet for housing and plates [m]; None leaves them free
    progress : told what is being done

    Raises
    ------
    StudyError
        If no tube, count or sleeve of the lists lies within the study's bounds.
    """
    say = progress or (lambda _: None)
    stock = [stock_within(problem, tube) for tube in tubes or ()]
    if stock and all(tube.words for tube in stock):
        raise StudyError([f"stock tube {tube.name}: {tube.words}" for tube in stock])
    counts, discrete = discrete_of(problem), discrete_of(problem, sleeves)
    search = Search()
    branch_and_bound(search, problem, counts, optimum.design)
    say(f"Whole tubes: counts by {search.nodes} re-optimisations")
    whole = counted = search.best or nearest_miss(search, optimum, counts)
    if counted is not None and counted.feasible and (stock or sleeves):
        search.best = search.nearest = None
        stock = stock or [Stock(None, None)]
        search_stock(search, problem, stock, discrete, [counted, optimum], say)
        relaxed = min(stock, key=lambda tube: tube.rank).relaxed
        whole = search.best or (relaxed and nearest_miss(search, relaxed, discrete))
    if counted is None or whole is None:
        raise StudyError(["whole tubes: no design to start from"])
    reached = [*_search_steps(optimum, counted, whole, stock)]
    bought = Bought(whole)
    if whole.feasible and wires:
        say("Whole tubes: wire")
        bought = buy_wire(bought)
        reached.append(("wire", bought.optimum.mass, bought.words))
    if whole.feasible and sheets:
        say("Whole tubes: sheet")
        bought = buy_sheets(bought, sheets)
        reached.append(("sheet", bought.optimum.mass, bought.words))
    sizes = _fixed_sizes(whole, [*discrete.lists])
    made = problem.fixing(Fixed(sizes, bought.fields))
    final = replace(bought.optimum, problem=made)
    claim = _claim(final, optimum, search, _table_words(discrete, stock, problem))
    return Rounded(
        final, optimum.mass, _priced(reached, optimum.mass), tuple(stock), bought.feeder,
        bought.sheets, claim, causes_of(final), remarks=(*bought.remarks, *_remarks(final)),
    )  # fmt: skip


def _fixed_sizes(whole: Optimum, listed: Sequence[int]) -> dict[str, float]:
    """Values of the variables that a design has fixed, by label: counts, stock tube, sleeve."""
    labels, frozen = whole.problem.labels, whole.problem.frozen
    places = [*listed]
    if not np.isnan(frozen[labels.index(RADIUS)]):
        places += [labels.index(RADIUS), labels.index(WALL_RATIO)]
    return {labels[at]: float(whole.design[at]) for at in places}


def _search_steps(
    optimum: Optimum, counted: Optimum, whole: Optimum, stock: Sequence[Stock]
) -> Iterator[tuple[str, float, str]]:
    """Mass with whole counts, stock tube and sleeve of the design found, each with its words."""
    yield "continuous optimum", optimum.mass, "all sizes free"
    if not whole.feasible:
        return
    yield "whole counts", counted.mass, counts_words(counted)
    own = next((one for one in stock if one.best is whole), None)
    if own is None or own.relaxed is None:
        return
    labels, frozen = whole.problem.labels, whole.problem.frozen
    at = labels.index(SLEEVE)
    sleeved = not np.isnan(frozen[at])
    if own.tube is not None:
        mass = whole.mass
        if sleeved:
            counts = whole_counts(whole).items()
            places = {labels.index(f"tube_count.{name}"): float(count) for name, count in counts}
            problem = own.relaxed.problem.freezing(places)
            mass = find_optimum(problem, starts=0, first=whole.design).mass
        yield "stock tube", mass, f"{own.name}, {counts_words(whole)}"
    if sleeved:
        yield "sleeve", whole.mass, f"{1e3 * float(whole.design[at]):g} mm"


def counts_words(whole: Optimum) -> str:
    """Tubes of each set of one wing, in words."""
    return ", ".join(f"{count} {name}" for name, count in whole_counts(whole).items())


def _priced(reached: Sequence[tuple[str, float, str]], base: float) -> tuple[Step, ...]:
    """Steps with their prices: mass after each less that before it."""
    before = [base, *(mass for _, mass, _ in reached)]
    return tuple(
        Step(name, mass, mass - last, (mass - last) / base, words)
        for (name, mass, words), last in zip(reached, before, strict=False)
    )


def whole_counts(bought: Optimum) -> dict[str, int]:
    """Tubes of each present set of a rounded design, one wing."""
    design = dict(zip(bought.problem.labels, bought.design, strict=True))
    names = [SET_NAMES[side] for side in present_sets(bought.problem)]
    return {name: round(design[f"tube_count.{name}"]) for name in names}


def _table_words(discrete: Discrete, stock: Sequence[Stock], problem: DesignProblem) -> str:
    """The table of discrete values, in words."""
    parts = [f"{len(stock)} stock tubes"] if stock and stock[0].tube is not None else []
    for at, values in discrete.lists.items():
        _, _, side = problem.labels[at].partition("tube_count.")
        several = f"{values[0]:.0f} to {values[-1]:.0f} tubes in the {side} set"
        parts.append(several if side else f"{values.size} sleeves")
    return ", ".join(parts)


def _claim(final: Optimum, optimum: Optimum, search: Search, table: str) -> str:
    """What may be said about the answer."""
    how = (
        f"branch and bound over {search.nodes} re-optimisations ({table}), each a local optimum: "
        "dropping branches on them is no proof"
    )
    if not search.complete:
        how += "; stopped at the limit of nodes"
    if not final.feasible:
        return f"no design of whole numbers was found: {how}"
    gap, starts = 100.0 * (final.mass / optimum.mass - 1.0), len(optimum.attempts)
    return (
        f"not proved: {gap:.1f} % above the relaxed optimum ({starts} "
        f"start{'s' if starts != 1 else ''}), below which no rounded "
        f"design can be if that is the least there is; {how}"
    )


def _remarks(final: Optimum) -> Iterator[str]:
    """What is still not whole in a rounded design."""
    modules = float(final.problem.values(final.design, "modules")["modules"])
    above = modules - math.floor(modules)
    if modules > 1.0 and WHOLE_MODULES < above < 1.0 - WHOLE_MODULES / 6.0:
        yield (
            f"gear modules along the chord come out at {modules:.2f}: the model does not hold them "
            "to whole numbers"
        )
