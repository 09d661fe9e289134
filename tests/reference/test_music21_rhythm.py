"""music21 agrees on when each note and rest begins and how long it lasts, in exact fractions.

Source: the PyPI package music21 as an independent reader of its own score files. Compared are the
onsets and durations of all notes, chords and rests with a duration, bar by bar and part by part.
Hidden rests are left out: music21 makes such rests where a file only moves on in time. It also makes a
rest for a measure as long as the time signature says, so no file with such a rest in a short bar is
among them.
"""

from __future__ import annotations

import re
import warnings
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import plain_events
import plain_score

FILES = (
    "bach/bwv101.7.mxl",
    "bach/bwv248.9-s.mxl",
    "bach/bwv846.mxl",
    "beethoven/opus18no1/movement2.mxl",
    "beethoven/opus59no1/movement3.mxl",
    "beethoven/opus59no2/movement1.mxl",
    "corelli/opus3no1/1grave.xml",
    "demos/ComprehensiveChordSymbolsTestFile.mxl",
    "haydn/opus1no1/movement1.mxl",
    "joplin/maple_leaf_rag.mxl",
    "luca/gloria.xml",
    "lusitano/allor_che_ignuda.mxl",
    "monteverdi/madrigal.3.1.mxl",
    "monteverdi/madrigal.3.2.mxl",
    "monteverdi/madrigal.4.9.mxl",
    "mozart/k155/movement1.mxl",
    "mozart/k156/movement3.mxl",
    "mozart/k80/movement1.mxl",
    "schubert/Lindenbaum.xml",
    "schumann_clara/opus17/movement3.xml",
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_robert/dichterliebe_no2.xml",
    "trecento/Fava_Dicant_nunc_iudei.xml",
    "trecento/PMFC_06_8-In Verde Prato.xml",
    "trecento/PMFC_13_03-Gloria Micinella.xml",
    "trecento/PMFC_24_5-Gloria_Spiritus_et_alme.xml",
    "weber/concertino_clarinet.mxl",
    "webern/webern_dormi_jesu_op_16_no_2.mxl",
)
LOWER_STAFF = re.compile(r"-Staff([2-9]|\d\d)$")
Times = Counter[tuple[Fraction, Fraction]]


def plain_times(bar: plain_events.PartBar) -> Times:
    """Onset and duration of each chord, note and rest of a bar, in quarters."""
    chords: dict[int, plain_events.Note] = {}
    for note in bar.notes:
        if not note.grace and not (note.rest and note.hidden):
            # A chord lasts as long as its first note.
            chords.setdefault(note.chord, note)
    return Counter((note.onset * 4, note.duration * 4) for note in chords.values())


def music21_times(bars: list[Any]) -> Times:
    """The same of music21's measures: one for each staff of the part."""
    found: Times = Counter()
    for bar in bars:
        for element in bar.recurse().notesAndRests:
            if "Harmony" in element.classSet or element.duration.isGrace:
                continue
            if "Rest" in element.classSet and element.style.hideObjectOnPrint:
                continue
            found[Fraction(element.getOffsetInHierarchy(bar)), Fraction(element.quarterLength)] += 1
    return found


def staves_of_parts(parsed: Any) -> list[list[list[Any]]]:
    """The measures of each staff of each part. Staves come as parts of their own, named by number."""
    parts: list[list[list[Any]]] = []
    for part in parsed.parts:
        if LOWER_STAFF.search(str(part.id)) is None:
            parts.append([])
        parts[-1].append(list(part.getElementsByClass("Measure")))
    return parts


@pytest.mark.parametrize("path", FILES)
def test_onsets_and_durations(path: str, music21_folder: Path) -> None:
    import music21  # here, because it takes seconds

    file = music21_folder / "corpus" / path
    score = plain_events.read(plain_score.load(file))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = music21.converter.parse(file, forceSource=True)
    by_part = dict(zip(score.parts, staves_of_parts(parsed), strict=True))
    wrong = [
        f"{name}, bar {index}: {sorted((mine - theirs).items())} and not {sorted((theirs - mine).items())}"
        for name, bars in score.parts.items()
        for index, bar in enumerate(bars, 1)
        if (mine := plain_times(bar)) != (theirs := music21_times([staff[index - 1] for staff in by_part[name]]))
    ]
    assert not wrong, "\n".join(wrong[:20])

