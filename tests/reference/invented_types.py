"""Writes document type declarations, the same for the same seed: by the grammar, and then with something changed.

Source: XML 1.0, fifth edition, productions 28 to 83; the names in comments are those of its grammar.
"""

from __future__ import annotations

import random

NAMES = ("a", "b", "note", "x:y", "_z", "n-1.2", "\u00e9t\u00e9", "ID", "EMPTY", "SYSTEM")
SPACES = (" ", " ", " ", "\n", "\t ", "  ")
TYPES = ("CDATA", "ID", "IDREF", "IDREFS", "ENTITY", "ENTITIES", "NMTOKEN", "NMTOKENS")
PIECES = (
    *("<!ELEMENT ", "<!ATTLIST ", "<!ENTITY ", "<!NOTATION ", "<!--", "-->", "--", "<?", "?>", "<?xml ", "<", ">", "<![", "]]>"),
    *("(", ")", ")*", "()", "|", ",", "?", "*", "+", "&", "%", "#", ";", "&#0;", "&#38;", "&lt;", "&a;", "&e;", "%a;", "% "),
    *("'", '"', "''", '"x"', " ", "\n", "[", "]", "]>", "!", "=", "/", "-", ".", "1", "a", "\u00e9", "{", "\\", "^", "@"),
    *("#PCDATA", "#FIXED ", "#IMPLIED", "#REQUIRED", "EMPTY", "ANY", "CDATA", "NOTATION ", "NDATA ", "PUBLIC ", "SYSTEM "),
)


class Writer:
    """One invented document type declaration, in pieces that the grammar knows."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.declared = ["amp", "lt", "quot"]

    def doctype(self) -> str:
        """A declaration that is well-formed, or one with up to three changes."""
        pieces = self.well_formed()
        for _ in range(self.chance.choice((0, 0, 1, 1, 1, 2, 3))):
            self.change(pieces)
        return "".join(pieces)

    def one_in(self, number: int) -> bool:
        return self.chance.randrange(number) == 0

    def change(self, pieces: list[str]) -> None:
        """Takes out, doubles, swaps or puts in a piece; or does so with one character of a piece."""
        at = self.chance.randrange(1, len(pieces))
        how = self.chance.randrange(6)
        if how == 0:
            del pieces[at]
        elif how == 1:
            pieces.insert(at, pieces[at])
        elif how == 2:
            other = self.chance.randrange(1, len(pieces))
            pieces[at], pieces[other] = pieces[other], pieces[at]
        elif how == 3:
            pieces.insert(at, self.chance.choice(PIECES))
        elif pieces[at]:
            inner = self.chance.randrange(len(pieces[at]))
            put_in = self.chance.choice(PIECES) if how == 4 else ""
            pieces[at] = pieces[at][:inner] + put_in + pieces[at][inner + 1 :]

    # doctypedecl, intSubset

    def well_formed(self) -> list[str]:
        pieces = ["<!DOCTYPE", self.space(), "score-partwise"]
        if self.one_in(3):
            pieces += [self.space(), *self.external_id()]
        pieces += [self.maybe_space(), "["]
        kinds = (self.element, self.attributes, self.attributes, self.entity, self.notation, self.beside)
        for _ in range(self.chance.randint(1, 4)):
            pieces += [*self.chance.choice(kinds)(), self.maybe_space()]
        return [*pieces, "]", self.maybe_space(), ">"]

    def space(self) -> str:
        return self.chance.choice(SPACES)

    def maybe_space(self) -> str:
        return self.chance.choice(("", "", "", *SPACES))

    def name(self) -> str:
        return self.chance.choice(NAMES)

    def quoted(self, text: str) -> list[str]:
        quote = self.chance.choice("'\"")
        return [quote, text.replace(quote, ""), quote]

    # Comment, PI

    def beside(self) -> list[str]:
        if self.one_in(2):
            return ["<!--", self.chance.choice(("", " x - y ", ">", "<!ELEMENT", "'", "]>")), "-->"]
        return ["<?", self.name(), self.chance.choice(("", " ]>", " '", " <?", "\nx")), "?>"]

    # ExternalID, PublicID

    def external_id(self) -> list[str]:
        system = self.quoted(self.chance.choice(("", "c.dtd", "<&%>", "it's", "\u00e9")))
        return ["PUBLIC", self.space(), *self.public(), self.space(), *system] if self.one_in(2) else ["SYSTEM", self.space(), *system]

    def public(self) -> list[str]:
        return self.quoted(self.chance.choice(("", "-//A//B 1.0//EN", "'()+,./:=?;!*#@$_%", "a\nb")))

    # elementdecl

    def element(self) -> list[str]:
        return ["<!ELEMENT", self.space(), self.name(), self.space(), *self.content(), self.maybe_space(), ">"]

    def content(self) -> list[str]:
        kind = self.chance.randrange(6)
        if kind == 0:
            return [self.chance.choice(("EMPTY", "ANY"))]
        if kind > 2:
            return self.group(3)
        names = self.chance.randint(0, 3)
        pieces = ["(", self.maybe_space(), "#PCDATA"]
        for _ in range(names):
            pieces += [self.maybe_space(), "|", self.maybe_space(), self.name()]
        return [*pieces, self.maybe_space(), ")", "*" if names or self.one_in(2) else ""]

    def group(self, deeper: int) -> list[str]:
        separator = self.chance.choice("|,")
        pieces = ["("]
        for index in range(self.chance.randint(1, 3)):
            inner = self.group(deeper - 1) if deeper and self.one_in(3) else [self.name(), self.how_often()]
            pieces += [*([separator] if index else []), self.maybe_space(), *inner, self.maybe_space()]
        return [*pieces, ")", self.how_often()]

    def how_often(self) -> str:
        return self.chance.choice(("", "", "?", "*", "+"))

    # AttlistDecl

    def attributes(self) -> list[str]:
        pieces = ["<!ATTLIST", self.space(), self.name()]
        for _ in range(self.chance.randint(0, 3)):
            pieces += [self.space(), self.name(), self.space(), *self.kind(), self.space(), *self.default()]
        return [*pieces, self.maybe_space(), ">"]

    def kind(self) -> list[str]:
        kind = self.chance.randrange(4)
        if kind < 2:
            return [self.chance.choice(TYPES)]
        names = NAMES if kind == 2 else (*NAMES, "1", "-x", ".")
        pieces = ["NOTATION", self.space(), "("] if kind == 2 else ["("]
        for index in range(self.chance.randint(1, 3)):
            pieces += [*(["|"] if index else []), self.maybe_space(), self.chance.choice(names), self.maybe_space()]
        return [*pieces, ")"]

    def default(self) -> list[str]:
        kind = self.chance.randrange(4)
        if kind == 0:
            return [self.chance.choice(("#REQUIRED", "#IMPLIED"))]
        value = self.chance.choice(("", "x > y", "&#65;", "%a;", "it's", f"&{self.chance.choice(self.declared)};"))
        return [*(["#FIXED", self.space()] if kind == 1 else []), *self.quoted(value)]

    # EntityDecl

    def entity(self) -> list[str]:
        name = self.name()
        parameter = ["%", self.space()] if self.one_in(3) else []
        if self.one_in(10):
            unparsed = [] if parameter or self.one_in(2) else [self.space(), "NDATA", self.space(), self.name()]
            value = [*self.external_id(), *unparsed]
        else:
            texts = ("", "text", "it's", "&#233;", "&#xe9;x", "<b/>", "&a;&later;", "a > b", "]]>", "&#37;a;")
            value = self.quoted(self.chance.choice(texts))
            self.declared += [] if parameter else [name]
        return ["<!ENTITY", self.space(), *parameter, name, self.space(), *value, self.maybe_space(), ">"]

    # NotationDecl

    def notation(self) -> list[str]:
        outer = ["PUBLIC", self.space(), *self.public()] if self.one_in(3) else self.external_id()
        return ["<!NOTATION", self.space(), self.name(), self.space(), *outer, self.maybe_space(), ">"]
