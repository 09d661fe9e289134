"""Parts taken out of open scores match their score by what sounds; music21 agrees on what transposing parts sound.

Source: scores of the PyPI package music21. Each part is cut out of the score's own XML and audited in one folder with
the score: it must be told as holding that part and no other, and its notes must all stand in the score. For transposing
parts music21 itself writes the part at sounding pitch; that copy must match as well, so both reckon the same sounds. With
its transposition taken away, the part sounds elsewhere, and that must be told.

Part names of real scores are often alike; where two parts of a score have one name, either may be told.
"""

from __future__ import annotations

import json
import subprocess
import warnings
import xml.etree.ElementTree as ET
import zipfile
from copy import deepcopy
from pathlib import Path

import pytest

import helpers

FILES = (
    "beethoven/opus18no1/movement2.mxl",
    "trecento/PMFC_06_8-In Verde Prato.xml",
    "weber/concertino_clarinet.mxl",
)
TRANSPOSING = FILES[1:]
RULES = ("bars-differ", "copy-unmatched", "untransposed", "copy-missing")


def read(path: Path) -> ET.Element:
    """The score of a file, out of its container if it has one."""
    if path.suffix != ".mxl":
        return ET.parse(path).getroot()
    with zipfile.ZipFile(path) as box:
        inner = [one for one in box.namelist() if one.endswith((".xml", ".musicxml")) and not one.startswith("META-INF")]
        return ET.fromstring(box.read(inner[0]))


def alone(root: ET.Element, part: ET.Element) -> ET.Element:
    """A part as a score of its own, its title with it."""
    score = ET.Element("score-partwise", version="4.0")
    score.extend(deepcopy(one) for one in root if one.tag in ("work", "movement-title"))
    listed = ET.SubElement(score, "part-list")
    listed.extend(deepcopy(one) for one in root.findall("part-list/score-part") if one.get("id") == part.get("id"))
    score.append(deepcopy(part))
    return score


def names(root: ET.Element) -> dict[str, str]:
    return {one.get("id", ""): (one.findtext("part-name") or "").strip() for one in root.findall("part-list/score-part")}


def write(score: ET.Element, path: Path) -> None:
    ET.ElementTree(score).write(path, encoding="unicode", xml_declaration=False)


def audit(folder: Path) -> helpers.Json:
    only = [word for rule in RULES for word in ("--only", rule)]
    done = subprocess.run(
        [str(helpers.program()), "audit", ".", "--report", "json", "--gate", "never", *only],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    return json.loads(done.stdout)


def told(report: helpers.Json, rule: str) -> list[str]:
    return [
        f"{file['path']}: {one['message']}" for file in report["files"] for one in file["findings"] if one["rule"] == rule
    ]


@pytest.mark.parametrize("name", FILES)
def test_parts_match_their_score(name: str, tmp_path: Path) -> None:
    root = read(helpers.music21_folder() / "corpus" / name)
    called = names(root)
    write(root, tmp_path / "0-score.musicxml")
    for number, part in enumerate(root.findall("part"), 1):
        write(alone(root, part), tmp_path / f"part-{number}.musicxml")
    report = audit(tmp_path)
    [delivery] = report["deliveries"]
    assert delivery["score"] == "0-score.musicxml"
    plays = {copy["path"]: copy["plays"] for copy in delivery["copies"]}
    for number, part in enumerate(root.findall("part"), 1):
        assert plays[f"part-{number}.musicxml"] == [called[part.get("id", "")]], plays
    for rule in RULES:
        assert told(report, rule) == []


@pytest.mark.parametrize("name", TRANSPOSING)
def test_music21_agrees_on_what_sounds(name: str, tmp_path: Path) -> None:
    music21 = pytest.importorskip("music21")
    root = read(helpers.music21_folder() / "corpus" / name)
    write(root, tmp_path / "0-score.musicxml")
    number = 0
    for part in root.findall("part"):
        if part.find(".//transpose") is None:
            continue
        number += 1
        own = alone(root, part)
        write(own, tmp_path / f"part-{number}.musicxml")
        assert len(pitches(own)) > 20
        # The same part at sounding pitch, by music21's own interval: written pitches replaced one by one.
        shifted = deepcopy(own)
        for pitch, midi in zip(pitches(shifted), sounding_in_order(music21, tmp_path / f"part-{number}.musicxml"), strict=True):
            spell(pitch, midi)
        for attributes in shifted.iter("attributes"):
            for transpose in attributes.findall("transpose"):
                attributes.remove(transpose)
        write(shifted, tmp_path / f"sounding-{number}.musicxml")
    assert number > 0
    report = audit(tmp_path)
    [delivery] = report["deliveries"]
    assert len(delivery["copies"]) == 2 * number
    for rule in ("bars-differ", "copy-unmatched"):
        assert told(report, rule) == []
    # The name still says that it is for an instrument in B flat; that it sounds as in the score is what is asked here.
    assert not [message for message in told(report, "untransposed") if "than in the score" in message]


def pitches(score: ET.Element) -> list[ET.Element]:
    """Every pitch but those of grace notes, in the order of the file."""
    return [note.find("pitch") for note in score.iter("note") if note.find("pitch") is not None and note.find("grace") is None]


def sounding_in_order(music21, path: Path) -> list[int]:  # noqa: ANN001
    """The sounding pitches that music21 reckons, in the order of the file."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        stream = music21.converter.parse(str(path)).toSoundingPitch()
    found = []
    for element in stream.recurse().notes:
        if not element.duration.isGrace:
            found.extend(pitch.midi for pitch in element.pitches)
    return found


STEPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def spell(pitch: ET.Element, midi: int) -> None:
    """A pitch that sounds so, however it is spelt."""
    name = STEPS[midi % 12]
    for child in list(pitch):
        pitch.remove(child)
    ET.SubElement(pitch, "step").text = name[0]
    if len(name) > 1:
        ET.SubElement(pitch, "alter").text = "1"
    ET.SubElement(pitch, "octave").text = str(midi // 12 - 1)


def test_a_part_without_its_transposition_is_told(tmp_path: Path) -> None:
    root = read(helpers.music21_folder() / "corpus" / TRANSPOSING[1])
    write(root, tmp_path / "0-score.musicxml")
    [part] = [part for part in root.findall("part") if part.find(".//transpose") is not None]
    own = alone(root, part)
    for attributes in own.iter("attributes"):
        for transpose in attributes.findall("transpose"):
            attributes.remove(transpose)
    write(own, tmp_path / "clarinet.musicxml")
    report = audit(tmp_path)
    [message] = told(report, "untransposed")
    assert "sounds 2 semitones higher than in the score" in message
    assert report["files"][1]["findings"][0]["measured"] == -2
