"""Hostile files, too heavy for the Rust tests: each is refused or judged, with a clear word, in little time and memory.

Source: the program's own promise (5 seconds, 256 MiB, exit code 1 for a damaged file and 2 for a job that cannot be done) and its
limits: depth 256, one tag or text 8 MiB, 4,096 parts, 200,000 bars a part, 1e6 notes a bar, zip ratio 1,000 beyond 64 MiB.

Time is processor time, so that a busy machine fails nothing; a run that does not end is ended after a minute.
"""

from __future__ import annotations

import json
import os
import shutil
import struct
import subprocess
import sys
import threading
import zlib
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

import helpers
from hostile_documents import (
    DOCUMENTS,
    HEAD,
    LAYOUT,
    LIST,
    NOTE,
    TAIL,
    bars_left_out,
    billion_laughs,
    gibibyte,
    million_bars,
    most_bars,
    most_notes,
    most_pages,
    most_staves,
    numbered,
    page_a_bar,
)

SECONDS = 5.0
MEBIBYTES = 256
PATIENCE = 60

# Runs a command and prints what it took. In a process of its own: the kernel counts the memory of the process that starts
# another as that of the other until it has become its own program, and pytest is larger than the bound.
LAUNCHER = """
import json, os, subprocess, sys, threading
out, err, patience, *command = sys.argv[1:]
with open(out, "wb") as out, open(err, "wb") as err:
    child = subprocess.Popen(command, stdin=sys.stdin, stdout=out, stderr=err)
timer = threading.Timer(float(patience), child.kill)
timer.start()
_, status, used = os.wait4(child.pid, 0)
timer.cancel()
print(json.dumps([os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""


class Run(NamedTuple):
    """One run: exit code, what it said, processor time and the most memory it had."""

    code: int
    out: str
    err: str
    seconds: float
    mebibytes: float

    def said(self) -> str:
        """All it said, on one line, without the lines of the excerpt."""
        return " ".join((self.out + " " + self.err).split())


def launch(folder: Path, *arguments: str, feed: Iterable[bytes] | None = None) -> Run:
    """Run the program in a folder; `feed` is written to its standard input."""
    out, err = folder / ".out", folder / ".err"
    command = [sys.executable, "-S", "-c", LAUNCHER, str(out), str(err), str(PATIENCE), str(helpers.program()), *arguments]
    stdin = subprocess.DEVNULL if feed is None else subprocess.PIPE
    process = subprocess.Popen(command, cwd=folder, stdin=stdin, stdout=subprocess.PIPE, close_fds=True)
    try:
        for chunk in feed or ():
            process.stdin.write(chunk)
    except BrokenPipeError:
        pass
    told, _ = process.communicate()
    code, seconds, mebibytes = json.loads(told)
    return Run(code, out.read_text("utf-8"), err.read_text("utf-8"), seconds, mebibytes)


def within_bounds(run: Run) -> Run:
    """The run ended by itself, without a fault of the program, in time and memory; a debug build gets ten times the time."""
    debug = "debug" in helpers.program().parts
    where = f"{run.code}, {run.seconds:.1f} s, {run.mebibytes:.0f} MiB: {run.said()[-600:]}"
    assert run.code in (0, 1, 2), where
    assert "panicked" not in run.err and "the program itself failed" not in run.said(), where
    assert run.seconds < SECONDS * (10 if debug else 1), where
    assert run.mebibytes < MEBIBYTES, where
    return run


def refused(run: Run, *words: str) -> None:
    """It is told what is wrong and what to do."""
    within_bounds(run)
    assert run.code != 0, run.said()[-600:]
    for word in words:
        assert word in run.said(), f"{word}: {run.said()[-900:]}"


def put(path: Path, pieces: Iterable[str]) -> None:
    with path.open("w", encoding="utf-8") as file:
        file.writelines(pieces)


@pytest.mark.parametrize(("document", "words"), DOCUMENTS, ids=[document.__name__ for document, _ in DOCUMENTS])
def test_a_hostile_document_is_refused(tmp_path: Path, document: Callable[[], Iterator[str]], words: str) -> None:
    (tmp_path / "secret.txt").write_text("nightingale")
    put(tmp_path / "a.musicxml", document())
    run = launch(tmp_path, "audit", "--jobs", "1", "a.musicxml")
    refused(run, words, "must change [damaged-file]", "To do:")
    assert run.code == 1
    assert "nightingale" not in run.said()


@pytest.mark.parametrize("document", [most_pages, most_staves, most_bars, most_notes])
def test_what_is_just_within_the_limits_is_judged(tmp_path: Path, document: Callable[[], Iterator[str]]) -> None:
    put(tmp_path / "a.musicxml", document())
    for arguments in (["audit", "--report", "html=proof.html", "a.musicxml"], ["measure", "--report", "json=a.json", "a.musicxml"]):
        run = within_bounds(launch(tmp_path, *arguments))
        assert run.code == 0, run.said()[-600:]


@pytest.mark.parametrize("document", [million_bars, bars_left_out, page_a_bar, billion_laughs])
def test_every_command_refuses_it(tmp_path: Path, document: Callable[[], Iterator[str]]) -> None:
    put(tmp_path / "a.musicxml", document())
    (tmp_path / "b.musicxml").write_bytes((helpers.ROOT / "fixtures/demo/part-oboe-1.musicxml").read_bytes())
    words = next(words for one, words in DOCUMENTS if one is document)
    for arguments in (
        ["audit", "--report", "html=proof.html", "--report", "json", "a.musicxml", "b.musicxml"],
        ["measure", "a.musicxml"],
        ["castoff", "a.musicxml"],
        ["castoff", "--write", "new.musicxml", "a.musicxml"],
        ["fit", "a.musicxml"],
        ["draw", "a.musicxml", "--page", "1", "--out", "page.svg"],
    ):
        run = launch(tmp_path, *arguments)
        refused(run, words.replace('"', '\\"') if "json" in arguments else words)
    assert not (tmp_path / "new.musicxml").exists()
    assert not (tmp_path / "page.svg").exists()
    # The other file is told as ever.
    assert "Oboe" in (tmp_path / "proof.html").read_text("utf-8")


def test_a_gibibyte_of_one_text_through_a_pipe(tmp_path: Path) -> None:
    run = launch(tmp_path, "audit", "-", feed=(piece.encode() for piece in gibibyte()))
    refused(run, "one tag or text is longer than 8 MiB")


def member(name: bytes, data: bytes, *, size: int | None = None, crc: int | None = None) -> tuple[bytes, bytes, bytes]:
    """A deflated member: its name, its bytes, and what the directory says of them."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    packed = packer.compress(data) + packer.flush()
    about = struct.pack("<LLL", zlib.crc32(data) if crc is None else crc, len(packed), len(data) if size is None else size)
    return name, packed, about


def archive(path: Path, members: list[tuple[bytes, bytes, bytes]], named: Iterable[bytes] = ()) -> None:
    """A zip archive; its directory names the last member again under each of the names."""
    entry = "<4s6H12s5HLL"

    def listed(name: bytes, about: bytes, offset: int) -> bytes:
        return struct.pack(entry, b"PK\1\2", 45, 20, 0, 8, 0, 0, about, len(name), 0, 0, 0, 0, 0, offset) + name

    with path.open("wb") as file:
        offsets = []
        for name, packed, about in members:
            offsets.append(file.tell())
            file.write(struct.pack("<4s5H12s2H", b"PK\3\4", 20, 0, 8, 0, 0, about, len(name), 0) + name + packed)
        start, count = file.tell(), len(members)
        for (name, _, about), offset in zip(members, offsets, strict=True):
            file.write(listed(name, about, offset))
        for name in named:
            file.write(listed(name, members[-1][2], offsets[-1]))
            count += 1
        end = file.tell()
        file.write(struct.pack("<4sQHHLLQQQQ", b"PK\6\6", 44, 45, 45, 0, 0, count, count, end - start, start))
        file.write(struct.pack("<4sLQL", b"PK\6\7", 0, end, 1))
        file.write(struct.pack("<4s4HLLH", b"PK\5\6", 0, 0, 0xFFFF, 0xFFFF, 0xFFFFFFFF, 0xFFFFFFFF, 0))


def container(score: str = "a.xml") -> tuple[bytes, bytes, bytes]:
    text = f"<container><rootfiles><rootfile full-path='{score}'/></rootfiles></container>"
    return member(b"META-INF/container.xml", text.encode())


SMALL = f"{HEAD}{LIST}<part id='P0'><measure number='1'>{NOTE}</measure>{TAIL}".encode()


def test_containers_written_here_are_read(tmp_path: Path) -> None:
    archive(tmp_path / "a.mxl", [container(), member(b"a.xml", SMALL)], (b"%d" % number for number in range(1000)))
    run = within_bounds(launch(tmp_path, "measure", "a.mxl"))
    assert run.code == 0, run.said()


@pytest.mark.parametrize(
    ("members", "words"),
    [
        # A quarter of a gibibyte unpacked.
        ([container(), member(b"a.xml", (b"<!--" + b" " * (1 << 20) + b"-->") * 256 + SMALL)], "more than three hundred times its size"),
        ([container(), member(b"a.xml", HEAD.encode() + b" " * (256 << 20))], "one tag or text is longer than 8 MiB"),
        ([container(), member(b"a.xml", SMALL, size=10)], "damaged"),
        ([container(), member(b"a.xml", SMALL, crc=1)], "damaged"),
        ([member(b"META-INF/container.xml", b"<container>" + b" " * (64 << 20)), member(b"a.xml", SMALL)], "longer than 1 MiB"),
        ([member(b"META-INF/container.xml", b"<container>" + b"<a>" * 300_000), member(b"a.xml", SMALL)], "not well-formed"),
        ([container("../secret.txt"), member(b"a.xml", SMALL)], "leads out of the container"),
        ([container("/etc/hostname"), member(b"a.xml", SMALL)], "leads out of the container"),
        ([container("%2e%2e/secret.txt"), member(b"a.xml", SMALL)], "leads out of the container"),
        ([container("..\\secret.txt"), member(b"a.xml", SMALL)], "leads out of the container"),
    ],
    ids=["comments", "white", "short", "sum", "long-container", "deep-container", "up", "root", "encoded", "backslash"],
)
def test_a_hostile_container_is_refused(tmp_path: Path, members: list[tuple[bytes, bytes, bytes]], words: str) -> None:
    (tmp_path / "secret.txt").write_text("nightingale")
    archive(tmp_path / "a.mxl", members)
    run = launch(tmp_path, "audit", "a.mxl")
    refused(run, words, "[damaged-file]", "To do:")
    assert "nightingale" not in run.said()


def test_an_entity_bomb_in_the_container_file(tmp_path: Path) -> None:
    laughs = "".join(billion_laughs()).replace("score-partwise", "container")
    archive(tmp_path / "a.mxl", [member(b"META-INF/container.xml", laughs.encode()), member(b"a.xml", SMALL)])
    refused(launch(tmp_path, "audit", "a.mxl"), "META-INF/container.xml is not well-formed")


def test_a_million_members(tmp_path: Path) -> None:
    archive(tmp_path / "a.mxl", [container(), member(b"a.xml", SMALL)], (b"%d" % number for number in range(1_000_000)))
    refused(launch(tmp_path, "audit", "a.mxl"), "the container lists its members in more than 16 MiB")


def test_links_in_a_folder(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    (folder / "a.musicxml").write_bytes(SMALL)
    (folder / "circle").symlink_to(folder, target_is_directory=True)
    (folder / "itself.musicxml").symlink_to("itself.musicxml")
    (folder / "one.musicxml").symlink_to("other.musicxml")
    (folder / "other.musicxml").symlink_to("one.musicxml")
    (folder / "again.musicxml").symlink_to("a.musicxml")
    (folder / "folder.musicxml").mkdir()
    os.mkfifo(folder / "pipe.musicxml")
    deep = folder
    for _ in range(200):
        deep = deep / "d"
        deep.mkdir()
    (deep / "b.musicxml").write_bytes(SMALL)
    run = within_bounds(launch(tmp_path, "audit", "--report", "json", "parts"))
    files = json.loads(run.out)["files"]
    ends = {entry["path"].rpartition("/")[2]: [finding["rule"] for finding in entry["findings"]] for entry in files}
    assert set(ends) == {"a.musicxml", "b.musicxml", "itself.musicxml", "one.musicxml", "other.musicxml"}
    assert run.code == 1
    for name, rules in ends.items():
        assert ("damaged-file" in rules) == (name not in ("a.musicxml", "b.musicxml")), (name, rules)


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="needs a file that opens and cannot be read")
def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    (folder / "a.musicxml").write_bytes(SMALL)
    (folder / "b.musicxml").symlink_to("/proc/self/mem")
    if os.geteuid() != 0:
        (folder / "c.musicxml").write_bytes(SMALL)
        (folder / "c.musicxml").chmod(0)
    run = within_bounds(launch(tmp_path, "audit", "--report", "json", "parts"))
    told = {entry["path"]: entry["findings"] for entry in json.loads(run.out)["files"]}
    assert run.code == 1 and "parts/a.musicxml" in told
    for path in set(told) - {"parts/a.musicxml"}:
        assert [finding["rule"] for finding in told[path]] == ["damaged-file"]
        assert "failed" in told[path][0]["message"], told[path]
    refused(launch(tmp_path, "castoff", "parts/b.musicxml"), "failed")


LONG = "".join(
    (
        f"{HEAD}{LAYOUT}{LIST}<part id='P0'>",
        *numbered(f"<measure number='%d' width='300'>{NOTE}</measure>", 200),
        # So that reading it takes a while.
        f"<!-- {' ' * 999} -->" * 4_000,
        TAIL,
    )
).encode()


@pytest.mark.parametrize("how", ["cut", "grown", "replaced", "gone", "packed"])
def test_a_file_that_changes_while_it_is_read(tmp_path: Path, how: str) -> None:
    """It is read more than once (measured, quoted, written): whatever it then is, that is told or refused."""
    path, spare = tmp_path / "a.musicxml", tmp_path / "spare"
    packed = tmp_path / "packed"
    archive(packed, [container(), member(b"a.xml", LONG)])
    done = threading.Event()

    def change() -> None:
        while not done.is_set():
            if how == "cut":
                os.truncate(path, len(LONG) // 3)
                path.write_bytes(LONG)
            elif how == "grown":
                with path.open("ab") as file:
                    file.write(b"<a/>" * 1000)
                path.write_bytes(LONG)
            elif how == "gone":
                path.unlink()
                path.write_bytes(LONG)
            else:
                shutil.copyfile(packed if how == "packed" else helpers.ROOT / "fixtures/demo/score.musicxml", spare)
                spare.replace(path)
                spare.write_bytes(LONG)
                spare.replace(path)

    path.write_bytes(LONG)
    changing = threading.Thread(target=change)
    changing.start()
    try:
        for number in range(6):
            run = within_bounds(launch(tmp_path, "audit", "--report", f"html={number}.html", "--report", "terminal", "a.musicxml"))
            assert run.out or run.code == 2, run.said()
            run = within_bounds(launch(tmp_path, "castoff", "--write", f"new-{number}.musicxml", "a.musicxml"))
            new = tmp_path / f"new-{number}.musicxml"
            if run.code == 0:
                # What was written is whole: it was read back.
                assert within_bounds(launch(tmp_path, "measure", new.name)).code == 0
            else:
                assert not new.exists(), run.said()
    finally:
        done.set()
        changing.join()
