"""S-expressions, as KiCad writes its files: parentheses, words, quoted words. Pure.

Nesting is walked with a stack of our own, so a deep file cannot exhaust Python's. Whatever is malformed raises
ValueError whose text starts with `line N:` and says what was expected; the caller adds the file's name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import isfinite

TOKEN = re.compile(r'\s+|(?P<open>\()|(?P<close>\))|"(?P<quoted>(?:[^"\\]|\\.)*)"|(?P<bare>[^\s()"]+)', re.DOTALL)
ESCAPE = re.compile(r"\\(.)", re.DOTALL)
ESCAPED = {"n": "\n", "t": "\t", "r": "\r"}


@dataclass(eq=False, repr=False)
class Node:
    """One parenthesis: `(name argument ... (child ...) ...)`.

    line: where it opens, 1-based. words: its own words, quotes removed. children: the parentheses inside, in order.
    """

    line: int
    words: list[str] = field(default_factory=list)
    children: list[Node] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The first word, empty if there is none."""
        return self.words[0] if self.words else ""

    @property
    def args(self) -> list[str]:
        """The words after the name."""
        return self.words[1:]

    def all(self, name: str) -> Iterator[Node]:
        """The direct children of that name."""
        return (child for child in self.children if child.name == name)

    def first(self, name: str) -> Node | None:
        """The first direct child of that name, or None."""
        return next(self.all(name), None)

    def need(self, name: str) -> Node:
        """The first direct child of that name. Raises ValueError when there is none."""
        found = self.first(name)
        if found is None:
            raise ValueError(f"line {self.line}: expected ({name} ...) inside ({self.name} ...)")
        return found

    def word(self, index: int, what: str) -> str:
        """The word at that place after the name. Raises ValueError, saying `what` was expected."""
        if index + 1 >= len(self.words):
            raise ValueError(f"line {self.line}: expected {what} in ({self.name} ...)")
        return self.words[index + 1]

    def number(self, index: int, what: str) -> float:
        """The finite number at that place after the name. Raises ValueError, saying `what` was expected."""
        text = self.word(index, what)
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not isfinite(value):
            raise ValueError(f"line {self.line}: expected {what} as a number in ({self.name} ...), found '{text}'")
        return value


def read_sexpr(text: str) -> Node:
    r"""The one S-expression that a KiCad file is.

    Raises ValueError with the line and what was expected.

    >>> node = read_sexpr('(pad "A 1" smd\n (at 1 2))')
    >>> node.name, node.args, node.children[0].args, node.children[0].line
    ('pad', ['A 1', 'smd'], ['1', '2'], 2)
    """
    root: Node | None = None
    stack: list[Node] = []
    for line, token in _tokens(text):
        if root is not None and not stack and not token["close"]:
            raise ValueError(f"line {line}: expected the end of the text after the expression, found '{token[0][:20]}'")
        if token["open"]:
            node = Node(line)
            if stack:
                stack[-1].children.append(node)
            else:
                root = node
            stack.append(node)
        elif token["close"]:
            if not stack:
                raise ValueError(f"line {line}: expected '(' before ')'")
            stack.pop()
        else:
            word = token["bare"] if token["bare"] is not None else _unescape(token["quoted"])
            if not stack:
                raise ValueError(f"line {line}: expected '(', found '{word[:20]}'")
            stack[-1].words.append(word)
    last = text.count("\n") + 1
    if stack:
        raise ValueError(f"line {last}: expected ')' for the '(' of line {stack[-1].line}, found the end of the text")
    if root is None:
        raise ValueError(f"line {last}: expected '(', found nothing")
    return root


def _tokens(text: str) -> Iterator[tuple[int, re.Match[str]]]:
    """Parentheses and words, each with its line."""
    line, at = 1, 1 if text.startswith("\ufeff") else 0
    while at < len(text):
        token = TOKEN.match(text, at)
        if token is None:
            raise ValueError(f"line {line}: expected a closing quote for the text that opens here")
        if not token[0].isspace():
            yield line, token
        line += token[0].count("\n")
        at = token.end()


def _unescape(quoted: str) -> str:
    return ESCAPE.sub(lambda found: ESCAPED.get(found[1], found[1]), quoted) if "\\" in quoted else quoted
