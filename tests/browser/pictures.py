"""Takes the pictures of README.md from the running demo: `python -m tests.browser.pictures`.

Run on Debian's Chromium; each picture stays under 200 KB.
"""

import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.browser.served import CHROMIUM_ARGS, NO_CHROMIUM, PHONE, ROOT, WIDE, Server, chromium_path, serve, sign_in

FOLDER = ROOT / "studio" / "docs" / "pictures"
MOST_BYTES = 200_000


def take(browser: Browser, server: Server) -> None:
    desk = browser.new_context(base_url=server.address, locale="en-GB", **WIDE).new_page()
    sign_in(desk, server)
    desk.screenshot(path=FOLDER / "today.png")
    for name, link in (("practise", server.student), ("week", server.guardian)):
        phone = browser.new_context(base_url=server.address, locale="en-GB", **PHONE).new_page()
        # the family's chart is drawn after the page stands
        phone.goto(link, wait_until="networkidle")
        phone.screenshot(path=FOLDER / f"{name}.png")


def main() -> None:
    if chromium_path() is None:
        raise SystemExit(NO_CHROMIUM)
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, serve(Path(folder)) as server, sync_playwright() as play:
        take(play.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_ARGS), server)
    for picture in sorted(FOLDER.glob("*.png")):
        size = picture.stat().st_size
        print(picture.relative_to(ROOT), size)
        if size >= MOST_BYTES:
            raise SystemExit(f"{picture.name} has {size} bytes; at most {MOST_BYTES} are wanted.")


if __name__ == "__main__":
    main()
