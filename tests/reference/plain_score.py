"""What a MusicXML file says, bar by bar, read the plainest way: whole tree in memory, partwise only.

The lower half of the second opinion (`plain_reading.py` is the upper). Lengths are in tenths. The
meaning of each element is that of the MusicXML 4.0 standard; what `default-y` of a note counts from
is left to the reader of `Bar.heights`.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from pathlib import Path

import helpers

FIVE_LINES = 5
STEPS = {"C": 0, "D": 1, "E": 2, "F": 3, "G": 4, "A": 5, "B": 6}
OCTAVE = 7
# Diatonic number (7 x octave + step) of the note on the clef's own line, and its usual line.
CLEF_NOTES = {"G": 4 * OCTAVE + 4, "F": 3 * OCTAVE + 3, "C": 4 * OCTAVE + 0}
CLEF_LINES = {"G": 2, "F": 4, "C": 3}


class NotReadable(Exception):
    """The file is not a partwise score with bars; the text says why."""


@dataclass
class Bar:
    """What one part says in one bar."""

    number: str
    width: float | None
    prints: list[ET.Element]
    details: list[ET.Element]
    staves: int = 1
    sounding: set[int] = field(default_factory=set)
    """Staves with a note that is no rest."""
    octave_lines: set[int] = field(default_factory=set)
    """Staves on which an octave line stands."""
    heights: dict[int, list[float]] = field(default_factory=dict)
    """Per staff, for each note: default-y less the height over the top line that pitch and clef give."""


@dataclass
class Clef:
    """A clef and when it comes into force, in quarters from the beginning."""

    since: float
    sign: str
    line: int
    octaves: int


def number(parent: ET.Element | None, path: str) -> float | None:
    """The number in a child element; None when absent."""
    return None if parent is None else to_number(parent.findtext(path))


def to_number(text: str | None) -> float | None:
    """The number in a text or attribute; None when absent or empty."""
    return float(text) if text and text.strip() else None


def whole(parent: ET.Element, path: str, otherwise: int) -> int:
    """The whole number in a child element."""
    value = number(parent, path)
    return otherwise if value is None else int(value)


def load(path: Path) -> ET.Element:
    """The root element of a plain or compressed file; the first score of a container."""
    root = ET.fromstring(helpers.roots(path)[0])
    if root.tag != "score-partwise":
        raise NotReadable(f"root is {root.tag}")
    return root


def parts(root: ET.Element) -> dict[str, list[Bar]]:
    """Every part's bars, in the order of the part list."""
    by_id = {part.get("id", ""): part for part in root.findall("part")}
    order = [listed.get("id", "") for listed in root.findall("part-list/score-part")]
    found = {part_id: _Walk().bars(by_id[part_id]) for part_id in order if part_id in by_id}
    if not any(found.values()):
        raise NotReadable("no bars")
    return found


class _Walk:
    """A walk through one part, with what is in force carried along."""

    def __init__(self) -> None:
        self.staves = 1
        self.divisions = 1.0
        self.clefs: dict[int, list[Clef]] = {}
        self.lines: dict[int, int] = {}
        self.octave_lines: set[int] = set()
        self.now = 0.0

    def bars(self, part: ET.Element) -> list[Bar]:
        return [self.bar(measure) for measure in part.findall("measure")]

    def bar(self, measure: ET.Element) -> Bar:
        bar = Bar(
            number=measure.get("number", ""),
            width=to_number(measure.get("width")),
            prints=measure.findall("print"),
            details=measure.findall("attributes/staff-details"),
            octave_lines=set(self.octave_lines),
        )
        furthest = start = self.now
        notes: list[tuple[float, ET.Element]] = []
        for item in measure:
            if item.tag == "attributes":
                self.attributes(item)
            elif item.tag == "direction":
                self.direction(item, bar)
            elif item.tag == "backup":
                self.now -= self.duration(item)
            elif item.tag == "forward":
                self.now += self.duration(item)
            elif item.tag == "note":
                if item.find("chord") is None:
                    start, self.now = self.now, self.now + self.duration(item)
                notes.append((start, item))
            furthest = max(furthest, self.now)
        # Only now: a clef may be written after the notes of the first voice that stand under it.
        for start, note in notes:
            self.note(start, note, bar)
        bar.staves = self.staves
        self.now = furthest
        return bar

    def duration(self, item: ET.Element) -> float:
        return (number(item, "duration") or 0.0) / self.divisions

    def attributes(self, item: ET.Element) -> None:
        self.divisions = number(item, "divisions") or self.divisions
        self.staves = whole(item, "staves", self.staves)
        for details in item.findall("staff-details"):
            staff = int(details.get("number", 1))
            self.lines[staff] = whole(details, "staff-lines", self.lines.get(staff, FIVE_LINES))
        for clef in item.findall("clef"):
            sign = clef.findtext("sign", "G").strip()
            line = whole(clef, "line", CLEF_LINES.get(sign, 2))
            octaves = whole(clef, "clef-octave-change", 0)
            self.clefs.setdefault(int(clef.get("number", 1)), []).append(Clef(self.now, sign, line, octaves))

    def direction(self, item: ET.Element, bar: Bar) -> None:
        staff = whole(item, "staff", 1)
        for shift in item.iter("octave-shift"):
            bar.octave_lines.add(staff)
            if shift.get("type") == "stop":
                self.octave_lines.discard(staff)
            else:
                self.octave_lines.add(staff)

    def note(self, start: float, note: ET.Element, bar: Bar) -> None:
        staff = whole(note, "staff", 1)
        if note.find("rest") is None:
            bar.sounding.add(staff)
        said, over = to_number(note.get("default-y")), self.over_top_line(start, note, staff)
        if said is not None and over is not None and note.get("print-object") != "no":
            bar.heights.setdefault(staff, []).append(said - over)

    def over_top_line(self, start: float, note: ET.Element, staff: int) -> float | None:
        """Height over the staff's top line by pitch and clef; None without either."""
        pitch = note.find("pitch")
        in_force = [clef for clef in self.clefs.get(staff, []) if clef.since <= start + 1e-6]
        clef = in_force[-1] if in_force else Clef(0.0, "G", 2, 0)
        if pitch is None or clef.sign not in CLEF_NOTES:
            return None
        step = whole(pitch, "octave", 4) * OCTAVE + STEPS[pitch.findtext("step", "C").strip()]
        on_line = CLEF_NOTES[clef.sign] + OCTAVE * clef.octaves
        return (clef.line - self.lines.get(staff, FIVE_LINES)) * 10.0 + (step - on_line) * 5.0
