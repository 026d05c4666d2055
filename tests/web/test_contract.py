"""The OpenAPI document is complete and true: every answer fits it, whatever is asked."""

from __future__ import annotations

import schemathesis
from fastapi import FastAPI
from hypothesis import given, settings
from starlette.testclient import TestClient


def test_openapi_names_every_route_with_words(application: FastAPI, client: TestClient) -> None:
    document = client.get("/openapi.json").json()
    assert set(document["paths"]) == {
        "/",
        "/map.js",
        "/api/job",
        "/api/structures",
        "/api/centreline",
        "/api/context",
        "/api/structure",
        "/health",
    }
    assert all(
        operation.get("summary") and operation.get("description")
        for path in document["paths"].values()
        for operation in path.values()
    )


def test_every_answer_fits_the_document(application: FastAPI) -> None:
    schema = schemathesis.openapi.from_asgi("/openapi.json", application)
    tried = 0
    for found in schema.get_all_operations():

        @given(case=found.ok().as_strategy())
        @settings(max_examples=25, deadline=None, derandomize=True)
        def answer_fits(case: schemathesis.Case) -> None:
            case.call_and_validate()

        answer_fits()
        tried += 1
    assert tried == 8
