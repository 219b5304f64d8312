"""What a sizing for unknown inputs says, one sentence each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from mdo.optimise.status import FEASIBLE
from mdo.study.number_text import percent

if TYPE_CHECKING:
    from mdo.explore.exploration import Exploration

NAMED = 3  # inputs named


def assurance_sentences(exploration: Exploration) -> Iterator[str]:
    """Sentences on the masses, what they are spent on, and what is out of reach."""
    facts, tables = exploration.facts, exploration.tables
    designs = tables["assurance_designs"]
    spread = {"triangular": "triangular, most likely at the study's value", "even": "even"}
    yield (
        f"{facts.inputs} judged inputs, each {spread[facts.distribution]} over its range and "
        f"independent of the others; {facts.samples:,} samples (scrambled Sobol sequence, seed "
        f"{facts.seed}). Not in it: numbers without a range, models, and what goes together."
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
        else:
            yield f"{name}: not reached. {row.reason}."
    if "assurance_inputs" in tables:
        first = tables["assurance_inputs"].head(NAMED)
        named = "; ".join(f"{row.title} {row.spent:.3g} kg" for row in first.itertuples())
        yield f"What the design for {percent(facts.main)} spends its mass on: {named}."
    elif not (designs["held"] > 0.0).any():
        yield "In none of the samples do all requirements hold: the ranges leave no such design."
    yield (
        f"Levels of fidelity: {exploration.study.fidelity.optimise}; the stress of a tube stands "
        "at the study's factor in every sample, none fed back from a march. Concept study: ranges "
        "are judgement, and a probability made of them is no evidence of reliability."
    )
