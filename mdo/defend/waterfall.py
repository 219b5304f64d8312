"""Which step of the chain loses how much: from the ideal alloy mass to the system mass.

Every step multiplies the mass that the work alone would need, or adds to it, and all together end
exactly at the system mass. The order of the steps matters for the split: a factor is charged with
all that stands above it, so the same loss counts for more kilograms the later it is taken. The
order here is the way of the work, from the load through the chain back to the alloy (load, travel,
cold set, transmission), then what the alloy is not allowed to give (wall, margin, life), then what
the design leaves unused, then what is not active alloy. Reference sma-tubes, section 7.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.defend.physical_limits import heated_strokes
from mdo.defend.tables.facts import Facts
from mdo.disciplines.records import MASS_LINES
from mdo.study.number_text import figure, percent, quantity

NOTHING = 1e-12  # [kg] a part that is not there, to round-off
ALLOY, PARTS, GROWTH = "alloy", "other parts", "growth"


class Step(NamedTuple):
    """Mass of the aircraft [kg] after a step, and what the step is."""

    name: str
    after: float
    text: str
    group: str = ALLOY


class Demand(NamedTuple):
    """What the legs ask of the sets of one wing, and what their tubes are: arrays (up, down).

    Attributes
    ----------
    work, box
        Greatest work of a stroke against its load, and greatest peak moment x own travel [J].
    peak
        Largest required moment of any leg that the set drives or holds [N*m], at the hinge.
    dragged, dragged_moving
        The same with the moment of cold set and spring; of the legs that move only.
    factored
        The same as ``dragged`` with the torque margin on what the load asks.
    life_work
        Largest (moment x own travel)/(work density that the life law allows) over the legs that
        move [m3], before wall and transmission; 0 without a law.
    active_mass
        Of the active tubes [kg].
    """

    work: Floats
    box: Floats
    peak: Floats
    dragged: Floats
    dragged_moving: Floats
    factored: Floats
    life_work: Floats
    active_mass: Floats


def loss_waterfall(facts: Facts) -> pd.DataFrame:
    """Find the steps from ideal alloy mass to system mass; empty where no heated set moves a leg.

    The ideal is, for each set, the net work of its most laborious stroke over the work that the
    card's allowable stress gives per kilogram of thin wall at full strain. The steps of the alloy
    follow the larger of what each set needs over its legs; life and strength are compared as in
    the limits. Steps of parts that are not there are left out.

    Returns
    -------
    Step, its group (alloy, other parts or growth), masses of the AIRCRAFT (both wings) before and
    after it [kg], ``loss`` their difference, negative where the step gains, ``factor`` their ratio,
    ``share`` the loss over the system mass. The first step is the ideal mass itself, from nothing.

    Notes
    -----
    The sum of the losses is the system mass less the ideal mass, to round-off.
    """
    steps = list(_steps(facts))
    table = pd.DataFrame(steps, columns=["step", "after", "text", "group"])
    after = table["after"].astype(float)
    before = after.shift(fill_value=0.0)
    loss = after - before
    mass = steps[-1].after if steps else np.nan
    table = table.assign(
        before=before, after=after, loss=loss, factor=after / before.where(before > 0.0),
        share=loss / mass,
    )  # fmt: skip
    return table[["step", "group", "before", "after", "loss", "factor", "share", "text"]]


def _steps(facts: Facts) -> Iterator[Step]:
    """Every step, the alloy first; none where no heated set moves a leg."""
    strokes = heated_strokes(facts)
    if not (strokes["work"] > 0.0).any():
        return
    after = 0.0
    for step in _alloy_steps(facts, demands(facts)):
        yield step
        after = step.after
    lines, growth = facts.v["mass_lines"], facts.v["mass_growth"]
    for name, line in list(zip(MASS_LINES, lines, strict=True))[2:]:
        if abs(line) >= NOTHING:
            after += float(line)
            text = f"basic mass, {percent(line / lines.sum())} of that of the system"
            yield Step(f"{name[0].upper()}{name[1:]}", after, text, PARTS)
    text = f"allowance on every line by its class, {percent(growth.sum() / lines.sum())} on all"
    yield Step("Growth", facts.appraisal.mass, text, GROWTH)


def demands(facts: Facts) -> Demand:
    """What the legs ask of each set of one wing; zeros where a set drives nothing."""
    values, strokes = facts.v, heated_strokes(facts)
    moment, internal = values["required_moment"], values["internal_moment"]
    dragged = np.maximum(moment + internal, 0.0)
    swept = np.abs(facts.fold_angle[:, -1] - facts.fold_angle[:, 0])
    by_life = dragged.max(axis=1) * swept / values["allowable_work_density"]
    sides = (facts.up, ~facts.up)

    def largest(numbers: Floats, legs: NDArray[np.bool_]) -> Floats:
        return np.array([numbers[legs & side].max(initial=0.0) for side in sides])

    hardest = strokes.groupby("side")[["work", "box"]].max().clip(lower=0.0)
    hardest = hardest.reindex([0, 1], fill_value=0.0)
    return Demand(
        work=hardest["work"].to_numpy(),
        box=hardest["box"].to_numpy(),
        peak=largest(np.maximum(moment, 0.0), facts.heated),
        dragged=largest(dragged, facts.heated),
        dragged_moving=largest(dragged, facts.driven),
        factored=largest(values["factored_moment"] + internal, facts.heated),
        life_work=largest(by_life, facts.driven) * (facts.alloy.life_law > 0.5),
        active_mass=values["active_mass"],
    )


def _alloy_steps(facts: Facts, sets: Demand) -> Iterator[Step]:
    """Every step up to the alloy as drawn."""
    values = facts.v
    travel, ceiling = float(values["travel_high"] - values["travel_low"]), values["work_ceiling"]
    per_joule = facts.wings / float(ceiling)
    yield Step(
        "Ideal alloy",
        per_joule * sets.work.sum(),
        f"hardest stroke of each set, one wing ({_joined(sets.work, 'J')}), over "
        f"{quantity(float(ceiling), 'J/kg')}, the ceiling at the allowable stress",
    )
    yield Step(
        "Fixed ratio",
        per_joule * sets.box.sum(),
        f"a tube is sized at the peak: the load fills {percent(sets.work.sum() / sets.box.sum())} "
        "of peak x travel; a variable ratio could save up to this",
    )
    yield Step(
        "One tube for all legs",
        per_joule * sets.peak.sum() * travel,
        f"largest moment of any leg over the whole travel of {quantity(travel, 'rad')}, trim and "
        "holds included",
    )
    mass = per_joule * sets.dragged.sum() * travel
    yield Step(
        "Cold set and spring",
        mass,
        "moment that the driving set spends on twisting the cold set or the spring: largest at the "
        f"hinge {_joined(sets.dragged, 'N*m')} with it, {_joined(sets.peak, 'N*m')} without",
    )
    charge = 1.0
    for name, factor, text in _factors(facts):
        charge *= factor
        yield Step(name, charge * mass, text)
    strength = charge * per_joule * sets.factored * travel
    yield Step("Torque margin", strength.sum(), "on what the load asks, against strength")
    yield from _life_and_rest(
        facts, sets, strength, charge * facts.wings * float(facts.alloy.density)
    )


def _factors(facts: Facts) -> Iterator[tuple[str, float, str]]:
    """Losses that multiply whatever moment is asked: transmission, wall."""
    values, bundle = facts.v, facts.bundle
    sharing, joint, mesh = (
        float(getattr(bundle, f"{part}_efficiency")) for part in ("sharing", "joint", "mesh")
    )
    text = f"the bundle gives {percent(sharing)} of the sum of its tubes"
    yield "Sharing between tubes", 1.0 / sharing, text
    text = f"axially free joints, efficiency {percent(joint)}"
    yield "Friction of the joints", 1.0 / joint, text
    meshes = float(values["gear_meshes"])
    if meshes > 0.0:
        text = f"{figure(meshes)} meshes between tube and hinge, efficiency {percent(mesh)} each"
        yield "Friction of the gears", mesh**-meshes, text
    text = (
        "elastic outer-fibre stress over the mean one at the wall ratio of "
        f"{figure(float(facts.d['wall_ratio']))} (strain at the outer fibre is "
        f"{figure(1.0 / float(values['geometric_utilisation']))} times that at the effective "
        "radius)"
    )
    yield "Thick wall", float(values["elastic_stress_ratio"]), text
    text = "outer-fibre stress over the elastic one, of the leg where it is largest"
    outer = np.where(facts.driven, values["leg_outer_stress"], 0.0)
    leg = outer.argmax()
    elastic = values["leg_stress"][leg] * values["elastic_stress_ratio"]
    yield "Uneven stress in the wall", float(outer[leg] / elastic), text


def _life_and_rest(
    facts: Facts, sets: Demand, strength: Floats, per_volume: float
) -> Iterator[Step]:
    """Steps from the strength of the wall to the alloy as drawn.

    ``per_volume``: mass of the aircraft per volume of alloy of one wing [kg/m3], losses included.
    """
    values, alloy = facts.v, facts.alloy
    travel, strain = float(values["travel_high"] - values["travel_low"]), values["travel_strain"]
    stress_limit, strain_limit = (
        float(limit) for limit in (alloy.declared_life_stress, alloy.declared_life_strain)
    )
    lawful = alloy.life_law > 0.5
    if lawful:
        life = per_volume * sets.life_work
        text = "the work density that the life law allows at the folds asked"
    else:
        life = per_volume * sets.dragged_moving * travel / (stress_limit * strain_limit)
        text = (
            f"declared {quantity(stress_limit, 'Pa')} x {percent(strain_limit)} strain, without "
            "the torque margin"
        )
    needed, actual = np.maximum(life, strength), facts.wings * sets.active_mass
    ruled = (life > strength).any()
    text = text if ruled else f"nothing: {text}, is less than strength asks"
    yield Step("Life instead of strength", needed.sum(), text)
    if lawful:
        yield Step("Work not used", actual.sum(), _unused(actual, needed, "work density"))
    else:
        # strain that the step of stress leaves: that of the limit which rules the set
        ruling = np.where(life > strength, strain_limit, values["full_strain"])
        stressed = np.where(needed > 0.0, actual * float(strain) / ruling, 0.0)
        text = _unused(stressed, needed, "stress that life or strength allows")
        yield Step("Stress not used", stressed.sum(), text)
        text = _unused(actual, stressed, "strain that life or strength allows")
        text += f"; the whole travel takes {percent(float(strain))}"
        yield Step("Strain not used", actual.sum(), text)
    text = "grips and cold ends of the tubes: alloy as drawn"
    yield Step("Ends that do not twist", float(values["alloy_mass"]), text)


def _unused(masses: Floats, needed: Floats, what: str) -> str:
    """Words for what a design uses of a limit; says why where the step gains."""
    after, before = masses.sum(), needed.sum()
    text = f"the design uses {percent(before / after)} of the {what}" if after > 0.0 else ""
    if after >= before * (1.0 - 1e-9):
        return text
    return (
        f"{text}: a gain, because the limit counts legs or whole travel that the design need not "
        "meet at once, or because the design does not meet its requirements"
    )


def _joined(values: Sequence[float] | Floats, unit: str) -> str:
    """Values of both sets as text, those that are zero left out."""
    return " and ".join(f"{figure(float(value))} {unit}" for value in values if value > 0.0) or "0"
