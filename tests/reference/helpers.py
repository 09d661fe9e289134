"""What the reference tests share: running the program, finding score files, walking its JSON."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parents[2]
SUFFIXES = (".mxl", ".musicxml", ".xml")
MUSICXML_MEDIA_TYPES = ("", "application/vnd.recordare.musicxml+xml", "application/vnd.recordare.musicxml")
BATCH = 250

Json = dict[str, Any]


class Run(NamedTuple):
    """One run of the program: its exit code, its JSON report, what it said on standard error."""

    code: int
    report: Json
    stderr: str


def program() -> Path:
    """The built program: STAVEGAUGE_BIN, else the newest of target/release and target/debug."""
    if stated := os.environ.get("STAVEGAUGE_BIN"):
        return Path(stated).resolve()
    built = [path for kind in ("release", "debug") if (path := ROOT / "target" / kind / "stavegauge").is_file()]
    if not built:
        raise FileNotFoundError("no built program under target/: run `cargo build --release` first")
    return max(built, key=lambda path: path.stat().st_mtime)


def music21_folder() -> Path:
    """The installed music21 package, found without importing it."""
    spec = importlib.util.find_spec("music21")
    if spec is None or spec.origin is None:
        raise FileNotFoundError("music21 is not installed: see tests/reference/requirements.txt")
    return Path(spec.origin).parent


def real_folder() -> Path:
    """The folder of published scores; it need not exist."""
    return Path(os.environ.get("STAVEGAUGE_REAL", ROOT.parent / "shared" / "real"))


def score_files(folder: Path) -> list[str]:
    """Every score file under `folder`, relative to it, with `/`, in bytewise order."""
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.suffix in SUFFIXES and path.is_file()
    )


def run(command: str, paths: Iterable[str], folder: Path) -> Run:
    """Run `audit` or `measure` in `folder` on relative paths; the JSON must parse."""
    done = subprocess.run(
        [str(program()), command, "--report", "json", *paths],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    said = f"exit {done.returncode}\n{done.stderr[-2000:]}"
    if done.returncode not in (0, 1):
        raise AssertionError(f"{command} failed: {said}")
    try:
        report = json.loads(done.stdout)
    except ValueError as error:
        raise AssertionError(f"{command} printed no JSON ({error}): {said}") from error
    return Run(done.returncode, report, done.stderr)


def run_all(command: str, paths: list[str], folder: Path) -> list[Run]:
    """The same in a few runs, so that many paths a run are tried too."""
    return [run(command, paths[i : i + BATCH], folder) for i in range(0, len(paths), BATCH)]


def by_path(runs: Iterable[Run]) -> dict[str, Json]:
    """The entry of each path; the first root file where a container has several."""
    found: dict[str, Json] = {}
    for one in runs:
        for entry in one.report["files"]:
            found.setdefault(entry["path"], entry)
    return found


def roots(path: Path) -> list[bytes]:
    """The XML of each score in a file: one, or as many as a container names."""
    if not zipfile.is_zipfile(path):
        return [path.read_bytes()]
    with zipfile.ZipFile(path) as archive:
        container = ET.fromstring(archive.read("META-INF/container.xml"))
        return [
            archive.read(element.get("full-path", ""))
            for element in container.iter()
            if element.tag.rpartition("}")[2] == "rootfile" and element.get("media-type", "") in MUSICXML_MEDIA_TYPES
        ]
