"""How soon the map is painted and how long its worst frame takes, in headless Chromium."""

from __future__ import annotations

import tempfile
from pathlib import Path

from jobs import make_job, served
from playwright.sync_api import Browser, sync_playwright
from rich.console import Console
from rich.table import Table

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DESKTOP = {"width": 1400, "height": 900}
PHONE = {"width": 390, "height": 844}
FRAMES = """() => new Promise(done => {
  let last = performance.now(), worst = 0, left = 60;
  const step = now => {
    worst = Math.max(worst, now - last); last = now;
    if (left-- > 0) requestAnimationFrame(step); else done(worst);
  };
  requestAnimationFrame(step);
})"""


def main() -> None:
    """Print painted time and worst pan frame for three sizes, desktop and phone."""
    console = Console()
    table = Table(title="map page: navigation to painted, and worst frame of a drag")
    for heading in ("structures", "viewport", "painted ms", "worst frame ms"):
        table.add_column(heading, justify="right")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for count in (1_000, 10_000, 100_000):
            job, _ = make_job(Path(folder) / str(count), count, max(count // 1_000, 1))
            with served(job) as address:
                for name, slow in (("desktop", 1), ("phone, CPU/6", 6)):
                    painted, worst = _measure(browser, address, phone=slow > 1, slow=slow)
                    table.add_row(f"{count:,}", name, f"{painted:,.0f}", f"{worst:,.0f}")
        browser.close()
    console.print(table)


def _measure(browser: Browser, address: str, *, phone: bool, slow: int) -> tuple[float, float]:
    """Return the median painted time of three loads, and the worst frame while the map is dragged."""
    painted = []
    worst = 0.0
    for _ in range(3):
        context = browser.new_context(
            viewport=PHONE if phone else DESKTOP, device_scale_factor=3 if phone else 1, has_touch=phone
        )
        page = context.new_page()
        if slow > 1:
            session = context.new_cdp_session(page)
            session.send("Emulation.setCPUThrottlingRate", {"rate": slow})
        page.goto(address)
        page.wait_for_selector("html[data-ready='1']", state="attached", timeout=120_000)
        painted.append(page.evaluate("performance.getEntriesByName('linemap-painted')[0].startTime"))
        worst = _drag(page)
        context.close()
    return sorted(painted)[1], worst


def _drag(page) -> float:
    size = page.viewport_size
    x, y = size["width"] * 0.75, size["height"] * 0.25
    page.evaluate(f"window.__worst = ({FRAMES})()")
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(30):
        page.mouse.move(x - step * 6, y + step * 4)
    page.mouse.up()
    return float(page.evaluate("window.__worst"))


if __name__ == "__main__":
    main()
