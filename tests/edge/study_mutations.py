"""Shipped studies with one change that makes them wrong, or leaves them right.

What a change does is known from how it is made, not from the tool.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

# those of vehicles: the mutations know their sections; benches have tests of bad input of their own
STUDIES = sorted((Path(__file__).parents[2] / "studies").glob("deck_*.toml"))
FREE_TEXT = {"title", "description", "probability", "name"}
# factor (and offset) to SI of units as they occur in the shipped studies: by definition
FACTORS = {
    "kg": 1.0, "m": 1.0, "mm": 1e-3, "m2": 1.0, "s": 1.0, "deg": 0.017453292519943295, "W": 1.0,
    "kW": 1e3, "N*m": 1.0, "MPa": 1e6, "m/s": 1.0, "kt": 1852 / 3600, "deg/s": 0.017453292519943295,
    "rad/s2": 1.0,
}  # fmt: skip
SAME = {"kg": ("g", 1e3), "m": ("mm", 1e3), "mm": ("um", 1e3), "s": ("ms", 1e3), "kW": ("W", 1e3),
        "W": ("mW", 1e3), "MPa": ("kPa", 1e3), "N*m": ("kN*m", 1e-3), "m2": ("cm2", 1e4),
        "kt": ("m/s", 1852 / 3600)}  # fmt: skip
OTHER = {"kg": "m", "m": "kg", "mm": "s", "m2": "m", "s": "m", "deg": "kg", "W": "V", "kW": "K",
         "N*m": "rad", "MPa": "N", "m/s": "m", "kt": "kg", "deg/s": "m/s", "rad/s2": "rad/s",
         "degC": "m", "K": "Pa"}  # fmt: skip
REQUIRED = {
    "study": ("name",), "vehicle": ("name", "mass", "structure"),
    "wing": ("station", "leading_edge", "chord", "thickness_ratio"),
    "supply": ("bus", "source", "power_available", "run_length"),
    "requirements": ("fold_time", "return_time"),
    "actuator": ("alloy", "configuration", "topology", "heater"),
    "case": ("id", "kind", "location"),
}  # fmt: skip
OPTIONAL = {
    "study": ("title", "description", "seed"),
    "vehicle": ("panel_mass", "skin_thickness", "clearance", "bearing_radius", "seal_moment"),
    "requirements": ("torque_margin", "length_to_diameter_max"),
    "actuator": ("finish", "brake", "gear_lanes", "return_mode"),
    "case": ("title", "mass_fraction", "probability", "wind_speed", "deck_roll", "load_factor",
             "roll_rate", "gust_speed", "sideslip"),
}  # fmt: skip
BAD_NAMES = (
    "..", "../x", "a/b", "/etc/passwd", "C:\\\\x", "con", "NUL", "com1", "LPT9", "x" * 65, "", " ",
    ".hidden", "dot.", "a\\u202eb", "-x", "a b", "é", "a\\u0000b", "~", "*", "a:b",
)  # fmt: skip
HOSTILE = (
    "<script>alert(1)</script>", "{0} {x!r} %s %n", "שלום عربى", "😀 𝕬", "=1+1", "[red]bold[/red]",
    "' OR 1=1 --", "&lt;b&gt;", "$(reboot) `id`", "line\\nbreak\\ttab", "}} {{",
    "</style><svg/onload=x>",
)  # fmt: skip
HIDDEN = (
    "\\u001b[31m",
    "\\u0007",
    "\\u202e",
    "\\u2066",
    "\\u0000",
    "\\u009b",
    "\\u2028",
    "\\u007f",
)


@dataclass(frozen=True)
class Entry:
    """One ``key = value`` line of a study: where it is and how messages name it."""

    line: int
    kind: str
    path: str
    key: str
    value: str

    @property
    def quantity(self) -> tuple[str, str] | None:
        """Number and unit, for a quantity with one."""
        found = re.fullmatch(r'"(-?[\d.]+) ([A-Za-z*/2]+)"', self.value)
        return (found[1], found[2]) if found and found[2] in OTHER else None


@dataclass(frozen=True)
class Mutation:
    """A changed study: its bytes, and what the tool has to say of it.

    ``needles`` are the parts of the one line that a wrong study must get; None for a right study,
    of which ``value`` may hold the path and the SI value that must be read.
    """

    what: str
    data: bytes
    needles: tuple[str, ...] | None
    value: tuple[str, float] | None = None


def entries(text: str) -> list[Entry]:
    """Entries of a shipped study, one a line; values that go over several lines are left out."""
    found: list[Entry] = []
    kind = path = ""
    count = {"wing": 0, "case": 0}
    name = ""
    lines = text.splitlines()
    for number, line in enumerate(lines):
        head = re.match(r"\[+([\w.]+)\]+", line)
        if head and "=" not in line.split("#")[0]:
            section = head[1]
            kind = section.rpartition(".")[2]
            path = section
            if section == "case":
                name = next(
                    named[1]
                    for later in lines[number:]
                    if (named := re.match(r'id = "(\w+)"', later))
                )
                path = f"case.{name}"
            elif section == "case.return":
                path = f"case.{name}.return"
            elif kind in count:
                count[kind] += 1
                path = f"{section}[{count[kind]}]"
            continue
        pair = re.match(r'(\w+) = ("[^"]*"|[^\[#"]+?)\s*(#.*)?$', line)
        if pair:
            found.append(Entry(number, kind, path, pair[1], pair[2]))
    return found


class Workshop:
    """Makes mutations of one study with one source of chance."""

    def __init__(self, path: Path, chance: random.Random) -> None:
        self.text = path.read_text(encoding="utf-8")
        self.lines = self.text.splitlines()
        self.entries = entries(self.text)
        self.chance = chance

    def some(self, fits: Callable[[Entry], object]) -> Entry:
        """One of the entries that fit."""
        return self.chance.choice([one for one in self.entries if fits(one)])

    def put(self, entry: Entry, *lines: str) -> bytes:
        """The study with other lines in the place of an entry."""
        return "\n".join(
            [*self.lines[: entry.line], *lines, *self.lines[entry.line + 1 :], ""]
        ).encode()

    def valued(self, entry: Entry, value: str) -> bytes:
        """The study with another value of an entry."""
        return self.put(entry, f"{entry.key} = {value}")

    def wrong(self, what: str, entry: Entry, value: str, *needles: str) -> Mutation:
        """A wrong value: the message must name the field and hold the needles."""
        return Mutation(what, self.valued(entry, value), (f"{entry.path}.{entry.key}: ", *needles))

    # ---- Changes that make a study wrong

    def misspelt(self) -> Mutation:
        entry = self.some(lambda one: True)
        key = entry.key[:-1] + "_x"
        needles = (f"{entry.path}.{key}: unknown key", f'"{key}"', "expected one of")
        if entry.key == "id":
            needles = (f".{key}: unknown key", *needles[1:])
        return Mutation("misspelt", self.put(entry, f"{key} = {entry.value}"), needles)

    def no_unit(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        number = entry.quantity[0] if entry.quantity else ""
        value = self.chance.choice([number, f'"{number}"'])
        return self.wrong("no unit", entry, value, "missing unit", number, "write for example")

    def other_dimension(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        number, unit = entry.quantity or ("", "")
        return self.wrong(
            "other dimension", entry, f'"{number} {OTHER[unit]}"', "wrong dimension", OTHER[unit]
        )

    def unknown_unit(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        unit = self.chance.choice(["furlongz", "m**", "/", "kg*", "€", "m^^2", "()", "\\\\", "%%"])
        return self.wrong("unknown unit", entry, f'"1 {unit}"', "unknown unit", "expected a unit")

    def not_finite(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        unit = (entry.quantity or ("", ""))[1]
        value = self.chance.choice([f'"nan {unit}"', f'"inf {unit}"', f'"-inf {unit}"', "nan"])
        return self.wrong("not finite", entry, value, "not a finite number", "expected")

    def out_of_range(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        unit = (entry.quantity or ("", ""))[1]
        value = self.chance.choice([f"1e13 {unit}", f"-1e13 {unit}"])
        return self.wrong("out of range", entry, f'"{value}"', "out of range", value, "expected")

    def other_type(self) -> Mutation:
        entry = self.some(lambda one: one.value not in {"true", "false"} and one.key != "id")
        value, shown = self.chance.choice(
            [("true", "true"), ("[1]", "a list of 1"), ("{ a = 1 }", "a table"),
             ("1979-05-27", "1979-05-27")]
        )  # fmt: skip
        return self.wrong("other type", entry, value, "wrong type", shown, "expected")

    def decimal_comma(self) -> Mutation:
        entry = self.some(lambda one: one.quantity)
        unit = (entry.quantity or ("", ""))[1]
        value = self.chance.choice(["0,5", "1,25", "0,250", "3,1416"]) + f" {unit}"
        return self.wrong("decimal comma", entry, f'"{value}"', "not a quantity", value, "a point")

    def unknown_word(self) -> Mutation:
        words = {"section", "structure", "bus", "source", "alloy", "configuration", "topology",
                 "return_mode", "heater", "cooling", "finish", "kind", "location",
                 "reacted_by"}  # fmt: skip
        entry = self.some(lambda one: one.key in words)
        word = entry.value.strip('"')
        return self.wrong("unknown word", entry, f'"{word}z"', "unknown", f"{word}z", word)

    def missing(self) -> Mutation:
        entry = self.some(lambda one: one.key in REQUIRED.get(one.kind, ()))
        needles = (f".{entry.key}: missing", "expected")
        return Mutation("missing", self.put(entry), needles)

    def missing_of_kind(self) -> Mutation:
        keys = {"fold_from", "fold_to", "folds_per_life", "fold_at", "mach", "airspeed_equivalent"}
        entry = self.some(lambda one: one.key in keys and one.kind == "case")
        named = "mach" if entry.key == "airspeed_equivalent" else entry.key
        return Mutation(
            "missing of kind", self.put(entry), (f"{entry.path}.{named}: missing", "expected")
        )

    def twice(self) -> Mutation:
        entry = self.some(lambda one: True)
        line = self.lines[entry.line]
        return Mutation(
            "twice", self.put(entry, line, line), ("not TOML", f"line {entry.line + 2}")
        )

    def section_twice(self) -> Mutation:
        head = self.chance.choice(["study", "vehicle", "supply", "requirements", "actuator"])
        data = f"{self.text}\n[{head}]\n".encode()
        return Mutation("section twice", data, ("not TOML", "(at ", "expected a study file"))

    def unknown_section(self) -> Mutation:
        head = self.chance.choice(["vehicles", "suply", "foo", "Case", "designs"])
        data = f"{self.text}\n[{head}]\nx = 1\n".encode()
        return Mutation("unknown section", data, (f"{head}: unknown key", "expected one of"))

    def cut(self) -> Mutation:
        entry = self.some(lambda one: one.value.startswith('"'))
        data = "\n".join([*self.lines[: entry.line], f"{entry.key} = {entry.value[:-1]}"]).encode()
        return Mutation("cut", data, ("not TOML", "(at ", "expected a study file"))

    def broken_syntax(self) -> Mutation:
        entry = self.some(lambda one: one.value.startswith('"'))
        bare = entry.value.strip('"') or "x"
        line = self.chance.choice(
            [f"{entry.key} = {entry.value[1:]}", f"{entry.key} {entry.value}", f"{entry.key} =",
             f"= {entry.value}", f"[{entry.key}", f"{entry.key} = '{bare}", f"{entry.key}: 1"]
        )  # fmt: skip
        return Mutation("broken syntax", self.put(entry, line), ("not TOML", "(at ", "expected"))

    def other_encoding(self) -> Mutation:
        text = f"# Größe\n{self.text}"
        name = self.chance.choice(["utf-16", "utf-16-le", "latin-1", "cp1252", "utf-32"])
        needles = ("save the file again as UTF-8",)
        if name == "utf-16-le":  # half of the bytes are NUL: valid UTF-8 but for the umlauts
            needles = ("UTF-8",)
        return Mutation(f"encoding {name}", text.encode(name, "replace"), needles)

    def raw_control(self) -> Mutation:
        entry = self.some(lambda one: one.key in FREE_TEXT)
        character = self.chance.choice(["\x00", "\x07", "\x1b[2J", "\x7f", "\x08"])
        return Mutation(
            "raw control", self.valued(entry, f'"a{character}b"'), ("not TOML", "(at ", "expected")
        )

    def hidden_text(self) -> Mutation:
        entry = self.some(lambda one: one.key in FREE_TEXT and one.path != "study")
        character = self.chance.choice(HIDDEN)
        code = f"U+{character[2:6].upper()}"
        return self.wrong("hidden text", entry, f'"a{character}b"', "hidden character", code)

    def bad_name(self) -> Mutation:
        entry = self.some(lambda one: one.key == "name" and one.kind == "study")
        name = self.chance.choice(BAD_NAMES)
        return self.wrong("bad name", entry, f'"{name}"', " name, got ", "expected")

    def bad_case_id(self) -> Mutation:
        entry = self.some(lambda one: one.key == "id")
        name = self.chance.choice(BAD_NAMES)
        return Mutation(
            "bad case id", self.valued(entry, f'"{name}"'), (".id: ", " name, got ", "expected")
        )

    def same_id(self) -> Mutation:
        first, second = self.chance.sample([one for one in self.entries if one.key == "id"], 2)
        return Mutation(
            "same id", self.valued(second, first.value), (".id: duplicate", first.value)
        )

    def contradiction(self) -> Mutation:
        added = {
            "deck": ['mach = 0.3', 'gust_speed = "3 m/s"', 'sideslip = "1 deg"'],
            "air": ['wind_speed = "3 m/s"', 'deck_roll = "1 deg"'],
        }  # fmt: skip
        entry = self.some(lambda one: one.key == "location" and one.kind == "case")
        line = self.chance.choice(added[entry.value.strip('"')])
        key = line.partition(" ")[0]
        given = {one.key for one in self.entries if one.path == entry.path}
        needles = (f"{entry.path}.{key}: contradiction", "remove it")
        if key in given:  # then the line is there twice
            needles = ("not TOML", "line")
        return Mutation("contradiction", self.put(entry, self.lines[entry.line], line), needles)

    def contradiction_of_study(self) -> Mutation:
        head, line, needle = self.chance.choice(
            [("vehicle", 'fold_station = "0.5 m"', "vehicle.fold_station"),
             ("vehicle", 'panel_mass = "1e4 kg"', "vehicle.panel_mass"),
             ("requirements", 'bay_hot = "-60 degC"', "requirements.bay"),
             ("actuator", 'cooling_air_speed = "3 kg"', "actuator.cooling_air_speed"),
             ("actuator", 'table = "x.csv"', "actuator.table"),
             ("actuator", 'hinge_moment = "table"', "actuator.hinge_moment")]
        )  # fmt: skip
        key = line.partition(" ")[0]
        place = self.lines.index(f"[{head}]")
        lines = [one for one in self.lines if not (one.startswith(f"{key} = "))]
        if key == "fold_station":
            lines = [one for one in lines if not one.startswith("fold_fraction = ")]
            line = 'fold_station = "99 km"'
        place = lines.index(f"[{head}]") if place else 0
        data = "\n".join([*lines[: place + 1], line, *lines[place + 1 :], ""]).encode()
        return Mutation("contradiction of study", data, (needle, "expected"))

    # ---- Changes that leave a study right

    def same_value(self) -> Mutation:
        entry = self.some(lambda one: one.quantity and one.quantity[1] in SAME)
        number, unit = entry.quantity or ("", "")
        name, factor = SAME[unit]
        value = f"{float(number) * factor!r} {name}"
        return self.right("same value", entry, f'"{value}"', float(number) * FACTORS[unit])

    def near_value(self) -> Mutation:
        edges = {"station", "chord", "mach"}
        entry = self.some(
            lambda one: one.quantity and one.quantity[1] in FACTORS and one.key not in edges
        )
        number, unit = entry.quantity or ("", "")
        value = float(number) * self.chance.uniform(0.99, 1.0)
        return self.right("near value", entry, f'"{value!r} {unit}"', value * FACTORS[unit])

    def other_spelling(self) -> Mutation:
        entry = self.some(lambda one: one.quantity and one.quantity[1] in FACTORS)
        number, unit = entry.quantity or ("", "")
        spelt = self.chance.choice(
            [f'"{float(number):.12e} {unit}"', f'"{number}{unit}"', f"'  {number}   {unit} '",
             f'"""{number} {unit}"""', f'"{float(number):+.9f} {unit}"', f'"{number}\\u00a0{unit}"']
        )  # fmt: skip
        return self.right("other spelling", entry, spelt, float(number) * FACTORS[unit])

    def right(self, what: str, entry: Entry, value: str, si: float) -> Mutation:
        return Mutation(what, self.valued(entry, value), None, (f"{entry.path}.{entry.key}", si))

    def left_out(self) -> Mutation:
        entry = self.some(lambda one: one.key in OPTIONAL.get(one.kind, ()))
        return Mutation("left out", self.put(entry), None)

    def form(self) -> Mutation:
        change = self.chance.choice(
            [lambda t: "\ufeff" + t, lambda t: t.replace("\n", "\r\n"),
             lambda t: t.replace(" = ", "\t=  "), lambda t: re.sub(r"#.*", "", t),
             lambda t: t + "\n\n# שלום 😀\n", lambda t: re.sub(r"(?m)^(\w+) = ", r'"\1" = ', t)]
        )  # fmt: skip
        return Mutation("form", change(self.text).encode(), None)

    def hostile_text(self) -> Mutation:
        entry = self.some(
            lambda one: one.key in FREE_TEXT and (one.kind, one.key) != ("study", "name")
        )
        return Mutation(
            "hostile text", self.valued(entry, f'"{self.chance.choice(HOSTILE)}"'), None
        )


WRONG = (
    "misspelt", "no_unit", "other_dimension", "unknown_unit", "not_finite", "out_of_range",
    "other_type", "decimal_comma", "unknown_word", "missing", "missing_of_kind", "twice",
    "section_twice", "unknown_section", "cut", "broken_syntax", "other_encoding", "raw_control",
    "hidden_text", "bad_name", "bad_case_id", "same_id", "contradiction", "contradiction_of_study",
)  # fmt: skip
RIGHT = ("same_value", "near_value", "other_spelling", "left_out", "form", "hostile_text")


def mutation(seed: int) -> Mutation:
    """One mutation: four of five wrong, studies and changes in turn."""
    chance = random.Random(seed)
    shop = Workshop(STUDIES[seed % len(STUDIES)], chance)
    name = chance.choice(RIGHT) if seed % 5 == 0 else chance.choice(WRONG)
    made = getattr(shop, name)()
    assert isinstance(made, Mutation)
    return made
