"""Write the types of the application's answers for the page scripts: ``python tests/js/answer_types.py``.

The types come from the OpenAPI document, so what the scripts are checked against is what the server sends.
"""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from linemap.service.job.job import create_job
from linemap.settings import Settings
from linemap.web.app import create_app
from linemap.web.start import StartOrJob

TARGET = Path(__file__).with_name("answers.d.ts")
_PLAIN = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean", "null": "null"}
_HEAD = """\
// Types of the answers, written by tests/js/answer_types.py from the OpenAPI document before each check.

declare namespace Answer {
"""


def declarations(document: Mapping[str, Any]) -> str:
    """Return the schemas of an OpenAPI document as TypeScript interfaces in one namespace."""
    schemas = document["components"]["schemas"]
    blocks = [_declared(name, schema) for name, schema in sorted(schemas.items()) if name.isidentifier()]
    return f"{_HEAD}{''.join(blocks)}}}\n"


def _declared(name: str, schema: Mapping[str, Any]) -> str:
    if "properties" not in schema:
        return f"  type {name} = {_type(schema)};\n"
    required = set(schema.get("required", ()))
    fields = ""
    for field, one in schema["properties"].items():
        key = field if field.isidentifier() else json.dumps(field)
        fields += f"    {key}{'' if field in required else '?'}: {_type(one)};\n"
    return f"  interface {name} {{\n{fields}  }}\n"


def _type(schema: Mapping[str, Any]) -> str:
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        return name if name.isidentifier() else "unknown"
    if "const" in schema:
        return json.dumps(schema["const"])
    if "enum" in schema:
        return " | ".join(json.dumps(value) for value in schema["enum"])
    for union in ("anyOf", "oneOf"):
        if union in schema:
            return " | ".join(dict.fromkeys(_type(one) for one in schema[union]))
    kind = schema.get("type")
    if kind == "array":
        return _array(schema)
    if kind == "object":
        values = schema.get("additionalProperties")
        return f"Record<string, {_type(values)}>" if isinstance(values, Mapping) else "Record<string, any>"
    return _PLAIN.get(str(kind), "any")


def _array(schema: Mapping[str, Any]) -> str:
    if "prefixItems" in schema:
        return f"[{', '.join(_type(one) for one in schema['prefixItems'])}]"
    item = _type(schema.get("items", {}))
    return f"({item})[]" if "|" in item else f"{item}[]"


def document() -> dict[str, Any]:
    """Return the OpenAPI document of the applications, which is the same for every job."""
    with tempfile.TemporaryDirectory() as folder:
        job = f"{folder}/types.linemap"
        create_job(job, {"crs": "EPSG:6515"}, now=dt.datetime.now(dt.UTC))
        application = create_app(Settings(job=job))
        application.state.database.close()
        found = application.openapi()
        # the page that makes a job has an application of its own
        start = StartOrJob(Settings(job=folder)).asking.openapi()
        found["components"]["schemas"] |= start["components"]["schemas"]
        return found


if __name__ == "__main__":
    TARGET.write_text(declarations(document()), encoding="utf-8")
