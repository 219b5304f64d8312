"""Words of a bench: what pages and tables say of wings and an aircraft, said of one assembly.

Physics and words of a study on a bench are those of an aircraft with one assembly in place of two.
Where a text leaves the tool its phrases are put in those of the bench; the user's own words stay.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

# Longest first: a phrase is looked for before its parts. A space stands for any white space.
_PHRASES = {
    "Moments, tubes, gears and envelope are those of one wing (the right one, the left is its "
    "mirror). Power, energy, battery, controller and system mass are those of the aircraft, both "
    "wings moving together. System mass = 2 x lines of a wing + shared lines, growth included.":
        "All masses, moments and powers are those of the one assembly on the bench. System mass = "
        "sum of all lines, growth included.",
    "Wing section at the fold, greatest thickness": "Envelope of the bench, height",
    "Wing section at the fold, chord": "Envelope of the bench, length",
    "; seen from the root, nose to the left": "; seen from the side",
    "with the bundle of one wing along the chord": "with the bundle along it",
    "above in the wing section at the fold, where both its ends see the same height between skins "
    "and clearances (dashed)": "above in the envelope of the bench",
    "cut across the chord, with the skins where the wing has least height over it":
        "cut across, in the envelope of the bench",
    "What belongs to a wing, what to the aircraft": "Whose masses these are",
    "; masses and peak_power are of the aircraft, moments of one wing": "; of the one assembly",
    "system_mass, masses and peak_power are of the aircraft, moments of one wing":
        "all of the one assembly",
    "hand: heating turns the panel of the right wing up, the left wing is its mirror":
        "hand: heating turns the hinge up",
    "hand: heating turns the panel of the right wing down, the left wing is its mirror":
        "hand: heating turns the hinge down",
    "half of them for the left wing, pre-twisted to the other hand": "",
    "safety of people while the wing folds on the ground": "safety of people while the hinge turns",
    "in maintenance (no case of this study folds on deck)": "on the bench",
    "Heat soak may move the wing on the ramp": "Heat soak may move the hinge",
    "streamers, dead-man command, audible and visual warning and a ground-clearance interlock":
        "guards, dead-man command and audible and visual warning",
    "Flexibility of wing and panel, flutter, flight mechanics with folded or unequal panels.":
        "Flexibility of the bench and of what it turns.",
    "Hinge, wing structure around it and fairing: common to every concept, not in the mass.":
        "Hinge and frame of the bench: common to every concept, not in the mass.",
    "Loads between Mach 0.85 and the end of the transonic range: cubics between the two methods.":
        "",
    "Stall, body upwash and tail trim; gust, sideslip and wind are added worst on worst.": "",
    "air load and gravity, against the driver": "load, against the driver",
    "resisting parts of air load, gravity, inertia and damping at limit load":
        "the load of the bench at limit load, with the inertia of the motion",
    ", if less than the wing offers": "",
    "loads at the upper end of their band": "load at the upper end of its band",
    "heat the wings in turn": "heat the sets in turn",
    "flight control and monitoring of the fold": "control and monitoring of the motion",
    "the aircraft's fold actuation": "the assembly",
    "the aircraft&#39;s fold actuation": "the assembly",
    "← root": "",
    "tip →": "",
    "for the aircraft, both wings": "for the one assembly",
    "the aircraft grants to both wings": "the bench grants",
    "of the aircraft, both wings moving together": "of the one assembly",
    "aircraft, both wings": "assembly",
    "aircraft, shared": "assembly, shared",
    "aircraft (both wings)": "assembly",
    "for both wings": "for the assembly",
    "of both wings": "of the assembly",
    "of one wing": "of the assembly",
    "(one wing, limit load)": "(limit load)",
    "one wing;": "",
    ", one wing": "",
    "One wing, limit load": "Limit load",
    "limit load. One wing.": "limit load.",
    "One wing.": "",
    "one wing": "assembly",
    "One wing": "Assembly",
    "the vehicle": "the bench",
    "Vehicle:": "Bench:",
    "vehicles": "benches",
    "vehicle": "bench",
    "aircraft": "assembly",
    "Aircraft": "Assembly",
    "both wings": "the assembly",
    "the wing": "the hinge",
    "The wing": "The hinge",
    "wings": "assemblies",
    "wing": "assembly",
    "the panel": "the hinge",
    "tip-up positive": "up positive",
    "panels": "moving parts",
    "panel": "moving part",
    "chord": "length",
}  # fmt: skip


def _anywhere(phrase: str) -> str:
    """Pattern of a phrase: whole words, any white space between them."""
    pattern = r"\s+".join(map(re.escape, phrase.split()))
    first, last = (r"\b(?<!-)" if phrase[0].isalpha() else "", r"\b(?!-)")
    return first + pattern + (last if phrase[-1].isalpha() else "")


# with the gap to the next column of a table in a terminal
_PLACES = re.compile(rf"(?:{'|'.join(map(_anywhere, _PHRASES))})(?P<gap> {{2,}})?")
# What of a page is no text of the tool: libraries, style, the study file; tags but their texts.
_NOT_TEXT = re.compile(
    r"(?s)<style.*?</style>|<pre.*?</pre>|<script(?:(?!Plotly\.newPlot).)*?</script>"
    r'|<(?!script)(?:[^<>"]|"[^"]*")*>'
)
_TEXTS_OF_TAGS = re.compile(r'(?<= )((?:aria-label|alt|title)=")([^"]*)')


def bench_words(study: Mapping[str, Any], said: Any) -> Any:
    """Text, or plain data with texts, in the words of a bench where the study is one.

    Parameters
    ----------
    study : content of its file; the user's own words (titles, names) are left as they are
    said : text, table, or lists and dictionaries of such
    """
    return _worded(said, _own_words(study)) if "bench" in study else said


def bench_page(study: Mapping[str, Any], page: str) -> str:
    """Page in the words of a bench where the study is one; its code and tags stay as they are."""
    if "bench" not in study:
        return page
    own, parts, end = _own_words(study), [], 0
    for code in _NOT_TEXT.finditer(page):
        tag = _TEXTS_OF_TAGS.sub(lambda text: text[1] + _text(text[2], own), code[0])
        parts += [_text(page[end : code.start()], own), tag]
        end = code.end()
    return "".join([*parts, _text(page[end:], own)])


def _own_words(study: Mapping[str, Any]) -> re.Pattern[str]:
    """What the user wrote and the tool repeats."""
    head, cases = study["study"], study.get("case", ())
    said = [head.get("name"), head.get("title"), head.get("description"), study["bench"]["name"]]
    said += [text for case in cases for text in (case.get("id"), case.get("title"))]
    words = sorted({text for text in said if text}, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, words))})(?!\w)")


def _worded(said: Any, own: re.Pattern[str]) -> Any:
    if isinstance(said, str):
        return _text(said, own)
    if isinstance(said, pd.DataFrame):
        texts = [name for name in said if not pd.api.types.is_numeric_dtype(said[name])]
        return said.assign(**{name: said[name].map(lambda cell: _worded(cell, own))
                              for name in texts})  # fmt: skip
    if isinstance(said, Mapping):
        return {key: _worded(value, own) for key, value in said.items()}
    if isinstance(said, list | tuple) and type(said) in {list, tuple}:
        return type(said)(_worded(value, own) for value in said)
    return said


def _text(text: str, own: re.Pattern[str]) -> str:
    """Text with the phrases of a bench between the user's own words."""
    parts, end = [], 0
    for kept in own.finditer(text):
        parts += [_PLACES.sub(_phrase, text[end : kept.start()]), kept[0]]
        end = kept.end()
    return "".join([*parts, _PLACES.sub(_phrase, text[end:])])


def _phrase(place: re.Match[str]) -> str:
    said = _PHRASES[" ".join(place[0].split())]
    return said if place["gap"] is None else said.ljust(max(len(place[0]), len(said) + 2))
