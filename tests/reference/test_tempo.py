"""music21 agrees on how many seconds each bar lasts.

Source: the PyPI package music21 as an independent reader of its own score files: `metronomeMarkBoundaries` of a
score, each a stretch of quarters at one tempo. Compared are scores that tell every tempo by a number and none in words alone;
where a mark gives a range music21 reads no number, so none is among them. Left out are a score whose numbers for playback stand
beyond the ends of their bars (18 ms apart), and one with a bar that its parts fill to different lengths.
"""

from __future__ import annotations

import warnings
from typing import Any

import pytest

import helpers

FILES = (
    "demos/chord_realization_exercise.mxl",
    "demos/two-parts.xml",
    "joplin/maple_leaf_rag.mxl",
    "schumann_clara/polonaise_op1n4.mxl",
    "trecento/PMFC_04-A lle s_andra lo spirt.xml",
    "trecento/PMFC_04-Cara mi donna.xml",
    "trecento/PMFC_06_10-I senti gia come l_arco.xml",
)
CLOSE = 0.002
"""Seconds: the report is rounded to a thousandth."""


def seconds_between(boundaries: list[tuple[float, float, Any]], begin: float, end: float) -> float:
    """Seconds from one moment to another, in quarters from the beginning."""
    total = 0.0
    for first, last, mark in boundaries:
        overlap = min(end, last) - max(begin, first)
        if overlap > 0:
            total += overlap * 60.0 / mark.getQuarterBPM()
    return total


@pytest.mark.parametrize("path", FILES)
def test_seconds_of_bars(path: str) -> None:
    """Every bar that both read lasts as long."""
    from music21 import converter

    folder = helpers.music21_folder() / "corpus"
    (entry,) = helpers.run("measure", [path], folder).report["files"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(folder / path, forceSource=True)
    boundaries = score.metronomeMarkBoundaries()
    parts = [list(part.getElementsByClass("Measure")) for part in score.parts]
    assert len(parts[0]) == len(entry["bar_seconds"])
    compared = 0
    for measures, said in zip(zip(*parts, strict=True), entry["bar_seconds"], strict=True):
        begin = float(measures[0].offset)
        end = begin + max(float(measure.flatten().notesAndRests.stream().highestTime) for measure in measures)
        if said is not None:
            assert said == pytest.approx(seconds_between(boundaries, begin, end), abs=CLOSE), f"bar {measures[0].number}"
            compared += 1
    assert compared >= len(parts[0]) - 1, "the first bar may stand before the first tempo"
