"""What stands in each bar and when, read from a MusicXML file the plainest way, in exact fractions.

The lower half of an independent reckoning of room across (`plain_room.py` is the upper). Times are
fractions of a whole note from the beginning of the bar; `default-x` is in tenths; the meaning of each
element is that of the MusicXML 4.0 standard.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from fractions import Fraction

import plain_score

DEFAULT_LYRIC_POINTS = 10.0
"""Common practice, no source: the size of lyrics where a file states none."""
FULL_SIZE = 100.0
NO_TIME = Fraction(0)
Signature = tuple[str, ...]


@dataclass
class Syllable:
    """One printed syllable of a verse."""

    verse: str
    text: str
    points: float
    hyphen: bool
    """Whether a hyphen joins it to the next."""
    melisma: bool
    """Whether a line runs on after it."""


@dataclass
class Note:
    """One note or rest, printed or hidden. Grace notes have no duration."""

    onset: Fraction
    duration: Fraction
    chord: int
    """Notes of one chord share this number."""
    voice: str
    staff: int
    kind: str
    """`type`: quarter, half ...; empty where none is stated."""
    rest: bool
    measure_rest: bool
    hidden: bool
    grace: bool
    cue: bool
    step: int | None
    """Diatonic number, 7 x octave + step; None for rests and notes without a place."""
    dots: int
    stem: str
    beamed: bool
    accidental: str | None
    """Its name, empty where the file does not name the sign that stands there."""
    parenthesised: bool
    arpeggiated: bool
    default_x: float | None
    syllables: list[Syllable]

    @property
    def end(self) -> Fraction:
        """When it ends."""
        return self.onset + self.duration


@dataclass
class Key:
    """A key signature that changes in a bar."""

    onset: Fraction
    fifths: int


@dataclass
class PartBar:
    """One part in one bar."""

    notes: list[Note] = field(default_factory=list)
    clefs: list[tuple[Fraction, int]] = field(default_factory=list)
    """When and on which staff a printed clef differs from the one before."""
    keys: list[Key] = field(default_factory=list)
    """Changes only; the first signature of a part is one."""
    times: list[Fraction] = field(default_factory=list)
    """When a printed time signature differs from the one before."""
    fifths: int = 0
    """Sharps or flats in force when the bar begins, the largest number of any staff."""
    sizes: dict[int, float] = field(default_factory=dict)
    """Staff sizes in per cent, where stated."""
    multiple_rest: int = 0
    """Bars of the multi-bar rest that begins here; -1 inside one; 0 outside."""
    forward_repeat: bool = False

    def sounding_end(self) -> Fraction:
        """The end of the last note or rest, hidden ones too; graces take no time."""
        return max((note.end for note in self.notes), default=NO_TIME)


@dataclass
class Score:
    """Every part's bars, in the order of the part list."""

    parts: dict[str, list[PartBar]]
    millimetres_per_space: float | None


def read(root: ET.Element) -> Score:
    """All bars of a partwise score."""
    scaling = root.find("defaults/scaling")
    millimetres, tenths = plain_score.number(scaling, "millimeters"), plain_score.number(scaling, "tenths")
    fonts = {font.get("number"): plain_score.to_number(font.get("font-size")) for font in root.iter("lyric-font")}
    by_id = {part.get("id", ""): part for part in root.findall("part")}
    order = [listed.get("id", "") for listed in root.findall("part-list/score-part")]
    return Score(
        {one: _Walk(fonts).bars(by_id[one]) for one in order if one in by_id},
        millimetres / tenths * 10 if millimetres and tenths else None,
    )


class _Walk:
    """A walk through one part, with what is in force carried along."""

    def __init__(self, fonts: dict[str | None, float | None]) -> None:
        self.fonts = fonts
        self.divisions = Fraction(1)
        self.staves = 1
        self.sizes: dict[int, float] = {}
        self.clefs: dict[int, Signature] = {}
        self.bar_clefs: list[tuple[Fraction, int, Signature, bool]] = []
        self.keys: dict[str, tuple[int, Signature]] = {}
        self.time: Signature | None = None
        self.rests_left = 0
        self.now = NO_TIME
        self.start = NO_TIME
        self.chord = 0

    def bars(self, part: ET.Element) -> list[PartBar]:
        return [self.bar(measure) for measure in part.findall("measure")]

    def bar(self, measure: ET.Element) -> PartBar:
        bar = PartBar()
        self.now = self.start = NO_TIME
        self.bar_clefs = []
        if self.rests_left > 0:
            self.rests_left -= 1
            bar.multiple_rest = -1
        for item in measure:
            match item.tag:
                case "attributes":
                    self.attributes(item, bar)
                case "backup":
                    self.now = max(NO_TIME, self.now - self.duration(item))
                case "forward":
                    self.now += self.duration(item)
                case "note":
                    bar.notes.append(self.note(item))
                case "barline":
                    repeat = item.find("repeat")
                    bar.forward_repeat |= repeat is not None and repeat.get("direction") == "forward"
        self.clef_changes(bar)
        bar.sizes = dict(self.sizes)
        bar.fifths = self.opening_fifths(bar)
        return bar

    def clef_changes(self, bar: PartBar) -> None:
        """The clefs of a bar that differ from those before, in order of time: voices may bring them in any."""
        for when, staff, signature, printed in sorted(self.bar_clefs, key=lambda clef: clef[0]):
            if printed and self.clefs.get(staff) != signature:
                bar.clefs.append((when, staff))
            self.clefs[staff] = signature

    def opening_fifths(self, bar: PartBar) -> int:
        """The key of the bar's beginning; a change within the bar comes too late for it."""
        opening = [key.fifths for key in bar.keys if key.onset == NO_TIME]
        in_force = [fifths for fifths, _ in self.keys.values()]
        return max(opening or in_force, key=abs, default=0)

    def duration(self, item: ET.Element) -> Fraction:
        text = item.findtext("duration", "0").strip() or "0"
        return Fraction(text) / self.divisions / 4

    def attributes(self, item: ET.Element, bar: PartBar) -> None:
        if divisions := item.findtext("divisions", "").strip():
            self.divisions = Fraction(divisions)
        self.staves = plain_score.whole(item, "staves", self.staves)
        for details in item.findall("staff-details"):
            size = plain_score.number(details, "staff-size")
            named = details.get("number")
            for staff in [int(named)] if named else range(1, self.staves + 1):
                if size is not None:
                    self.sizes[staff] = size
        for clef in item.findall("clef"):
            staff = int(clef.get("number", 1))
            signature = tuple((child.tag + (child.text or "")).strip() for child in clef)
            self.bar_clefs.append((self.now, staff, signature, clef.get("print-object") != "no"))
        for key in item.findall("key"):
            self.key(key, bar)
        for time in item.findall("time"):
            signature = tuple((child.tag + (child.text or "")).strip() for child in time)
            printed = time.get("print-object") != "no" and time.find("senza-misura") is None
            if printed and signature != self.time:
                bar.times.append(self.now)
            self.time = signature
        for rest in item.findall("measure-style/multiple-rest"):
            bar.multiple_rest = int(rest.text or 0)
            self.rests_left = bar.multiple_rest - 1

    def key(self, key: ET.Element, bar: PartBar) -> None:
        """Take a key; one that repeats what is in force is no change."""
        staff = key.get("number", "")
        stated = key.findtext("fifths")
        fifths = len(key.findall("key-step")) if stated is None else int(stated)
        signature = tuple(f"{child.tag} {(child.text or '').strip()}" for child in key if child.tag.startswith("key-"))
        if staff == "":
            changed = not self.keys or any(old != (fifths, signature) for old in self.keys.values())
            self.keys = {"": (fifths, signature)}
        else:
            changed = self.keys.get(staff, self.keys.get("")) != (fifths, signature)
            self.keys.pop("", None) if staff == "1" else None
            self.keys[staff] = (fifths, signature)
        if changed and key.get("print-object") != "no":
            bar.keys.append(Key(self.now, fifths))

    def note(self, item: ET.Element) -> Note:
        grace = item.find("grace") is not None
        duration = NO_TIME if grace else self.duration(item)
        if item.find("chord") is None:
            self.chord += 1
            self.start, self.now = self.now, self.now + duration
        rest, accidental, kind = item.find("rest"), item.find("accidental"), item.find("type")
        size = "" if kind is None else kind.get("size", "")
        hidden = item.get("print-object") == "no"
        return Note(
            onset=self.start,
            duration=duration,
            chord=self.chord,
            voice=item.findtext("voice", "1").strip(),
            staff=plain_score.whole(item, "staff", 1),
            kind=item.findtext("type", "").strip(),
            rest=rest is not None,
            measure_rest=rest is not None and rest.get("measure") == "yes",
            hidden=hidden,
            grace=grace,
            cue=item.find("cue") is not None or size in ("cue", "grace-cue"),
            step=_step(item),
            dots=len(item.findall("dot")),
            stem=item.findtext("stem", "").strip(),
            beamed=item.find("beam") is not None,
            accidental=None if accidental is None else (accidental.text or "").strip(),
            parenthesised=accidental is not None and accidental.get("parentheses") == "yes",
            arpeggiated=item.find("notations/arpeggiate") is not None,
            default_x=plain_score.to_number(item.get("default-x")),
            syllables=[] if hidden or grace else self.syllables(item),
        )

    def syllables(self, item: ET.Element) -> list[Syllable]:
        found = []
        for lyric in item.findall("lyric"):
            texts = lyric.findall("text")
            written = "".join(child.text or "" for child in lyric if child.tag in ("text", "elision"))
            if lyric.get("print-object") == "no" or not written.strip():
                continue
            verse = lyric.get("number", "1")
            sizes = [
                plain_score.to_number(texts[0].get("font-size")),
                self.fonts.get(verse),
                self.fonts.get(None),
            ]
            points = next((size for size in sizes if size), DEFAULT_LYRIC_POINTS)
            syllabic = [one.text for one in lyric.findall("syllabic")]
            hyphen = bool(syllabic) and syllabic[-1] in ("begin", "middle")
            found.append(Syllable(verse, written, points, hyphen, lyric.find("extend") is not None))
        return found


def _step(item: ET.Element) -> int | None:
    """Where the note stands, as a diatonic number."""
    for place, step, octave in (("pitch", "step", "octave"), ("unpitched", "display-step", "display-octave")):
        element = item.find(place)
        if element is not None and (name := element.findtext(step)):
            return plain_score.whole(element, octave, 4) * plain_score.OCTAVE + plain_score.STEPS[name.strip()]
    return None
