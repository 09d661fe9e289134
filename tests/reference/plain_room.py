"""How much room the music of one bar needs, reckoned the plainest way from the written model.

A second opinion on `least`, `short`, `natural` and `stretched` of a bar, in staff spaces (sp), made
from the specification of the model alone: springs between the columns of notes, rods that keep signs
apart, the longest path through both. Widths of glyphs: black and whole heads as in the metadata of
open music fonts, the others from memory. The springs and rods are common in the literature (Gourlay
1987; Blostein and Haken 1991, cited from memory); their constants were fitted to exported scores.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

import plain_extents
from plain_events import FULL_SIZE, NO_TIME, Note, PartBar, Syllable

BAR_LINE = 0.16
"""Of whatever style: the model asks no more for a double one."""
WHOLE_BAR_REST = (4.0, 4.0)
MULTI_BAR_REST = (7.0, 3.0)
REST_WILLINGNESS = 3.0
CLEF_AT_BAR_LINE = 2.4
FORWARD_REPEAT = 1.2
TIME_CHANGE = 2.8
KEY_PADDING = 1.0
SHARP, FLAT = 1.0, 0.9
LEFT, NEXT = -1, 1
"""The bar line on the left as a place, and the step from one column to the next."""
SHORTER, HALF = 2**-0.5, Fraction(1, 2)


class Rod(NamedTuple):
    """A least distance between two columns; column -1 is the left bar line, column n the right one."""

    first: int
    last: int
    hard: float
    comfortable: float


class Printed(NamedTuple):
    """One part of a bar with its staves that are printed."""

    bar: PartBar
    staves: frozenset[int]


@dataclass
class Bar:
    """One bar of one system, ready to be set at any force."""

    columns: list[Fraction] = field(default_factory=list)
    springs: list[float] = field(default_factory=list)
    """Natural space after each column, sp."""
    willing: list[float] = field(default_factory=list)
    """How willingly each of them stretches."""
    rods: list[Rod] = field(default_factory=list)
    rest: tuple[float, float] | None = None
    """A bar of rests only: its least width and what it gains up to natural."""
    signs: float = BAR_LINE
    """Bar line, key, time, clefs and repeats: the same at every force."""

    def positions(self, force: float) -> list[float]:
        """The columns and the right bar line, from the left bar line."""
        pull = min(max(force, 0.0), 1.0)
        comfort = min(max(2 * pull - 1, 0.0), 1.0)
        count = len(self.columns)
        into: list[list[Rod]] = [[] for _ in range(count + 1)]
        for rod in self.rods:
            into[rod.last].append(rod)
        places: list[float] = []
        for column in range(count + 1):
            place = places[-1] + pull * self.springs[column - 1] if places else 0.0
            for rod in into[column]:
                start = 0.0 if rod.first == LEFT else places[rod.first]
                place = max(place, start + rod.hard + (rod.comfortable - rod.hard) * comfort)
            places.append(place)
        if force > 1:
            places = [places[0] + (place - places[0]) * force for place in places]
        return places

    def width(self, force: float) -> float:
        """The width at a force: 0 rods only, 1 natural."""
        if self.rest is not None:
            least, gain = self.rest
            music = (least + gain) * force if force > 1 else least + gain * max(force, 0.0)
        else:
            music = self.positions(force)[-1]
        return music + self.signs

    def first_column(self) -> float:
        """Where the first column stands naturally."""
        return 0.0 if self.rest is not None else self.positions(1.0)[0]

    @property
    def q(self) -> float:
        """The mean willingness, weighed by natural space."""
        if self.rest is not None:
            return REST_WILLINGNESS
        return sum(w * q for w, q in zip(self.springs, self.willing, strict=True)) / sum(self.springs)

    def four(self) -> tuple[float, float, float, float]:
        """Least, short, natural and stretched width."""
        return self.width(0.0), self.width(SHORTER), self.width(1.0), self.width(2 ** (self.q / 2))


def natural_space(duration: Fraction) -> float:
    """The natural space of a duration, sp."""
    return max(2.1, 4.5 * math.sqrt(4 * duration))


def springs(
    events: Iterable[tuple[Fraction, Fraction]], end: Fraction
) -> tuple[list[Fraction], list[float], list[float]]:
    """Columns, their natural spaces and their willingness, from (onset, end) of every event."""
    distinct = sorted(set(events), key=lambda event: event[1] - event[0])
    columns = sorted({onset for onset, _ in distinct})
    times = [*columns, end]
    steps = [later - earlier for earlier, later in zip(times, times[1:], strict=False)]
    acting: list[Fraction | None] = [None] * len(columns)
    # The shortest first: what already has an event keeps it.
    for onset, ends in distinct:
        for gap in range(bisect_left(times, onset), min(bisect_right(times, ends) - 1, len(columns))):
            if acting[gap] is None:
                acting[gap] = ends - onset
    act = [step if one is None else one for one, step in zip(acting, steps, strict=True)]
    spaces, willing = [], []
    for gap, step in enumerate(steps):
        governing = max(act[gap], step)
        local = min(act[max(gap - 1, 0) : gap + 2])
        share = natural_space(governing) * float(step / governing) if step < local else natural_space(step)
        spaces.append(share)
        willing.append(1.0 if governing < HALF else 1.4 if governing < 1 else 2.0)
    return columns, spaces, willing


def is_whole_bar_rest(note: Note, end: Fraction) -> bool:
    """A rest that stands for the whole bar, in the middle of it."""
    if not note.rest:
        return False
    return note.measure_rest or not note.kind or (note.kind == "whole" and note.onset == NO_TIME and note.end == end)


def reckon(parts: list[Printed], opens_system: bool, millimetres_per_space: float | None) -> Bar:
    """The bar that these printed parts make together."""
    if parts and all(part.bar.multiple_rest for part in parts):
        if any(part.bar.multiple_rest > 0 for part in parts):
            return Bar(rest=MULTI_BAR_REST, signs=_signs(parts, opens_system, NO_TIME, 0))
        return Bar(rest=(0.0, 0.0), signs=0.0)
    end = max((part.bar.sounding_end() for part in parts), default=NO_TIME)
    lanes: dict[tuple[int, int], dict[Fraction, list[Note]]] = {}
    graces: dict[tuple[int, int], list[Note]] = {}
    for index, part in enumerate(parts):
        for note in part.bar.notes:
            if note.hidden or note.staff not in part.staves:
                continue
            if note.grace:
                graces.setdefault((index, note.staff), []).append(note)
            elif note.onset < end and not is_whole_bar_rest(note, end):
                lanes.setdefault((index, note.staff), {}).setdefault(note.onset, []).append(note)
    events = {(note.onset, note.end) for lane in lanes.values() for notes in lane.values() for note in notes}
    clefs = {
        (index, staff): _clefs_inside(part.bar, staff, sorted(lanes.get((index, staff), {})), end)
        for index, part in enumerate(parts)
        for staff in part.staves
    }
    signs = _signs(parts, opens_system, end, sum(late for _, late in clefs.values()))
    if not events:
        return Bar(rest=WHOLE_BAR_REST, signs=signs)
    columns, spaces, willing = springs(events, end)
    bar = Bar(columns, spaces, willing, signs=signs)
    for (index, staff), lane in lanes.items():
        changed, _ = clefs[index, staff]
        size = min(parts[index].bar.sizes.get(staff, FULL_SIZE), FULL_SIZE) / FULL_SIZE
        before, after = _graces_before(graces.get((index, staff), []), sorted(lane))
        objects = [
            (bisect_left(columns, onset), plain_extents.extents(notes, before.get(onset, []), changed[onset], size))
            for onset, notes in sorted(lane.items())
        ]
        bar.rods += _staff_rods(objects, len(columns), plain_extents.grace_room(after) * size)
        bar.rods += _lyric_rods(columns, lane, millimetres_per_space)
    return bar


def _clefs_inside(part: PartBar, staff: int, onsets: list[Fraction], end: Fraction) -> tuple[Counter[Fraction], int]:
    """How many clefs stand before an onset, and how many after the last of them."""
    before, late = Counter[Fraction](), 0
    for when, on in part.clefs:
        if on == staff and NO_TIME < when < end:
            following = [onset for onset in onsets if onset >= when]
            if following:
                before[following[0]] += 1
            else:
                late += 1
    return before, late


def _graces_before(graces: list[Note], onsets: list[Fraction]) -> tuple[dict[Fraction, list[Note]], list[Note]]:
    """Grace notes by what they stand before on their staff; those before the bar line apart."""
    before: dict[Fraction, list[Note]] = {}
    after = []
    for note in graces:
        place = bisect_left(onsets, note.onset)
        if place < len(onsets):
            before.setdefault(onsets[place], []).append(note)
        else:
            after.append(note)
    return before, after


def _staff_rods(objects: list[tuple[int, plain_extents.Extent]], count: int, after: float) -> list[Rod]:
    """Rods along one staff, bar lines included; `after` is the room of graces before the right one."""
    first, ink = objects[0]
    rods = [Rod(LEFT, first, max(0.80, 0.30 + ink.left), max(1.30, 0.60 + ink.left))]
    for (a, ink_a), (b, ink_b) in zip(objects, objects[NEXT:], strict=False):
        touching = ink_a.right + ink_b.left
        rods.append(Rod(a, b, touching + 0.25, touching + 0.65))
    last, ink = objects[-1]
    return [*rods, Rod(last, count, ink.right + after + 0.50, ink.right + after + 1.30)]


def _lyric_rods(
    columns: list[Fraction], lane: dict[Fraction, list[Note]], millimetres_per_space: float | None
) -> list[Rod]:
    """Rods along each verse under one staff."""
    verses: dict[str, list[tuple[int, Syllable, float]]] = {}
    for onset, notes in sorted(lane.items()):
        column = bisect_left(columns, onset)
        widest: dict[str, tuple[int, Syllable, float]] = {}
        for syllable in (one for note in notes for one in note.syllables):
            width = plain_extents.text_width(syllable, millimetres_per_space)
            if syllable.verse not in widest or width > widest[syllable.verse][2]:
                widest[syllable.verse] = (column, syllable, width)
        for verse, one in widest.items():
            verses.setdefault(verse, []).append(one)
    rods = []
    for sung in verses.values():
        centre = plain_extents.BLACK_HEAD / 2
        column, _, width = sung[0]
        reach = max(0.0, width / 2 - centre - 1.0)
        rods.append(Rod(LEFT, column, reach, reach))
        for (a, syllable, width_a), (b, _, width_b) in zip(sung, sung[NEXT:], strict=False):
            if not syllable.melisma:
                hard, comfortable = (0.6, 1.3) if syllable.hyphen else (0.5, 1.0)
                halves = (width_a + width_b) / 2
                rods.append(Rod(a, b, halves + hard, halves + comfortable))
        column, _, width = sung[-1]
        reach = max(0.0, width / 2 + centre - 1.0)
        rods.append(Rod(column, len(columns), reach, reach))
    return rods


def key_width(fifths: int) -> float:
    """A key signature inside a system."""
    return abs(fifths) * (SHARP if fifths > 0 else FLAT) + KEY_PADDING


def _signs(parts: list[Printed], opens_system: bool, end: Fraction, late_clefs: int) -> float:
    """What bar line, clefs, repeat, key and time take, whatever the force."""
    width = BAR_LINE
    clefs = [when for part in parts for when, staff in part.bar.clefs if staff in part.staves]
    if not opens_system and any(when == NO_TIME for when in clefs):
        width += CLEF_AT_BAR_LINE
    if late_clefs or any(when >= end > NO_TIME for when in clefs):
        width += CLEF_AT_BAR_LINE
    if not opens_system and any(part.bar.forward_repeat for part in parts):
        width += FORWARD_REPEAT
    # What a system opens with belongs to its beginning.
    keys = [key for part in parts for key in part.bar.keys if key.onset > NO_TIME or not opens_system]
    times = [when for part in parts for when in part.bar.times if when > NO_TIME or not opens_system]
    width += max((key_width(key.fifths) for key in keys), default=0.0)
    return width + (TIME_CHANGE if times else 0.0)

