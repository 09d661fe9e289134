"""A second opinion: pages, systems and staves of a MusicXML file, computed the plainest way.

Only what the reference tests compare; no judgement. Lengths are in tenths. The meaning of each
element is that of the MusicXML 4.0 standard. Beyond the standard stand three things that exported
files were seen to do, and no source but those files:

- a file that never says `print-object="yes"` hides staves anew in each system;
- where `defaults` has no staff-layout, a staff that is silent, has no distance of its own and
  stands above the topmost one that sounds is hidden without a word;
- a staff of one line takes the room of five in the stack.
"""

from __future__ import annotations

import statistics
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from pathlib import Path

import plain_score
from plain_score import FIVE_LINES, Bar, NotReadable, number, to_number

__all__ = ["NotReadable", "Page", "Reading", "Staff", "System", "read"]

LINE_SPACE = 10.0
FULL_STAFF = 40.0


@dataclass
class Staff:
    """One printed staff of one system."""

    part: str
    number: int
    height: float
    stated_here: bool
    """Whether this system's own print states the distance above it."""
    sounds: bool
    gap: float | None
    """White above it if another staff is above; None if unknown."""
    offset: float | None = None
    """Its top line below the system's top line; None if a distance above it is unknown."""
    note_offset: float | None = None
    """The same, read from the notes' default-y; None without notes that have one."""
    octave_line: bool = False
    """Whether an octave line stands on it in this system: its notes are then drawn octaves off."""
    factor: float = 1.0
    """What its staff-size makes of the distances above it."""


@dataclass
class System:
    """One system: a run of bars on all its printed staves."""

    numbers: list[str]
    widths: list[float | None]
    staves: list[Staff]
    left_margin: float = 0.0
    left: float = 0.0
    right_by_margin: float = 0.0
    top: float | None = None
    """Its top line below the page's edge; None if a distance above it is unknown."""

    @property
    def height(self) -> float | None:
        """From its first top line to its last bottom line; None if a distance is unknown."""
        if not self.staves:
            return 0.0
        last = self.staves[-1]
        return None if last.offset is None else last.offset + last.height


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


def read(path: Path) -> Reading:
    """Read one file. Pages and systems stand even where distances are unknown."""
    root = plain_score.load(path)
    scaling = root.find("defaults/scaling")
    millimetres, tenths = number(scaling, "millimeters"), number(scaling, "tenths")
    scale = millimetres / tenths if millimetres and tenths else None
    return Reading(scale, _Layout(root).pages())


class _Visibility:
    """Which staves of one part are hidden, and their sizes, as staff-details go by."""

    def __init__(self, toggles: bool) -> None:
        self.toggles = toggles
        self.hidden: set[int] = set()
        self.sizes: dict[int, float] = {}
        self.lines: dict[int, int] = {}

    def open_system(self) -> None:
        if not self.toggles:
            self.hidden.clear()

    def take(self, bar: Bar) -> None:
        for details in bar.details:
            named = details.get("number")
            for n in [int(named)] if named else range(1, bar.staves + 1):
                shown = details.get("print-object")
                if shown == "no" and details.get("print-spacing") != "yes":
                    self.hidden.add(n)
                elif shown == "yes":
                    self.hidden.discard(n)
                self.sizes[n] = number(details, "staff-size") or self.sizes.get(n, 100.0)
                self.lines[n] = plain_score.whole(details, "staff-lines", self.lines.get(n, FIVE_LINES))

    def height(self, n: int) -> float:
        lines = self.lines.get(n, FIVE_LINES)
        full = FULL_STAFF if lines == 1 else (lines - 1) * LINE_SPACE
        return full * self.sizes.get(n, 100.0) / 100

    def factor(self, n: int) -> float:
        """Distances above a small five-line staff shrink with it."""
        return self.sizes.get(n, 100.0) / 100 if self.lines.get(n, FIVE_LINES) == FIVE_LINES else 1.0


class _Layout:
    """All parts of one file, put onto pages."""

    def __init__(self, root: ET.Element) -> None:
        self.defaults = root.find("defaults")
        self.parts = plain_score.parts(root)
        self.longest = max(self.parts.values(), key=len)
        toggles = any(
            details.get("print-object") == "yes"
            for bars in self.parts.values()
            for bar in bars
            for details in bar.details
        )
        self.visibility = {part: _Visibility(toggles) for part in self.parts}
        self.default_staves = [] if self.defaults is None else self.defaults.findall("staff-layout")

    def prints(self, index: int) -> list[ET.Element]:
        """Every part's print elements in one bar."""
        return [one for bars in self.parts.values() if index < len(bars) for one in bars[index].prints]

    def pages(self) -> list[Page]:
        """All pages in order."""
        count = len(self.longest)
        breaks: dict[int, bool] = {0: True}
        for index in range(count):
            said = self.prints(index)
            if any(one.get("new-page") == "yes" for one in said):
                breaks[index] = True
            elif any(one.get("new-system") == "yes" for one in said):
                breaks.setdefault(index, False)
        starts = sorted(breaks)
        pages: list[Page] = []
        for first, end in zip(starts, [*starts[1:], count], strict=True):
            said = self.prints(first)
            if breaks[first]:
                pages.append(self.page(said, pages[-1].number + 1 if pages else 1))
            system = self.system(first, end)
            self.place(system, pages[-1], said)
            pages[-1].systems.append(system)
        return pages

    def page(self, said: list[ET.Element], page_number: int) -> Page:
        """An empty page: size and margins child by child, those of its print over defaults."""
        for one in said:
            if one.get("new-page") == "yes" and (blank := to_number(one.get("blank-page"))):
                page_number += int(blank)
                break
        stated = [one.get("page-number", "") for one in said]
        page_number = next((int(token) for token in stated if token.isdigit()), page_number)
        layouts = self.layouts(said, "page-layout")
        margins: dict[str, float] = {}
        for layout in reversed(layouts):
            for element in layout.findall("page-margins"):
                if element.get("type", "both") in ("both", "odd" if page_number % 2 else "even"):
                    for side in ("left", "right", "top", "bottom"):
                        if (value := number(element, f"{side}-margin")) is not None:
                            margins[side] = value
        width, height = _first(layouts, "page-width"), _first(layouts, "page-height")
        return Page(page_number, width or 0.0, height or 0.0, margins)

    def layouts(self, said: list[ET.Element], name: str) -> list[ET.Element]:
        """The layouts of that name that may hold a value, the strongest first."""
        places = said if self.defaults is None else [*said, self.defaults]
        return [layout for place in places if (layout := place.find(name)) is not None]

    def system(self, first: int, end: int) -> System:
        """Bars `first` up to `end`, stacked."""
        staves = [
            staff
            for part, bars in self.parts.items()
            if bars[first:end]
            for staff in self.staves(part, bars[first:end])
        ]
        if not self.default_staves:
            staves = _without_silent(staves)
        for above, staff in zip([None, *staves], staves, strict=False):
            if above is None:
                staff.offset = 0.0
            elif above.offset is not None and staff.gap is not None:
                staff.offset = above.offset + above.height + staff.gap
        numbers = [bar.number for bar in self.longest[first:end]]
        return System(numbers, [self.width(index) for index in range(first, end)], staves)

    def width(self, index: int) -> float | None:
        """A bar's width, from the first part that states one."""
        said = (bars[index].width for bars in self.parts.values() if index < len(bars))
        return next((width for width in said if width is not None), None)

    def staves(self, part: str, bars: list[Bar]) -> list[Staff]:
        """The printed staves of one part in one system."""
        visibility = self.visibility[part]
        visibility.open_system()
        visibility.take(bars[0])
        here = [layout for one in bars[0].prints for layout in one.findall("staff-layout")]
        spacing = next((to_number(one.get("staff-spacing")) for one in bars[0].prints), None)
        staves = []
        for n in range(1, max(bar.staves for bar in bars) + 1):
            if n in visibility.hidden:
                continue
            stated = _distance(here, n)
            gap = stated if stated is not None else spacing
            for fallback in (n, 1):
                gap = _distance(self.default_staves, fallback) if gap is None else gap
            heights = [height for bar in bars for height in bar.heights.get(n, [])]
            factor = visibility.factor(n)
            staves.append(
                Staff(
                    part,
                    n,
                    visibility.height(n),
                    stated_here=stated is not None,
                    sounds=any(n in bar.sounding for bar in bars),
                    gap=None if gap is None else gap * factor,
                    note_offset=-statistics.median_low(heights) if heights else None,
                    octave_line=any(n in bar.octave_lines for bar in bars),
                    factor=factor,
                )
            )
        for bar in bars[1:]:
            visibility.take(bar)
        return staves

    def place(self, system: System, page: Page, said: list[ET.Element]) -> None:
        """Set the system's ends and its top line on the page."""
        layouts = self.layouts(said, "system-layout")
        system.left_margin = _first(layouts, "system-margins/left-margin") or 0.0
        right_margin = _first(layouts, "system-margins/right-margin") or 0.0
        system.left = page.margins.get("left", 0.0) + system.left_margin
        system.right_by_margin = page.width - page.margins.get("right", 0.0) - right_margin
        if not page.systems:
            above, gap = page.margins.get("top"), _first(layouts, "top-system-distance")
        else:
            previous = page.systems[-1]
            above = None if previous.top is None or previous.height is None else previous.top + previous.height
            gap = _first(layouts, "system-distance")
            if gap is not None and system.staves:
                gap *= system.staves[0].factor
        system.top = None if above is None or gap is None else above + gap


def _first(layouts: list[ET.Element], path: str) -> float | None:
    """The value from the first layout that has it."""
    return next((value for layout in layouts if (value := number(layout, path)) is not None), None)


def _distance(layouts: list[ET.Element], n: int) -> float | None:
    """The staff-distance stated for staff `n`."""
    matching = [layout for layout in layouts if int(layout.get("number", 1)) == n]
    return _first(matching, "staff-distance")


def _without_silent(staves: list[Staff]) -> list[Staff]:
    """Drop staves hidden without a word; nothing is said when no staff here has a distance."""
    first = next((k for k, staff in enumerate(staves) if staff.stated_here), None)
    if not first:
        return staves
    # One of those above is the topmost printed: the ones that sound, else the lowest.
    top = [staff for staff in staves[:first] if staff.sounds] or [staves[first - 1]]
    return top + [staff for staff in staves[first:] if staff.stated_here or staff.sounds]
