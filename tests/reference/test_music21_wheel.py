"""Every score file of the installed music21 package goes through the audit.

Source: the PyPI package music21: 808 files, old and new, of many exporters. What counts as damaged
is decided by expat (Python's xml.etree), which refuses what is not well-formed, and by comparing the
ids of the part list with those of the parts (MusicXML 4.0: a part's id is an IDREF to its score-part).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
import zipfile
from collections import Counter
from pathlib import Path

import pytest

import helpers
import survey

EXPECTED_FILES = 808
SCORE_ROOTS = ("score-partwise", "score-timewise")


@pytest.fixture(scope="module")
def audited(music21_folder: Path) -> list[helpers.Run]:
    """The audit of all of them, in a few runs."""
    return helpers.run_all("audit", helpers.score_files(music21_folder), music21_folder)


def is_damaged(path: Path) -> bool:
    """Whether the standard library refuses the file too, or finds no score in it."""
    try:
        scores = [ET.fromstring(data) for data in helpers.roots(path)]
    except (ET.ParseError, ValueError, LookupError, zipfile.BadZipFile):
        return True
    return not scores or any(score.tag not in SCORE_ROOTS or not lists_its_parts(score) for score in scores)


def lists_its_parts(score: ET.Element) -> bool:
    """Whether the part list names just the parts that the score holds."""
    listed = [part.get("id") for part in score.iterfind("part-list/score-part")]
    held = {part.get("id") for part in score.iter("part")}
    return len(set(listed)) == len(listed) and set(listed) == held


def test_every_file_is_reported_once(audited: list[helpers.Run], music21_folder: Path) -> None:
    paths = helpers.score_files(music21_folder)
    assert len(paths) == EXPECTED_FILES, "another version of music21: pin it, or count again"
    expected = {path: max(1, len(helpers.roots(music21_folder / path))) for path in paths}
    entries = [(entry["path"], entry["member"]) for run in audited for entry in run.report["files"]]
    assert len(set(entries)) == len(entries), "a root file is reported twice"
    assert Counter(path for path, _ in entries) == expected


def test_no_sound_file_is_called_damaged(audited: list[helpers.Run], music21_folder: Path) -> None:
    called = {
        entry["path"]: finding["message"]
        for run in audited
        for entry in run.report["files"]
        for finding in entry["findings"]
        if finding["rule"] == "damaged-file"
    }
    wrong = [f"{path}: {message}" for path, message in called.items() if not is_damaged(music21_folder / path)]
    assert not wrong, "\n".join(wrong[:20])


def test_totals_and_exit_codes_agree_with_the_findings(audited: list[helpers.Run]) -> None:
    for run in audited:
        findings = [finding for entry in run.report["files"] for finding in entry["findings"]]
        standing = Counter(finding["level"] for finding in findings if finding["stet"] is None)
        for level in survey.LEVELS:
            assert run.report["totals"][level] == standing[level], level
        # The gate is `error`; `undecided` fails only where a house style says `must-judge`.
        assert run.code == (1 if standing["error"] else 0)


def test_table_of_findings(audited: list[helpers.Run], capsys: pytest.CaptureFixture[str]) -> None:
    text = survey.table(audited)
    with capsys.disabled():
        print(f"\n{text}")
    assert f"{EXPECTED_FILES} files" in text
