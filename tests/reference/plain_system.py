"""What the room of its bars says of a system: how full it is, and how it compares with its movement.

Part of the independent reckoning of room across (`plain_room.py`); widths in staff spaces. Which
staves are printed, where systems begin and how wide their bars are comes from the program's report
of the layout, so that only the room is reckoned anew.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass

import helpers
from plain_events import NO_TIME, PartBar, Score
from plain_room import Bar, Printed, reckon

TENTHS_PER_SPACE = 10.0
MOST_PREFIX = 12.0
PLAIN_PREFIX = 5.0
TIME_SIGNATURE, COURTESY_TIME = 2.2, 2.8
CLOSE = 1e-9


@dataclass
class System:
    """One system, reckoned."""

    bar_index: list[int]
    bars: list[Bar]
    prefix: float
    available: float
    movement: int
    four: tuple[float, float, float, float]
    """Least, short, natural and stretched: sums over the bars."""

    @property
    def strain(self) -> float | None:
        """r: how far it is spread (+1: as if every note were twice as long) or crowded (-1)."""
        _, short, natural, stretched = self.four
        span = stretched - natural if self.available >= natural else natural - short
        return (self.available - natural) / span if span > 0 else None

    @property
    def kappa(self) -> float | None:
        """Where it stands between the least (0) and the natural width (1)."""
        least, _, natural, _ = self.four
        return (self.available - least) / (natural - least) if natural > least else None

    def force(self) -> float | None:
        """Lambda: the force that fills the system; 0 where even rods do not fit."""
        return force_of(self.bars, self.available)


def force_of(bars: list[Bar], available: float) -> float | None:
    """The force at which bars fill a width; nothing for bars that do not yield."""

    def width(force: float) -> float:
        return sum(bar.width(force) for bar in bars)

    least, natural, double = width(0.0), width(1.0), width(2.0)
    if available <= least:
        return 0.0
    if available >= natural:
        # Beyond natural every width grows by the same amount for the same step of force.
        return 1.0 + (available - natural) / (double - natural) if double > natural else None
    low, high = 0.0, 1.0
    while high - low > CLOSE:
        middle = (low + high) / 2
        low, high = (middle, high) if width(middle) < available else (low, middle)
    return (low + high) / 2


def usual_force(systems: list[System]) -> float | None:
    """Lambda of a movement: the median over its systems without the last."""
    forces = [force for system in systems[:-1] if (force := system.force()) is not None]
    return statistics.median(forces) if forces else None


def relative(force: float | None, usual: float | None) -> float | None:
    """rel: a system against its movement, in doublings of note value."""
    return 2 * math.log2(force / usual) if force and usual else None


def systems(score: Score, entry: helpers.Json) -> list[System]:
    """Every system of the report of one file."""
    listed = [system for page in entry["pages"] for system in page["systems"]]
    scale = entry["mm_per_tenth"]
    found = []
    for index, system in enumerate(listed):
        following = listed[index + 1] if index + 1 < len(listed) else None
        found.append(_system(score, system, following, scale))
    return found


def printed_parts(score: Score, system: helpers.Json, index: int) -> list[Printed]:
    """The parts of one bar that have a printed staff in the system; `index` counts from 1."""
    staves: dict[str, set[int]] = {}
    for staff in system["staves"]:
        staves.setdefault(staff["part"], set()).add(staff["staff"])
    return [
        Printed(bars[index - 1], frozenset(staves[part]))
        for part, bars in score.parts.items()
        if part in staves and index <= len(bars)
    ]


def _system(score: Score, system: helpers.Json, following: helpers.Json | None, scale: float | None) -> System:
    indexes = [one["bar_index"] for one in system["bar_widths"]]
    opening = [printed_parts(score, system, index) for index in indexes]
    bars = [
        reckon(parts, index == indexes[0], score.millimetres_per_space)
        for index, parts in zip(indexes, opening, strict=True)
    ]
    widths = [one["width_mm"] for one in system["bar_widths"]]
    known = scale and all(width is not None for width in widths)
    prefix = beginning(opening[0], bars[0]) if opening else 0.0
    courtesy = 0.0
    if following and following["bar_widths"] and following["movement"] == system["movement"]:
        courtesy = courtesy_signs(printed_parts(score, system, following["bar_widths"][0]["bar_index"]))
    available = sum(widths) / scale / TENTHS_PER_SPACE - prefix - courtesy if known else math.nan
    fours = [bar.four() for bar in bars]
    least, short, natural, stretched = (sum(four[k] for four in fours) for k in range(4))
    return System(indexes, bars, prefix, available, system["movement"], (least, short, natural, stretched))


def beginning(parts: list[Printed], bar: Bar) -> float:
    """P: from the left of a system to where its first bar could begin, were it inside a system."""
    if bar.columns:
        heads = [_first_head(part.bar, staff, bar) for part in parts for staff in part.staves]
        stated = [place for place in heads if place is not None]
        if stated:
            # The lower median; of one or two that is the least.
            natural = statistics.median_low(stated) / TENTHS_PER_SPACE - bar.first_column()
            return min(max(natural, 0.0), MOST_PREFIX)
    fifths = max((abs(part.bar.fifths) for part in parts), default=0)
    time = any(NO_TIME in part.bar.times for part in parts)
    return PLAIN_PREFIX + (0.85 + 1.05 * fifths if fifths else 0.0) + (TIME_SIGNATURE if time else 0.0)


def _first_head(part: PartBar, staff: int, bar: Bar) -> float | None:
    """Where a staff's head stands in the first column, in tenths of the bar, if it stands there alone."""
    heads = [
        note
        for note in part.notes
        if note.staff == staff and not (note.hidden or note.grace or note.rest) and note.onset == bar.columns[0]
    ]
    return heads[0].default_x if len(heads) == 1 else None


def courtesy_signs(parts: list[Printed]) -> float:
    """Key and time that change at the next system's beginning, shown at the end of this one."""
    keys = [abs(key.fifths) + 1.0 for part in parts for key in part.bar.keys if key.onset == NO_TIME]
    time = any(NO_TIME in part.bar.times for part in parts)
    return max(keys, default=0.0) + (COURTESY_TIME if time else 0.0)
