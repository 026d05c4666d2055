"""The types that the page scripts are checked against are those of the answers."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from fastapi import FastAPI

JS = Path(__file__).parents[1] / "js"
sys.path.insert(0, str(JS))
from answer_types import declarations  # noqa: E402


def test_every_answer_has_its_type(application: FastAPI) -> None:
    document = application.openapi()
    text = declarations(document)
    for name in document["components"]["schemas"]:
        assert re.search(rf"^  (interface|type) {name}\b", text, re.MULTILINE), name


def test_declarations_say_what_is_null_missing_or_chosen() -> None:
    fields = {
        "a": {"type": "string"},
        "b": {"anyOf": [{"type": "integer"}, {"type": "null"}]},
        "c": {"type": "array", "items": {"enum": ["x", "y"]}},
        "d": {"type": "array", "prefixItems": [{"$ref": "#/components/schemas/Two"}, {"type": "number"}]},
    }
    one = {"properties": fields, "required": ["a", "b", "c"]}
    two = {"type": "object", "additionalProperties": {"type": "boolean"}}
    text = declarations({"components": {"schemas": {"One": one, "Two": two}}})
    for line in (
        "a: string;",
        "b: number | null;",
        'c: ("x" | "y")[];',
        "d?: [Two, number];",
        "type Two = Record<string, boolean>;",
    ):
        assert line in text
