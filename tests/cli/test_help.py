"""`--help`: it comes at once, and the example it ends with runs as it is printed."""

from __future__ import annotations

import io
import json
import shlex
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from linemap.cli.main import COMMANDS, main

#: What takes long to bring in: a job, a table, a page or a sheet needs it, the help of a command does not.
HEAVY = {"sqlalchemy", "pyproj", "shapely", "pandas", "fastapi", "pydantic", "uvicorn", "folium", "reportlab"}


def linemap(*arguments: str) -> str:
    """Run a command in this process, to its good end, and return what it printed."""
    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.setattr(sys, "argv", ["linemap", *arguments])
        try:
            main()
            code: object = 0
        except SystemExit as stop:
            code = stop.code or 0
    assert code == 0, arguments
    return out.getvalue()


def example(command: str) -> list[str]:
    """Return the example of a command's help as a shell would read it."""
    told = linemap(command, "--help")
    assert told.startswith(f"Usage: linemap {command} ")
    words = shlex.split(told.split("Example: ")[1].split("\n\n")[0].replace("\\\n", ""))
    assert words[:2] == ["linemap", command]
    return words


def serves(words: list[str]) -> None:
    """Run a `linemap serve` as a process of its own until it has answered."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", *words, "--port", str(port)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as server:
        assert server.stderr is not None
        assert "serving" in server.stderr.readline()
        try:
            answers(f"http://127.0.0.1:{port}")
        finally:
            server.terminate()


def answers(base: str) -> None:
    """Ask a server that is about to start for its pages and for every answer without a choice."""

    def body(path: str) -> bytes:
        with urllib.request.urlopen(base + path, timeout=30) as answer:
            return bytes(answer.read())

    for _ in range(100):
        try:
            body("/health")
            break
        except OSError:
            time.sleep(0.1)
    for page in ("/", "/survey", "/progress", "/field"):
        assert b"<html" in body(page), page
    for path, of in json.loads(body("/openapi.json"))["paths"].items():
        if "get" in of and not any(each.get("required") for each in of["get"].get("parameters", ())):
            assert body(path) is not None


@pytest.mark.process
def test_every_example_runs_as_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a clean folder, the demo first: all other examples are about the line it builds."""
    monkeypatch.chdir(tmp_path)
    assert linemap(*example("demo")[1:]) == "built linemap-demo/demo.linemap\n"
    for command in [name for name in COMMANDS if name != "demo"]:
        words = example(command)
        if command == "serve":
            serves(words)
            continue
        told = linemap(*words[1:])
        if "--out" in words:
            assert Path(words[words.index("--out") + 1]).stat().st_size > 100, command
        else:
            assert told, command


@pytest.mark.process
def test_help_brings_in_nothing_that_takes_long() -> None:
    """The list of commands brings in the modules of all of them: they have to be light."""
    code = "import sys; from linemap.cli.main import main; sys.argv = ['linemap', '--help']; main()"
    command = [sys.executable, "-X", "importtime", "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert all(f"  {name} " in done.stdout for name in COMMANDS)
    brought = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
    assert "typer" in brought
    assert not HEAVY & brought
