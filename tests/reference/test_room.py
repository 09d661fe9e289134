"""The program's room across against the plain reckoning, bar by bar and system by system.

Which staves are printed, where systems begin and how wide bars are is taken from the program's own
report; what the notes need is reckoned anew from the file (`plain_events.py`, `plain_room.py`,
`plain_system.py`). Bars and systems of which the program says nothing are passed over, and counted.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path

import helpers
import invented
import plain_events
import plain_score
import plain_system

CLOSE = 0.01
"""Staff spaces, and steps of strain: the report is rounded to a thousandth and a ten-thousandth."""
WIDTHS = ("least", "short", "natural", "stretched")
ALMOST_NONE = 0.1
"""A pull below which a hundredth of it is a long way: how it compares is not compared."""
SHOWN = 40
INVENTED, BARS = 40, 16


@dataclass
class Comparison:
    """What was compared, and where the two differ."""

    files: int = 0
    bars: int = 0
    systems: int = 0
    relatives: int = 0
    differing: list[str] = field(default_factory=list)

    def take(self, where: str, mine: dict[str, float | None], theirs: helpers.Json) -> None:
        """Compare one bar or system; a value that only one of the two can name differs too."""
        for name, value in mine.items():
            said = theirs[name]
            if (value is None) != (said is None) or (value is not None and abs(value - said) > CLOSE):
                self.differing.append(f"{where}: {name} {value} by the plain reckoning, {said} by the program")

    def file(self, path: str, score: plain_events.Score, entry: helpers.Json) -> None:
        """Compare one file."""
        reckoned = plain_system.systems(score, entry)
        listed = [system for page in entry["pages"] for system in page["systems"]]
        movements = {key: list(group) for key, group in groupby(reckoned, key=lambda system: system.movement)}
        usual = {key: plain_system.usual_force(systems) for key, systems in movements.items()}
        before = self.bars
        for mine, theirs in zip(reckoned, listed, strict=True):
            for bar, said in zip(mine.bars, theirs["bar_widths"], strict=True):
                if said["natural"] is not None:
                    self.bars += 1
                    widths = dict(zip(WIDTHS, bar.four(), strict=True))
                    self.take(f"{path}, bar {said['bar_index']} of the file", widths, said)
            if theirs["spacing"] is not None:
                where = f"{path}, bars {mine.bar_index[0]} to {mine.bar_index[-1]} of the file"
                self.system(where, mine, usual.get(mine.movement), theirs["spacing"])
        self.files += self.bars > before

    def system(self, where: str, mine: plain_system.System, usual: float | None, theirs: helpers.Json) -> None:
        """Compare one system."""
        self.systems += 1
        force = mine.force()
        values = {
            "beginning": mine.prefix,
            "available": mine.available,
            "strain": mine.strain,
            "tension": force,
            "ease": mine.kappa,
            **dict(zip(WIDTHS, mine.four, strict=True)),
        }
        if usual is not None and theirs["relative"] is not None and force > ALMOST_NONE:
            self.relatives += 1
            values["relative"] = plain_system.relative(force, usual)
        self.take(where, values, theirs)

    def nothing_differs(self) -> None:
        """Fail with the differences, and how many of what were compared."""
        if self.differing:
            told = f"{len(self.differing)} differences in {self.bars} bars of {self.files} files\n"
            raise AssertionError(told + "\n".join(self.differing[:SHOWN]))


def compare(folder: Path, measured: dict[str, helpers.Json]) -> Comparison:
    """All files that the plain reading takes."""
    comparison = Comparison()
    for path, entry in measured.items():
        if entry["damage"] is not None or not entry["pages"]:
            continue
        try:
            root = plain_score.load(folder / path)
        except (plain_score.NotReadable, ET.ParseError):
            continue
        comparison.file(path, plain_events.read(root), entry)
    return comparison


def test_published_scores(real_folder: Path) -> None:
    paths = helpers.score_files(real_folder)
    comparison = compare(real_folder, helpers.by_path(helpers.run_all("measure", paths, real_folder)))
    comparison.nothing_differs()
    # Three quartets, three orchestral scores, two songs with a stated layout.
    assert comparison.files >= 8
    assert comparison.bars >= 1900
    assert comparison.relatives >= 200


def test_scores_of_the_wheel(music21_folder: Path, measured_wheel: dict[str, helpers.Json]) -> None:
    comparison = compare(music21_folder, measured_wheel)
    comparison.nothing_differs()
    assert comparison.files >= 450
    assert comparison.bars >= 18_000
    assert comparison.systems >= 3_000


def test_invented_scores(tmp_path: Path) -> None:
    """What is rare in real scores: cues, small staves, clefs and graces anywhere, crowded accidentals."""
    paths = [f"invented-{seed:02}.musicxml" for seed in range(INVENTED)]
    for seed, path in enumerate(paths):
        (tmp_path / path).write_text(invented.Writer(seed).score(BARS), encoding="utf-8")
    comparison = compare(tmp_path, helpers.by_path(helpers.run_all("measure", paths, tmp_path)))
    comparison.nothing_differs()
    assert comparison.bars == INVENTED * BARS
