"""The plain reckoning of room against the values that were worked out with the model.

The values come from the specification of the model, computed there from its formulas; each holds to
0.005 staff spaces.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

import plain_room
import plain_system
from small_bars import QUARTER, all_bars, back, bar, graces, lyric, note, row, whole_rest

CLOSE = 0.005
SHARP = "<accidental>sharp</accidental>"
THREE_SHARPS = "<attributes><key><fifths>3</fifths></key></attributes>"
MULTI_BAR_REST = "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>"


def staves(upper: str, lower: str, length: str = "1") -> str:
    """Two staves of one bar; what is written for the first is moved to the second."""
    return upper + back(length) + lower.replace("<staff>1", "<staff>2").replace("<voice>1", "<voice>2")


Q = "1/4"
BARS: list[tuple[str, str, int, tuple[float, float, float, float, float]]] = [
    ("one whole", note("1"), 1, (3.150, 7.531, 10.460, 19.460, 2.00)),
    ("2 halves", row("1/2", 2), 1, (4.070, 10.167, 14.188, 22.137, 1.40)),
    ("4 quarters", row(Q, 4), 1, (6.930, 13.895, 19.460, 26.916, 1.00)),
    ("8 beamed eighths", row("1/8", 8), 1, (12.650, 19.167, 26.916, 37.460, 1.00)),
    ("16 sixteenths", row("1/16", 16), 1, (24.090, 27.114, 37.690, 52.697, 1.00)),
    ("32 thirty-seconds", row("1/32", 32), 1, (46.970, 52.645, 69.040, 97.033, 1.00)),
    ("12 triplet eighths", row("1/12", 12), 1, (18.370, 23.387, 32.637, 45.551, 1.00)),
    ("3 quarters", row(Q, 3), 1, (5.500, 10.713, 14.960, 20.552, 1.00)),
    ("6 eighths", row("1/8", 6), 1, (9.790, 14.667, 20.552, 28.460, 1.00)),
    (
        "dotted quarter, eighth with flag up, 2 quarters",
        note("3/8") + note("1/8", beamed=False) + row(Q, 2),
        1,
        (8.400, 13.794, 19.153, 26.482, 1.00),
    ),
    ("4 quarters, each sharp", row(Q, 4, inside=SHARP), 1, (11.230, 14.512, 19.960, 27.416, 1.00)),
    ("8 eighths, each sharp", row("1/8", 8, inside=SHARP), 1, (21.750, 23.604, 27.416, 37.960, 1.00)),
    ("16 sixteenths, each sharp", row("1/16", 16, inside=SHARP), 1, (42.790, 45.731, 49.890, 69.743, 1.00)),
    ("4 quarters, chords with a second", row(Q, 4, steps="G4 A4"), 1, (11.650, 13.904, 19.460, 26.916, 1.00)),
    (
        "4 quarters, 2 graces before the third",
        row(Q, 2) + graces(2) + row(Q, 2),
        1,
        (9.280, 14.659, 19.460, 26.916, 1.00),
    ),
    ("8 eighths / 2 halves", staves(row("1/8", 8), row("1/2", 2)), 2, (12.650, 19.167, 26.916, 37.460, 1.00)),
    (
        "12 triplet eighths / 8 eighths",
        staves(row("1/12", 12), row("1/8", 8)),
        2,
        (18.370, 23.387, 32.637, 45.551, 1.00),
    ),
    (
        "16 sixteenths / 12 triplet eighths",
        staves(row("1/16", 16), row("1/12", 12)),
        2,
        (24.090, 27.114, 37.690, 52.697, 1.00),
    ),
    (
        "q ssss q q / 4 q",
        staves(note(Q) + row("1/16", 4) + row(Q, 2), row(Q, 4)),
        2,
        (11.220, 17.096, 23.960, 33.280, 1.00),
    ),
    (
        "e q e / q q",
        staves(note("1/8") + note(Q) + note("1/8"), row(Q, 2), "1/2"),
        2,
        (5.500, 10.167, 14.188, 19.460, 1.00),
    ),
    (
        "4 quarters with syllables",
        "".join(
            note(Q, inside=lyric(letters, syllabic))
            for letters, syllabic in ((4, "begin"), (6, "middle"), (3, "end"), (5, "single"))
        ),
        1,
        (18.250, 20.336, 23.060, 32.007, 1.00),
    ),
    (
        "8 eighths with two wide syllables",
        (note("1/8", inside=lyric(9, "single")) + row("1/8", 3)) * 2,
        1,
        (18.540, 21.777, 28.526, 39.070, 1.00),
    ),
    ("4 quarters, key change to 3 sharps", THREE_SHARPS + row(Q, 4), 1, (10.930, 17.895, 23.460, 30.916, 1.00)),
    ("whole-bar rest", staves(whole_rest(), whole_rest()), 2, (4.160, 6.988, 8.160, 22.787, 3.00)),
    ("multi-bar rest", MULTI_BAR_REST + whole_rest(), 1, (7.160, 9.281, 10.160, 28.444, 3.00)),
]


@pytest.mark.parametrize(("content", "count", "expected"), [one[1:] for one in BARS], ids=[one[0] for one in BARS])
def test_widths_of_a_bar(content: str, count: int, expected: tuple[float, ...]) -> None:
    reckoned = bar(content, count)
    assert (*reckoned.four(), reckoned.q) == pytest.approx(expected, abs=CLOSE)


def test_natural_space() -> None:
    expected = {
        "1/32": 2.100, "1/16": 2.250, "1/12": 2.598, "1/8": 3.182, "1/6": 3.674, "3/16": 3.897, "1/4": 4.500,
        "3/8": 5.511, "1/2": 6.364, "3/4": 7.794, "1": 9.000, "2": 12.728,
    }  # fmt: skip
    found = {length: plain_room.natural_space(Fraction(length)) for length in expected}
    assert found == pytest.approx(expected, abs=CLOSE)


def equal(count: int, whole: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Equal notes that fill a time."""
    return [(whole * i / count, whole * (i + 1) / count) for i in range(count)]


def test_springs_of_polyrhythms() -> None:
    quarter = Fraction(1, 4)
    _, spaces, _ = plain_room.springs(equal(3, quarter) + equal(2, quarter), quarter)
    assert spaces == pytest.approx([2.598, 1.299, 1.299, 2.598], abs=CLOSE)
    _, spaces, _ = plain_room.springs(equal(4, quarter) + equal(3, quarter), quarter)
    assert spaces == pytest.approx([2.25, 0.75, 1.5, 1.5, 0.75, 2.25], abs=CLOSE)
    times = [Fraction(n, 8) for n in (0, 1, 3, 4)]
    _, spaces, _ = plain_room.springs(list(zip(times, times[1:], strict=False)) + equal(2, Fraction(1, 2)), times[-1])
    assert spaces == pytest.approx([3.182] * 4, abs=CLOSE)


def test_places_of_the_columns_under_syllables() -> None:
    content = next(one[1] for one in BARS if one[0] == "4 quarters with syllables")
    reckoned = bar(content)
    assert reckoned.positions(1.0) == pytest.approx([1.3, 7.6, 13.4, 18.4, 22.9], abs=CLOSE)
    assert reckoned.positions(0.0) == pytest.approx([0.8, 6.4, 11.5, 16.0, 18.09], abs=CLOSE)


def test_eighths_at_many_forces() -> None:
    reckoned = bar(row("1/8", 8))
    expected = {
        0: 12.650, 0.5: 13.777, 0.7071: 19.167, 0.85: 22.947, 1: 26.916, 1.2: 32.007, 1.4142: 37.460, 2: 52.372,
    }  # fmt: skip
    assert {force: reckoned.width(force) for force in expected} == pytest.approx(expected, abs=CLOSE)


def four_bars(available: float) -> plain_system.System:
    """Four bars of eighths in a width."""
    bars = all_bars([row("1/8", 8)] * 4)
    least, short, natural, stretched = (sum(one.four()[k] for one in bars) for k in range(4))
    return plain_system.System([1, 2, 3, 4], bars, 0.0, available, 1, (least, short, natural, stretched))


def test_four_bars_of_eighths() -> None:
    assert four_bars(100.0).four == pytest.approx((50.600, 76.668, 107.663, 149.840), abs=CLOSE)


@pytest.mark.parametrize(
    ("available", "force", "strain"),
    [
        (60.0, 0.549, -1.538),
        (75.0, 0.691, -1.054),
        (85.0, 0.786, -0.731),
        (97.0, 0.899, -0.344),
        (110.0, 1.023, 0.055),
        (130.0, 1.219, 0.530),
        (150.0, 1.416, 1.004),
    ],
)
def test_systems_of_eighths(available: float, force: float, strain: float) -> None:
    system = four_bars(available)
    assert system.force() == pytest.approx(force, abs=0.0005 + 1e-6)
    assert system.strain == pytest.approx(strain, abs=0.0005 + 1e-6)


def test_whole_rest_beside_notes_is_left_out() -> None:
    """Common practice, no source: a whole-bar rest stands in the middle and takes no room of its own."""
    assert bar(staves(row(Q, 4), whole_rest()), 2).four() == pytest.approx(bar(row(Q, 4)).four(), abs=1e-9)


def test_more_in_a_bar_never_needs_less() -> None:
    plain = bar(row("1/8", 8)).four()
    for more in (
        row("1/8", 8, inside=SHARP),
        row("1/8", 8, inside=lyric(7, "single")),
        staves(row("1/8", 8), row("1/16", 16)),
        row("1/8", 8) + row("1/8", 1),
        row("1/8", 4) + graces(3) + row("1/8", 4),
    ):
        reckoned = bar(more, 2).four()
        assert all(grown >= small - 1e-9 for grown, small in zip(reckoned, plain, strict=True))


def test_divisions_are_fine_enough() -> None:
    """The bars above are exact: no length of theirs falls between two divisions."""
    assert all(Fraction(4 * QUARTER, n).denominator == 1 for n in (1, 2, 4, 8, 12, 16, 32))
