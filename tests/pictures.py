"""Take the README's pictures anew: ``python -m tests.pictures`` serves the demo and photographs it.

They land in shared/pictures/, at the widths the README shows.
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests import servers

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "shared" / "pictures"
PORT = 8791
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
PASSWORD = "bay door 4 sticks"
MISSION = "/?people_per_hour=60&hours=3&air_degF=20&supply_degF=40&tanker_at_min="


def main() -> None:
    """Serve the demo on a scratch database, take every picture, and stop the server again."""
    with tempfile.TemporaryDirectory(prefix="holdair-pictures-") as folder:
        env = os.environ | {"HOLDAIR_VAR": folder}
        server = subprocess.Popen([sys.executable, "manage.py", "serve", "--port", str(PORT)], cwd=ROOT, env=env)
        try:
            _wait()
            with sync_playwright() as playwright:
                _all(playwright.chromium.launch(executable_path=servers.chromium_program(), args=FLAGS))
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=30)


def _wait() -> None:
    for _ in range(120):
        try:
            urllib.request.urlopen(f"http://localhost:{PORT}/healthz", timeout=2)
            return
        except OSError:
            time.sleep(1)
    raise SystemExit("the server did not come up")


def _all(browser: Browser) -> None:
    PICTURES.mkdir(exist_ok=True)
    desk = browser.new_context(base_url=f"http://localhost:{PORT}", viewport={"width": 1280, "height": 860})
    page = desk.new_page()
    page.goto("/sign-in/")
    page.fill("input[name=username]", "quinn")
    page.fill("input[name=password]", PASSWORD)
    page.press("input[name=password]", "Enter")
    page.wait_for_url("**/")
    page.screenshot(path=PICTURES / "tonight.png")
    page.goto(MISSION)
    for more in page.locator("details[open]").all():
        more.locator("summary").click()
    page.screenshot(path=PICTURES / "asked.png")
    page.goto("/bay/items/?q=SH1-02")
    page.get_by_role("link", name="SH1-02").first.click()
    page.screenshot(path=PICTURES / "item.png")
    phone = browser.new_context(
        base_url=f"http://localhost:{PORT}",
        viewport={"width": 390, "height": 860},
        storage_state=desk.storage_state(),
    )
    page = phone.new_page()
    page.goto("/walk/")
    page.get_by_role("button", name="Start a walk").nth(1).click()
    page.screenshot(path=PICTURES / "walk.png")
    page.locator('a[href*="/hold/"]').first.click()
    page.screenshot(path=PICTURES / "check.png")


if __name__ == "__main__":
    main()
