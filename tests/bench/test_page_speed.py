"""How soon the practice page can be used on a slow phone: Chromium with its processor slowed four times, reported.

Turn about with an empty page of the same server, so that a busy machine slows both; read the table (`-m bench -s`).
Aim: the timer usable within 1 s. Chromium's own figures (first paint) stand beside.
"""

import shutil
import statistics
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

from tests.browser.served import CHROMIUM_ARGS, NO_CHROMIUM, PHONE, chromium_path, serve

pytestmark = pytest.mark.bench

SLOWER, ROUNDS = 4, 7
USABLE = """() => {
    const timer = document.querySelector(".timer");
    return timer && !timer.hidden && timer.querySelector("[data-start]").offsetHeight > 0;
}"""
MARK = """new MutationObserver((_, watching) => {
    const timer = document.querySelector("[data-timer]");
    if (timer && !timer.hidden) { performance.mark("usable"); watching.disconnect(); }
}).observe(document, { subtree: true, childList: true, attributes: true });"""
TIMES = """() => [
    performance.getEntriesByName("usable")[0]?.startTime ?? NaN,
    performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? NaN,
    performance.getEntriesByType("navigation")[0].responseEnd,
    performance.getEntriesByType("navigation")[0].loadEventEnd,
]"""


def test_usable_on_a_slow_phone(tmp_path: Path) -> None:
    path = chromium_path()
    if path is None:
        pytest.skip(NO_CHROMIUM)
    found: dict[str, list[list[float]]] = {"first visit": [], "later visit": [], "floor (sign-in page)": []}
    with serve(tmp_path, collected=True) as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_ARGS)
        for _ in range(ROUNDS):
            context = browser.new_context(base_url=server.address, locale="en-GB", **PHONE)
            context.add_init_script(MARK)
            page = context.new_page()
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            page.goto("/sign-in/", wait_until="load")
            floor = page.evaluate(TIMES)
            found["floor (sign-in page)"].append(floor)
            page.goto(server.student, wait_until="networkidle")
            page.wait_for_function(USABLE)
            found["first visit"].append(page.evaluate(TIMES))
            page.evaluate("() => navigator.serviceWorker.ready.then(() => null)")
            page.reload(wait_until="networkidle")
            page.wait_for_function(USABLE)
            found["later visit"].append(page.evaluate(TIMES))
            context.close()
        browser.close()
    shutil.rmtree(tmp_path, ignore_errors=True)
    base = statistics.median(times[3] for times in found["floor (sign-in page)"])
    print(f"\nprocessor {SLOWER} times slower, median of {ROUNDS}, ms from the start of the visit")
    print(f"{'':22}{'usable':>8}{'first paint':>13}{'answered':>10}{'loaded':>8}{'to the floor':>14}")
    for name, rows in found.items():
        usable, paint, answered, loaded = (statistics.median(column) for column in zip(*rows, strict=True))
        print(f"{name:22}{usable:8.0f}{paint:13.0f}{answered:10.0f}{loaded:8.0f}{loaded / base:14.2f}")
