"""Where things stand in a TOML text: the line of a value, and keys of so many parts that no reader should see them.

The text is split into tokens in one pass; what is in strings and comments is passed over whole.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from expocalc.plan.error import Where

__all__ = ["line_of", "line_of_deep_key", "line_of_long_number"]

# A string that is not closed ends with its line, or with the text: no part of the text is looked at twice.
_TOKEN = r"""(?xs)
      (?P<comment> \#[^\n]* )
    | (?P<part>    \"{3} (?: [^"\\] | \\. | "(?!"") )*+ (?: "{3,5} )?
                 | '{3}  (?: [^']         | '(?!'') )*+ (?: '{3,5} )?
                 | " (?: [^"\\\n] | \\. )*+ "?
                 | ' [^'\n]*+ '?
                 | [^\s\[\]{}=,.\#"']++ )
    | (?P<mark>    [\[\]{}=,.\n] )
    """
_LONG_NUMBER = r"[+-]?(?:0[xob])?[\da-fA-F_]{16,}"
_Token = tuple[str, int]


def _tokens(text: str) -> Iterator[_Token]:
    """Every token but comments, and the line on which it starts."""
    line = 1
    for found in re.finditer(_TOKEN, text):
        if found.lastgroup != "comment":
            yield found[0], line
        line += found[0].count("\n")


def line_of_deep_key(text: str, deepest: int) -> int | None:
    r"""First line with a key of more than `deepest` parts, of a text that may be no TOML.

    Examples
    --------
    >>> line_of_deep_key("a.b = 1\n'a' . b . c = 2", 2)
    2
    """
    parts = 0
    for (before, _), (token, line) in pairwise(_tokens(text)):
        if before == ".":
            parts += 1
            if parts >= deepest:
                return line
        elif token != ".":
            parts = 0
    return None


def line_of_long_number(text: str) -> int | None:
    """First line with a whole number of 16 digits or more, of a text that may be no TOML."""
    return next((line for token, line in _tokens(text) if re.fullmatch(_LONG_NUMBER, token)), None)


def line_of(text: str, place: Where) -> int | None:
    r"""Line on which a value of a valid TOML text starts, or the nearest table around it that the text shows.

    Examples
    --------
    >>> text = '[sky]\nbortle = 6\n\n[[filters]]\nname = "V"\npassbands = [\n  { width = "5 nm" },\n]'
    >>> line_of(text, ("filters", 0, "passbands", 0, "width")), line_of(text, ("filters", 0, "blocking"))
    (7, 4)
    """
    lines = _Lines(text).found
    while place:
        if place in lines:
            return lines[place]
        place = place[:-1]
    return None


class _Lines:
    """Lines of all values of a valid TOML text, by their places."""

    def __init__(self, text: str) -> None:
        self.found: dict[Where, int] = {}
        self._tokens = [*_tokens(text), ("\n", text.count("\n") + 1)]
        self._at = 0
        self._tables: Counter[Where] = Counter()  # of arrays of tables, how many there were
        self._document()

    @property
    def _next(self) -> str:
        return self._tokens[self._at][0] if self._at < len(self._tokens) else ""

    def _take(self) -> _Token:
        token = self._tokens[self._at]
        self._at += 1
        return token

    def _skip(self, *tokens: str) -> None:
        while self._next in tokens:
            self._at += 1

    def _document(self) -> None:
        table: Where = ()
        while self._next:
            if self._next == "\n":
                self._take()
            elif self._next == "[":
                table = self._header()
            else:
                self._pair(table)

    def _header(self) -> Where:
        _, line = self._take()
        array = self._next == "["
        self._skip("[")
        table: Where = ()
        parts = self._key()
        for last, part in enumerate(parts, start=1 - len(parts)):
            table = (*table, part)
            self.found.setdefault(table, line)
            if table in self._tables and last:
                table = (*table, self._tables[table] - 1)
        if array:
            self._tables[table] += 1
            table = (*table, self._tables[table] - 1)
            self.found[table] = line
        self._skip("]")
        return table

    def _key(self) -> list[str]:
        import tomllib  # as in expocalc.plan.toml

        parts = []
        while True:
            part, _ = self._take()
            parts.append(tomllib.loads(f"x = {part}")["x"] if part[0] in "\"'" else part)
            if self._next != ".":
                return parts
            self._take()

    def _pair(self, table: Where) -> None:
        line = self._tokens[self._at][1]
        for part in self._key():
            table = (*table, part)
            self.found.setdefault(table, line)
        self._take()  # the equals sign
        self._value(table)

    def _value(self, place: Where) -> None:
        token, line = self._take()
        self.found[place] = line
        if token == "[":
            at = 0
            self._skip("\n", ",")
            while self._next != "]":
                self._value((*place, at))
                self._skip("\n", ",")
                at += 1
            self._take()
        elif token == "{":
            self._skip("\n", ",")
            while self._next != "}":
                self._pair(place)
                self._skip("\n", ",")
            self._take()
        else:  # a number with a dot and a date with a space are several tokens
            while self._next not in (",", "]", "}", "\n", ""):
                self._take()
