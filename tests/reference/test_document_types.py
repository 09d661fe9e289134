"""Document type declarations are refused where expat says that they are not well-formed, and there only.

Source: expat, the reader of XML that Python brings along. It holds names to the fourth edition of XML 1.0, which knows fewer
letters than the fifth, so the names here are of letters that both know.

Refused on purpose though well-formed: entities that lie outside the file, references to parameter entities, values with entities
that hold more than plain text. Each says so in words of its own.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from xml.parsers import expat

import helpers
from invented_types import Writer

COUNT = 3000
SCORE = (
    "<score-partwise><part-list><score-part id='P1'><part-name>Oboe</part-name></score-part></part-list>"
    "<part id='P1'><measure number='1'/></part></score-partwise>"
)
ON_PURPOSE = (
    "is declared to lie outside the file",
    "the document type declaration uses a parameter entity",
    "holds markup or other entities",
)


def expat_says(text: str) -> str | None:
    """Why a text is not well-formed, if it is not."""
    try:
        expat.ParserCreate().Parse(text.encode(), True)
    except expat.ExpatError as error:
        return str(error)
    return None


def on_purpose(message: str) -> bool:
    return any(words in message for words in ON_PURPOSE)


def test_declarations_are_judged_as_expat_judges_them(tmp_path: Path) -> None:
    """Some by the grammar, most with something changed."""
    written = {f"{seed:05}.musicxml": Writer(seed).doctype() for seed in range(COUNT)}
    for name, doctype in written.items():
        (tmp_path / name).write_text(doctype + SCORE, encoding="utf-8", newline="")
    read = helpers.by_path(helpers.run_all("audit", list(written), tmp_path))
    wrong, verdicts = [], Counter[str]()
    for name, doctype in written.items():
        damage = [finding["message"] for finding in read[name]["findings"] if finding["rule"] == "damaged-file"]
        theirs = expat_says(doctype + SCORE)
        if theirs is None and damage and on_purpose(damage[0]):
            verdicts["on purpose"] += 1
            continue
        verdicts["not well-formed" if theirs else "well-formed"] += 1
        if bool(damage) != bool(theirs):
            wrong.append(f"{name}: {doctype!r}: expat says {theirs}, we {damage}")
    assert not wrong, f"{len(wrong)} of {verdicts}:\n" + "\n".join(wrong[:20])
    assert min(verdicts["well-formed"], verdicts["not well-formed"]) > COUNT // 4, verdicts
    assert verdicts["on purpose"] < COUNT // 5, verdicts
