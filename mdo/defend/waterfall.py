"""Which step of the chain loses how much: from the ideal alloy mass to the system mass.

Every step multiplies the mass that the work alone would need, or adds to it, and all together end
exactly at the system mass. The order of the steps matters for the split: a factor is charged with
all that stands above it, so the same loss counts for more kilograms the later it is taken. The
order here is the way of the work, from the load through the chain back to the alloy (load, travel,
cold set, transmission), then what the alloy is not allowed to give (wall, margin, life), then what
the design leaves unused, then what is not active alloy. Reference sma-tubes, section 7.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.defend.physical_limits import heated_strokes
from mdo.disciplines.records import MASS_LINES, WINGS
from mdo.optimise.appraisal import Appraisal
from mdo.study.number_text import figure, percent, quantity

Floats = NDArray[np.float64]
NOTHING = 1e-12  # [kg] a part that is not there, to round-off
ALLOY, PARTS, GROWTH = "alloy", "other parts", "growth"


class Loss(NamedTuple):
    """One step of the waterfall, masses of the AIRCRAFT (both wings) [kg].

    ``before`` and ``after`` the step; ``loss`` their difference, negative where the step gains;
    ``factor`` their ratio; ``group``: alloy, other parts or growth. The first step is the ideal
    mass itself, from nothing.
    """

    name: str
    group: str
    before: float
    after: float
    loss: float
    factor: float
    text: str


class Demand(NamedTuple):
    """What the legs ask of one set of one wing, and what its tubes are.

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
    strain
        Shear strain of the whole travel at the effective radius [1].
    life_work
        Largest (moment x own travel)/(work density that the life law allows) over the legs that
        move [m3], before wall and transmission; 0 without a law.
    active_mass
        Of the active tubes [kg].
    """

    work: float
    box: float
    peak: float
    dragged: float
    dragged_moving: float
    factored: float
    strain: float
    life_work: float
    active_mass: float


def loss_waterfall(appraisal: Appraisal) -> tuple[Loss, ...]:
    """Find the steps from ideal alloy mass to system mass; empty where no heated set moves a leg.

    The ideal is, for each set, the net work of its most laborious stroke over the work that the
    card's allowable stress gives per kilogram of thin wall at full strain. The steps of the alloy
    follow the larger of what each set needs over its legs; life and strength are compared as in
    the limits. Steps of parts that are not there are left out.

    Notes
    -----
    The sum of the losses is the system mass less the ideal mass, to round-off.
    """
    strokes = heated_strokes(appraisal)
    if not strokes.leg.size or not strokes.work.max() > 0.0:
        return ()
    names, masses, texts = zip(*_alloy_steps(appraisal), strict=True)
    groups = [ALLOY] * len(names)
    lines = _outputs(appraisal)["mass_lines"]
    for number, (name, line) in enumerate(zip(MASS_LINES, lines, strict=True)):
        if number < 2 or abs(line) < NOTHING:
            continue
        names += (f"{name[0].upper()}{name[1:]}",)
        masses += (masses[-1] + float(line),)
        texts += (f"basic mass, {percent(line / lines.sum())} of that of the system",)
        groups.append(PARTS)
    names += ("Growth",)
    masses += (appraisal.mass,)
    growth = _outputs(appraisal)["mass_growth"]
    texts += (
        f"allowance on every line by its class, {percent(growth.sum() / lines.sum())} on all",
    )
    groups.append(GROWTH)
    return tuple(
        Loss(name, group, before, after, after - before, _ratio(after, before), text)
        for name, group, before, after, text in zip(
            names, groups, (0.0, *masses[:-1]), masses, texts, strict=True
        )
    )


def waterfall_table(losses: tuple[Loss, ...]) -> pd.DataFrame:
    """Steps as a table [kg]; ``share`` is the loss over the system mass."""
    table = pd.DataFrame(losses, columns=list(Loss._fields))
    table = table.rename(columns={"name": "step"})
    whole = losses[-1].after if losses else np.nan
    table.insert(6, "share", table["loss"] / whole)
    return table


def demands(appraisal: Appraisal) -> tuple[Demand, ...]:
    """What the legs ask of each set of one wing (up, down); zeros where a set drives nothing."""
    values = _outputs(appraisal)
    given = appraisal.problem.assembled.parameters
    legs, alloy, angle = given["legs"], given["alloy"], given["fold_angle"]
    strokes = heated_strokes(appraisal)
    moment = np.maximum(values["required_moment"], 0.0)
    dragged = np.maximum(values["required_moment"] + values["internal_moment"], 0.0)
    asked = values["factored_moment"] + values["internal_moment"]
    swept = np.abs(angle[:, -1] - angle[:, 0])
    lasting = values["allowable_work_density"]
    lawful = alloy.life_law > 0.5
    found = []
    for side in (0, 1):
        drives = (values["heated"] > 0.5) & ((values["pushes_up"] > 0.5) == (side == 0))
        moves = drives & (np.asarray(legs.moves) > 0.5)
        own = strokes.side == side
        by_life = dragged.max(axis=1) * swept / lasting
        found.append(
            Demand(
                work=float(strokes.work[own].max(initial=0.0)),
                box=float(strokes.box[own].max(initial=0.0)),
                peak=float(moment[drives].max(initial=0.0)),
                dragged=float(dragged[drives].max(initial=0.0)),
                dragged_moving=float(dragged[moves].max(initial=0.0)),
                factored=float(asked[drives].max(initial=0.0)),
                strain=float(values["travel_strain"]),
                life_work=float(by_life[moves].max(initial=0.0)) if lawful else 0.0,
                active_mass=float(strokes.active_mass[side]),
            )
        )
    return tuple(found)


def _alloy_steps(appraisal: Appraisal) -> Iterator[tuple[str, float, str]]:
    """Name, mass after the step [kg] and words of every step up to the alloy as drawn."""
    sets = demands(appraisal)
    values = _outputs(appraisal)
    travel = float(values["travel_high"] - values["travel_low"])
    ceiling = float(values["work_ceiling"])

    def aircraft(energy: list[float]) -> float:
        return WINGS * sum(energy) / ceiling

    yield (
        "Ideal alloy",
        aircraft([one.work for one in sets]),
        (
            f"hardest stroke of each set, one wing ({_joined([one.work for one in sets], 'J')}), "
            f"over {quantity(ceiling, 'J/kg')}, the ceiling at the allowable stress"
        ),
    )
    matching = sum(one.work for one in sets) / sum(one.box for one in sets)
    yield (
        "Fixed ratio",
        aircraft([one.box for one in sets]),
        (
            f"a tube is sized at the peak: the load fills {percent(matching)} of peak x travel; a "
            "variable ratio could save up to this"
        ),
    )
    yield (
        "One tube for all legs",
        aircraft([one.peak * travel for one in sets]),
        (
            f"largest moment of any leg over the whole travel of {quantity(travel, 'rad')}, trim "
            "and holds included"
        ),
    )
    yield (
        "Cold set and spring",
        aircraft([one.dragged * travel for one in sets]),
        (
            "moment that the driving set spends on twisting the cold set or the spring: largest at "
            f"the hinge {_joined([one.dragged for one in sets], 'N*m')} with it, "
            f"{_joined([one.peak for one in sets], 'N*m')} without"
        ),
    )
    energy = [one.dragged * travel for one in sets]
    charge = 1.0
    for name, factor, text in _factors(appraisal):
        charge *= factor
        yield name, charge * aircraft(energy), text
    by_strength = [charge * WINGS * one.factored * travel / ceiling for one in sets]
    yield (
        "Torque margin",
        sum(by_strength),
        "on what the load asks, against strength",
    )
    yield from _life_and_rest(appraisal, sets, by_strength, charge)


def _factors(appraisal: Appraisal) -> Iterator[tuple[str, float, str]]:
    """Losses that multiply whatever moment is asked: transmission, wall."""
    values, design = _outputs(appraisal), appraisal.design
    bundle = appraisal.problem.assembled.parameters["bundle_assumptions"]
    yield (
        "Sharing between tubes",
        1.0 / float(bundle.sharing_efficiency),
        f"the bundle gives {percent(float(bundle.sharing_efficiency))} of the sum of its tubes",
    )
    yield (
        "Friction of the joints",
        1.0 / float(bundle.joint_efficiency),
        f"axially free joints, efficiency {percent(float(bundle.joint_efficiency))}",
    )
    meshes = float(values["gear_meshes"])
    if meshes > 0.0:
        yield (
            "Friction of the gears",
            float(bundle.mesh_efficiency) ** -meshes,
            (
                f"{figure(meshes)} meshes between tube and hinge, efficiency "
                f"{percent(float(bundle.mesh_efficiency))} each"
            ),
        )
    used = float(values["geometric_utilisation"])
    yield (
        "Thick wall",
        float(values["elastic_stress_ratio"]),
        (
            "elastic outer-fibre stress over the mean one at the wall ratio of "
            f"{figure(float(design['wall_ratio']))} (strain at the outer fibre is "
            f"{figure(1.0 / used)} times that at the effective radius)"
        ),
    )
    yield (
        "Uneven stress in the wall",
        float(values["outer_stress_factor"]),
        "outer-fibre stress over the elastic one, until the path-dependent level replaces it",
    )


def _life_and_rest(
    appraisal: Appraisal, sets: tuple[Demand, ...], by_strength: list[float], charge: float
) -> Iterator[tuple[str, float, str]]:
    """Steps from the strength of the wall to the alloy as drawn."""
    alloy = appraisal.problem.assembled.parameters["alloy"]
    density = float(alloy.density)
    values = _outputs(appraisal)
    travel = float(values["travel_high"] - values["travel_low"])
    lawful = alloy.life_law > 0.5
    if lawful:
        lives = [charge * WINGS * density * one.life_work for one in sets]
        text = "the work density that the life law allows at the folds asked"
    else:
        product = float(alloy.declared_life_stress * alloy.declared_life_strain)
        lives = [charge * WINGS * density * one.dragged_moving * travel / product for one in sets]
        text = (
            f"declared {quantity(float(alloy.declared_life_stress), 'Pa')} x "
            f"{percent(float(alloy.declared_life_strain))} strain, without the torque margin"
        )
    needed = [max(pair) for pair in zip(lives, by_strength, strict=True)]
    ruled = any(life > strength for life, strength in zip(lives, by_strength, strict=True))
    yield (
        "Life instead of strength",
        sum(needed),
        text if ruled else f"nothing: {text}, is less than strength asks",
    )
    actual = [WINGS * one.active_mass for one in sets]
    if lawful:
        yield "Work not used", sum(actual), _unused_text(sum(actual), sum(needed), "work density")
    else:
        stressed = []
        for one, mass, life, strength in zip(sets, needed, lives, by_strength, strict=True):
            # strain that the step of stress leaves: that of the limit which rules the set
            strain = float(alloy.declared_life_strain if life > strength else values["full_strain"])
            volume_full = WINGS * one.active_mass * one.strain / strain
            stressed.append(volume_full if mass > 0.0 else 0.0)
        yield (
            "Stress not used",
            sum(stressed),
            _unused_text(sum(stressed), sum(needed), "stress that life or strength allows"),
        )
        yield (
            "Strain not used",
            sum(actual),
            _unused_text(sum(actual), sum(stressed), "strain that life or strength allows")
            + f"; the whole travel takes {percent(max(one.strain for one in sets))}",
        )
    yield (
        "Ends that do not twist",
        float(values["alloy_mass"]),
        "grips and cold ends of the tubes: alloy as drawn",
    )


def _unused_text(after: float, before: float, what: str) -> str:
    """Words for what a design uses of a limit; says why where the step gains."""
    text = f"the design uses {percent(before / after)} of the {what}" if after > 0.0 else ""
    if after >= before * (1.0 - 1e-9):
        return text
    return (
        f"{text}: a gain, because the limit counts legs or whole travel that the design need not "
        "meet at once, or because the design does not meet its requirements"
    )


def _outputs(appraisal: Appraisal) -> Mapping[str, Floats]:
    return appraisal.values  # noqa: PD011 - no pandas


def _joined(values: list[float], unit: str) -> str:
    """Values of both sets as text, those that are zero left out."""
    return " and ".join(f"{figure(value)} {unit}" for value in values if value > 0.0) or "0"


def _ratio(after: float, before: float) -> float:
    return after / before if before > 0.0 else float("nan")
