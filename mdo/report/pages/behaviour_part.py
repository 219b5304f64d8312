"""Part 3 of the report: how it works, in torque, heat and time."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from mdo.defend.alloy_window import WindowLine
from mdo.defend.tables.legs import driving_point
from mdo.optimise.appraisal import Appraisal
from mdo.report.drawings import design as drawings
from mdo.report.drawings.heat import heat_course
from mdo.report.drawings.thermal import ledger_rows, rounded
from mdo.report.figures import design as figures
from mdo.report.pages.verdict_part import margin_words
from mdo.report.templates.pieces import (
    DASH,
    definition,
    drawn,
    escaped,
    folded,
    number,
    paragraph,
    picture,
    pretty,
    prose,
    section,
    signed,
    table,
)
from mdo.report.words import definitions
from mdo.study.number_text import percent

Tables = Mapping[str, pd.DataFrame]
AMPLE = 3.0  # torque margin from which its number says nothing more
KEY = (
    '<div class="key">'
    f'<span><i style="border-color:{figures.BLUE}"></i>available</span>'
    f'<span><i style="border-color:{figures.RUST};border-top-style:dashed"></i>required</span>'
    f'<span><i style="border-color:{figures.RUST};border-top-style:dotted"></i>'
    "required, loads at the upper end of their band</span>"
    f'<span><i class="band" style="background:{figures.BAND}"></i>'
    "air load and gravity, against the driver</span>"
    f'<span><i class="diamond" style="border-color:{figures.AMBER}"></i>'
    "driving point: sizes the tubes</span></div>\n"
)


def front_section(appraisal: Appraisal) -> str:
    """Front view of the folding wing with a slider over its travel."""
    content = picture(drawings.front_view(appraisal), drawings.CAPTIONS["front_view"])
    return section("front", "The wing as it folds", content)


def torque_section(appraisal: Appraisal, tables: Tables) -> str:
    """Required against available moment over the fold angle, one figure per leg."""
    torque = tables["torque"]
    point = driving_point(appraisal)
    plots, rows = [], []
    for place, (leg, part) in enumerate(torque.groupby("leg", sort=False)):
        angle = point.fold_angle if point is not None and point.leg == leg else None
        said = _leg_text(part)
        plot = drawn(
            figures.torque_figure(torque, str(leg), driving_angle=angle), f"torque-{place}",
            f"Required and available moment of {leg} over the fold angle: {said}",
        )  # fmt: skip
        plots.append(f"<div><h4>{escaped(leg)}</h4>\n{paragraph(said, kind='soft')}{plot}</div>\n")
        rows += _angle_rows(str(leg), part)
    wanted = appraisal.study.requirements
    text = definitions.TORQUE.format(friction_factor=wanted.friction_factor)
    over = definitions.OVERRUN.format(overrun_factor=wanted.overrun_factor)
    head = ("leg", "fold angle", "required", "available", "margin", "upper band")
    legs = f'{KEY}<div class="legs">\n{"".join(plots)}</div>\n'
    content = picture(
        legs, definitions.TORQUE_READ,
        behind=table(head, rows, right=(1, 2, 3, 4, 5)), more="Moments at every angle, one wing",
    )  # fmt: skip
    content += definition(f"{text} {over} One wing.", title="How the moments are defined")
    return section("torque", "Torque: required and available over the fold angle", content)


def _angle_rows(leg: str, part: pd.DataFrame) -> list[tuple[str, ...]]:
    return [
        (
            leg,
            number(line.fold_angle, "rad"),
            *(number(moment, "N*m") for moment in (line.required_moment, line.available_moment)),
            *(
                DASH if math.isnan(margin) else margin_words(margin)
                for margin in (line.torque_margin, line.torque_margin_upper_band)
            ),
        )
        for line in part.itertuples()
    ]


def _leg_text(part: pd.DataFrame) -> str:
    """Line under the name of a leg: driver, way, least margin."""
    ends = part["fold_angle"].iloc[[0, -1]]
    way = " → ".join(f"{math.degrees(end):.0f}°".replace("-", "−") for end in ends)
    if ends.iloc[0] == ends.iloc[1]:
        way = f"holds at {way.split(' ')[0]}"
    least = float(part["torque_margin"].min())
    margin = "load assists" if math.isnan(least) else f"least margin {margin_words(least)}"
    if least <= -1.0:
        margin = "nothing left at one end (available below zero)"
    if least > AMPLE:
        margin = f"margin over {100.0 * AMPLE:.0f} %"
    if part["available_moment"].isna().all():
        margin = "no heated set drives"
    return f"{part['driver'].iloc[0]}, {way}, {margin}".replace("-", "−")


def heat_section(appraisal: Appraisal, tables: Tables) -> str:
    """Temperature over time of the tightest fold and its return, and where its heat goes."""
    content = picture(
        drawn(drawings.temperature_time_figure(appraisal), "temperature-time",
              "Temperature of a tube over time while it folds and while it returns."),
        drawings.CAPTIONS["temperature_time_figure"],
        behind=_temperatures(tables["temperatures"]), more="Temperatures of each leg",
    )  # fmt: skip
    course = heat_course(appraisal)
    ledger, said = "", ""
    if course is not None:
        parts = ledger_rows(course)
        shares, whole = rounded([heat for _, heat in parts])
        rows = [
            (words, f"{signed(share)} kJ", percent(heat / course.given))
            for (words, heat), share in zip(parts, shares, strict=True)
        ]
        rows.append(("given by the heaters of the set", f"{whole} kJ", "100 %"))
        ledger = table(("part", "heat, one set of one wing", "share"), rows, right=(1, 2))
        largest = max(parts, key=lambda part: part[1])
        said = f"Largest part: {largest[0]}, {percent(largest[1] / course.given)}."
    content += picture(
        drawn(drawings.ledger_figure(appraisal), "ledger", f"Energy ledger of that fold. {said}"),
        f"{drawings.CAPTIONS['ledger_figure']} {said}", behind=ledger, more="The ledger",
    )  # fmt: skip
    content += folded("Energy of each leg", _energy(tables["energy"]))
    return section("heat", "Heat: one fold and its return", content)


def alloy_window_section(appraisal: Appraisal, tables: Tables) -> str:
    """Transformation lines, operating points, and the window that the cases demand."""
    window = [
        (line.temperature, *(number(bound, "K") for bound in (line.at_least, line.at_most)),
         number(line.card, "K"), prose(line.set_by))
        for line in tables["window"].itertuples()
    ]  # fmt: skip
    head = ("temperature", "at least", "at most", "this alloy", "set by")
    content = picture(
        drawn(drawings.transformation_figure(appraisal, _window_lines(tables)), "transformation",
              "Transformation lines of the alloy over temperature and shear stress, operating "
              "points of each set, and the window that the cases demand."),
        f"{drawings.CAPTIONS['transformation_figure']} {definitions.WINDOW_READ}",
        behind=table(head, window, right=(1, 2, 3)),
        more="Window that the cases demand of any alloy, without stress",
    )  # fmt: skip
    content += folded("Each set: stresses, temperatures, heater", _sets(tables["sets"]))
    return section("window", "Alloy: torque, stress and temperature", content)


def _window_lines(tables: Tables) -> list[WindowLine]:
    """Lines of the window, from its table."""
    return [
        WindowLine(
            line.temperature,
            None if math.isnan(line.at_least) else line.at_least,
            None if math.isnan(line.at_most) else line.at_most,
            line.set_by,
            line.card,
        )
        for line in tables["window"].itertuples()
    ]


def times_section(tables: Tables) -> str:
    """Fold and return times against their limits, and the power that they take."""
    times = tables["times"]
    rows = [
        (one.leg, one.what, *(number(value, "s") for value in (one.time, one.time_limit,
                                                               one.heat_time, one.cool_time)))
        for one in times[times["time"].notna()].itertuples()
    ]  # fmt: skip
    late = times[times["time"] > times["time_limit"] * (1.0 + figures.AT_LIMIT)]
    said = f"{len(late)} of {len(rows)} motions are late." if len(late) else (
        f"All {len(rows)} motions keep their time."
    )  # fmt: skip
    head = ("leg", "what", "time", "limit", "heating", "cooling")
    content = picture(
        drawn(figures.times_figure(times), "times", f"Bar chart of fold and return times. {said}"),
        f"{said} {definitions.TIMES_READ}",
        behind=table(head, rows, right=(2, 3, 4, 5)), more="Times of each leg",
    )  # fmt: skip
    content += definition(definitions.TIMES, title="How the times are defined")
    content += "<h4>Power and energy</h4>\n" + _power(tables["power"])
    return section("times", "Time and power", content)


def life_section(tables: Tables) -> str:
    """Life use of each case."""
    life = tables["life"]
    content = _life(life)
    used = float(life["leg_life_use"].sum()) if len(life) else 0.0
    if len(life):
        content = (
            paragraph(
                "Share of the life of the tubes that each leg uses; the shares of a set add up to "
                "its sum, 100 % is all of it."
            )
            + content
        )
    if used == 0.0:
        content += paragraph(definitions.NO_LIFE_LAW, kind="soft")
    content += definition(definitions.LIFE, title="How life is counted")
    return section("life", "Life use of each case", content)


def _power(power: pd.DataFrame) -> str:
    rows = [
        (line.meaning, number(line.value, line.unit), line.of)
        for line in power.itertuples()
        if line.value != 0.0
    ]
    return table(("quantity", "value", "of"), rows, right=(1,))


SET_LINES = (
    ("tube_count", "tubes (continuous count)", "1"),
    ("operating_stress", "operating stress, uniform", "Pa"),
    ("outer_stress_operating", "outer-fibre stress", "Pa"),
    ("pre_twist", "pre-twist", "rad"),
    ("heater_power", "heater power, nominal", "W"),
    ("heater_flux", "heater flux at high line", "W/m**2"),
    ("sheath_temperature", "heater temperature at high line", "K"),
    ("heating_start", "As′ (austenite start) at operating stress", "K"),
    ("heating_finish", "Af′ (austenite finish) at operating stress", "K"),
    ("hold_temperature", "hold temperature", "K"),
    ("cooling_start", "Ms′ (martensite start) at the smallest return stress", "K"),
    ("cooling_finish", "Mf′ (martensite finish) at the smallest return stress", "K"),
    ("life_use", "life used (Miner's sum, 1 is all)", "1"),
)


def _sets(sets: pd.DataFrame) -> str:
    rows = [
        (words, *(number(float(value), unit) for value in sets[name]))
        for name, words, unit in SET_LINES
    ]
    head = ("of one wing", *(f"{name} set" for name in sets["set"]))
    return table(head, rows, right=tuple(range(1, len(head))))


def _temperatures(temperatures: pd.DataFrame) -> str:
    columns = [name for name in temperatures.columns if name not in {"leg", "stuck_on_temperature"}]
    rows = [
        (line["leg"], *(number(float(line[name]), "K") for name in columns))
        for _, line in temperatures.iterrows()
    ]
    head = (
        "leg or case",
        *(name.replace("_", " ").replace(" temperature", "") for name in columns),
    )
    return table(head, rows, right=tuple(range(1, len(head))))


def _energy(energy: pd.DataFrame) -> str:
    rows = [
        (line.leg, line.driver, _joules(line.fold_energy), number(line.held_power, "W"),
         _joules(line.actuator_work))
        for line in energy.itertuples()
    ]  # fmt: skip
    head = (
        "leg", "driver", "from the source, aircraft", "while it holds, aircraft",
        "work of the tubes, one wing",
    )  # fmt: skip
    return table(head, rows, right=(2, 3, 4))


def _joules(energy: float) -> str:
    """Energy of a leg; below a joule it is nothing."""
    return "0 kJ" if abs(energy) < 1.0 else number(energy, "J")


def _life(life: pd.DataFrame) -> str:
    rows = [
        (line.leg, line.driver, f"{line.folds_per_life:g}", number(line.leg_outer_stress, "Pa"),
         pretty(f"{100.0 * line.stroke_strain:.2f} %"), pretty(percent(line.leg_life_use)),
         line.basis)
        for line in life.itertuples()
    ]  # fmt: skip
    head = ("leg", "driver", "folds", "outer stress", "strain of the stroke", "life used", "basis")
    return table(head, rows, right=(2, 3, 4, 5))
