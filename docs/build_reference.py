"""Write docs/study_file.md from the declared fields: the same source as the JSON Schema.

Run ``python docs/build_reference.py`` after a field of the study has changed; a test holds that the
committed page is what this script makes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from mdo.alloys.card import JUDGED_PROVENANCE, KINDS, PROVENANCE
from mdo.alloys.fields import CARD_FIELDS, UNITS
from mdo.quantities import QUANTITIES
from mdo.study.analyses import PLANS, DefenceOptions, OptimumOptions, Stock
from mdo.study.bench import OF_VEHICLES
from mdo.study.cases import RETURN_KEYS, Case
from mdo.study.choices import (
    BATTERY_HIGH,
    BATTERY_LOW,
    BUSES,
    FINISHES,
    STRUCTURES,
    WIRE_RATINGS,
    ZERO_CELSIUS,
)
from mdo.study.fidelity import level_fields
from mdo.study.fields import Field, declared
from mdo.study.read_sections import COMBINATIONS_MAX, assumption_fields
from mdo.study.sections import (
    CHOICE_FIELDS,
    Actuator,
    Bench,
    Breakpoint,
    Design,
    Head,
    Requirements,
    Supply,
    Vehicle,
)

PAGE = Path(__file__).with_name("study_file.md")
HEAD = ("field", "unit", "allowed", "default", "meaning", "default from")

TOP = """\
# Study file

<!-- Made by docs/build_reference.py from the declared fields. Do not edit: run the script. -->

A study is one TOML file. This page lists every section and field. `fold-mdo check --all STUDY`
prints the same fields with the values of your study; `fold-mdo schema` gives them as JSON Schema
for an editor.

**Quantities** are text with a number and a unit: `"90 deg"`, `"5 kN*m"`, `"40 kft"`, `"120 degC"`,
`"3,600 in*lbf"`. Any unit of the right kind will do; the column *unit* names the SI unit in which
the tool keeps the value. A bare number where a unit belongs is an error that names the unit. Where
the unit is `1` a bare number is right, and `"25 %"` too. A difference of temperatures is written in
`K`. `"none"` switches a field off where the column *allowed* says so.

**Default** is what holds if you leave the field out; *required* means that you may not. The last
column says where the default comes from. *Judged* defaults rest on no source: replace them where
they matter. `fold-mdo check --all` marks each input `file`, `default` or `judgement` in the same
sense.

**Paths** name a field everywhere, in messages, in `check` and in `study.with_values({...})`:
`requirements.fold_time`, `case.stow_wind.load_factor` (a case by its `id`),
`vehicle.wing[2].chord` (counted from 1), `design.gear_ratio.upper`.

Unknown keys are errors. All problems of a file are reported at once.
"""

DESIGN = """
Leave the section out and every variable is free between its default bounds, with starts from the
count problem. A variable takes one of three forms:

```toml
[design]
gear_ratio = { lower = 1.0, upper = 6.0 }        # free, bounds of your own
tube_length = { start = "0.5 m" }                # free, with a start
tube_outer_radius = "5 mm"                       # frozen; the same as { value = "5 mm" }
tube_count = { up = 4, down = { start = 3 } }    # per set: up and down apart
```

Variables marked *per set* have one value for each set of tubes; without `up` and `down` a form
holds for both. `gear_ratio` is allowed with `topology = "geared"` only, the two spring variables
with `configuration = "spring_return"` only. Moments, counts and powers are those of one wing.
"""

STATIONS = (
    "The first station is `0 m` (the root), the others increase; all is linear between them.\n"
)

CASES = """
One `[[case]]` per situation. A case of kind `fold` is a motion: it gives one leg, and with
`returns = true` a second one back. A `hold` with `reacted_by = "actuator"` is a leg without motion.
All other cases are static: `hold` with `reacted_by = "lock"`, `jam` and `heat_loss` size the lock;
`soak` is looked at for its temperatures only. At least one case must be a `fold`. On deck there is
no lift and no airspeed: speeds, gust, sideslip and roll motions are errors there. In flight
`wind_speed` and `deck_roll` are errors.
"""

BENCH = """
One assembly on a bench in place of `[vehicle]` (one of the two). Masses, moments and powers of such
a study are those of the one assembly. Cases take no field that only a vehicle has ({fields}), and
`[requirements]` no envelope. The moments are all that loads the hinge at limit load; inertia and
friction of the motion are added by the tool. They stand in the file, the same in every leg, or in a
`table` of the columns below, by case and leg:

```toml
moments = [["0 deg", "-500 in*lbf"], ["45 deg", "-354 in*lbf"], ["90 deg", "0 in*lbf"]]
```
"""

CASE_TABLE = """
`cases = "cases.csv"` in `[study]` names a table of cases beside those of the file: CSV, or the
first sheet of a workbook (`.xlsx`). The first line names fields of a case, with a unit in brackets
where the cells below are bare numbers; `return.` before a name makes it one of `[case.return]`. An
empty cell leaves a field out. A case that is given twice is refused with both places.

| id | kind | location | fold_from [deg] | fold_to [deg] | returns | wind_speed | folds_per_life |
| --- | --- | --- | --- | --- | --- | --- | --- |
| stow_calm | fold | deck | 0 | 90 | true | | 500 |
| stow_wind | fold | deck | 0 | 90 | true | 15 kt | 200 |
"""

RETURN = """
`[case.return]` below a case with `returns = true` changes the state of the return leg. What it
leaves out is that of the case; the angles swap. It takes these fields of a case: {fields}.
"""

FIDELITY = """
Levels of fidelity by discipline: `optimise` in the coupled model, `correct` where the optimum ends
by corrections of its rows, `verify` run on the design that comes out (`verify = {}`: none). What is
left out is the default:

```toml
[fidelity]
optimise = { hinge_moment = "strip", tube = "uniform" }     # the closed forms; heat is the default
correct = { heat = "network" }
verify = { tube = "incremental" }
```

| level | what it is |
| --- | --- |
| hinge moment `strip` | closed forms and a regression over many wings |
| hinge moment `lattice` | lifting surfaces: vortex lattice, supersonic constant-pressure panels |
| hinge moment `table` | moments of your own |
| tube `uniform` | one stress in the whole wall |
| tube `radial` | points through the wall |
| tube `incremental` | the wall along its path; verifies |
| heat `balance` | heat balances in closed form |
| heat `network` | heater, wall, other set and bay as nodes in time |

A level gives everything that a page or a table wants of its discipline, so that no result mixes two
levels. Terminal, page and `summary.json` name them. A level of `verify` is dearer than that of
`optimise`. With `correct` the values of `evaluate`, `optimum` and `defence` are of those levels;
maps and fronts carry the correction around the optimum, sweeps, sensitivities and scaling stand at
the levels of `optimise` ([how](theory/optimum.md)).
"""

TABLE = """
With `optimise = { hinge_moment = "table" }` in `[fidelity]` the aerodynamic hinge moments come
from a CSV file (UTF-8, commas, at most 1 MB; its path counts from the folder of the study) or the
first sheet of a workbook (`.xlsx`). The first line names the columns, in any order; angle and
moments carry a unit in brackets:

| column | what |
| --- | --- |
| `case` | `id` of a case of the study |
| `leg` | `fold` or `return`; static cases are `fold` |
| `fold_angle [deg]` | fold angle, tip-up positive; each angle of a leg once, in any order |
| `minimum [N*m]` | least **aerodynamic** hinge moment of the right panel at limit load |
| `maximum [N*m]` | greatest one; lift included, positive turns the panel up |
| `source` | where the row comes from, for the record |

Rows must cover every angle that a leg moves through, and the held angle of every `hold`, `jam` and
`heat_loss`; between rows the moments are linear. Cases without air load need rows of zeros. The
moments do not change with the mass of the vehicle. Gravity and inertia of the panel, friction,
damping and the motion are added by the tool.
"""

CHOICES = """
`[analysis.defence.choices]` lists values of these fields of `[actuator]`; all combinations are
optimised (at most {most}): {fields}.
"""

CARD = """
`alloy` names a card of `fold-mdo alloys`, or the path of a card of your own (it ends in `.toml` and
counts from the folder of the study). A card has `name`, `title`, `kind` ({kinds}) and `notes`, and
one table per field:

```toml
[density]
value = "8850 kg/m3"
low = "8750 kg/m3"         # range; must be there for a judged number
high = "8950 kg/m3"
source = "kind of source, author, year"
provenance = "seen"
judged = false             # true keeps every design on this card at 'feasible with open items'
```

`provenance` is one of {provenance}. {judged} must be marked as judged. A field that is left out
makes the tool refuse the run and name it: it never guesses. A card has a life law (`life_intercept`
and `life_slope`) or a declared life (the last three fields), in the card or in the study.
Temperatures are at zero stress. Units of a card are those of this list, not any unit:
"""


def study_reference() -> str:
    """Return the page."""
    parts = [TOP]
    parts += _section("`[study]`", Head)
    parts += _section("`[vehicle]`", Vehicle)
    parts += _structures()
    parts += _section("`[[vehicle.wing]]`, two or more", Breakpoint)
    parts += [STATIONS]
    parts += _section("`[bench]`", Bench, BENCH.format(fields=_words(OF_VEHICLES)))
    parts += _section("`[supply]`", Supply)
    parts += _buses()
    parts += _section("`[requirements]`", Requirements)
    parts += _section("`[actuator]`", Actuator)
    parts += _finishes()
    parts += ["### Table of hinge moments\n", TABLE]
    parts += ["## `[fidelity]`\n", FIDELITY]
    for role, fields in level_fields().items():
        parts += [f"Fields of `{role}`:\n", _table(_rows(fields))] if fields else []
    parts += _section("`[[case]]`", Case, CASES)
    parts += ["### `[case.return]`\n", RETURN.format(fields=_words(RETURN_KEYS))]
    parts += ["### Cases in a table\n", CASE_TABLE]
    parts += ["## `[design]`\n", DESIGN, _design_table()]
    parts += ["## `[analysis]`\n", "`evaluate` has no options.\n"]
    parts += ["### `[analysis.optimum]`\n", _table(_rows(declared(OptimumOptions)))]
    parts += ["### `[analysis.defence]`\n", _table(_rows(declared(DefenceOptions)))]
    parts += ["### `[analysis.defence.stock]`\n", _table(_rows(declared(Stock)))]
    fields = _words(CHOICE_FIELDS)
    parts += [
        "### `[analysis.defence.choices]`\n",
        CHOICES.format(most=f"{COMBINATIONS_MAX:,}", fields=fields),
    ]
    parts += _explorations()
    parts += _assumptions()
    parts += ["## Alloy card\n", _card(), _card_table()]
    return "\n".join(part.strip("\n") + "\n" for part in parts)


def _explorations() -> list[str]:
    """Return heading, text and tables of every exploration."""
    parts = []
    for name, plan in PLANS.items():
        about = (plan.__doc__ or "").partition(": ")[2]
        parts += [f"### `[analysis.{name}]`\n", f"{about[:1].upper()}{about[1:]}\n"]
        parts += [_table(_rows(declared(plan)))]
    return parts


def _section(title: str, section: type, text: str = "") -> list[str]:
    """Return heading, text and table of a section."""
    return [f"## {title}\n", *([text] if text else []), _table(_rows(declared(section)))]


def _rows(fields: Mapping[str, Field]) -> list[Sequence[str]]:
    """Return the rows of declared fields."""
    return [
        (f"`{name}`", _unit(field), _allowed(field), _default(field), field.text, _origin(field))
        for name, field in fields.items()
        if field.kind != "tables"  # a heading of its own
    ]


def _unit(field: Field) -> str:
    """Return the SI unit of a field, or what kind of word it is."""
    if field.kind in {"quantity", "variable", "difference"}:
        return f"{field.unit}, difference" if field.kind == "difference" else field.unit
    return {"integer": "whole number", "boolean": "true/false", "choice": "word",
            "section": "table"}.get(field.kind, field.kind)  # fmt: skip


def _allowed(field: Field) -> str:
    """Return range or words of a field."""
    if field.item:
        least = f"{field.least} or more, each " if field.least > 1 else ""
        return least + _allowed(field.item)
    if field.kind == "pair":
        return field.text
    if field.kind == "choice":
        return _words(field.choices)
    if field.kind == "name":
        return "up to 64 letters, digits, `_`, `-`"
    if field.low is None or field.high is None:
        return ""
    ends = f"{_number(field.low)} to {_number(field.high)}"
    return ends + (', or `"none"`' if field.nullable else "")


def _number(value: str | float) -> str:
    """Return the end of a range as a reader would write it."""
    return value if isinstance(value, str) else f"{value:,.10g}"


def _default(field: Field) -> str:
    """Return the default of a field, or what stands in for it."""
    if field.required:
        return "**required**"
    if isinstance(field.default, tuple):
        return ", ".join(f"`{word}`" for word in field.default) or "empty"
    if field.default is None:
        empty = "empty" if field.kind in {"table", "section"} else "none"
        return field.otherwise or (f"that of `[{field.inherits}]`" if field.inherits else empty)
    if isinstance(field.default, bool):
        return f"`{str(field.default).lower()}`"
    if field.default == "":
        return "empty"
    return f"`{_written(field.default)}`"


def _written(value: object) -> str:
    """Return a value as a study file has it."""
    return f'"{value}"' if isinstance(value, str) else f"{value}"


def _origin(field: Field) -> str:
    """Return where the default of a field comes from."""
    source = plain_source(field.provenance)
    if field.origin != "judgement":
        return source
    source = re.sub(r"^(?:engineering )?judg(?:ement|ed)\b[;:,]?\s*", "", source)
    return f"judged: {source}" if source else "judged"


def plain_source(text: str) -> str:
    """Return a source with the marks of this project's own notes written out."""
    number = r"(?:\s+\d+(?:\.\d+)?(?: and \d+\.\d+)?(?: item \d+)?)?"
    text = re.sub(r"\s*\[S\d+\]", "", text)
    text = text.replace("the reference counts", "notes of this project count")
    text = re.sub(r"(judgement) of the reference|(roll-up) of the reference", r"\1\2", text)
    note = rf"(?:the )?reference(?: hinge-moment)?,?(?: sections?)?{number}"
    text = re.sub(note, "notes of this project", text)
    text = re.sub(r"^sma-tubes|sizing notes, item \d+", "notes of this project", text)
    return text.strip(" ;")


def _words(words: Iterable[str]) -> str:
    """Return words as a list of code."""
    return ", ".join(f"`{word}`" for word in words)


def _table(rows: Iterable[Sequence[str]], head: Sequence[str] = HEAD) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "".join(
        "| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines
    )


def _celsius(kelvin: float) -> str:
    return f"{kelvin - ZERO_CELSIUS:.0f} degC"


def _structures() -> list[str]:
    rows = [(f"`{name}`", _celsius(limit)) for name, limit in STRUCTURES.items()]
    return ["`structure` sets the temperature limit:\n", _table(rows, ("word", "limit"))]


def _buses() -> list[str]:
    rows = [
        (f"`{name}`", f"{bus.nominal:g} V", f"{bus.low:g} to {bus.high:g} V",
         f"{bus.allowed_drop:g} V", bus.provenance)
        for name, bus in BUSES.items()
    ]  # fmt: skip
    head = ("word", "nominal", "steady range", "drop allowed", "from")
    text = (
        f"The voltage of a battery falls from {BATTERY_HIGH:g} to {BATTERY_LOW:g} of the nominal "
        "one over its discharge (judged), whatever the bus. A battery cannot feed `115 V ac`.\n"
    )
    ratings = _words(WIRE_RATINGS)
    return ["`bus` sets the voltages:\n", _table(rows, head), text,
            f"`wire_rating` is one of the columns of the wire table: {ratings}.\n"]  # fmt: skip


def _finishes() -> list[str]:
    rows = [(f"`{name}`", f"{value:g}") for name, value in FINISHES.items()]
    text = "`finish` sets the emissivity of the outer face:\n"
    return [text, _table(rows, ("word", "emissivity"))]


def _design_table() -> str:
    rows = [
        (f"`{name}`" + (", per set" if field.per_set else ""), field.unit, _allowed(field),
         f"{field.lower} to {field.upper}", field.text)
        for name, field in declared(Design).items()
    ]  # fmt: skip
    return _table(rows, ("variable", "unit", "allowed", "default bounds", "meaning"))


def _assumptions() -> list[str]:
    text = (
        "Constants of the models, in groups; all optional. `fold-mdo check --all` lists them with "
        "the values of your study. The uncertainty of the result is computed over these ranges.\n"
    )
    parts = ["## `[assumptions]`\n", text]
    for group, fields in assumption_fields().items():
        parts += [f"### `[assumptions.{group}]`\n", _table(_rows(fields))]
    return parts


def _card() -> str:
    """Return the text on alloy cards."""
    text = CARD.format(
        kinds=_words(KINDS), provenance=_words(PROVENANCE), judged=_words(JUDGED_PROVENANCE)
    )
    units = [(kind, _words(unit for unit in UNITS[kind] if unit)) for kind in UNITS]
    return f"{text}\n{_table(units, ('SI unit', 'units that a card may use'))}"


def _card_table() -> str:
    lines = (QUANTITIES[name] for name in CARD_FIELDS)
    rows = [(f"`{of.name}`", of.unit, f"{of.low} to {of.high}", of.meaning) for of in lines]
    return _table(rows, ("field", "unit", "allowed", "meaning"))


if __name__ == "__main__":
    PAGE.write_text(study_reference(), encoding="utf-8", newline="\n")
