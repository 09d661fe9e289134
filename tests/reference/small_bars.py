"""Writes MusicXML of a bar or two for the tests of `plain_room.py`, in invented music."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import plain_events
import plain_room

QUARTER = 96
"""Divisions of a quarter: enough for triplets of 32nds."""
KINDS = {32: "breve", 16: "whole", 8: "half", 4: "quarter", 2: "eighth", 1: "16th"}
FULL_SIZE_SCALING = "<scaling><millimeters>7.056</millimeters><tenths>40</tenths></scaling>"
"""A staff space of 1.764 mm, so that an em of 10 points is 2 spaces and a letter `n` one."""


def kind_of(length: Fraction) -> tuple[str, int]:
    """The written value of a length in whole notes, and its dots; triplets by their written value."""
    for dots, factor in ((0, Fraction(1)), (1, Fraction(3, 2)), (2, Fraction(7, 4))):
        sixteenths = length / factor * 16
        if sixteenths == Fraction(1, 2):
            return "32nd", dots
        if sixteenths.denominator == 1 and int(sixteenths) in KINDS:
            return KINDS[int(sixteenths)], dots
    return kind_of(length * Fraction(3, 2))


def note(length: str | Fraction, *, steps: str = "G4", inside: str = "", beamed: bool | None = None) -> str:
    """A note or chord of a length in whole notes; `inside` goes into its first head."""
    whole = Fraction(length)
    kind, dots = kind_of(whole)
    # Beamed unless the test is about flags.
    beam = "<beam number='1'>begin</beam>" if (whole < Fraction(1, 4) if beamed is None else beamed) else ""
    text = ""
    for index, step in enumerate(steps.split()):
        pitch = f"<pitch><step>{step[0]}</step><octave>{step[1]}</octave></pitch>"
        text += (
            f"<note>{'<chord/>' if index else ''}{pitch}<duration>{whole * 4 * QUARTER}</duration><voice>1</voice>"
            f"<type>{kind}</type>{'<dot/>' * dots}<staff>1</staff>{beam}{inside if index == 0 else ''}</note>"
        )
    return text


def row(length: str | Fraction, count: int, **more: object) -> str:
    """The same note several times."""
    return note(length, **more) * count  # type: ignore[arg-type]


def graces(count: int) -> str:
    """Grace notes, one after the other."""
    pitch = "<pitch><step>A</step><octave>4</octave></pitch>"
    return f"<note><grace/>{pitch}<voice>1</voice><type>eighth</type><staff>1</staff></note>" * count


def lyric(letters: int, syllabic: str) -> str:
    """A syllable as many staff spaces wide as it has letters."""
    return f"<lyric number='1'><syllabic>{syllabic}</syllabic><text>{'n' * letters}</text></lyric>"


def whole_rest(length: str = "1") -> str:
    """A whole-bar rest."""
    duration = Fraction(length) * 4 * QUARTER
    return f"<note><rest measure='yes'/><duration>{duration}</duration><voice>1</voice><staff>1</staff></note>"


def score(bars: list[str], staves: int = 1) -> ET.Element:
    """A score of one part. Notes of several staves stand one after the other, with backups between."""
    first = f"<attributes><divisions>{QUARTER}</divisions><staves>{staves}</staves></attributes>"
    text = "".join(f"<measure number='{n}'>{first if n == 1 else ''}{bar}</measure>" for n, bar in enumerate(bars, 1))
    return ET.fromstring(
        f"<score-partwise version='4.0'><defaults>{FULL_SIZE_SCALING}</defaults>"
        "<part-list><score-part id='P1'><part-name>Treble</part-name></score-part></part-list>"
        f"<part id='P1'>{text}</part></score-partwise>"
    )


def back(length: str | Fraction) -> str:
    """Back by a length in whole notes."""
    return f"<backup><duration>{Fraction(length) * 4 * QUARTER}</duration></backup>"


def bar(content: str, staves: int = 1) -> plain_room.Bar:
    """The reckoned bar; it stands inside a system, with an empty bar before it."""
    return all_bars([whole_rest(), content], staves)[1]


def all_bars(contents: list[str], staves: int = 1) -> list[plain_room.Bar]:
    """Several bars of one system."""
    read = plain_events.read(score(contents, staves))
    printed = frozenset(range(1, staves + 1))
    return [
        plain_room.reckon([plain_room.Printed(part_bar, printed)], index == 0, read.millimetres_per_space)
        for index, part_bar in enumerate(read.parts["P1"])
    ]
