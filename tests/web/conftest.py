"""The real application over the invented line's job."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person, sign_in_by_code
from linemap.settings import Settings
from linemap.store.database import Database
from linemap.web.app import create_app
from linemap.web.session import cookie_name


@pytest.fixture(scope="session")
def application(open_demo_job: Path) -> FastAPI:
    return create_app(Settings(job=str(open_demo_job)), today=lambda: dt.date(2026, 5, 16))


@pytest.fixture(scope="session")
def client(application: FastAPI) -> Iterator[TestClient]:
    with TestClient(application, raise_server_exceptions=False) as opened:
        yield opened


#: Everybody a job can have: each role once.
ROLES = tuple(Role)


class People:
    """An application over a job with one person of each role, and a browser for each and for nobody."""

    def __init__(self, job: Path) -> None:
        self.settings = Settings(job=str(job), network=True)
        self.application = create_app(self.settings, today=lambda: dt.date(2026, 5, 16))
        self.database: Database = self.application.state.database
        self.tokens = {role: self._sign_in(role) for role in ROLES}

    def _sign_in(self, role: Role) -> str:
        name = f"Person {role.value}"
        now = dt.datetime.now(dt.UTC)
        code = add_person(self.database, name=name, role=role, device=f"phone {role.value}", now=now)
        token = sign_in_by_code(self.database, code, address="test", now=now)
        assert token is not None
        return token

    def client(self, role: Role | None) -> TestClient:
        """Return a browser signed in with a role; None = signed in as nobody."""
        cookies = {} if role is None else {cookie_name(self.application.state.identity): self.tokens[role]}
        return TestClient(
            self.application,
            base_url="https://linemap.test",
            headers={"origin": "https://linemap.test"},
            cookies=cookies,
            raise_server_exceptions=False,
            follow_redirects=False,
        )

    def forget(self, role: Role) -> None:
        """Make the application look a person up again, as it does by itself after a second."""
        self.application.state.entrance.forget(self.tokens[role])


@pytest.fixture(scope="session")
def people_job(demo_job: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo job that tests may add people and records to."""
    copy = tmp_path_factory.mktemp("people") / "people.linemap"
    shutil.copy(demo_job, copy)
    return copy


@pytest.fixture(scope="session")
def people_of() -> Callable[[Path], People]:
    """Give people to a job, who are asked through an application of its own."""
    return People


@pytest.fixture(scope="session")
def people(people_job: Path) -> Iterator[People]:
    made = People(people_job)
    yield made
    made.database.close()


@pytest.fixture
def own_people(demo_job: Path, tmp_path: Path) -> Iterator[People]:
    """People with an application of their own, which a test may change."""
    made = People(Path(shutil.copy(demo_job, tmp_path / "people.linemap")))
    yield made
    made.database.close()


@pytest.fixture(params=[*ROLES, None], ids=lambda role: role.value if role else "nobody")
def role(request: pytest.FixtureRequest) -> Role | None:
    """Each role, and nobody."""
    found: Role | None = request.param
    return found


@pytest.fixture
def phone(demo_job: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A phone of a job of its own without people, on the machine that serves it."""
    shutil.copy(demo_job, tmp_path / "own.linemap")
    settings = Settings(job=str(tmp_path / "own.linemap"))
    made = create_app(
        settings, today=lambda: dt.date(2026, 5, 16), now=lambda: dt.datetime(2026, 5, 15, 18, tzinfo=dt.UTC)
    )
    with TestClient(made, client=("127.0.0.1", 50000), raise_server_exceptions=False) as opened:
        yield opened
