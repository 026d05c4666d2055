"""`linemap user`: links, square codes that read, lists and revoking."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from command import Done, linemap
from PIL import Image

PASSWORD = "correct horse battery"
LINK = re.compile(r"https?://\S+/sign-in#code=[A-Za-z0-9_-]{43}\b")


@pytest.fixture
def job(new_sqlite: Path) -> Path:
    return new_sqlite


def user(job: Path, *arguments: object, stdin: str = "") -> Done:
    return linemap("user", job, *arguments, stdin=stdin)


def picture_of(drawn: str) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """Return the square code of a terminal as grey pixels, light on dark turned to dark on light."""
    rows = [line for line in drawn.splitlines() if line and set(line) <= set("█▀▄ ")]
    signs = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    width = max(map(len, rows))
    halves = [[signs[sign][half] for sign in row.ljust(width)] for row in rows for half in (0, 1)]
    return np.kron(np.array(halves, dtype=np.uint8) * 255, np.ones((6, 6), dtype=np.uint8))


def test_a_link_is_printed_and_drawn_and_both_pictures_read_the_same(job: Path, tmp_path: Path) -> None:
    png = tmp_path / "ada.png"
    code, out, _ = user(
        job, "add", "Ada Marrow", "--role", "crew", "--device", "truck phone",
        "--address", "https://192.168.8.2:8765/", "--qr", png,
    )  # fmt: skip
    assert code == 0
    (link,) = LINK.findall(out)
    assert link.startswith("https://192.168.8.2:8765/sign-in#code=")
    with Image.open(png) as image:
        (read,) = zxingcpp.read_barcodes(np.asarray(image.convert("L")))
    assert read.text == link
    (on_terminal,) = zxingcpp.read_barcodes(picture_of(out))
    assert on_terminal.text == link


def test_a_square_code_as_svg(job: Path, tmp_path: Path) -> None:
    svg = tmp_path / "ada.svg"
    assert user(job, "add", "Ada", "--role", "viewer", "--qr", svg)[0] == 0
    assert svg.read_text("utf-8").count("<path") == 1


def test_the_address_is_remembered(job: Path) -> None:
    user(job, "add", "Ada", "--role", "crew", "--address", "https://laptop:8765")
    _, out, _ = user(job, "add", "Bo", "--role", "crew")
    assert LINK.findall(out)[0].startswith("https://laptop:8765/sign-in")


def test_a_password_comes_without_a_link(job: Path) -> None:
    code, out, _ = user(job, "add", "Bo", "--role", "manager", "--password", stdin=f"{PASSWORD}\n")
    assert code == 0
    assert LINK.findall(out) == []
    assert "sign-in with the password" in out
    (person,) = json.loads(user(job, "list", "--json")[1])
    assert (person["password"], person["devices"]) == (True, [])


def test_a_program_is_told_the_link_and_what_was_revoked(job: Path) -> None:
    add = ("add", "Ada Marrow", "--role", "crew", "--address", "https://trailer.invalid", "--json")
    code, out, _ = user(job, *add)
    said = json.loads(out)
    assert (code, said["name"], said["once"]) == (0, "Ada Marrow", True)
    assert LINK.fullmatch(said["link"])
    code, out, _ = user(job, "revoke", "Ada Marrow", "--json")
    assert code == 0
    assert "Ada Marrow" in json.loads(out)["revoked"]


def test_people_and_devices_are_listed_and_revoked(job: Path) -> None:
    assert "nobody yet" in user(job, "list")[1]
    user(job, "add", "Ada", "--role", "inspector", "--device", "one", "--releases", "environmental lead")
    user(job, "add", "Ada", "--role", "inspector", "--device", "two")
    assert "device 1 one of Ada" in user(job, "revoke", "one")[1]
    assert "device 2 two of Ada" in user(job, "revoke", "2")[1]
    assert user(job, "revoke", "two")[0] == 2
    assert "Ada is kept out" in user(job, "revoke", "ADA")[1]
    listed = user(job, "list")[1]
    assert "Ada: inspector, releases for environmental lead, revoked" in listed
    assert len(re.findall(r"made .*, revoked", listed)) == 2


def test_a_label_that_several_devices_have_needs_a_number(job: Path) -> None:
    for name in ("Ada", "Bo"):
        user(job, "add", name, "--role", "crew", "--device", "phone")
    code, _, err = user(job, "revoke", "phone")
    assert (code, "give the number of one: 1, 2" in err) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("add",), "needs a name"),
        (("revoke",), "needs a name"),
        (("add", "Ada"), "the role is missing; give one of crew"),
        (("add", "Ada", "--role", "boss"), "boss"),
        (("add", "Ada", "--role", "crew", "--qr", "ada.gif"), "use .svg or .png"),
        (("add", "Ada", "--role", "crew", "--qr", "/nowhere/ada.png"), "its folder does not exist"),
        (("add", "Ada", "--role", "crew", "--address", "laptop"), "is no address of a server"),
        (("add", "Ada\x07", "--role", "crew"), "is no name of a person"),
        (("add", "Bo", "--role", "manager", "--password"), "the password has 5 characters"),
        (("revoke", "Eve"), "no person and no device Eve"),
    ],
)
def test_what_cannot_be_done_is_refused_and_nothing_is_kept(
    job: Path, arguments: tuple[str, ...], words: str
) -> None:
    code, _, err = user(job, *arguments, stdin="short\n")
    assert code == 2
    assert words in err
    assert json.loads(user(job, "list", "--json")[1]) == []
