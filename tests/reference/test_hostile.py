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

SECONDS = 5.0
MEBIBYTES = 256
PATIENCE = 60

HEAD = "<score-partwise version='4.0'>"
LIST = "<part-list><score-part id='P0'><part-name>Oboe</part-name></score-part></part-list>"
TAIL = "</part></score-partwise>"
NOTE = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>"
LAYOUT = (
    "<defaults><scaling><millimeters>7</millimeters><tenths>40</tenths></scaling><page-layout>"
    "<page-height>1600</page-height><page-width>1200</page-width></page-layout></defaults>"
)

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


def repeated(text: str, times: int) -> Iterator[str]:
    """A text many times, in pieces of a size that can be written."""
    at_once = max(1, (1 << 20) // len(text))
    for _ in range(times // at_once):
        yield text * at_once
    yield text * (times % at_once)


def numbered(template: str, count: int, first: int = 1) -> Iterator[str]:
    for start in range(first, first + count, 10_000):
        yield "".join(template % number for number in range(start, min(start + 10_000, first + count)))


def parts(count: int) -> str:
    return "".join(("<part-list>", *numbered("<score-part id='P%d'><part-name>N</part-name></score-part>", count, 0), "</part-list>"))


def million_bars() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'>")
    yield from numbered("<measure number='%d'><note><rest measure='yes'/><duration>4</duration></note></measure>", 1_000_000)
    yield TAIL


def million_notes() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'><measure number='1'>")
    yield from repeated("<note><rest/><duration>1</duration></note>", 1_000_100)
    yield from ("</measure>", TAIL)


def million_parts() -> Iterator[str]:
    yield from (HEAD, "<part-list>")
    yield from numbered("<score-part id='P%d'><part-name/></score-part>", 1_000_000)
    yield "</part-list></score-partwise>"


def million_unlisted_parts() -> Iterator[str]:
    yield from (HEAD, "<part-list/>")
    yield from numbered("<part id='P%d'/>", 1_000_000)
    yield "</score-partwise>"


def depth() -> Iterator[str]:
    yield from (HEAD, "<a>" * 100_000, "</a>" * 100_000, "</score-partwise>")


def gibibyte() -> Iterator[str]:
    yield from (HEAD, "<part-list><score-part id='P0'><part-name>")
    yield from repeated("x" * (1 << 20), 1024)
    yield from ("</part-name></score-part></part-list><part id='P0'><measure/>", TAIL)


def many_attributes() -> Iterator[str]:
    yield "<score-partwise"
    yield from numbered(" a%d=''", 500_000)
    yield "/>"


def long_attribute() -> Iterator[str]:
    yield "<score-partwise version='"
    yield from repeated("x" * (1 << 20), 64)
    yield "'/>"


def long_comment() -> Iterator[str]:
    yield "<!--"
    yield from repeated("x" * (1 << 20), 64)
    yield "--><score-partwise/>"


def billion_laughs() -> Iterator[str]:
    yield "<!DOCTYPE score-partwise [<!ENTITY a 'ha'>"
    names = "abcdefghijklmnop"
    for before, name in zip(names, names[1:], strict=False):
        yield f"<!ENTITY {name} '{f'&{before};' * 10}'>"
    yield f"]>{HEAD}<movement-title>&p;</movement-title></score-partwise>"


def plain_entity_often() -> Iterator[str]:
    yield f"<!DOCTYPE score-partwise [<!ENTITY a '{'x' * 10_000}'>]>{HEAD}<movement-title>"
    yield from repeated("&a;", 100_000)
    yield "</movement-title></score-partwise>"


def outer_entity() -> Iterator[str]:
    yield "<!DOCTYPE score-partwise [<!ENTITY a SYSTEM 'secret.txt'>]>"
    yield f"{HEAD}<movement-title>&a;</movement-title></score-partwise>"


def unused_outer_entity() -> Iterator[str]:
    yield "<!DOCTYPE score-partwise [<!ENTITY a PUBLIC 'x' 'secret.txt'>]>"
    yield f"{HEAD}{LIST}<part id='P0'><measure/>{TAIL}"


def parameter_entity() -> Iterator[str]:
    yield "<!DOCTYPE score-partwise [<!ENTITY % a SYSTEM 'secret.txt'> %a;]>"
    yield f"{HEAD}{LIST}<part id='P0'><measure/>{TAIL}"


def bars_left_out() -> Iterator[str]:
    """Parts that bars leave out keep their place: a short bar stands for four thousand."""
    yield from ("<score-timewise>", parts(4096), "<measure number='1'>")
    yield from (*numbered("<part id='P%d'/>", 4096, 0), "</measure>")
    yield from repeated("<measure/>", 199_999)
    yield "</score-timewise>"


def systems_and_staves() -> Iterator[str]:
    """One part says where systems begin, the others how many staves each of them has."""
    yield from (HEAD, LAYOUT, parts(4096), "<part id='P0'>")
    yield from numbered("<measure number='%d' width='300'><print new-system='yes'/></measure>", 50)
    yield "</part>"
    yield from numbered("<part id='P%d'><measure><attributes><staves>16</staves></attributes></measure></part>", 4095)
    yield "</score-partwise>"


def one_long_part() -> Iterator[str]:
    yield from (HEAD, parts(4096), "<part id='P0'>")
    yield from repeated("<measure/>", 200_000)
    yield "</part>"
    yield from numbered("<part id='P%d'><measure/></part>", 4095)
    yield "</score-partwise>"


def page_a_bar() -> Iterator[str]:
    yield from (HEAD, LAYOUT, LIST, "<part id='P0'>")
    yield from numbered(f"<measure number='%d' width='300'><print new-page='yes'/>{NOTE}</measure>", 200_000)
    yield TAIL


def empty_bars() -> Iterator[str]:
    yield from (HEAD, parts(50))
    for number in range(50):
        yield from (f"<part id='P{number}'>", *repeated("<measure/>", 200_000), "</part>")
    yield "</score-partwise>"


def empty_notes() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'>")
    for _ in range(8):
        yield from ("<measure>", *repeated("<note/>", 900_000), "</measure>")
    yield TAIL


def empty_marks() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'><measure><direction><direction-type>")
    yield from repeated("<segno/>", 4_000_000)
    yield from ("</direction-type></direction></measure>", TAIL)


def many_words() -> Iterator[str]:
    yield HEAD
    for _ in range(60):
        yield from ("<credit><credit-words>", "x" * (7 << 20), "</credit-words></credit>")
    yield from (LIST, "<part id='P0'><measure/>", TAIL)


def many_numbers_of_bars() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'>")
    yield from numbered("<measure number='" + "x" * 2000 + "%d'/>", 100_000)
    yield TAIL


def many_credits() -> Iterator[str]:
    yield HEAD
    yield from numbered("<credit page='%d'><credit-words>x</credit-words></credit>", 2_000_000)
    yield from (LIST, "<part id='P0'><measure/>", TAIL)


def groups_never_ended() -> Iterator[str]:
    yield from (HEAD, "<part-list>")
    yield from repeated("<part-group type='start' number='1'/>", 150_000)
    yield from repeated("<part-group type='stop' number='2'/>", 150_000)
    yield from (LIST[len("<part-list>") :], "<part id='P0'><measure/>", TAIL)


DOCUMENTS: list[tuple[Callable[[], Iterator[str]], str]] = [
    (million_bars, "more than 200000 bars in one part"),
    (million_notes, "more than 1000000 notes in one bar"),
    (million_parts, "more than 4096 parts"),
    (million_unlisted_parts, "more than 4096 parts"),
    (depth, "more than 256 elements lie within each other"),
    (many_attributes, "more than 256 attributes"),
    (long_attribute, "one tag or text is longer than 8 MiB"),
    (long_comment, "one tag or text is longer than 8 MiB"),
    (billion_laughs, 'the entity "&p;" holds markup or other entities'),
    (plain_entity_often, "entities add more than 1 MiB of text"),
    (outer_entity, 'the entity "a" is declared to lie outside the file'),
    (unused_outer_entity, 'the entity "a" is declared to lie outside the file'),
    (parameter_entity, 'the entity "a" is declared to lie outside the file'),
    (bars_left_out, "the notes, bars and words come to more than 96 MiB"),
    (systems_and_staves, "are more than 100000 staves in all"),
    (one_long_part, "are more than 4000000 bars in all"),
    (page_a_bar, "are more than 100000 staves in all"),
    (empty_bars, "the notes, bars and words come to more than 96 MiB"),
    (empty_notes, "the notes, bars and words come to more than 96 MiB"),
    (empty_marks, "the notes, bars and words come to more than 96 MiB"),
    (many_words, "the notes, bars and words come to more than 96 MiB"),
    (many_numbers_of_bars, "the notes, bars and words come to more than 96 MiB"),
    (many_credits, "the notes, bars and words come to more than 96 MiB"),
    (groups_never_ended, "more than 4096 groups of parts"),
]


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


def most_pages() -> Iterator[str]:
    yield from (HEAD, LAYOUT, LIST, "<part id='P0'>")
    yield from numbered(f"<measure number='%d' width='300'><print new-page='yes'/>{NOTE}</measure>", 19_999)
    yield TAIL


def most_staves() -> Iterator[str]:
    yield from (HEAD, LAYOUT, parts(4000))
    bars = "".join(numbered(f"<measure number='%d' width='300'><print new-system='yes'/>{NOTE}</measure>", 24))
    for number in range(4000):
        yield f"<part id='P{number}'>{bars}</part>"
    yield "</score-partwise>"


def most_bars() -> Iterator[str]:
    yield from (HEAD, LAYOUT, LIST, "<part id='P0'>")
    yield from numbered(f"<measure number='%d' width='300'>{NOTE}</measure>", 200_000)
    yield TAIL


def most_notes() -> Iterator[str]:
    yield from (HEAD, LIST, "<part id='P0'><measure>")
    yield from repeated(NOTE, 1_000_000)
    yield from ("</measure>", TAIL)


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
        ([container(), member(b"a.xml", (b"<!--" + b" " * (1 << 20) + b"-->") * 256 + SMALL)], "more than a thousand times its size"),
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
