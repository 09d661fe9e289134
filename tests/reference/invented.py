"""Writes scores of invented music with much that is rare in real ones, the same for the same seed.

Two parts, the second on two staves with two voices on the lower one. Nothing here is meant to be played.
"""

from __future__ import annotations

import random
from fractions import Fraction

DIVISIONS = 48
QUARTER = Fraction(1, 4)
VALUES = {
    Fraction(1): ("whole", 0),
    Fraction(3, 4): ("half", 1),
    Fraction(1, 2): ("half", 0),
    Fraction(7, 16): ("quarter", 2),
    Fraction(3, 8): ("quarter", 1),
    Fraction(1, 4): ("quarter", 0),
    Fraction(1, 6): ("quarter", 0),
    Fraction(1, 8): ("eighth", 0),
    Fraction(1, 12): ("eighth", 0),
    Fraction(1, 16): ("16th", 0),
    Fraction(1, 32): ("32nd", 0),
}
ACCIDENTALS = ("sharp", "flat", "natural", "double-sharp", "flat-flat")
TRIPLET = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
METRES = ((4, 4), (3, 4), (6, 8), (5, 8), (2, 2))
WORDS = ("la", "Mond", "still", "wogt", "Ach,", "glimmer", "o", "n\u2019est", "Wie mild")
BARS_A_SYSTEM = 4
LAYOUT = (
    "<defaults><scaling><millimeters>7</millimeters><tenths>40</tenths></scaling><page-layout>"
    "<page-height>1697</page-height><page-width>1200</page-width><page-margins type='both'>"
    "<left-margin>80</left-margin><right-margin>80</right-margin><top-margin>80</top-margin>"
    "<bottom-margin>80</bottom-margin></page-margins>"
    "</page-layout><system-layout><system-margins><left-margin>0</left-margin><right-margin>0</right-margin>"
    "</system-margins><system-distance>120</system-distance><top-system-distance>100</top-system-distance>"
    "</system-layout><staff-layout><staff-distance>80</staff-distance></staff-layout>"
    "<lyric-font font-size='9'/></defaults>"
)


class Writer:
    """One invented score."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.metre = METRES[0]

    def score(self, count: int) -> str:
        """The text of a score of some bars."""
        parts = {"P1": "", "P2": ""}
        resting = 0
        for index in range(count):
            opening = self.opening(index)
            gathered = 0
            if resting:
                resting -= 1
            elif (index + 1) % BARS_A_SYSTEM and self.one_in(12):
                gathered, resting = 2, 1
            for part in parts:
                only_rests = bool(gathered or resting) or self.one_in(8)
                content = self.part(part == "P2", only_rests, gathered)
                parts[part] += f"<measure number='{index + 1}' width='260'>{self.head(part, index, opening)}{content}"
                parts[part] += f"{self.end(index)}</measure>"
        listed = "".join(f"<score-part id='{part}'><part-name>{part}</part-name></score-part>" for part in parts)
        music = "".join(f"<part id='{part}'>{text}</part>" for part, text in parts.items())
        return f"<score-partwise version='4.0'>{LAYOUT}<part-list>{listed}</part-list>{music}</score-partwise>"

    def one_in(self, number: int) -> bool:
        return self.chance.randrange(number) == 0

    def opening(self, index: int) -> str:
        """Key and time, the same in both parts."""
        text = ""
        if index == 0 or self.one_in(6):
            text += f"<key><fifths>{self.chance.randint(-5, 5)}</fifths></key>"
        if index == 0 or self.one_in(6):
            self.metre = self.chance.choice(METRES)
            text += f"<time><beats>{self.metre[0]}</beats><beat-type>{self.metre[1]}</beat-type></time>"
        return text

    def head(self, part: str, index: int, opening: str) -> str:
        """What a bar begins with."""
        text = "<print new-system='yes'/>" if index and index % BARS_A_SYSTEM == 0 else ""
        staves = 1 if part == "P1" else 2
        inner = f"<divisions>{DIVISIONS}</divisions>{opening}" if index == 0 else opening
        if index == 0:
            inner += f"<staves>{staves}</staves>"
            inner += "".join(f"<clef number='{n}'>{self.clef()}</clef>" for n in range(1, staves + 1))
        if index == 0 and part == "P1":
            size = self.chance.choice((60, 75, 100, 110))
            inner += f"<staff-details number='1'><staff-size>{size}</staff-size></staff-details>"
        if inner:
            text += f"<attributes>{inner}</attributes>"
        if index and self.one_in(6):
            text += "<barline location='left'><repeat direction='forward'/></barline>"
        return text

    def end(self, index: int) -> str:
        """The bar line."""
        styles = ("<bar-style>light-light</bar-style>", "<repeat direction='backward'/>")
        return f"<barline location='right'>{self.chance.choice(styles)}</barline>" if self.one_in(6) else ""

    def clef(self) -> str:
        sign, line = self.chance.choice((("G", 2), ("F", 4), ("C", 3)))
        return f"<sign>{sign}</sign><line>{line}</line>"

    def part(self, keyboard: bool, only_rests: bool, gathered: int) -> str:
        """One part's bar: a voice for the first staff, for keyboards two more on the second."""
        length = Fraction(self.metre[0], self.metre[1])
        ticks = int(length * 4 * DIVISIONS)
        back = f"<backup><duration>{ticks}</duration></backup>"
        text = ""
        if gathered:
            rest = f"<measure-style><multiple-rest>{gathered}</multiple-rest></measure-style>"
            text += f"<attributes>{rest}</attributes>"
        for voice, staff in ((1, 1), (2, 2), (3, 2)) if keyboard else ((1, 1),):
            text += back if voice > 1 else ""
            if only_rests or self.one_in(10):
                text += f"<note><rest measure='yes'/><duration>{ticks}</duration><voice>{voice}</voice>"
                text += f"<staff>{staff}</staff></note>"
            else:
                text += self.voice(length, voice, staff, not keyboard)
        return text

    def voice(self, length: Fraction, voice: int, staff: int, sung: bool) -> str:
        """Notes and rests that fill a bar."""
        text, left = "", length
        while left > 0:
            fitting = [value for value in VALUES if value <= left and value.denominator % 3]
            value = self.chance.choice(fitting)
            triplet = value == QUARTER and self.one_in(4)
            for piece in [value / 3] * 3 if triplet else [value]:
                # Only the first voice of a staff: two would contradict each other.
                if left < length and voice < 3 and self.one_in(15):
                    text += f"<attributes><clef number='{staff}'>{self.clef()}</clef></attributes>"
                if self.one_in(10):
                    text += self.grace(voice, staff) * self.chance.randint(1, 3)
                text += self.event(piece, voice, staff, sung)
            left -= value
        return text + (self.grace(voice, staff) if self.one_in(20) else "")

    def grace(self, voice: int, staff: int) -> str:
        return f"<note><grace/>{self.pitch(33)}<voice>{voice}</voice><type>16th</type><staff>{staff}</staff></note>"

    @staticmethod
    def pitch(number: int) -> str:
        octave, step = divmod(number, 7)
        return f"<pitch><step>{'CDEFGAB'[step]}</step><octave>{octave}</octave></pitch>"

    def event(self, length: Fraction, voice: int, staff: int, sung: bool) -> str:
        """A note, chord or rest."""
        kind, dots = VALUES[length]
        ticks = f"<duration>{int(length * 4 * DIVISIONS)}</duration>"
        told = f"<voice>{voice}</voice><type>{kind}</type>{'<dot/>' * dots}"
        triplet = TRIPLET if length.denominator % 3 == 0 else ""
        if self.one_in(7):
            hidden = " print-object='no'" if self.one_in(4) else ""
            return f"<note{hidden}><rest/>{ticks}{told}{triplet}<staff>{staff}</staff></note>"
        stem = self.chance.choice(("<stem>up</stem>", "<stem>down</stem>", ""))
        beam = "<beam number='1'>begin</beam>" if length < QUARTER and not self.one_in(3) else ""
        cue = "<cue/>" if self.one_in(9) else ""
        arpeggio = "<notations><arpeggiate/></notations>" if self.one_in(12) else ""
        lyrics = self.lyrics() if sung else ""
        base = {1: 32, 2: 26, 3: 20}[voice] + self.chance.randint(-5, 5)
        more = range(self.chance.choice((0, 0, 0, 1, 2, 3)))
        steps = sorted({base, *(base + self.chance.randint(1, 8) for _ in more)})
        text = ""
        for index, number in enumerate(steps):
            sign = ""
            if self.one_in(4):
                round_it = " parentheses='yes'" if self.one_in(4) else ""
                sign = f"<accidental{round_it}>{self.chance.choice(ACCIDENTALS)}</accidental>"
            place = f" default-x='{self.chance.randint(60, 140)}'" if len(steps) == 1 and self.one_in(2) else ""
            text += (
                f"<note{place}>{cue}{'<chord/>' if index else ''}{self.pitch(number)}{ticks}{told}{sign}{triplet}{stem}"
                f"<staff>{staff}</staff>{beam if index == 0 else ''}{arpeggio}{lyrics if index == 0 else ''}</note>"
            )
        return text

    def lyrics(self) -> str:
        """Up to three verses."""
        text = ""
        for verse in range(1, self.chance.randint(0, 3) + 1):
            if self.one_in(3):
                continue
            syllabic = self.chance.choice(("single", "begin", "middle", "end"))
            extend = "<extend/>" if self.one_in(4) else ""
            word = self.chance.choice(WORDS)
            text += f"<lyric number='{verse}'><syllabic>{syllabic}</syllabic><text>{word}</text>{extend}</lyric>"
        return text
