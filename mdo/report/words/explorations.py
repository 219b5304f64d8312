"""What explorations say, in plain sentences: requirement maps, sweeps, families of sizes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from mdo.explore.exploration import Exploration
from mdo.explore.maps.dear import DearFigures, dear_figures
from mdo.model.system import OBJECTIVE
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN
from mdo.report.words.exploration_columns import Column, Columns, Tables
from mdo.report.words.front import front_sentences, rough_words
from mdo.report.words.motion import motion_sentences
from mdo.report.words.printed import upper_first
from mdo.report.words.sensitivity import sensitivity_sentences
from mdo.study.number_text import percent
from mdo.study.units import to_trade

REASONS_SHOWN = 3
NAMED = 3  # inputs named
CLOSE, CLOSE_TAIL = 0.01, 0.3  # of a probability, what its samples are to show; of what may fail
AGREES = 0.01  # difference to theory that counts as agreement, pure mode
EXACT = 1e-6  # half of an interval below which it is not said
SLOPES_SHOWN = ("system_mass", "required_moment_max", "peak_power")
SAMPLE_WORDS = {
    "latin_hypercube": "Latin hypercube, seed {seed}",
    "sobol": "scrambled Sobol sequence, seed {seed}",
    "factorial": "full factorial",
    "list": "from {file}",
}


def sentences(exploration: Exploration) -> tuple[str, ...]:
    """What came out of an exploration, one plain sentence each."""
    return tuple(WRITERS[exploration.kind](exploration))


def map_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences of a requirement map."""
    tables = exploration.tables
    points, axes = tables["map_points"], tables["map_axes"]
    best, choices = tables["map_best"], tables["map_choices"]
    good = best[OBJECTIVE].notna()
    titles = ", ".join(axes["title"])
    several = f" for each of {len(choices)} combinations of choices" if len(choices) > 1 else ""
    covered = f"{len(best)} points of {len(axes)} axes ({titles}){several}"
    yield f"{covered}: {int(good.sum())} have a feasible optimum."
    if good.any():
        yield _lightest(tables)
    figures = dear_figures(points)
    if figures is not None:
        yield from _dear_words(figures)
    yield from rough_words(points[points["status"] == FEASIBLE])
    still = int((points["status"] == OPEN).sum())
    if still:
        yield f"At {still} the optimiser did not settle: they count as neither."
    if len(choices) > 1:
        order = choices.sort_values(["wins", "choice"], ascending=[False, True], kind="stable")
        winners = (row for row in order.itertuples() if row.wins)
        won = [_won(str(row.choice), int(row.wins), int(good.sum())) for row in winners]
        if won:
            yield f"{upper_first('; '.join(won))}."
    feasible = points[points["status"] == FEASIBLE]
    if not feasible.empty:
        yield _dearest(feasible, axes)
    failed = points.loc[points["status"] != FEASIBLE, "reason"]
    rows = Counter(row for reason in failed for row in str(reason).split("; "))
    if rows:
        most = sorted(rows.items(), key=lambda pair: (-pair[1], pair[0]))[:REASONS_SHOWN]
        shown = "; ".join(f"{words} ({count})" for words, count in most)
        yield f"Conflicting requirements, most often where nothing is feasible: {shown}."


def _share(share: float) -> str:
    """Share of a mass in percent, two digits of it."""
    return f"{100.0 * share:.2g} %" if np.isfinite(share) else "not known"


def _dear_words(figures: DearFigures) -> Iterator[str]:
    """Say how far the masses of corrected rows are off, and whether the bound holds."""
    if not figures.dear_points:
        yield "No point is feasible at the levels of optimise: none was tried at high fidelity."
        return
    yield (
        f"{figures.dear_points} points were optimised at the high-fidelity levels; elsewhere their "
        "corrections are interpolated. Bound on the error of mass: "
        f"{_share(figures.mass_bound_median)} at the median, "
        f"{_share(figures.mass_bound_most)} at most."
    )
    if figures.mass_bound_unknown:
        unknown = figures.mass_bound_unknown
        yield f"At {unknown} points other requirements count: no bound is known there."
    if figures.held_out:
        yield (
            "Held out to judge that bound and optimised at the high-fidelity levels too: "
            f"{figures.held_out_inside} of {figures.held_out} inside."
        )


def _won(choice: str, wins: int, feasible: int) -> str:
    """Say at how many points a choice is the lightest; 'cooling passive' is passive cooling."""
    words = choice.split()
    name = f"{words[1]} {words[0]}" if len(words) == 2 else choice
    at = f"all {feasible}" if wins == feasible else f"{wins} of {feasible}"
    return f"{name} lightest at {at} feasible points"


def _lightest(tables: Tables) -> str:
    points, axes, best = (tables[f"map_{name}"] for name in ("points", "axes", "best"))
    masses, columns = best[OBJECTIVE], Columns(tables)
    where = int(masses.idxmin())
    row = points[points["point"] == best["point"][where]].iloc[0]
    at = ", ".join(
        f"{line.title.lower()} {_shown(float(row[line.axis]), columns.of(line.axis))}"
        for line in axes.itertuples()
    )
    return (
        f"Bound on the system mass of the aircraft (counts free) from {masses.min():.4g} to "
        f"{masses.max():.4g} kg; the least at {at}."
    )


def _shown(value: float, column: Column) -> str:
    if column.percent:
        return f"{100.0 * value:.4g} %"
    number, trade = to_trade(value, column.unit)
    return f"{number:.4g}" + ("" if trade == "1" else f" {trade}")


def _dearest(feasible: pd.DataFrame, axes: pd.DataFrame) -> str:
    """Median cost of one step of each axis, dearest first."""
    median = [feasible[f"cost.{row.axis}"].abs().median() * row.step for row in axes.itertuples()]
    dearest = axes.assign(median=median).sort_values("median", ascending=False, kind="stable")
    costs = (
        f"{row.title.lower()} {row.median:.3g} kg per {row.per}" for row in dearest.itertuples()
    )
    return f"Median cost: {'; '.join(costs)}."


def sweep_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences of a sweep."""
    facts, counts = exploration.facts, exploration.status_counts
    words = SAMPLE_WORDS[facts.sample].format(seed=facts.seed, file=facts.file)
    each = ", ".join(f"{count:,} {status}" for status, count in counts.items())
    yield f"{facts.size:,} designs over {facts.numbers} numbers ({words}): {each}."
    if facts.lightest is not None:
        number, mass = facts.lightest
        yield (
            f"The lightest feasible design is number {number:,}, {mass:.2f} kg; no design of a "
            "sweep is optimised."
        )
    table = exploration.tables["sweep_status"]
    against = table[table["status"] == INFEASIBLE]  # most frequent first
    if not against.empty:
        shares = ", ".join(
            f"{row.reason} ({row.designs / counts[INFEASIBLE]:.0%})"
            for row in against.head(REASONS_SHOWN).itertuples()
        )
        yield f"What speaks most often against the infeasible ones: {shares}."
    if facts.sample == "sobol" and facts.size & (facts.size - 1):
        near = 1 << (facts.size.bit_length() - 1)
        yield (
            "A Sobol sequence is balanced where its length is a power of two, such as "
            f"{near:,} or {2 * near:,}."
        )
    if facts.stride > 1:
        yield (
            f"The table shows every design whose number divides by {facts.stride:,}; its medians "
            "are of these, least and largest values of all. All designs are in "
            f"{', '.join(exploration.files)}."
        )


def scaling_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences of a family of sizes."""
    exponents, changes = (exploration.tables[f"scaling_{n}"] for n in ("exponents", "changes"))
    points = exploration.tables["scaling_points"]
    for (law, mode), family in points.groupby(["law", "mode"], sort=False):
        own = exponents[(exponents["law"] == law) & (exponents["mode"] == mode)]
        name = f"{str(law).replace('_', ' ')}, {mode}"
        good = family[family["status"] == FEASIBLE]
        yield f"{name}: {len(good)} of {len(family)} sizes have a feasible optimum."
        if len(good) > 1:
            yield _slope_sentence(name, own)
        if mode == "pure" and len(good) > 1:
            yield _theory_sentence(name, own)
        yield from _edges(name, family)
        for row in changes[(changes["law"] == law) & (changes["mode"] == mode)].to_dict("records"):
            yield f"{name}: from size {row['size']:.3g} on {_change_words(row)}."


def _slope_sentence(name: str, own: pd.DataFrame) -> str:
    words = []
    for quantity in SLOPES_SHOWN:
        row = own[own["quantity"] == quantity].iloc[0]
        half = 0.5 * (row["high"] - row["low"])
        band = f" ± {half:.2g}" if half > EXACT else ""
        words.append(f"{row['title'].lower()} {row['exponent']:.3f}{band}")
    return f"{name}: exponents of the size (95 % interval): {', '.join(words)}."


def _theory_sentence(name: str, own: pd.DataFrame) -> str:
    known = own[own["theory"].notna()]
    off = (known["exponent"] - known["theory"]).abs()
    worst = known.loc[off.idxmax()]
    agrees = "agrees" if off.max() <= AGREES else "does not agree"
    return (
        f"{name}: {agrees} with theory within {AGREES:g}: the largest difference is "
        f"{off.max():.2g}, of {worst['title'].lower()}."
    )


def _edges(name: str, family: pd.DataFrame) -> Iterator[str]:
    """Say what stops the family above its largest and below its smallest feasible size."""
    ordered = family.sort_values("size")
    good = np.flatnonzero(ordered["status"] == FEASIBLE)
    if good.size == 0:
        return
    for last, step, word in ((good[0], -1, "below"), (good[-1], 1, "above")):
        if 0 <= last + step < len(ordered):
            edge, size = ordered.iloc[last + step], ordered.iloc[last]["size"]
            titles = str(edge["reason"]).split("; ")
            more = f" and {len(titles) - REASONS_SHOWN} more" * (len(titles) > REASONS_SHOWN)
            why = ", ".join(titles[:REASONS_SHOWN]) + more
            yield f"{name}: {word} size {size:.3g} the next one is {edge['status']}: {why}."


def _change_words(row: Mapping[Any, Any]) -> str:
    """Say what limits the optimum from a size on, and what no more."""
    words = {"the optimum is limited by": row["appears"], "no more by": row["vanishes"]}
    return ", ".join(
        f"{what} {str(titles).replace('; ', ', ')}" for what, titles in words.items() if titles
    )


def assurance_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences on the masses, what they are spent on, and what is out of reach."""
    facts, tables = exploration.facts, exploration.tables
    designs = tables["assurance_designs"]
    spread = {"triangular": "triangular, most likely at the study's value", "even": "even"}
    yield (
        f"{facts.inputs} judged inputs, each {spread[facts.distribution]} over its range and "
        f"independent of the others; scrambled Sobol sequence, seed "
        f"{facts.seed}. Not in it: numbers without a range, models, and what goes together."
    )
    if facts.trimmed:
        names = " and ".join(name.replace("_", " ") for name in facts.trimmed)
        yield (
            f"After the build {names} are set anew in each sample, where its worst requirement "
            "holds best: each unit is measured and trimmed before it flies; a heater gets no more "
            "power than it is built for, and masses are those of the design as built."
        )
    if np.isfinite(facts.optimum):
        yield f"At the study's values the optimum weighs {facts.optimum:.4g} kg."
    for row in designs.itertuples():
        every = row.probability == 1.0
        name = "Each of the fixed samples" if every else f"Probability {percent(row.probability)}"
        if row.status == FEASIBLE:
            yield (
                f"{name}: {row.system_mass:.4g} kg, {row.added:+.3g} kg; in {facts.confirmation:,} "
                f"samples of another seed {percent(row.confirmed)} hold (95 % interval "
                f"{percent(row.confirmed_low)} to {percent(row.confirmed_high)})."
            )
            if not every:
                yield _sampling(row.probability, row.samples)
        else:
            yield f"{name}: not reached. {row.reason}."
    if "assurance_inputs" in tables:
        first = tables["assurance_inputs"].head(NAMED)
        named = "; ".join(f"{row.title} {row.spent:.3g} kg" for row in first.itertuples())
        yield f"What the design for {percent(facts.main)} spends its mass on: {named}."
    elif not (designs["held"] > 0.0).any():
        yield "In none of the samples do all requirements hold: the ranges leave no such design."
    yield (
        f"Levels of fidelity: {exploration.study.fidelity.optimise}. Concept study: ranges are "
        "judgement, and a probability made of them is no evidence of reliability."
    )


def _sampling(probability: float, samples: int) -> str:
    """How closely the samples of a sizing tell its probability, and how many would do."""
    deviation = (probability * (1.0 - probability)) ** 0.5
    closely, wanted = 2.0 * deviation / samples**0.5, min(CLOSE, CLOSE_TAIL * (1.0 - probability))
    told = f"It is sized on {samples:,} samples, which tell that to {100.0 * closely:.2g} points"
    if closely <= wanted:
        return f"{told} (two standard deviations)."
    enough = int(np.ceil((2.0 * deviation / wanted) ** 2))
    return (
        f"{told} (two standard deviations): too few to show {100.0 * wanted:.1f} points, which "
        f"takes some {enough:,} ('samples')."
    )


WRITERS: Mapping[str, Callable[[Exploration], Iterator[str]]] = {
    "motion": motion_sentences,
    "map": map_sentences,
    "front": front_sentences,
    "sweep": sweep_sentences,
    "sensitivity": sensitivity_sentences,
    "scaling": scaling_sentences,
    "assurance": assurance_sentences,
}
