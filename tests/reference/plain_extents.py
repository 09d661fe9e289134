"""How far the signs of one staff reach left and right of a column, and how wide a syllable is; in sp.

Part of the independent reckoning of room across (`plain_room.py`). Widths of glyphs are typical of
open music fonts: black and whole heads as in font metadata, the others from memory.
"""

from __future__ import annotations

import unicodedata
from typing import NamedTuple

from plain_events import Note, Syllable

BLACK_HEAD = 1.18
WHOLE_HEAD = 1.69
BREVE_HEAD = 2.4
FLAGGED_STEM = 1.95
DOT = 0.40
CHANGED_CLEF = 1.80
ARPEGGIO = 1.0
CUE = 0.65
PARENTHESES = 0.9
APART = 6
"""Staff steps at which two accidentals may share a column."""
ACCIDENTALS = {
    "sharp": 1.00,
    "flat": 0.90,
    "natural": 0.67,
    "double-sharp": 1.00,
    "sharp-sharp": 2.00,
    "flat-flat": 1.65,
    "natural-sharp": 1.67,
    "natural-flat": 1.57,
}
OTHER_ACCIDENTAL = 1.00
FLAGGED = ("eighth", "16th", "32nd", "64th", "128th", "256th", "512th", "1024th")
RESTS = {"quarter": 1.08, "eighth": 1.00, "16th": 1.28}
LONG_REST, SHORT_REST = 1.13, 1.45
POINT = 0.3528
"""Millimetres of a typographic point."""
FULL_SPACE = 1.75
"""Millimetres of a staff space where a file states no scaling: that of the standard's 7 mm staff."""
LEAST_EM, MOST_EM = 1.2, 2.3


class Extent(NamedTuple):
    """Reach to the left and right of the left edge of the notehead, sp."""

    left: float
    right: float


def extents(notes: list[Note], graces: list[Note], clefs: int, size: float) -> Extent:
    """All printed notes and rests of one staff on one column, graces and clefs before them.

    On a small staff everything shrinks, on a cue note its own glyphs and dots.
    """
    chords: dict[int, list[Note]] = {}
    for note in notes:
        chords.setdefault(note.chord, []).append(note)
    head = max((glyph(note) for note in notes if not note.rest), default=0.0)
    pushes_right, pushes_left = _pushed(list(chords.values()))

    right = max([head + (head if pushes_right else 0.0), *(glyph(note) for note in notes if note.rest)])
    for chord in chords.values():
        if _flag_up(chord):
            right = max(right, FLAGGED_STEM * scale(chord[0]))
    right += max(map(_dots, notes))

    left = head if pushes_left else 0.0
    if columns := _accidental_columns(notes):
        left += 0.20 + sum(columns) + 0.15 * (len(columns) - 1)
    left += grace_room(graces)
    left += (0.60 + CHANGED_CLEF) * clefs
    if any(note.arpeggiated for note in notes):
        left += ARPEGGIO
    return Extent(left * size, right * size)


def grace_room(graces: list[Note]) -> float:
    """What grace notes before a column take; a chord counts as one, two voices stand above each other."""
    voices: dict[str, set[int]] = {}
    for note in graces:
        voices.setdefault(note.voice, set()).add(note.chord)
    count = max((len(chords) for chords in voices.values()), default=0)
    return 0.35 + 1.0 * count if count else 0.0


def scale(note: Note) -> float:
    """What cue size makes of a glyph."""
    return CUE if note.cue else 1.0


def glyph(note: Note) -> float:
    """The width of a head or rest."""
    if note.rest:
        otherwise = LONG_REST if note.kind in ("maxima", "long", "breve", "whole", "half") else SHORT_REST
        width = RESTS.get(note.kind, otherwise)
    elif note.kind in ("maxima", "long", "breve") or (not note.kind and note.duration >= 2):
        width = BREVE_HEAD
    elif note.kind == "whole" or (not note.kind and note.duration >= 1):
        width = WHOLE_HEAD
    else:
        width = BLACK_HEAD
    return width * scale(note)


def _dots(note: Note) -> float:
    """Augmentation dots with the white before them."""
    return (0.30 + DOT * note.dots + 0.10 * (note.dots - 1)) * scale(note) if note.dots else 0.0


def has_second(chord: list[Note]) -> bool:
    """Whether two heads of one stem are a step apart."""
    steps = sorted(note.step for note in chord if note.step is not None)
    return any(above - below == 1 for below, above in zip(steps, steps[1:], strict=False))


def voices_collide(chords: list[list[Note]]) -> bool:
    """Whether heads of two stems are a step apart."""
    placed = [(index, note.step) for index, chord in enumerate(chords) for note in chord if note.step is not None]
    return any(i != j and a - b == 1 for i, a in placed for j, b in placed)


def _pushed(chords: list[list[Note]]) -> tuple[bool, bool]:
    """Whether a head stands to the right of the others, and whether one stands to the left."""
    seconds = [chord[0].stem for chord in chords if has_second(chord)]
    right = any(stem != "down" for stem in seconds) or voices_collide(chords)
    return right, "down" in seconds


def _flag_up(chord: list[Note]) -> bool:
    """A flag on a stem that goes up; a stem not stated does."""
    first = chord[0]
    if first.rest or first.kind not in FLAGGED or any(note.beamed for note in chord):
        return False
    return first.stem not in ("down", "none")


def _accidental_columns(notes: list[Note]) -> list[float]:
    """Widths of the columns that all accidentals of one staff make, from the top note down."""
    signed = [note for note in notes if note.accidental is not None]
    signed.sort(key=lambda note: -(note.step or 0))
    columns: list[list[Note]] = []
    for note in signed:
        fitting = (column for column in columns if all(_apart(note, other) for other in column))
        if (column := next(fitting, None)) is not None:
            column.append(note)
        else:
            columns.append([note])
    return [max(_accidental(note) for note in column) for column in columns]


def _apart(a: Note, b: Note) -> bool:
    return abs((a.step or 0) - (b.step or 0)) >= APART


def _accidental(note: Note) -> float:
    width = ACCIDENTALS.get(note.accidental or "", OTHER_ACCIDENTAL) + (PARENTHESES if note.parenthesised else 0.0)
    return width * scale(note)


def text_width(syllable: Syllable, millimetres_per_space: float | None) -> float:
    """The width of a syllable by classes of letters."""
    em = syllable.points * POINT / (millimetres_per_space or FULL_SPACE)
    return min(max(em, LEAST_EM), MOST_EM) * sum(map(_letter, syllable.text.strip()))


def _letter(letter: str) -> float:
    """The width of one letter in em. Punctuation and blanks are as narrow as the narrowest letters, digits and
    letters of no class as wide as most small letters; a mark over or under a letter takes no room of its own."""
    if unicodedata.combining(letter):
        return 0.0
    if letter in "ijlt" or not letter.isalnum():
        return 0.3
    if letter in "sacez":
        return 0.42
    if letter in "mw":
        return 0.75
    return 0.67 if letter.isupper() else 0.50
