"""Documents that no score is: each written piece by piece, with what is said of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

HEAD = "<score-partwise version='4.0'>"
LIST = "<part-list><score-part id='P0'><part-name>Oboe</part-name></score-part></part-list>"
TAIL = "</part></score-partwise>"
NOTE = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>"
LAYOUT = (
    "<defaults><scaling><millimeters>7</millimeters><tenths>40</tenths></scaling><page-layout>"
    "<page-height>1600</page-height><page-width>1200</page-width></page-layout></defaults>"
)


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


def brackets_in_a_declaration() -> Iterator[str]:
    yield "<!DOCTYPE score-partwise [<!ELEMENT note "
    yield from (*repeated("(", 4_000_000), "a", *repeated(")", 4_000_000))
    yield f">]>{HEAD}{LIST}<part id='P0'><measure/>{TAIL}"


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
    (brackets_in_a_declaration, "more than 64 brackets lie within each other in the declaration of an element"),
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
