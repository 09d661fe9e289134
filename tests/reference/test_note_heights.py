"""Staff offsets against the height of the notes, which the files state beside the layout.

Source: the scores themselves. Exporters write a note's `default-y` from the top line of the system,
so default-y less the height that pitch and clef give is the staff's offset below that line. Nothing
of staff-distance, hidden staves or defaults goes into it: it is a witness of its own. Claimed: it
agrees with `measure` on at least 99 % of the staves, within 1.5 tenths; under an octave line a
whole number of octaves (35 tenths each, two at most) is let off.

Left out: files that state no page or no breaks, and those of one exporter that writes the end of
the stem instead of the note's height. They are told apart by the top staff of each system, whose
offset must be nothing: where fewer than nine in ten say so, `default-y` means something else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import helpers
import plain_reading

AGREEMENT = 0.99
TENTHS = 1.5
OCTAVE = 35.0
TOP_STAVES = 0.9
LEAST_STAVES = 5000
"""Fewer than this and the check has lost its material."""


def says_note_heights(reading: plain_reading.Reading) -> bool:
    """Whether default-y in this file is the height of notes below the system's top line."""
    said = [
        system.staves[0]
        for page in reading.pages
        for system in page.systems
        if system.staves and system.staves[0].note_offset is not None and not system.staves[0].octave_line
    ]
    good = sum(abs(staff.note_offset or 0.0) <= TENTHS for staff in said)
    return not said or good >= TOP_STAVES * len(said)


def agrees(staff: plain_reading.Staff, tenths: float) -> bool:
    """Whether the notes say that the staff stands `tenths` below the system's top line."""
    off = abs((staff.note_offset or 0.0) - tenths)
    allowed = (0.0, OCTAVE, 2 * OCTAVE) if staff.octave_line else (0.0,)
    return any(abs(off - shift) <= TENTHS for shift in allowed)


def compare(reading: plain_reading.Reading, entry: helpers.Json) -> Iterator[str]:
    """One word for each staff with notes: agrees, differs, hidden, unknown."""
    scale = reading.millimetres_per_tenth or 1.0
    for page, ours in zip(reading.pages, entry["pages"], strict=True):
        for system, our in zip(page.systems, ours["systems"], strict=True):
            tops = {(staff["part"], staff["staff"]): staff["top_mm"] for staff in our["staves"]}
            for staff in system.staves:
                if staff.note_offset is None:
                    continue
                if (staff.part, staff.number) not in tops:
                    yield "hidden"
                elif (top := tops[staff.part, staff.number]) is None or our["top_mm"] is None:
                    yield "unknown"
                else:
                    yield "agrees" if agrees(staff, (top - our["top_mm"]) / scale) else "differs"


def is_laid_out(reading: plain_reading.Reading) -> bool:
    """Whether the file states its scaling, its page and at least one break."""
    return (
        reading.millimetres_per_tenth is not None
        and reading.pages[0].width > 0
        and sum(len(page.systems) for page in reading.pages) > 1
    )


def tally(folder: Path, paths: list[str], entries: dict[str, helpers.Json]) -> tuple[Counter[str], list[str]]:
    """Counts over all files, and the files whose pages and systems differ from the plain reading."""
    counts: Counter[str] = Counter()
    differ = []
    for path in paths:
        try:
            reading = plain_reading.read(folder / path)
        except plain_reading.NotReadable:
            continue
        if not is_laid_out(reading):
            continue
        if not says_note_heights(reading):
            counts["files with stem ends"] += 1
            continue
        entry = entries[path]
        if [len(page.systems) for page in reading.pages] != [len(page["systems"]) for page in entry["pages"]]:
            differ.append(path)
            continue
        words = Counter(compare(reading, entry))
        counts.update(words)
        counts["files"] += bool(words)
    return counts, differ


def judge(counts: Counter[str], differ: list[str], least: int) -> None:
    """The claim itself. A staff that has notes and was not printed counts against us."""
    assert not differ, f"pages or systems differ: {differ[:10]}"
    total = counts["agrees"] + counts["differs"] + counts["hidden"]
    assert total >= least, dict(counts)
    assert counts["agrees"] >= AGREEMENT * total, dict(counts)


def test_notes_of_the_music21_wheel(
    music21_folder: Path, measured_wheel: dict[str, helpers.Json], capsys: pytest.CaptureFixture[str]
) -> None:
    counts, differ = tally(music21_folder, helpers.score_files(music21_folder), measured_wheel)
    with capsys.disabled():
        print(f"\nnote heights, music21 files: {dict(counts)}")
    judge(counts, differ, LEAST_STAVES)


def test_notes_of_the_published_scores(real_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    paths = helpers.score_files(real_folder)
    entries = helpers.by_path(helpers.run_all("measure", paths, real_folder))
    counts, differ = tally(real_folder, paths, entries)
    with capsys.disabled():
        print(f"\nnote heights, published scores: {dict(counts)}")
    judge(counts, differ, 1000)
