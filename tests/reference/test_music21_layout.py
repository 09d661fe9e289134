"""Pages, systems, bars and staves against music21, an independent reader.

Source: the PyPI package music21 (pinned), its `layout.divideByPages` and the layout objects it reads
from the file. It is used only where it is sound, found by comparing it with the computation in
`plain_reading.py` on sixty files; both are tried here, so that the list stays true.

Not used, because music21 is wrong there:
- right and bottom page margins: `getMarginsAndSizeForPageId` hands them back swapped;
- margins that differ on odd and even pages: one of the two is taken for all pages;
- bars whose numbers repeat or carry letters (`4a`, `X1`): systems are cut by number, so bars go
  missing or stand in two systems (seen in bach/bwv270, bach/bwv29.8, liliuokalani/aloha_oe);
- distances the file does not state: 60 tenths between staves and 0 between systems are assumed
  (monteverdi/madrigal.5.6, omr/k525OMRshort);
- `staff-size`: the height shrinks, the distances above that staff do not (demos/layoutTest);
- staves of other than five lines: 40 tenths each (trecento/PMFC_12_9);
- staves hidden without a word about it (schubert/Lindenbaum), timewise files.
"""

from __future__ import annotations

import functools
import warnings
from dataclasses import dataclass
from pathlib import Path

import pytest

import helpers
import plain_reading

# On every file: partwise, equal odd and even margins, bar numbers that only rise, every distance
# and every width stated, no hidden and no small staves. Beside it what it adds.
SOUND = {
    "corpus/bach/bwv397.mxl": "four voices; page margins without a type, distances only in prints",
    "corpus/bach/bwv79.3.mxl": "eight parts, choir and orchestra; MusicXML 1.1 of 2008, page-number in bar 1",
    "corpus/beethoven/opus59no3/movement3.mxl": "string quartet of 13 pages; distances in defaults",
    "corpus/corelli/opus3no1/1grave.xml": "trio sonata, one page, uncompressed",
    "corpus/cpebach/h186.mxl": "keyboard: one part on two staves; MusicXML 3.1",
    "corpus/haydn/opus1no1/movement1.mxl": "string quartet; pick-up bar numbered 0, margins stated for odd and even",
    "corpus/johnson_j_r/lift_every_voice.mxl": "choir; gaps differ between the same two staves; MusicXML 4.0",
    "corpus/joplin/maple_leaf_rag.mxl": "piano rag with a pick-up bar; staff-distance only in prints, of staff 2 alone",
    "corpus/leadSheet/fosterBrownHair.mxl": "one part on one staff",
    "corpus/luca/gloria.xml": "three voices, five pages, uncompressed",
    "corpus/lusitano/allor_che_ignuda.mxl": "three voices; the last page runs past the bottom margin",
    "corpus/monteverdi/madrigal.3.7.mxl": "five voices, eleven pages; one of the few madrigals stating its distances",
    "corpus/mozart/k545/movement1_exposition.mxl": "piano, MusicXML 2.0",
    "corpus/schoenberg/opus19/movement2.mxl": "piano, one page; MusicXML 2.0 of 2010",
    "corpus/schumann_clara/opus17/movement3.xml": "trio: one-staff and two-staff parts together",
    "corpus/schumann_clara/polonaise_op1n1.mxl": "piano; margins stated for odd and even pages, and equal",
    "corpus/schumann_robert/opus48no2.mxl": "voice and piano",
    "corpus/trecento/PMFC_06_8-In Verde Prato.xml": "widths in whole tenths; each system states its own distances",
    "corpus/verdi/laDonnaEMobile.mxl": "aria for piano: staff-distance differs from system to system",
    "corpus/weber/concertino_clarinet.mxl": "solo and piano, nine pages",
    "corpus/webern/webern_dormi_jesu_op_16_no_2.mxl": "voice and clarinet; MusicXML 4.0",
}

LENGTH = 0.002
"""mm: both sides are exact; the JSON is rounded to 0.001 mm."""


@dataclass
class System:
    """One system in mm from the page's top; staves by their top lines."""

    bars: int
    widths: list[float | None]
    top: float
    staves: list[float]


@dataclass
class Page:
    """One page in mm."""

    width: float
    height: float
    systems: list[System]


@functools.cache
def by_music21(path: Path) -> list[Page]:
    """The pages as music21 reads them."""
    from music21 import converter, layout, stream  # noqa: PLC0415 - slow to import: only here

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(path, format="musicxml", forceSource=True)
        divided = layout.divideByPages(score, fastMeasures=True)
    scale = divided.scoreLayout.scalingMillimeters / divided.scoreLayout.scalingTenths
    pages = []
    for p, page in enumerate(divided.pages):
        size = divided.getMarginsAndSizeForPageId(p)
        systems = []
        for s, system in enumerate(page.systems):
            top = size.top + divided.getPositionForSystem(p, s).top
            bars = list(system.parts.first().getElementsByClass(stream.Measure))
            staves = [
                top + divided.getPositionForStaff(p, s, k)[0]
                for k in range(len(system.staves))
                if not divided.getStaffHiddenAttribute(p, s, k)
            ]
            widths = [None if bar.layoutWidth is None else bar.layoutWidth * scale for bar in bars]
            systems.append(System(len(bars), widths, top * scale, [staff * scale for staff in staves]))
        pages.append(Page(size.width * scale, size.height * scale, systems))
    return pages


def measured(entry: helpers.Json) -> list[Page]:
    """The same from `measure`."""
    return [
        Page(
            page["width_mm"],
            page["height_mm"],
            [
                System(
                    len(system["bar_widths"]),
                    [bar["width_mm"] for bar in system["bar_widths"]],
                    system["top_mm"],
                    [staff["top_mm"] for staff in system["staves"]],
                )
                for system in page["systems"]
            ],
        )
        for page in entry["pages"]
    ]


def read_plainly(path: Path) -> list[Page]:
    """The same from the second opinion."""
    reading = plain_reading.read(path)
    scale = reading.millimetres_per_tenth
    assert scale is not None
    pages = []
    for page in reading.pages:
        systems = []
        for system in page.systems:
            assert system.top is not None
            staves = [system.top + staff.offset for staff in system.staves if staff.offset is not None]
            widths = [None if width is None else width * scale for width in system.widths]
            systems.append(System(len(widths), widths, system.top * scale, [scale * staff for staff in staves]))
        pages.append(Page(page.width * scale, page.height * scale, systems))
    return pages


def assert_same(ours: list[Page], theirs: list[Page]) -> None:
    """Compare from the whole to the parts, so that the first difference is the telling one."""
    assert len(ours) == len(theirs), "pages"
    for p, (page, other) in enumerate(zip(ours, theirs, strict=True), start=1):
        assert (page.width, page.height) == pytest.approx((other.width, other.height), abs=LENGTH), f"page {p}: size"
        assert len(page.systems) == len(other.systems), f"page {p}: systems"
        for s, (system, that) in enumerate(zip(page.systems, other.systems, strict=True), start=1):
            at = f"page {p} system {s}"
            assert system.bars == that.bars, f"{at}: bars"
            assert len(system.staves) == len(that.staves), f"{at}: staves"
            assert system.top == pytest.approx(that.top, abs=LENGTH), f"{at}: top"
            assert system.staves == pytest.approx(that.staves, abs=LENGTH), f"{at}: staff tops"
            assert system.widths == pytest.approx(that.widths, abs=LENGTH), f"{at}: bar widths"


@pytest.mark.parametrize("name", SOUND)
def test_measure_agrees_with_music21(name: str, music21_folder: Path, measured_wheel: dict[str, helpers.Json]) -> None:
    assert_same(measured(measured_wheel[name]), by_music21(music21_folder / name))


@pytest.mark.parametrize("name", SOUND)
def test_music21_is_sound_here(name: str, music21_folder: Path) -> None:
    """The list's own check: the plain computation and music21 say the same."""
    assert_same(read_plainly(music21_folder / name), by_music21(music21_folder / name))
