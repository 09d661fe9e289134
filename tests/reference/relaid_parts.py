"""How the rules of spacing judge parts: single parts taken out of real scores, laid out anew as parts.

Usage: python tests/reference/relaid_parts.py FOLDER

Every part of one staff and at least 48 bars of every score below the folder is written as a copy of its own: bars of rest
gathered, no places of notes, staves of 7.5 mm. It is cast off as well as can be, by the least sum of (1 + 100 |strain|^3)^2
over its lines (spacing study of open scores), and audited. What the rules still say of it is either avoidable or a false
alarm; the table tells how much that is, and how parts differ from scores.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET
from collections import Counter
from copy import deepcopy
from pathlib import Path

import helpers
import plain_score

LINE = 117.0
"""Staff spaces of a line: 220 mm at 7.5 mm staves."""
FEWEST_BARS = 48
RULES = ("crowded-system", "tight-system", "loose-system", "loose-movement", "crowded-movement", "signs-collide")
LAYOUT = """<defaults><scaling><millimeters>7.5</millimeters><tenths>40</tenths></scaling>
<page-layout><page-height>1883</page-height><page-width>1333</page-width><page-margins type="both"><left-margin>80</left-margin>
<right-margin>83</right-margin><top-margin>80</top-margin><bottom-margin>80</bottom-margin></page-margins></page-layout>
<system-layout><system-distance>120</system-distance><top-system-distance>100</top-system-distance></system-layout></defaults>"""
PROMISE = """<identification><encoding><supports element="print" attribute="new-system" type="yes" value="yes"/>
<supports element="print" attribute="new-page" type="yes" value="yes"/></encoding></identification>"""
LAYOUT_OF_OLD = ("print", "sound")


def rests(bar: ET.Element) -> bool:
    """Nothing but a rest for the whole bar, and nothing said."""
    notes = bar.findall("note")
    quiet = all(child.tag in ("note", "backup", "forward", "print") for child in bar)
    return quiet and len(notes) == 1 and notes[0].find("rest") is not None and notes[0].find("type") is None


def alone(root: ET.Element, part: ET.Element) -> ET.Element:
    """The part as a copy of its own, without its layout."""
    score = ET.Element("score-partwise", version="4.0")
    score.append(ET.fromstring(PROMISE))
    score.append(ET.fromstring(LAYOUT))
    listed = ET.SubElement(score, "part-list")
    listed.extend(one for one in root.findall("part-list/score-part") if one.get("id") == part.get("id"))
    own = deepcopy(part)
    score.append(own)
    for note in own.iter("note"):
        for name in ("default-x", "default-y"):
            note.attrib.pop(name, None)
    bars = own.findall("measure")
    for bar in bars:
        for old in [child for child in bar if child.tag in LAYOUT_OF_OLD]:
            bar.remove(old)
        for attributes in bar.findall("attributes"):
            for hidden in attributes.findall("staff-details"):
                attributes.remove(hidden)
        for rest in bar.findall("note/rest"):
            rest.attrib.pop("measure", None)
    gather(bars)
    return score


def gather(bars: list[ET.Element]) -> None:
    """Bars of rest in a row become one multi-bar rest."""
    start = 0
    while start < len(bars):
        end = start
        while end < len(bars) and rests(bars[end]):
            end += 1
        if end - start > 1:
            attributes = ET.Element("attributes")
            style = ET.SubElement(attributes, "measure-style")
            ET.SubElement(style, "multiple-rest").text = str(end - start)
            bars[start].insert(0, attributes)
        start = max(end, start + 1)


def cast(bars: list[ET.Element], lines: list[int], widths: list[float]) -> None:
    """Write where lines begin, and how wide bars are (staff spaces)."""
    for index, (bar, width) in enumerate(zip(bars, widths, strict=True)):
        for old in bar.findall("print"):
            bar.remove(old)
        if index in lines[1:]:
            bar.insert(0, ET.Element("print", {"new-system": "yes"}))
        bar.set("width", f"{width * 10:.2f}")


def run(command: str, path: Path) -> helpers.Json:
    """The program's report of one file."""
    call = [helpers.program(), command, str(path), "--report", "json"]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    return json.loads(done.stdout)["files"][0]


def best_lines(bars: list[helpers.Json], beginning: float) -> list[int]:
    """First bars of the lines, by the least sum of demerits."""
    room = LINE - beginning
    starts = [index for index, bar in enumerate(bars) if bar["natural"] > 0]
    ends = [*starts[1:], len(bars)]
    best: list[tuple[float, int]] = [(0.0, 0)]
    for last in range(1, len(starts) + 1):
        found = []
        for first in range(max(0, last - 24), last):
            taken = bars[starts[first] : ends[last - 1]]
            least, short, natural, wide = (sum(b[k] for b in taken) for k in ("least", "short", "natural", "stretched"))
            if least > room and last - first > 1:
                continue
            strain = (room - natural) / (wide - natural if room >= natural else natural - short)
            cost = (1 + 100 * abs(strain) ** 3) ** 2
            found.append((best[first][0] + (min(cost, 3000) if last == len(starts) and strain > 0 else cost), first))
        best.append(min(found))
    lines, last = [], len(starts)
    while last:
        last = best[last][1]
        lines.append(starts[last])
    return lines[::-1]


def laid_out(score: ET.Element, folder: Path) -> tuple[helpers.Json, helpers.Json]:
    """Audit and measure of the part in its best casting off."""
    path = folder / "part.musicxml"
    own = score.find("part")
    assert own is not None
    bars = own.findall("measure")
    cast(bars, [0], [0.1] * len(bars))
    ET.ElementTree(score).write(path, encoding="utf-8")
    system = run("measure", path)["pages"][0]["systems"][0]
    needs, beginning = system["bar_widths"], system["spacing"]["beginning"]
    lines = best_lines(needs, beginning)
    widths = [0.0] * len(bars)
    for first, end in zip(lines, [*lines[1:], len(bars)], strict=True):
        natural = sum(bar["natural"] for bar in needs[first:end])
        short = end == len(bars) and natural < (LINE - beginning) * 0.8
        share = 1.1 if short else (LINE - beginning) / natural
        for index in range(first, end):
            widths[index] = needs[index]["natural"] * share
        widths[first] += beginning
    cast(bars, lines, widths)
    ET.ElementTree(score).write(path, encoding="utf-8")
    return run("audit", path), run("measure", path)


def main() -> int:
    """Lay out and judge every part below the folder named on the command line."""
    if len(sys.argv) != 2 or not Path(sys.argv[1]).is_dir():
        print(__doc__, file=sys.stderr)
        return 2
    folder = Path(sys.argv[1])
    parts, lines, flagged, states = 0, 0, Counter[str](), Counter[str]()
    percents, offs = [], []
    with tempfile.TemporaryDirectory() as work:
        for name in helpers.score_files(folder):
            try:
                root = plain_score.load(folder / name)
            except (plain_score.NotReadable, ET.ParseError):
                continue
            for part in root.findall("part"):
                bars = part.findall("measure")
                if len(bars) < FEWEST_BARS or part.find(".//staves") is not None or part.find(".//pitch") is None:
                    continue
                audit, measure = laid_out(alone(root, part), Path(work))
                parts += 1
                for page in measure["pages"]:
                    for system in page["systems"]:
                        if (spacing := system["spacing"]) is not None:
                            lines += 1
                            states[spacing["state"]] += 1
                            percents.append(spacing["percent_of_natural"])
                            offs.append(spacing["relative"] or 0.0)
                for finding in audit["findings"]:
                    if finding["rule"] in RULES:
                        flagged[f"{finding['rule']} {finding['level']}"] += finding["count"]
    percents.sort()
    offs.sort()
    at = [0.05, 0.25, 0.5, 0.75, 0.95]
    print(f"{parts} parts, {lines} lines: {dict(states)}")
    print("percent of natural at 5, 25, 50, 75, 95 of 100:", *(round(percents[int(share * lines)]) for share in at))
    print("steps from usual:", *(round(offs[int(share * lines)], 2) for share in at))
    for what, count in sorted(flagged.items()):
        print(f"{what:<28}{count:>5}  {100 * count / lines:.1f} % of lines")
    return 0


if __name__ == "__main__":
    sys.exit(main())
