"""The OpenAPI document is complete and true: every answer fits it, whatever is asked."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import given, settings
from schemathesis.checks import CheckFunction
from schemathesis.core.result import Ok
from schemathesis.schemas import APIOperation
from schemathesis.specs.openapi.checks import positive_data_acceptance
from starlette.testclient import TestClient

from linemap.settings import Settings
from linemap.web.app import create_app


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
        "/survey",
        "/api/survey",
        "/api/decisions",
        "/api/red-marks.xlsx",
        "/api/red-marks.pdf",
        "/files",
        "/api/files",
        "/api/files/{id}/content",
        "/api/files/{id}/answer",
        "/health",
    }
    assert all(
        operation.get("summary") and operation.get("description")
        for path in document["paths"].values()
        for operation in path.values()
    )


@pytest.fixture
def own_application(demo_job: Path, tmp_path: Path) -> FastAPI:
    """The application over a copy of the demo job: answers and decisions are recorded."""
    job = shutil.copy(demo_job, tmp_path / "demo.linemap")
    return create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))


def try_operation(operation: APIOperation[Any, Any, Any, Any]) -> None:
    # whether a file has the columns that are named is known only when it is read
    excluded: list[CheckFunction] = (
        [positive_data_acceptance] if operation.path == "/api/files/{id}/answer" else []
    )

    @given(case=operation.as_strategy())
    @settings(max_examples=25, deadline=None, derandomize=True)
    def answer_fits(case: schemathesis.Case[Any]) -> None:
        case.call_and_validate(headers={"sec-fetch-site": "same-origin"}, excluded_checks=excluded)

    answer_fits()


def test_every_answer_fits_the_document(own_application: FastAPI) -> None:
    schema = schemathesis.openapi.from_asgi("/openapi.json", own_application)
    operations = [found.ok() for found in schema.get_all_operations() if isinstance(found, Ok)]
    for operation in operations:
        try_operation(operation)
    assert len(operations) == 17
