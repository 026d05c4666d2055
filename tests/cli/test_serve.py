"""`linemap serve` to others than this machine: refused until it is meant, then for real, by HTTPS."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from linemap.cli.main import main
from linemap.domain.crew.hold import Hold
from linemap.domain.record.person import Role
from linemap.kinds.registry import HOLDS
from linemap.service.people.people import add_person
from linemap.store.database import open_job
from linemap.store.lists import keep_list

PASSWORD = "correct horse battery"
CADDY = "/usr/bin/caddy"


class Refused(NamedTuple):
    """How a command that is refused ended, and what it said."""

    returncode: int
    stderr: str


def refused(*arguments: object) -> Refused:
    """Run `linemap serve` in this process, which it is to refuse before it serves."""
    told = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stderr(told):
        patch.setattr(sys, "argv", ["linemap", "serve", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            main()
    return Refused(int(stop.value.code or 0), told.getvalue())


def add_manager(job: object) -> None:
    now = dt.datetime.now(dt.UTC)
    with open_job(str(job)) as database:
        add_person(database, name="Bo", role=Role.MANAGER, password=PASSWORD, now=now)


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])


@contextlib.contextmanager
def running(command: list[str], *, port: int, **variables: str) -> Iterator[subprocess.Popen[bytes]]:
    """Run a server until the block ends; wait until it takes connections."""
    process = subprocess.Popen(command, env={**os.environ, **variables}, start_new_session=True)
    try:
        deadline = time.monotonic() + 60
        while True:
            assert process.poll() is None, f"{command[0]} ended with {process.returncode}"
            assert time.monotonic() < deadline, "no connection within a minute"
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
                break
            time.sleep(0.1)
        yield process
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGCONT)
            os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(timeout=20)


def serve(job: object, *options: object, port: int) -> list[str]:
    return [sys.executable, "-m", "linemap", "serve", str(job), "--port", str(port), *map(str, options)]


@dataclass
class Answer:
    """What a server answered."""

    status: int
    headers: dict[str, str]
    body: Any


def ask(
    url: str, *, method: str = "GET", body: object = None, cookie: str = "", trust: Path | None = None
) -> Answer:
    """Ask over the network, as a phone does; `trust` is the only authority believed."""
    origin = "/".join(url.split("/")[:3])
    headers = {"content-type": "application/json", "cookie": cookie, "origin": origin, "connection": "close"}
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(url, data=data, headers=headers, method=method)
    context = None if trust is None else ssl.create_default_context(cafile=str(trust))
    try:
        with urllib.request.urlopen(request, timeout=60, context=context) as response:
            status, told, content = response.status, response.headers, response.read()
    except urllib.error.HTTPError as error:
        status, told, content = error.code, error.headers, error.read()
        error.close()
    named = {name.casefold(): value for name, value in told.items()}
    is_json = named.get("content-type", "").startswith("application/json")
    return Answer(status, named, json.loads(content) if is_json and content else content)


def sign_in(url: str, *, trust: Path | None = None) -> str:
    """Sign in as the manager; return the cookie."""
    body = {"name": "Bo", "password": PASSWORD}
    answer = ask(f"{url}/api/session", method="POST", body=body, trust=trust)
    assert answer.status == 200, answer.body
    attributes = answer.headers["set-cookie"].casefold()
    assert ("secure" in attributes) is url.startswith("https")
    return answer.headers["set-cookie"].split(";")[0]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """An empty job with one hold that the manager releases."""
    path = tmp_path / "north.linemap"
    with open_job(path, create=True) as database, database.writing() as connection:
        keep_list(connection, HOLDS, [Hold(id="HW-1", structures=("7/3",))], now=dt.datetime.now(dt.UTC))
    return path


@pytest.fixture
def crewed(job: Path) -> Path:
    """The job with a manager."""
    add_manager(job)
    return job


@dataclass
class Authority:
    """A certificate authority, and a certificate of this machine by it."""

    root: Path
    certificate: Path
    key: Path


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    """Made as the README says."""

    def openssl(*arguments: str) -> None:
        subprocess.run(
            ["/usr/bin/openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
             "-noenc", *arguments],
            check=True, capture_output=True, cwd=tmp_path,
        )  # fmt: skip

    openssl("-days", "2", "-subj", "/CN=Trailer authority", "-addext",
            "keyUsage=critical,keyCertSign,cRLSign", "-keyout", "ca-key.pem", "-out", "ca.pem")  # fmt: skip
    openssl("-days", "1", "-subj", "/CN=laptop", "-addext", "subjectAltName=IP:127.0.0.1", "-addext",
            "basicConstraints=critical,CA:FALSE", "-CA", "ca.pem", "-CAkey", "ca-key.pem", "-keyout",
            "laptop-key.pem", "-out", "laptop.pem")  # fmt: skip
    return Authority(tmp_path / "ca.pem", tmp_path / "laptop.pem", tmp_path / "laptop-key.pem")


def test_others_are_refused_without_people_and_https_and_both_ways_are_named(job: Path) -> None:
    for options in (["--host", "0.0.0.0"], ["--host", "192.168.8.2"], ["--host", "::"], ["--behind-proxy"]):
        done = refused(job, *options)
        assert done.returncode == 2
        assert "the job has no people" in done.stderr
        assert "linemap user" in done.stderr
        if "--host" in options:
            assert "--tls-cert and --tls-key" in done.stderr
            assert "--behind-proxy" in done.stderr


def test_others_are_refused_without_https_even_with_people(crewed: Path) -> None:
    done = refused(crewed, "--host", "0.0.0.0")
    assert done.returncode == 2
    assert "unencrypted" in done.stderr
    assert "no people" not in done.stderr


def test_others_are_refused_with_https_but_without_people(job: Path, authority: Authority) -> None:
    tls = ["--tls-cert", authority.certificate, "--tls-key", authority.key]
    done = refused(job, "--host", "0.0.0.0", *tls)
    assert done.returncode == 2
    assert "no people" in done.stderr
    assert "unencrypted" not in done.stderr


def test_certificate_and_key_belong_together(crewed: Path, authority: Authority) -> None:
    alone = refused(crewed, "--tls-cert", authority.certificate)
    assert (alone.returncode, "--tls-key" in alone.stderr) == (2, True)
    foreign = ["--tls-cert", authority.certificate, "--tls-key", authority.root.with_name("ca-key.pem")]
    mixed = refused(crewed, *foreign)
    assert (mixed.returncode, "belong together" in mixed.stderr) == (2, True)


@pytest.mark.process
def test_served_with_certificate_files_a_phone_that_trusts_the_authority_gets_in(
    crewed: Path, authority: Authority
) -> None:
    port = free_port()
    url = f"https://127.0.0.1:{port}"
    tls = ("--tls-cert", authority.certificate, "--tls-key", authority.key)
    with running(serve(crewed, "--host", "0.0.0.0", *tls, port=port), port=port):
        assert ask(f"{url}/health", trust=authority.root).status == 200
        assert ask(f"{url}/api/holds", trust=authority.root).status == 401
        cookie = sign_in(url, trust=authority.root)
        told = ask(f"{url}/api/session", cookie=cookie, trust=authority.root).body
        assert (told["name"], told["role"]) == ("Bo", "manager")
        with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
            ask(f"{url}/health")


@pytest.mark.process
def test_served_behind_caddy_with_its_own_authority(crewed: Path, tmp_path: Path) -> None:
    inner, outer = free_port(), free_port()
    root = tmp_path / "caddy" / "pki" / "authorities" / "local" / "root.crt"
    (tmp_path / "Caddyfile").write_text(
        f"{{\n  admin off\n  auto_https disable_redirects\n  skip_install_trust\n"
        f"  storage file_system {tmp_path / 'caddy'}\n}}\n"
        f"https://127.0.0.1:{outer} {{\n  tls internal\n  reverse_proxy 127.0.0.1:{inner}\n}}\n"
    )
    proxy = [CADDY, "run", "--config", str(tmp_path / "Caddyfile"), "--adapter", "caddyfile"]
    url = f"https://127.0.0.1:{outer}"
    with (
        running(serve(crewed, "--behind-proxy", port=inner), port=inner),
        running(proxy, port=outer, HOME=str(tmp_path), XDG_DATA_HOME=str(tmp_path)),
    ):
        deadline = time.monotonic() + 30
        while True:
            try:
                answer = ask(f"{url}/health", trust=root)
                break
            except (OSError, ssl.SSLError):
                assert time.monotonic() < deadline, "caddy made no certificate within half a minute"
                time.sleep(0.2)
        assert answer.status == 200
        assert ask(f"{url}/api/holds", trust=root).status == 401
        cookie = sign_in(url, trust=root)
        assert ask(f"{url}/api/session", cookie=cookie, trust=root).body["name"] == "Bo"
        # whoever reaches the server past the proxy is nobody without signing in
        assert ask(f"http://127.0.0.1:{inner}/api/holds").status == 401


def workers_of(process: subprocess.Popen[bytes]) -> list[int]:
    """Return the processes of a server that answer: its children that have a listening socket."""
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    lines = {int(child): Path(f"/proc/{child}/cmdline").read_bytes() for child in children}
    return [child for child, line in lines.items() if b"spawn_main" in line]


def await_workers(process: subprocess.Popen[bytes], url: str) -> list[int]:
    """Return the two workers of a server once each of them answers."""
    deadline = time.monotonic() + 60
    while len(found := workers_of(process)) < 2:
        assert time.monotonic() < deadline, "two workers did not start within a minute"
        time.sleep(0.1)
    for index in range(2):
        with only(process, found, index):
            assert ask(f"{url}/health").status == 200
    return found


@contextlib.contextmanager
def only(process: subprocess.Popen[bytes], workers: list[int], index: int) -> Iterator[None]:
    """Let one of the workers run and stop the others, and the server that would start them anew."""
    stopped = [process.pid, *(worker for place, worker in enumerate(workers) if place != index)]
    for each in stopped:
        os.kill(each, signal.SIGSTOP)
    try:
        yield
    finally:
        for each in reversed(stopped):
            os.kill(each, signal.SIGCONT)
            time.sleep(0.05)  # a worker says that it lives before the server asks


@pytest.mark.process
def test_what_one_worker_records_the_other_shows(target: str) -> None:
    with open_job(target, create=True) as database, database.writing() as connection:
        keep_list(connection, HOLDS, [Hold(id="HW-1", structures=("7/3",))], now=dt.datetime.now(dt.UTC))
    add_manager(target)
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    with running(serve(target, "--workers", 2, port=port), port=port) as process:
        workers = await_workers(process, url)
        with only(process, workers, 0):
            cookie = sign_in(url)
            release = {"who": "Bo", "evidence": "mats in", "at": "2026-05-15T12:00:00-06:00"}
            address = f"{url}/api/holds/HW-1/release"
            answer = ask(address, method="POST", body=release, cookie=cookie)
            assert answer.status == 201, answer.body
            version = answer.body["data_version"]
        with only(process, workers, 1):
            assert ask(f"{url}/api/session", cookie=cookie).body["name"] == "Bo"
            assert ask(f"{url}/health").body["data_version"] == version
            again = ask(address, method="POST", body=release, cookie=cookie)
            assert (again.status, "was released" in again.body["error"]["message"]) == (409, True)
            ask(f"{url}/api/session", method="DELETE", cookie=cookie)
        time.sleep(1.1)
        with only(process, workers, 0):
            assert ask(f"{url}/api/session", cookie=cookie).body["signed_in"] is False
