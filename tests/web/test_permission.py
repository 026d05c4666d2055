"""Every route has its roles, and the gate holds each role, and nobody, to them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Protocol

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.routing import Mount
from starlette.testclient import TestClient

from linemap.domain.record.person import Person, Role
from linemap.web.permission import ANYBODY, PERMISSIONS, Permissions


class People(Protocol):
    """What the fixture `people` gives."""

    application: FastAPI

    def client(self, role: Role | None) -> TestClient: ...


def served(application: FastAPI) -> Iterator[tuple[str, str]]:
    """Yield (template, method) of everything the application serves, mounted folders included."""
    for route in iter_route_contexts(application.routes):
        if isinstance(route.original_route, Mount):
            yield f"{route.original_route.path}/{{path:path}}", "GET"
            continue
        for method in set(route.methods or ()) - {"HEAD", "OPTIONS"}:
            yield str(route.path), method


def shape(template: str) -> str:
    """Return a template without the names of its parameters."""
    return re.sub(r"\{\w+(:\w+)?\}", r"{\1}", template)


LISTED_ROUTES = {(template, method) for template, methods in PERMISSIONS.items() for method in methods}
LISTED = {(shape(template), method) for template, method in LISTED_ROUTES}
#: Signing out is tried in test_session.py: here it would sign out everybody for the tests after it.
ASKED = sorted(LISTED_ROUTES - {("/api/session", "DELETE")})


def test_every_route_of_the_application_is_in_the_table(application: FastAPI) -> None:
    routes = {(shape(template), method) for template, method in served(application)}
    assert len(routes) > 15
    assert routes <= LISTED


def test_a_route_without_an_entry_is_not_served(own_people: People) -> None:
    @own_people.application.get("/api/not-in-the-table")
    def found() -> dict[str, str]:
        return {"secret": "yes"}

    answers = {own_people.client(role).get("/api/not-in-the-table").status_code for role in (*Role, None)}
    assert answers == {404}


def test_a_method_without_an_entry_is_not_served(own_people: People) -> None:
    @own_people.application.delete("/api/job")
    def found() -> dict[str, str]:
        return {"gone": "yes"}

    answer = own_people.client(Role.MANAGER).delete("/api/job")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET")
    assert answer.json()["error"]["code"] == "method_not_allowed"


def concrete(template: str) -> str:
    return re.sub(
        r"\{size\}", "192", re.sub(r"\{path:path\}", "css/map.css", re.sub(r"\{id\}", "1", template))
    )


@pytest.mark.parametrize(("template", "method"), ASKED, ids=lambda value: str(value))
def test_each_route_lets_in_its_roles_and_nobody_else(
    people: People, role: Role | None, template: str, method: str
) -> None:
    roles = PERMISSIONS[template][method]
    answer = people.client(role).request(method, concrete(template).replace("{hold_id}", "none"))
    if role is None and roles != ANYBODY:
        assert answer.status_code == 401
        assert method == "HEAD" or answer.json()["error"]["code"] == "sign_in"
    elif roles and role not in roles:
        assert answer.status_code == 403
        assert method == "HEAD" or answer.json()["error"]["code"] == "not_allowed"
    else:
        assert answer.status_code not in (401, 403) or template == "/api/session"


@pytest.mark.parametrize("method", ["HEAD", "GET"])
def test_head_asks_for_what_get_does(people: People, method: str) -> None:
    assert people.client(None).request(method, "/api/job").status_code == 401
    assert people.client(Role.CREW).request(method, "/files").status_code == 403


def test_what_the_roles_may_in_the_words_of_the_job() -> None:
    may = {
        name: {role for role in Role if role in PERMISSIONS[template][method]}
        for name, (template, method) in {
            "release": ("/api/holds/{hold_id}/release", "POST"),
            "decide": ("/api/decisions", "POST"),
            "assign shots": ("/api/survey/shots", "POST"),
            "record": ("/api/events", "POST"),
            "read files": ("/api/files/{id}/content", "GET"),
        }.items()
    }
    assert may == {
        "release": {Role.SURVEYOR, Role.INSPECTOR, Role.MANAGER},
        "decide": {Role.SURVEYOR},
        "assign shots": {Role.SURVEYOR},
        "record": {Role.CREW, Role.SURVEYOR, Role.INSPECTOR, Role.MANAGER},
        "read files": {Role.MANAGER},
    }
    for template, methods in PERMISSIONS.items():
        for method, roles in methods.items():
            assert method == "GET" or Role.VIEWER not in roles, template
            of_positions = template in {"/api/decisions", "/api/survey/shots"}
            assert Role.MANAGER in roles or roles == ANYBODY or of_positions


def test_templates_with_parameters_come_after_those_without() -> None:
    table = {"/a/{id}": {"GET": ANYBODY}, "/a/b": {"PUT": ANYBODY}, "/{path:path}": {"POST": ANYBODY}}
    permissions = Permissions(table)
    methods = {path: set(permissions.methods(path) or ()) for path in ("/a/b", "/a/c", "/a/c/d")}
    assert methods == {"/a/b": {"PUT"}, "/a/c": {"GET"}, "/a/c/d": {"POST"}}


def test_whoever_sits_at_the_machine_of_a_job_without_people_may_do_all() -> None:
    assert all(
        Permissions.allows(roles, Person.at_the_machine())
        for methods in PERMISSIONS.values()
        for roles in methods.values()
    )
    assert not Permissions.allows(frozenset({Role.CREW}), None)


def test_a_page_asked_for_by_nobody_leads_to_the_sign_in_page(people: People) -> None:
    answer = people.client(None).get("/survey?x=1&y=a%20b", headers={"accept": "text/html,*/*"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=%2Fsurvey%3Fx%3D1%26y%3Da%2520b"
