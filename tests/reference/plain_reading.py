"""A second opinion: pages, systems and staves of a MusicXML file, read the plainest way.

Only what the reference tests compare: no judgement, no streaming, the whole tree in memory.
Lengths are in tenths unless a name says millimetres. The meaning of each element is that of
the MusicXML 4.0 standard; the two dialects of hidden staves and the height of notes are what
exported files were seen to do. Raises `NotReadable` for what it does not cover.
"""

from __future__ import annotations

import io
import statistics
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

FULL_STAFF = 40.0
STEPS = {"C": 0, "D": 1, "E": 2, "F": 3, "G": 4, "A": 5, "B": 6}
# Diatonic number (7 x octave + step) of the note on the clef's own line.
CLEF_NOTES = {"G": 4 * 7 + 4, "F": 3 * 7 + 3, "C": 4 * 7 + 0}
CLEF_LINES = {"G": 2, "F": 4, "C": 3, "percussion": 3}


class NotReadable(Exception):
    """The file is not a partwise score this reader covers; the text says why."""


@dataclass
class Staff:
    """One printed staff of one system."""

    part: str
    number: int
    height: float
    gap: float | None = None
    """White above it, from the staff above in the same system; None on the first or if unknown."""
    offset: float | None = None
    """Its top line below the system's top line; None if a distance above it is unknown."""
    note_offset: float | None = None
    """The same, read from the notes' default-y; None without notes that have one."""
    note_count: int = 0
    octave_line: bool = False
    """Whether an octave line stands on it in this system: its notes are then drawn octaves off."""


@dataclass
class System:
    """One system: a run of bars, one above the other all its printed staves."""

    first: int
    last: int
    numbers: list[str]
    widths: list[float | None]
    staves: list[Staff]
    left_margin: float = 0.0
    right_margin: float = 0.0
    gap: float | None = None
    """System-distance, or top-system-distance for the first of a page; None if unknown."""
    top: float | None = None
    left: float = 0.0
    right_by_margin: float = 0.0

    @property
    def height(self) -> float | None:
        """From its first top line to its last bottom line."""
        if not self.staves:
            return 0.0
        last = self.staves[-1]
        return None if last.offset is None else last.offset + last.height

    @property
    def right_by_widths(self) -> float | None:
        """Where the bar widths end; None when one is missing."""
        widths = [w for w in self.widths if w is not None]
        return self.left + sum(widths) if len(widths) == len(self.widths) else None


@dataclass
class Page:
    """One page with its own size and margins."""

    number: int
    width: float
    height: float
    margins: dict[str, float]
    systems: list[System] = field(default_factory=list)


@dataclass
class Reading:
    """What the file says of its layout."""

    millimetres_per_tenth: float | None
    pages: list[Page]
    dialect: str
    part_ids: list[str]
    root: ET.Element


def load(path: Path) -> ET.Element:
    """The root element of a plain or compressed file."""
    data = path.read_bytes()
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            container = ET.fromstring(archive.read("META-INF/container.xml"))
            name = next(e.get("full-path", "") for e in container.iter() if e.tag.endswith("rootfile"))
            data = archive.read(name)
    return ET.fromstring(data)


def number(parent: ET.Element | None, path: str) -> float | None:
    """The number in a child element; None when absent."""
    text = None if parent is None else parent.findtext(path)
    return float(text) if text and text.strip() else None


def printed_parts(root: ET.Element) -> list[ET.Element]:
    """The parts in the order of the part list."""
    if root.tag != "score-partwise":
        raise NotReadable(f"root is {root.tag}")
    by_id = {part.get("id", ""): part for part in root.findall("part")}
    order = [e.get("id", "") for e in root.findall("part-list/score-part")]
    return [by_id[i] for i in order if i in by_id]


@dataclass
class _Bar:
    """What one part says in one bar."""

    prints: list[ET.Element]
    details: list[ET.Element]
    staves: int
    width: float | None
    sounding: set[int]
    octave_lines: set[int]
    heights: dict[int, list[float]]
    """Per staff: default-y less the place that pitch and clef give."""


def _measures(part: ET.Element) -> Iterator[_Bar]:
    """Walk a part bar by bar with clefs and staves in effect."""
    staves = 1
    clefs: dict[int, list[tuple[float, str, int, int]]] = {}
    lines: dict[int, int] = {}
    octave_lines: set[int] = set()
    divisions = 1.0
    begin = 0.0
    for measure in part.findall("measure"):
        now, longest, start = 0.0, 0.0, 0.0
        details: list[ET.Element] = []
        notes: list[tuple[float, int, ET.Element]] = []
        under = set(octave_lines)
        for item in measure:
            if item.tag == "attributes":
                divisions = number(item, "divisions") or divisions
                staves = int(number(item, "staves") or staves)
                details += item.findall("staff-details")
                for one in item.findall("staff-details"):
                    lines[int(one.get("number", 1))] = int(number(one, "staff-lines") or 5)
                for clef in item.findall("clef"):
                    sign = clef.findtext("sign") or "G"
                    line = int(number(clef, "line") or CLEF_LINES.get(sign, 2))
                    octave = int(number(clef, "clef-octave-change") or 0)
                    clefs.setdefault(int(clef.get("number", 1)), []).append((begin + now, sign, line, octave))
            elif item.tag == "direction":
                for shift in item.iter("octave-shift"):
                    staff = int(number(item, "staff") or 1)
                    under.add(staff)
                    if shift.get("type") == "stop":
                        octave_lines.discard(staff)
                    else:
                        octave_lines.add(staff)
            elif item.tag in ("backup", "forward"):
                step = (number(item, "duration") or 0.0) / divisions
                now += -step if item.tag == "backup" else step
            elif item.tag == "note":
                length = (number(item, "duration") or 0.0) / divisions
                if item.find("chord") is None:
                    start, now = now, now + length
                notes.append((begin + start, int(number(item, "staff") or 1), item))
            longest = max(longest, now)
        heights: dict[int, list[float]] = {}
        for when, staff, note in notes:
            place = _place(note, clefs.get(staff, []), when, lines.get(staff, 5))
            if place is not None:
                heights.setdefault(staff, []).append(place)
        begin += longest
        yield _Bar(
            measure.findall("print"), details, staves, _float(measure.get("width")),
            {staff for _, staff, note in notes if note.find("rest") is None}, under, heights,
        )


def _float(text: str | None) -> float | None:
    return float(text) if text and text.strip() else None


def _place(note: ET.Element, clefs: list[tuple[float, str, int, int]], when: float, lines: int) -> float | None:
    """default-y less the height over the staff's top line that pitch and clef give."""
    said = _float(note.get("default-y"))
    pitch = note.find("pitch")
    if said is None or pitch is None or note.get("print-object") == "no":
        return None
    held = [clef for clef in clefs if clef[0] <= when + 1e-6]
    _, sign, line, octave = held[-1] if held else (0.0, "G", 2, 0)
    if sign not in CLEF_NOTES:
        return None
    step = int(pitch.findtext("octave") or 4) * 7 + STEPS[(pitch.findtext("step") or "C").strip()]
    return said - ((line - lines) * 10 + (step - CLEF_NOTES[sign] - 7 * octave) * 5)


class _Hiding:
    """Which staves of a part are hidden, by either dialect of staff-details."""

    def __init__(self, toggles: bool) -> None:
        self.toggles = toggles
        self.hidden: set[int] = set()
        self.sizes: dict[int, float] = {}
        self.lines: dict[int, int] = {}

    def open_system(self) -> None:
        if not self.toggles:
            self.hidden.clear()

    def take(self, details: ET.Element, staves: int) -> None:
        said = details.get("number")
        numbers = [int(said)] if said else ([1] if staves == 1 else list(range(1, staves + 1)))
        for n in numbers:
            shown = details.get("print-object")
            if shown == "no" and details.get("print-spacing") != "yes":
                self.hidden.add(n)
            elif shown == "yes":
                self.hidden.discard(n)
            self.sizes[n] = number(details, "staff-size") or self.sizes.get(n, 100.0)
            self.lines[n] = int(number(details, "staff-lines") or self.lines.get(n, 5))

    def height(self, n: int) -> float:
        """The room it takes in the stack; a single line takes that of five, as exporters place it."""
        lines = self.lines.get(n, 5)
        return (FULL_STAFF if lines == 1 else (lines - 1) * 10) * self.sizes.get(n, 100.0) / 100

    def factor(self, n: int) -> float:
        """Distances above a small five-line staff shrink with it."""
        return self.sizes.get(n, 100.0) / 100 if self.lines.get(n, 5) == 5 else 1.0


def _margins(layout: ET.Element | None, parity: str, base: dict[str, float]) -> dict[str, float]:
    """Page margins for a page of that parity, child by child over `base`."""
    found = dict(base)
    for element in layout.findall("page-margins") if layout is not None else []:
        if element.get("type", "both") in ("both", parity):
            for side in ("left", "right", "top", "bottom"):
                value = number(element, f"{side}-margin")
                if value is not None:
                    found[side] = value
    return found


def _staff_distance(layouts: list[ET.Element], n: int, exact: bool) -> float | None:
    """Staff-distance for staff `n`; from defaults also that of staff 1."""
    by_number = {int(e.get("number", 1)): number(e, "staff-distance") for e in layouts}
    return by_number.get(n) if exact or by_number.get(n) is not None else by_number.get(1)


def read(path: Path, hide_silent: bool = True) -> Reading:
    """Read one file. Page count and systems stand even where distances are unknown."""
    root = load(path)
    parts = printed_parts(root)
    ids = [part.get("id", "") for part in parts]
    bars = [list(_measures(part)) for part in parts]
    if not bars or not bars[0]:
        raise NotReadable("no bars")
    count = max(map(len, bars))
    defaults = root.find("defaults")
    scaling = (number(defaults, "scaling/millimeters"), number(defaults, "scaling/tenths"))
    per_tenth = scaling[0] / scaling[1] if scaling[0] and scaling[1] else None

    def said(i: int) -> list[ET.Element]:
        return [p for rows in bars if i < len(rows) for p in rows[i].prints]

    page_starts = [i for i in range(count) if i == 0 or any(p.get("new-page") == "yes" for p in said(i))]
    starts = [
        i for i in range(count)
        if i in set(page_starts) or any(p.get("new-system") == "yes" for p in said(i))
    ]
    toggles = any(
        d.get("print-object") == "yes" for rows in bars for bar in rows for d in bar.details
    )
    hides = any(d.get("print-object") == "no" for rows in bars for bar in rows for d in bar.details)
    default_staves = defaults.findall("staff-layout") if defaults is not None else []
    implicit = not default_staves and any(
        e.find("staff-distance") is not None
        for rows in bars for bar in rows for p in bar.prints for e in p.findall("staff-layout")
    )
    numbers = [m.get("number", "") for m in max((p.findall("measure") for p in parts), key=len)]

    hiding = [_Hiding(toggles) for _ in parts]
    pages: list[Page] = []
    upcoming = 1
    for index, first in enumerate(starts):
        last = (starts[index + 1] if index + 1 < len(starts) else count) - 1
        opens_page = first in set(page_starts)
        prints = said(first)
        if opens_page:
            for p in prints:
                if (p.get("blank-page") or "").isdigit() and p.get("new-page") == "yes":
                    upcoming += int(p.get("blank-page", 0))
                    break
            renumbered = [p.get("page-number", "") for p in prints if (p.get("page-number") or "").isdigit()]
            upcoming = int(renumbered[0]) if renumbered else upcoming
            pages.append(_page(upcoming, defaults, prints))
            upcoming += 1

        staves: list[tuple[Staff, float, float | None, float | None, bool]] = []
        for part_id, rows, hide in zip(ids, bars, hiding, strict=True):
            own = rows[first : last + 1]
            if not own:
                continue
            hide.open_system()
            for detail in own[0].details:
                hide.take(detail, own[0].staves)
            layouts = [e for p in own[0].prints for e in p.findall("staff-layout")]
            spacing = next((_float(p.get("staff-spacing")) for p in own[0].prints if p.get("staff-spacing")), None)
            for n in range(1, max(bar.staves for bar in own) + 1):
                if n in hide.hidden:
                    continue
                stated = _staff_distance(layouts, n, exact=True)
                stated = spacing if stated is None else stated
                fallback = _staff_distance(default_staves, n, exact=False)
                heights = [h for bar in own for h in bar.heights.get(n, [])]
                staff = Staff(part_id, n, hide.height(n), note_count=len(heights))
                staff.note_offset = -statistics.median_low(heights) if heights else None
                staff.octave_line = any(n in bar.octave_lines for bar in own)
                sounds = any(n in bar.sounding for bar in own)
                staves.append((staff, hide.factor(n), stated, fallback, sounds))
            for bar in own[1:]:
                for detail in bar.details:
                    hide.take(detail, bar.staves)
        if implicit:
            staves = _without_silent(staves) if hide_silent else staves
        system = System(first, last, numbers[first : last + 1], _widths(bars, first, last), [])
        offset: float | None = None
        for k, (staff, factor, stated, fallback, _) in enumerate(staves):
            gap = stated if stated is not None else fallback
            if k == 0:
                staff.offset = 0.0
            else:
                above = system.staves[-1]
                staff.gap = None if gap is None else gap * factor
                staff.offset = None if offset is None or staff.gap is None else offset + above.height + staff.gap
            offset = staff.offset
            system.staves.append(staff)
        _place_system(system, pages[-1], defaults, prints, staves[0][1] if staves else 1.0)
        pages[-1].systems.append(system)

    dialect = "toggle" if toggles else "per system" if hides else "none"
    return Reading(per_tenth, pages, dialect + (" + implicit" if implicit else ""), ids, root)


def _without_silent(
    staves: list[tuple[Staff, float, float | None, float | None, bool]],
) -> list[tuple[Staff, float, float | None, float | None, bool]]:
    """The implicit dialect: a silent staff above the first one that has a distance is hidden."""
    with_distance = [k for k, row in enumerate(staves) if row[2] is not None]
    if not with_distance:
        return staves
    above = [k for k in range(with_distance[0]) if staves[k][4]]
    keep = above or [with_distance[0] - 1]
    return [row for k, row in enumerate(staves) if k in keep or (k >= with_distance[0] and (row[2] is not None or row[4]))]


def _page(page_number: int, defaults: ET.Element | None, prints: list[ET.Element]) -> Page:
    parity = "odd" if page_number % 2 else "even"
    stated = defaults.find("page-layout") if defaults is not None else None
    width, height = number(stated, "page-width"), number(stated, "page-height")
    margins = _margins(stated, parity, {})
    for p in reversed(prints):
        layout = p.find("page-layout")
        width = number(layout, "page-width") or width
        height = number(layout, "page-height") or height
        margins = _margins(layout, parity, margins)
    return Page(page_number, width or 0.0, height or 0.0, margins)


def _widths(bars: list[list[_Bar]], first: int, last: int) -> list[float | None]:
    """Each bar's width, from the first part that states one."""
    return [
        next((rows[i].width for rows in bars if i < len(rows) and rows[i].width is not None), None)
        for i in range(first, last + 1)
    ]


def _place_system(
    system: System, page: Page, defaults: ET.Element | None, prints: list[ET.Element], factor: float
) -> None:
    """Set the system's margins, the gap above it and its top line."""
    stated = [p.find("system-layout") for p in prints]
    layouts = [e for e in stated if e is not None]
    if defaults is not None and (base := defaults.find("system-layout")) is not None:
        layouts.append(base)

    def first_of(path: str) -> float | None:
        return next((v for e in layouts if (v := number(e, path)) is not None), None)

    system.left_margin = first_of("system-margins/left-margin") or 0.0
    system.right_margin = first_of("system-margins/right-margin") or 0.0
    system.left = page.margins.get("left", 0.0) + system.left_margin
    system.right_by_margin = page.width - page.margins.get("right", 0.0) - system.right_margin
    if not page.systems:
        system.gap = first_of("top-system-distance")
        above: float | None = page.margins.get("top")
    else:
        system.gap = first_of("system-distance")
        system.gap = None if system.gap is None else system.gap * factor
        previous = page.systems[-1]
        height = previous.height
        above = None if previous.top is None or height is None else previous.top + height
    system.top = None if above is None or system.gap is None else above + system.gap
