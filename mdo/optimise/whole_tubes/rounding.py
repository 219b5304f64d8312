"""From the continuous optimum to what can be bought: stock tube, whole counts, sleeve, wire, sheet.

Every step freezes one more thing and re-optimises the rest, so that each has its price. Tubes are
gone through one by one; counts and sleeve follow by branch and bound or, if asked, by going through
the whole table of them. Wire and sheet then follow by rule: the next size up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.model.layout import SET_NAMES
from mdo.optimise.blocking_rows import Cause, causes_of
from mdo.optimise.optimum import FEASIBLE, Optimum, find_optimum
from mdo.optimise.problem import DesignProblem
from mdo.optimise.whole_tubes.branching import Discrete, Search, with_fixed
from mdo.optimise.whole_tubes.buying import Bought, buy_sheets, buy_wire
from mdo.optimise.whole_tubes.search import (
    SLEEVE,
    Box,
    Stock,
    Tube,
    discrete_of,
    nearest_miss,
    present_sets,
    relaxed_stock,
    search_stock,
    stock_of,
    table_box,
)
from mdo.optimise.whole_tubes.standard_parts import Feeder
from mdo.study.reader import StudyError

Floats = NDArray[np.float64]
Progress = Callable[[str], None]
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
    problem
        The study with everything bought frozen; wire area and sheet thicknesses are in its
        parameters.
    optimum
        The re-optimised rest; its design is the answer. Of least violation if none is feasible.
    feasible
        Whether every row of the rounded problem holds to 1e-6, by evaluation.
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
    nodes
        Re-optimisations of the search.
    entries
        Entries of the table that were gone through, 0 for a search by branching.
    proved
        Whether the whole table of tubes, counts and sleeves was gone through.
    claim
        What may be said about the answer.
    causes
        What kills it, where it is not feasible.
    remarks
        What the reader has to know beside.
    """

    problem: DesignProblem
    optimum: Optimum
    feasible: bool
    relaxed_mass: float
    steps: tuple[Step, ...]
    stock: tuple[Stock, ...]
    feeder: Feeder | None
    sheets: Mapping[str, float]
    nodes: int
    entries: int
    proved: bool
    claim: str
    causes: tuple[Cause, ...]
    remarks: tuple[str, ...]

    @property
    def design(self) -> Floats:
        """The design vector, SI."""
        return self.optimum.design

    @property
    def mass(self) -> float:
        """System mass of the aircraft [kg]."""
        return self.optimum.mass

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
    enumerate_table: bool = False,
    box: Box | None = None,
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
    enumerate_table : re-optimise every tube, pair of counts and sleeve instead of branching
    box : least and most tubes by set (``up``, ``down``); without it branching has the study's
        bounds, and the table goes to one and a half times the relaxed counts and two more
    progress : told what is being done

    Raises
    ------
    StudyError
        If no tube, count or sleeve of the lists lies within the study's bounds.
    """
    say = progress or (lambda _: None)
    wanted: list[Tube | None] = [*tubes] if tubes else [None]
    stock = [relaxed_stock(problem, optimum, tube) for tube in wanted]
    if all(one.relaxed is None for one in stock):
        raise StudyError([f"stock tube {one.name}: {one.words}" for one in stock])
    limits = box if box is not None or enumerate_table else _study_bounds(problem)
    discrete = discrete_of(problem, table_box(problem, stock, limits), sleeves)
    search = Search()
    entries = search_stock(search, stock, discrete, whole=enumerate_table, say=say)
    found = search.best or nearest_miss(search, stock, discrete)
    if found is None:
        raise StudyError(["rounding: no design to start from"])
    own = stock_of(stock, found)
    steps = list(_search_steps(optimum, own, found, discrete, sleeves))
    bought = Bought(found)
    if found.feasible and wires:
        say("Rounding: wire")
        bought = buy_wire(bought)
        steps.append(_step("wire", bought.optimum.mass, steps, optimum.mass, bought.words))
    if found.feasible and sheets:
        say("Rounding: sheet")
        bought = buy_sheets(bought, sheets)
        steps.append(_step("sheet", bought.optimum.mass, steps, optimum.mass, bought.words))
    table = _table_words(discrete, stock, problem)
    final = bought.optimum
    feasible = final.feasible and _holds(final)
    return Rounded(
        problem=final.problem,
        optimum=final,
        feasible=feasible,
        relaxed_mass=optimum.mass,
        steps=tuple(steps),
        stock=tuple(stock),
        feeder=bought.feeder,
        sheets=bought.sheets,
        nodes=search.nodes,
        entries=entries,
        proved=enumerate_table and feasible,
        claim=_claim(final, feasible, optimum, search, entries, table),
        causes=() if feasible else causes_of(final),
        remarks=(*bought.remarks, *_remarks(final)),
    )


def _study_bounds(problem: DesignProblem) -> Box:
    """Bounds of the study on the counts, as a box."""
    at = {name: problem.labels.index(f"tube_count.{name}") for name in SET_NAMES}
    return {
        name: (math.ceil(problem.lower[n]), math.floor(problem.upper[n])) for name, n in at.items()
    }


def _holds(optimum: Optimum) -> bool:
    """Whether every row holds at a design, evaluated anew."""
    rows = optimum.problem.evaluate(optimum.design).rows
    return float(rows.min()) >= -FEASIBLE


def _search_steps(
    optimum: Optimum,
    own: Stock,
    found: Optimum,
    discrete: Discrete,
    sleeves: Sequence[float] | None,
) -> Iterator[Step]:
    """Prices of tube, counts and sleeve of the design found."""
    steps = [Step("continuous optimum", optimum.mass, 0.0, 0.0, "all sizes free")]
    yield steps[0]
    if own.tube is not None and own.relaxed is not None and own.feasible:
        steps.append(_step("stock tube", own.relaxed.mass, steps, optimum.mass, own.name))
        yield steps[-1]
    if not found.feasible or own.relaxed is None:
        return
    at_sleeve = found.problem.labels.index(SLEEVE)
    counts = {at: float(found.design[at]) for at in discrete.lists if at != at_sleeve}
    words = ", ".join(f"{count} {name}" for name, count in whole_counts(found).items())
    counted = found
    if sleeves is not None:
        fixed = with_fixed(own.relaxed.problem, counts)
        counted = find_optimum(fixed, starts=0, first=found.design)
    steps.append(_step("whole counts", counted.mass, steps, optimum.mass, words))
    yield steps[-1]
    if sleeves is not None:
        words = f"{1e3 * found.design[at_sleeve]:g} mm"
        yield _step("sleeve", found.mass, steps, optimum.mass, words)


def whole_counts(found: Optimum) -> dict[str, int]:
    """Tubes of each present set of a rounded design, one wing."""
    problem = found.problem
    return {
        SET_NAMES[side]: round(found.design[problem.labels.index(f"tube_count.{SET_NAMES[side]}")])
        for side in present_sets(problem)
    }


def _step(name: str, mass: float, before: Sequence[Step], base: float, words: str) -> Step:
    price = mass - before[-1].system_mass
    return Step(name, mass, price, price / base, words)


def _table_words(discrete: Discrete, stock: Sequence[Stock], problem: DesignProblem) -> str:
    """The table of discrete values, in words."""
    parts = []
    if stock[0].tube is not None:
        parts.append(f"{len(stock)} stock tubes")
    for at, values in discrete.lists.items():
        label = problem.labels[at]
        if label == SLEEVE:
            parts.append(f"{values.size} sleeves")
        else:
            name = label.split(".")[1]
            parts.append(f"{values[0]:.0f} to {values[-1]:.0f} tubes in the {name} set")
    return ", ".join(parts)


def _claim(
    final: Optimum, feasible: bool, optimum: Optimum, search: Search, entries: int, table: str
) -> str:
    """What may be said about the answer."""
    starts = f"{len(optimum.attempts)} start" + ("s" if len(optimum.attempts) != 1 else "")
    if entries:
        if not feasible:
            return (
                f"no design of whole numbers was found among all {entries} entries of the table "
                f"({table}); that a local optimiser fails on each is no proof"
            )
        return (
            f"proved by going through the whole table ({table}): all {entries} entries were "
            "re-optimised and this is the lightest; each re-optimisation is a local optimum, and "
            "wire and sheet follow by rule"
        )
    how = (
        f"branch and bound over {search.nodes} re-optimisations ({table}), each a local optimum: "
        "dropping branches on them is no proof"
    )
    if not search.complete:
        how += "; stopped at the limit of nodes"
    if not feasible:
        return f"no design of whole numbers was found: {how}"
    gap = 100.0 * (final.mass / optimum.mass - 1.0)
    return (
        f"not proved: {gap:.1f} % above the relaxed optimum ({starts}), below which no rounded "
        f"design can be if that is the least there is; {how}"
    )


def _remarks(final: Optimum) -> Iterator[str]:
    """What is still not whole in a rounded design."""
    values = final.problem.values(final.design, "modules")
    modules = float(values["modules"])
    above = modules - math.floor(modules)
    if modules > 1.0 and WHOLE_MODULES < above < 1.0 - WHOLE_MODULES / 6.0:
        yield (
            f"gear modules along the chord come out at {modules:.2f}: the model does not hold them "
            "to whole numbers"
        )
