"""README and DEVELOPERS say what the program does: commands, floors, first paragraph."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from linemap.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_readme_opens_with_one_paragraph_that_states_the_job() -> None:
    title, _, rest = README.partition("\n\n")
    assert title == "# linemap"
    first = rest.split("\n\n")[0]
    for word in ("H-frame", "structure", "stationing", "poles A and B", "framing", "map"):
        assert word in first


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_readme(command: str) -> None:
    assert f"linemap {command}" in README


def test_every_command_the_readme_names_exists() -> None:
    named = set(re.findall(r"(?:^|`)linemap ([a-z]+)", README, re.MULTILINE)) - {"shows"}
    assert named <= set(COMMANDS)


def test_every_package_has_its_floor_in_the_developers_guide() -> None:
    packages = {path.parent.name for path in (ROOT / "linemap").glob("*/__init__.py")}
    table = DEVELOPERS.split("| floor |")[1].split("\n\n")[0]
    assert {name for name in packages if name in table} == packages


def test_top_level_holds_exactly_what_it_should() -> None:
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found == {"README.md", "DEVELOPERS.md", "pyproject.toml", "linemap", "data", "tests", "demo"}


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_no_document_reads_as_a_clearance(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8").casefold()
    for word in ("certified", "meets code", "de-energized", "is safe", "all clear"):
        assert word not in text


def test_dependencies_are_declared_once_and_sorted() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = [re.split(r"[<>=\[ ]", line)[0].casefold() for line in project["dependencies"]]
    assert names == sorted(set(names))


def test_the_install_lines_work_where_the_system_keeps_its_python_to_itself() -> None:
    """Debian 12 refuses `pip install` outside of a virtual environment (PEP 668)."""
    block = README.split("## Install")[1].split("```")[1].strip().splitlines()
    assert block == [
        "python3 -m venv .venv",
        ".venv/bin/pip install .",
        ". .venv/bin/activate",
        "linemap demo",
    ]
    installs = re.findall(r"[\w./]*pip install .*?(?=[`\n])", README)
    assert len(installs) == 2
    assert all(line.startswith(".venv/bin/") for line in installs)
