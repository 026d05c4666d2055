"""Sentences are made at the edge and never taken apart: whoever needs to know asks a code or a value."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import linemap

ROOT = Path(linemap.__file__).parent
#: What holds sentences made by us. Readers of files take apart what others wrote, and so do migrations.
SENTENCES = frozenset({"evidence", "notes", "reason", "sentence", "sentences", "words"})
READERS = ("io", "store/migrations")
TAKING_APART = frozenset(
    {"startswith", "endswith", "removeprefix", "removesuffix", "partition", "rpartition", "split", "rsplit",
     "find", "index"}
)  # fmt: skip


def is_sentence(node: ast.expr) -> bool:
    name = node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""
    return name in SENTENCES


def takes_apart(node: ast.AST) -> bool:
    """`x.words.startswith(...)`, or a text looked for in `x.words`."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        return node.func.attr in TAKING_APART and is_sentence(node.func.value)
    if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
        # a text in quotation marks or made of others; the name of a thing may be looked for among names
        return isinstance(node.left, ast.Constant | ast.JoinedStr) and is_sentence(node.comparators[0])
    return False


def places(source: str, name: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if takes_apart(node):
            yield f"{name}:{node.lineno}: {ast.unparse(node)}"  # type: ignore[attr-defined]


def test_no_sentence_is_taken_apart() -> None:
    found = [
        place
        for path in sorted(ROOT.rglob("*.py"))
        if not (name := path.relative_to(ROOT).as_posix()).startswith(READERS)
        for place in places(path.read_text(encoding="utf-8"), name)
    ]
    assert found == []


def test_the_search_finds_what_it_is_for() -> None:
    for line in ('hold.reason.removeprefix("hold: ")', '" remarks " not in words', 'cause.words.split(": ")'):
        assert list(places(line, "x.py")), line
    for line in ('" ".join(text.split())', "step in known", '"dug" in codes'):
        assert not list(places(line, "x.py")), line
