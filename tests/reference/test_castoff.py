"""Files written with a new layout: valid, and every note as it was.

Sources: the MusicXML 4.0 schema (with xmllint), and the PyPI package music21, which reads a score before and after: pitches,
onsets, durations, ties and lyrics of every part must be the same.
"""

from __future__ import annotations

import subprocess
import warnings
from pathlib import Path
from typing import Any

import pytest

import helpers
from test_schema import schema, validate

__all__ = ["schema"]

DEMO = sorted(path.name for path in (helpers.ROOT / "fixtures" / "demo").glob("*.musicxml"))
CORPUS = (
    "bach/bwv59.3.mxl",
    "beethoven/opus59no3/movement1.mxl",
    "haydn/opus1no1/movement2.mxl",
    "joplin/maple_leaf_rag.mxl",
    "monteverdi/madrigal.5.4.mxl",
    "mozart/k458/movement2.mxl",
    "schubert/Lindenbaum.xml",
)


def cast_off(source: Path, out: Path) -> None:
    """Write a score with its new layout."""
    done = subprocess.run(
        [str(helpers.program()), "castoff", "--write", str(out), str(source)], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-500:]


def music(path: Path) -> list[list[tuple[Any, ...]]]:
    """Everything that sounds, part by part: when, how long, what, with its words."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(path, forceSource=True)
    parts = []
    for part in score.parts:
        found = []
        for element in part.flatten().notesAndRests:
            pitches = tuple(pitch.nameWithOctave for pitch in getattr(element, "pitches", ()))
            words = tuple((lyric.number, lyric.text, lyric.syllabic) for lyric in element.lyrics)
            tie = element.tie.type if element.tie else None
            found.append((element.offset, element.quarterLength, pitches, tie, words))
        parts.append(sorted(found, key=repr))
    return parts


@pytest.mark.parametrize("name", DEMO)
def test_the_demo_set_written_anew_is_valid(name: str, schema: Path, tmp_path: Path) -> None:
    """Each copy of the demo set."""
    out = tmp_path / name
    cast_off(helpers.ROOT / "fixtures" / "demo" / name, out)
    wrong = validate(schema, [out])
    assert not wrong, "\n".join(wrong[:20])


@pytest.mark.parametrize("path", CORPUS)
def test_real_scores_keep_every_note(path: str, tmp_path: Path) -> None:
    """Scores from several exporters."""
    source = helpers.music21_folder() / "corpus" / path
    out = tmp_path / "out.musicxml"
    cast_off(source, out)
    before, after = music(source), music(out)
    assert any(before)
    assert before == after
