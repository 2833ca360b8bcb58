"""Leaving on this device, a replaced link and a new PIN: no page of a student stays readable on the phone, and nothing
that is not sent goes without a word.

Real Chromium, a real server: see tests/browser/phone.py.
"""

import sqlite3
from collections.abc import Callable
from contextlib import closing

import pytest
from playwright.sync_api import Error, Page, expect

from tests.browser.phone import Phone

Phones = Callable[..., Phone]

PAGES = """async () => {
    const found = [];
    for (const name of await caches.keys()) {
        for (const asked of await (await caches.open(name)).keys()) found.push(new URL(asked.url).pathname);
    }
    return found.filter((path) => path.startsWith("/s/")).sort();
}"""
FILES = """async () => {
    let found = 0;
    for (const name of await caches.keys()) found += (await (await caches.open(name)).keys()).length;
    return found;
}"""
STORED = "() => Object.keys(localStorage).filter((key) => key.startsWith('ledgerline.')).sort()"
PARTS = ("progress/", "record/", "entries/", "account/", "pin/", "consent/")


def home(phone: Phone) -> str:
    return phone.path.split("?")[0]


def path(phone: Phone) -> str:
    return "/s/" + home(phone).split("/s/")[1]


def visit_all(phone: Phone) -> None:
    for part in PARTS:
        phone.page.goto(home(phone) + part)
    # the worker keeps a page a moment after it has shown it, and these two only
    phone.until(f"async () => (await ({PAGES})()).length > 1")
    phone.page.wait_for_timeout(300)


def leave(page: Page) -> None:
    # the page's clock stands still, and so may an opened part's own event
    page.locator("footer details > summary").click()
    page.get_by_role("button", name="Leave", exact=True).click()


def unreadable(phone: Phone, *parts: str) -> None:
    """Without a connection no page opens any more."""
    phone.page.close()
    phone.page = phone.context.new_page()
    phone.offline(True)
    for part in ("", *parts):
        with pytest.raises(Error, match=r"ERR_INTERNET_DISCONNECTED|ERR_FAILED"):
            phone.page.goto(home(phone) + part)
    phone.offline(False)


@pytest.mark.long
def test_only_the_pages_that_practice_needs_are_kept(new_phone: Phones) -> None:
    phone = new_phone()
    visit_all(phone)
    kept = phone.page.evaluate(PAGES)
    assert kept == [path(phone), path(phone) + "progress/"]
    phone.offline(True)
    phone.page.goto(home(phone) + "progress/")
    expect(phone.page.locator("h1")).to_be_visible()
    for part in ("record/", "entries/"):
        with pytest.raises(Error):
            phone.page.goto(home(phone) + part)


@pytest.mark.long
def test_leaving_takes_the_pages_away_and_keeps_the_files(new_phone: Phones) -> None:
    phone = new_phone()
    visit_all(phone)
    files = phone.page.evaluate(FILES) - len(phone.page.evaluate(PAGES))
    phone.page.goto(home(phone))
    leave(phone.page)
    phone.page.wait_for_url("**/sign-in/")
    assert phone.page.evaluate(PAGES) == []
    assert phone.page.evaluate(FILES) == files > 5
    unreadable(phone, "progress/")
    # the link opens everything again, and without a connection too
    phone.page.goto(phone.studio.server.student)
    phone.until("""async () => Boolean(await caches.match(location.origin + location.pathname))""")
    phone.offline(True)
    phone.reload()


def test_leaving_asks_first_while_something_is_typed_timed_or_waiting(new_phone: Phones) -> None:
    phone = new_phone()
    phone.page.get_by_label("Note to the teacher").fill("my wrist")
    leave(phone.page)
    waits, lost = phone.page.locator("footer [data-waits]"), phone.page.locator("footer [data-lost]")
    expect(lost).to_contain_text("not sent")
    expect(waits).to_be_hidden()
    assert phone.page.url.startswith(home(phone))
    assert phone.page.evaluate(STORED) != []
    phone.reload()  # nothing was lost by asking
    expect(phone.page.get_by_label("Note to the teacher")).to_have_value("my wrist")
    phone.offline(True)
    phone.page.locator("[name=total]").fill("5")
    phone.send()
    phone.told("1 entry waiting")
    phone.start()
    phone.play(61)
    leave(phone.page)
    expect(waits).to_contain_text("waits on this device")
    expect(lost).to_be_visible()  # the minutes on the clock
    anyway = phone.page.get_by_role("button", name="Leave all the same")
    anyway.click()
    expect(phone.page.locator("footer [data-no-line]")).to_contain_text("no connection")
    assert phone.page.evaluate(STORED) != []  # nothing is taken away before the session has ended
    # the connection is back for pages, but the queue's own way is still shut
    phone.context.route("**/token/", lambda route: route.abort())
    phone.offline(False)
    anyway.click()
    phone.page.wait_for_url("**/sign-in/")
    assert phone.page.evaluate(STORED) == []
    assert phone.page.evaluate(PAGES) == []
    # what waits is still there, and is sent once the link is opened again
    assert len(phone.waiting()) == 1
    phone.context.unroute("**/token/")
    phone.page.goto(phone.studio.server.student)
    phone.later(lambda: not phone.waiting())
    assert [seconds for seconds, _ in phone.new_entries().values()] == [300]


def change(phone: Phone, sql: str) -> None:
    code = path(phone).strip("/").split("/")[1].replace("-", "")
    with closing(sqlite3.connect(phone.studio.file, timeout=20)) as database, database:
        assert database.execute(sql + " WHERE code = ?", (code,)).rowcount == 1


@pytest.mark.parametrize(
    ("sql", "status"),
    [
        pytest.param("UPDATE students_student SET link_version = link_version + 1", 404, id="replaced-link"),
        pytest.param("UPDATE students_student SET pin = 'pbkdf2_sha256$1$a$b'", 401, id="new-pin"),
    ],
)
@pytest.mark.long
def test_one_answer_that_the_pages_are_closed_takes_all_of_them_away(new_phone: Phones, sql: str, status: int) -> None:
    phone = new_phone()
    visit_all(phone)
    assert len(phone.page.evaluate(PAGES)) == 2
    change(phone, sql)
    try:
        # a page that is not the kept one, and is not kept itself
        assert phone.page.goto(home(phone) + "entries/").status == status
        phone.until(f"async () => (await ({PAGES})()).length === 0")
        unreadable(phone, "progress/")
    finally:
        undone = "link_version = link_version - 1" if status == 404 else "pin = ''"
        change(phone, f"UPDATE students_student SET {undone}")


@pytest.mark.long
def test_a_drill_that_is_gone_takes_no_other_page_away(new_phone: Phones) -> None:
    phone = new_phone()
    visit_all(phone)
    nobodys = "drill/00000000-0000-4000-8000-000000000000/"
    assert phone.page.goto(home(phone) + nobodys).status == 404
    phone.page.wait_for_timeout(500)
    assert path(phone) in phone.page.evaluate(PAGES)
