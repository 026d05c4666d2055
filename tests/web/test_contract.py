"""The OpenAPI document is complete and true: every answer fits it, whatever is asked."""

from __future__ import annotations

import dataclasses
import datetime as dt
import importlib
import pkgutil
import re
import shutil
from pathlib import Path
from typing import Any, Protocol

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.routing import APIRoute
from hypothesis import given, settings
from schemathesis.checks import CheckFunction
from schemathesis.core.result import Ok
from schemathesis.schemas import APIOperation
from schemathesis.specs.openapi.checks import positive_data_acceptance
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.settings import Settings
from linemap.web import routes
from linemap.web.app import create_app
from linemap.web.permission import PERMISSIONS
from linemap.web.session import cookie_name


def test_openapi_names_every_route_with_words(application: FastAPI, client: TestClient) -> None:
    document = client.get("/openapi.json").json()
    unseen = {"/openapi.json", "/static/{path:path}", "/vendor/leaflet/{path:path}"}
    shapes = {re.sub(r"{\w+}", "{}", template) for template in PERMISSIONS.keys() - unseen}
    assert {re.sub(r"{\w+}", "{}", path) for path in document["paths"]} == shapes
    assert all(
        operation.get("summary") and operation.get("description")
        for path in document["paths"].values()
        for operation in path.values()
    )


def test_every_answer_is_a_plain_dataclass_of_the_answers() -> None:
    """One type, written as it is: no second model mirrors it, and slots would write it six times slower."""
    modules = [
        importlib.import_module(each.name)
        for each in pkgutil.iter_modules(routes.__path__, "linemap.web.routes.")
    ]
    served = [route for module in modules for route in module.router.routes if isinstance(route, APIRoute)]
    models = {route.response_model for route in served} - {None}
    assert len(models) > 20
    for model in models:
        assert dataclasses.is_dataclass(model), model
        assert model.__module__.startswith("linemap.answers."), model
        assert not any("__slots__" in vars(one) for one in model.__mro__[:-1]), model


@pytest.fixture
def own_application(demo_job: Path, tmp_path: Path) -> FastAPI:
    """The application over a copy of the demo job: answers and decisions are recorded."""
    job = shutil.copy(demo_job, tmp_path / "demo.linemap")
    return create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))


def try_operation(operation: APIOperation[Any, Any, Any, Any]) -> None:
    # years, files' columns and moments that lie ahead are judged by the routes: no schema can say them
    excluded: list[CheckFunction] = [positive_data_acceptance]

    @given(case=operation.as_strategy())
    @settings(max_examples=10, deadline=None, derandomize=True)
    def answer_fits(case: schemathesis.Case[Any]) -> None:
        case.call_and_validate(headers={"sec-fetch-site": "same-origin"}, excluded_checks=excluded)

    answer_fits()


@pytest.mark.fuzz
def test_every_answer_fits_the_document(own_application: FastAPI) -> None:
    schema = schemathesis.openapi.from_asgi("/openapi.json", own_application)
    operations = [found.ok() for found in schema.get_all_operations() if isinstance(found, Ok)]
    for operation in operations:
        try_operation(operation)
    assert len(operations) >= len(PERMISSIONS) - 3


class People(Protocol):
    """What the fixture `people` gives."""

    application: FastAPI
    tokens: dict[Role, str]


@pytest.mark.fuzz
def test_every_answer_fits_the_document_for_every_role_and_for_nobody(
    people: People, role: Role | None
) -> None:
    cookies = {} if role is None else {cookie_name(people.application.state.identity): people.tokens[role]}
    headers = {"origin": "https://linemap.test", "host": "linemap.test"}
    document = schemathesis.openapi.from_asgi("/openapi.json", people.application, headers=signed_in(people))
    operations = [found.ok() for found in document.get_all_operations() if isinstance(found, Ok)]
    for operation in operations:
        # signing out would end the session that the other operations are tried with
        if (operation.path, operation.method) != ("/api/session", "delete"):
            try_as(operation, headers=headers, cookies=cookies)


def signed_in(people: People) -> dict[str, str]:
    return {"cookie": f"{cookie_name(people.application.state.identity)}={people.tokens[Role.MANAGER]}"}


def try_as(
    operation: APIOperation[Any, Any, Any, Any], *, headers: dict[str, str], cookies: dict[str, str]
) -> None:
    @given(case=operation.as_strategy())
    @settings(max_examples=1, deadline=None, derandomize=True)
    def answer_fits(case: schemathesis.Case[Any]) -> None:
        case.call_and_validate(headers=headers, cookies=cookies, excluded_checks=[positive_data_acceptance])

    answer_fits()
