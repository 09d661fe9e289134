"""Our own fixtures against the MusicXML 4.0 schema, with xmllint.

Source: `musicxml_4_0.xsd` (W3C Community Final Specification) as the PyPI package `musicxml` ships
it. That schema imports two others by network address; the few attributes it takes from them are
written here, after the XML and XLink recommendations, so that nothing is fetched.

Not checked: fixtures of `damaged-file`, and any other that is not well-formed XML.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import helpers

SCORE_ROOTS = ("score-partwise", "score-timewise")
XML_ATTRIBUTES = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
    targetNamespace="http://www.w3.org/XML/1998/namespace">
  <xs:attribute name="lang" type="xs:language"/>
  <xs:attribute name="space" type="xs:NCName"/>
</xs:schema>
"""
XLINK_ATTRIBUTES = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
    targetNamespace="http://www.w3.org/1999/xlink">
  <xs:attribute name="href" type="xs:anyURI"/>
  <xs:attribute name="type" type="xs:NMTOKEN" fixed="simple"/>
  <xs:attribute name="role" type="xs:token"/>
  <xs:attribute name="title" type="xs:token"/>
  <xs:attribute name="show" type="xs:NMTOKEN"/>
  <xs:attribute name="actuate" type="xs:NMTOKEN"/>
</xs:schema>
"""


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The schema with its imports beside it."""
    if shutil.which("xmllint") is None:
        pytest.skip("schema check not done: xmllint is missing (apt-get install libxml2-utils)")
    spec = importlib.util.find_spec("musicxml")
    assert spec is not None and spec.origin is not None, "musicxml is not installed"
    text = (Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd").read_text(encoding="utf-8")
    folder = tmp_path_factory.mktemp("schema")
    for name, stub in (("xml.xsd", XML_ATTRIBUTES), ("xlink.xsd", XLINK_ATTRIBUTES)):
        address = f"http://www.musicxml.org/xsd/{name}"
        assert address in text, f"the schema no longer imports {address}"
        text = text.replace(address, name)
        (folder / name).write_text(stub, encoding="utf-8")
    path = folder / "musicxml.xsd"
    path.write_text(text, encoding="utf-8")
    return path


def validate(schema: Path, files: list[Path]) -> list[str]:
    """What xmllint finds wrong, line by line; empty when all are valid."""
    done = subprocess.run(
        ["xmllint", "--nonet", "--noout", "--schema", str(schema), *map(str, files)],
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    lines = done.stderr.splitlines()
    return [] if done.returncode == 0 else [line for line in lines if not line.endswith(" validates")]


def is_well_formed_score(path: Path) -> bool:
    """Well-formed, and a score by its root element."""
    try:
        return ET.parse(path).getroot().tag in SCORE_ROOTS
    except (ET.ParseError, ValueError, LookupError):
        return False


def test_the_demo_set_is_valid(schema: Path) -> None:
    files = sorted((helpers.ROOT / "fixtures" / "demo").rglob("*.musicxml"))
    assert files, "no demo scores"
    wrong = validate(schema, files)
    assert not wrong, "\n".join(wrong[:20])


def test_rule_fixtures_are_valid(schema: Path) -> None:
    folder = helpers.ROOT / "fixtures" / "rules"
    files = [
        path
        for path in sorted(folder.rglob("*.musicxml"))
        if "damaged-file" not in path.relative_to(folder).parts and is_well_formed_score(path)
    ]
    assert files, "no rule fixtures"
    wrong = validate(schema, files)
    assert not wrong, "\n".join(wrong[:20])


def test_the_schema_refuses_what_is_not_musicxml(schema: Path, tmp_path: Path) -> None:
    path = tmp_path / "wrong.musicxml"
    path.write_text('<score-partwise version="4.0"><part-list/></score-partwise>', encoding="utf-8")
    assert validate(schema, [path])


JUNIT = helpers.ROOT / "tests" / "schema" / "junit-4.xsd"
"""A published schema of JUnit XML; where it is from stands beside it."""


def test_junit_reports_are_valid(schema: Path, tmp_path: Path) -> None:
    report = tmp_path / "junit.xml"
    demo = helpers.ROOT / "fixtures" / "demo"
    (tmp_path / "broken.musicxml").write_text("<score-partwise>", encoding="utf-8")
    subprocess.run(
        [str(helpers.program()), "audit", str(demo), str(tmp_path), "--gate", "warning", "--report", f"junit={report}"],
        capture_output=True,
        check=False,
    )
    wrong = validate(JUNIT, [report])
    assert not wrong, "\n".join(wrong[:20])
    text = report.read_text(encoding="utf-8")
    assert "<failure " in text and "<skipped>" in text
    spoilt = tmp_path / "spoilt.xml"
    spoilt.write_text(text.replace("<testcase ", "<testcases ").replace("</testcase>", "</testcases>"), encoding="utf-8")
    assert validate(JUNIT, [spoilt])
