"""Two phones hand records to each other without a server, as square codes and as a file."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect
from watched_page import CHROMIUM, FLAGS, violations

pytestmark = pytest.mark.browser

Pixels = np.ndarray[tuple[int, ...], np.dtype[np.uint8]]
ALL = """async (name) => {
  const { all } = await import('/static/js/field/db.js');
  return (await all(name)).map(({ data, ...rest }) => ({ ...rest, bytes: data?.byteLength }));
}"""


def here(page: Page, store: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(ALL, store)
    return found


def record(one: Any, number: str, crew: str = "", picture: dict[str, Any] | None = None) -> None:
    one.go("record", number, s="staked")
    if picture is not None:
        one.page.locator("input[name=photo]").set_input_files(picture)
        one.page.locator("[data-photos]", has_text="1 photo").wait_for()
    one.tap("[data-do=save][data-pole='']")
    one.page.locator("#toast", has_text="On this phone").wait_for()
    one.page.wait_for_selector("html[data-view='card']", state="attached")


def shown_codes(page: Page) -> list[Pixels]:
    """Return each code that a phone shows, as another one sees it: grey pixels in its surroundings."""
    page.get_by_role("button", name="Pause").tap()
    count = int(re.findall(r"of (\d+)", page.locator("[data-place]").inner_text())[0])
    found: dict[int, Pixels] = {}
    at = int(page.locator("canvas").get_attribute("data-shown") or 0)
    for _ in range(count):
        picture = Image.open(io.BytesIO(page.locator("canvas").screenshot())).convert("L")
        found[at] = np.asarray(picture, dtype=np.uint8)
        at = at % count + 1
        page.get_by_role("button", name="Next code").tap()
        page.locator(f"canvas[data-shown='{at}']").wait_for()
    return [found[at] for at in sorted(found)]


def scene(code: Pixels, turned: float, noise: np.random.Generator) -> Pixels:
    """Return what a camera of 640 x 480 sees of a code: smaller, turned, darker to one side, with noise."""
    small = Image.fromarray(code).resize((400, 400), Image.Resampling.BILINEAR)
    card = Image.new("L", (480, 480), 255)
    card.paste(small, (40, 40))
    seen = Image.new("L", (640, 480), 90)
    seen.paste(card.rotate(turned, Image.Resampling.BILINEAR, fillcolor=90), (80, 0))
    light = np.linspace(0.6, 1.0, 640)[None, :]
    return np.clip(np.asarray(seen) * light + noise.normal(0, 6, (480, 640)), 0, 255).astype(np.uint8)


def film(codes: list[Pixels], path: Path) -> None:
    """Write a film that a browser takes for its camera (YUV4MPEG2), a quarter of a second for each code."""
    noise = np.random.default_rng(1)
    with path.open("wb") as file:
        file.write(b"YUV4MPEG2 W640 H480 F12:1 Ip A1:1 C420jpeg\n")
        for at, code in enumerate(codes):
            frame = scene(code, turned=(-6.0, 0.0, 5.0)[at % 3], noise=noise)
            for _ in range(3):
                file.write(b"FRAME\n" + frame.tobytes() + bytes([128]) * (640 * 480 // 2))


@pytest.fixture
def with_camera(browser: Browser, tmp_path: Path, morning: Any) -> Iterator[Callable[[Path, str], Page]]:
    """Start a phone whose camera sees a film; it has the line on it."""
    contexts: list[Any] = []

    def start(seen: Path, url: str) -> Page:
        flags = [
            *FLAGS,
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-video-capture={seen}",
        ]
        own = browser.browser_type.launch(executable_path=CHROMIUM, args=flags)
        context: BrowserContext = own.new_context(
            viewport={"width": 390, "height": 844}, is_mobile=True, has_touch=True, storage_state=morning
        )
        contexts.extend((context, own))
        return context.new_page()

    yield start
    for each in contexts:
        each.close()


def open_hand_over(page: Page, url: str) -> None:
    page.goto(f"{url}/field#v=hand")
    page.wait_for_selector("html[data-ready='1']", state="attached")
    page.get_by_role("heading", name="Hand over").wait_for()
    page.evaluate(
        """async () => {
          await navigator.serviceWorker.ready;
          while (!navigator.serviceWorker.controller) await new Promise((after) => setTimeout(after, 50));
        }"""
    )


def test_codes_go_from_a_screen_through_a_camera_to_another_phone(
    field: Any, phone: Callable[..., Any], with_camera: Callable[[Path, str], Page], tmp_path: Path
) -> None:
    giver = phone(crew="Heron")
    field.signal.lost()
    numbers = ("9/1", "9/3", "9/4", "9/5", "9/6")
    for number in numbers:
        record(giver, number)
    own = giver.waiting()
    giver.go("hand", "")
    expect(giver.page.locator("main")).to_contain_text("From this phone: 5 records not sent")
    giver.tap("[data-do=codes]")
    codes = shown_codes(giver.page)
    assert len(codes) > 1
    for at, code in enumerate(codes):
        (read,) = zxingcpp.read_barcodes(code)
        assert re.fullmatch(rf"LM1:[0-9A-F]{{8}}:{at + 1}:{len(codes)}:[0-9A-Z $%*+\-./:]+", read.text)
    film(codes, tmp_path / "film.y4m")
    # what was handed over may arrive by the other phone: it is withdrawn now, never dropped
    assert {(entry["tried"], "handed" in entry) for entry in giver.waiting()} == {(True, True)}
    giver.go("send")
    expect(giver.page.locator(".rows").first).to_contain_text("handed to another phone")

    field.signal.back()
    taker = with_camera(tmp_path / "film.y4m", giver.url)
    open_hand_over(taker, giver.url)
    field.signal.lost()
    taker.get_by_role("button", name="Read square codes").tap()
    expect(taker.locator("[data-hand]")).to_contain_text("codes read", timeout=60_000)
    expect(taker.locator("[data-hand]")).to_contain_text(
        re.compile(r"Taken over from phone-\w+: 5 records\."), timeout=90_000
    )
    came = {entry["id"]: entry for entry in here(taker, "outbox")}
    assert {key: entry["body"] for key, entry in came.items()} == {each["id"]: each["body"] for each in own}
    assert len({entry["from"] for entry in came.values()}) == 1
    # the camera is off once the page is another one
    taker.goto(f"{giver.url}/field#v=send")
    expect(taker.locator(".rows").first).to_contain_text("taken over from phone-")
    field.signal.back()
    taker.get_by_role("button", name="Send now").tap()
    taker.locator("h2", has_text="To send: 0 records, 0 photos").wait_for()
    giver.page.evaluate("location.reload()")
    giver.page.wait_for_selector("html[data-ready='1']", state="attached")
    giver.send_all()
    arrived = field.events()
    assert sorted(event["structure"] for event in arrived) == sorted(numbers)
    by_id = {each["id"]: each["body"] for each in own}
    for event in arrived:
        said = by_id[event["id"]]
        assert (event["crew"], event["device"]) == ("Heron", said["device"])


def test_a_file_takes_photos_along_and_a_second_time_changes_nothing(
    field: Any, phone: Callable[..., Any], picture: Callable[..., Any], tmp_path: Path
) -> None:
    giver, taker = phone(crew="Heron"), phone(crew="Lark")
    field.signal.lost()
    record(giver, "9/4", picture=picture(600))
    record(giver, "9/5")
    record(taker, "9/6")
    giver.go("hand", "")
    giver.tap("[data-do=file]")
    expect(giver.page.locator("main")).to_contain_text("2 records and 1 photo")
    with giver.page.expect_download() as waited:
        giver.page.get_by_role("link", name="Save the file").tap()
    name = waited.value.suggested_filename
    assert re.fullmatch(r"records phone-\w{8} \d{4}-\d\d-\d\dT\d{4}\.txt", name)
    waited.value.save_as(tmp_path / name)
    assert (tmp_path / name).read_text().startswith("Records of linemap, handed over by a phone.")
    said = taker.page.locator("[data-hand]")
    for words in ("2 records and 1 photo. ", "0 records; 2 were here already"):
        taker.go("hand", "")
        taker.page.locator("input[name=handed]").set_input_files(tmp_path / name)
        expect(said).to_contain_text(words)
    (photo,) = here(taker.page, "photos")
    assert photo["bytes"] == here(giver.page, "photos")[0]["bytes"] > 10_000
    field.signal.back()
    taker.send_all()
    events = field.events()
    assert sorted((event["structure"], event["crew"]) for event in events) == [
        ("9/4", "Heron"),
        ("9/5", "Heron"),
        ("9/6", "Lark"),
    ]
    whole = field.server.get(f"/api/photos/{photo['id']}")
    assert (whole.status_code, len(whole.content)) == (200, photo["bytes"])
    giver.send_all()
    assert len(field.events()) == 3
    # a record that was handed over is withdrawn by a record of its own
    giver.tap(".rows button[data-do=undo]")
    expect(giver.page.locator("#toast")).to_contain_text("Withdrawn; the history keeps both")
    giver.send_all()
    assert [event.get("result", "done") for event in field.events()] == ["done"] * 3 + ["withdrawn"]


def test_what_is_no_such_file_is_refused_in_words(
    field: Any, phone: Callable[..., Any], tmp_path: Path
) -> None:
    one = phone()
    field.signal.lost()
    record(one, "9/4")
    one.go("hand", "")
    one.tap("[data-do=file]")
    with one.page.expect_download() as waited:
        one.page.get_by_role("link", name="Save the file").tap()
    waited.value.save_as(tmp_path / "good.txt")
    good = (tmp_path / "good.txt").read_text()
    one.tap("[data-do=hand]")
    heading, _, body = good.splitlines()
    cases = {
        "notes of a day": "is no file of records",
        f"{heading}\n\n{body[: len(body) // 2]}\n": "damaged, or holds no records",
        f"{heading}\n\n****\n": "is no file of records",
    }
    for text, words in cases.items():
        file = {"name": "x.txt", "mimeType": "text/plain", "buffer": text.encode()}
        one.page.locator("input[name=handed]").set_input_files(file)
        expect(one.page.locator("[data-hand]")).to_contain_text("NOT TAKEN OVER.")
        expect(one.page.locator("[data-hand]")).to_contain_text(words)
    assert len(one.waiting()) == 1
    assert field.events() == []


@pytest.mark.parametrize(("width", "height", "scheme"), [(390, 844, "light"), (320, 568, "dark")])
def test_pages_of_handing_over_fit_and_are_accessible(
    field: Any, phone: Callable[..., Any], width: int, height: int, scheme: str
) -> None:
    one = phone(viewport={"width": width, "height": height}, scheme=scheme)
    field.signal.lost()
    record(one, "9/4")
    for action in ("", "codes", "file"):
        one.go("hand", "")
        one.page.evaluate("document.querySelector('[data-do=hand]')?.click()")
        if action:
            one.tap(f"[data-do={action}]")
        one.page.locator("h1").wait_for()
        assert violations(one.page) == [], action
        assert one.page.evaluate("document.documentElement.scrollWidth") == width, action
        if action == "codes":
            box = one.page.locator("canvas").bounding_box()
            assert box is not None
            assert box["width"] > min(width - 40, height * 0.58)
    field.signal.back()


def test_codes_come_back_as_they_were_in_any_order(field: Any, reader: Any) -> None:
    """The row of codes of many lengths, read backwards and twice, and what is drawn, read by both readers."""
    found = reader.page.evaluate(
        """async () => {
          const { Row, codesOf } = await import('/static/js/field/parcel.js');
          const { encodeQR, BarcodeDetector } = await import('/vendor/qr.js');
          const bad = [];
          const detector = new BarcodeDetector({ formats: ['qr_code'] });
          for (const length of [1, 2, 3, 199, 200, 201, 1999, 24000]) {
            const bytes = Uint8Array.from({ length }, (_, at) => (at * at * 31 + at * 7 + length) & 255);
            const codes = await codesOf(bytes);
            const row = new Row();
            for (const code of [...codes, ...codes].reverse()) row.take(code);
            const back = await row.bytes();
            if (row.missing.length || back.join() !== bytes.join()) bad.push(length);
            const rows = encodeQR(codes.at(-1), 'raw', { ecc: 'medium', border: 4 });
            const canvas = document.createElement('canvas');
            canvas.width = canvas.height = rows.length * 5;
            const pen = canvas.getContext('2d');
            pen.fillStyle = 'white';
            pen.fillRect(0, 0, canvas.width, canvas.height);
            pen.fillStyle = 'black';
            rows.forEach((line, y) => line.forEach((dark, x) => dark && pen.fillRect(x * 5, y * 5, 5, 5)));
            const [read] = await detector.detect(canvas);
            if (read?.rawValue !== codes.at(-1)) bad.push(`drawn ${length}`);
          }
          const row = new Row();
          row.take('LM1:00000000:1:1:AB');
          const wrong = await row.bytes().catch((error) => error.message);
          const tooMany = await codesOf(new Uint8Array(24001));
          return [bad, tooMany.length, row.take('https://example.invalid/'), wrong];
        }"""
    )
    assert found == [[], 0, False, "The codes do not belong together; read them again"]
