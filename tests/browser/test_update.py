"""A new version of the site under a phone that has the old one, and entries sent by the browser with no page open."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.phone import KEPT, Phone, Studio, until
from tests.browser.served import PHONE, ROOT

CACHES = "async () => (await caches.keys()).sort()"
MARKED = "() => getComputedStyle(document.documentElement).getPropertyValue('--edition').trim()"
CODE = ("studio", "students", "practice", "templates")


@pytest.fixture
def studio(browser_type_launch_args: dict, tmp_path: Path) -> Iterator[Studio]:
    """A server on a copy of the code, so that a test can change a file under it."""
    code = tmp_path / "code"
    for name in CODE:
        shutil.copytree(ROOT / name, code / name, ignore=shutil.ignore_patterns("__pycache__", "pictures"))
    shutil.copy(ROOT / "manage.py", code)
    started = Studio(tmp_path, code)
    yield started
    started.kill()


@pytest.fixture
def phone(new_context: Callable[..., BrowserContext], studio: Studio) -> Phone:
    context = new_context(base_url=studio.server.address, locale="en-GB", reduced_motion="reduce", **PHONE)
    context.set_default_timeout(20_000)
    return Phone(context, studio)


def entry_without_connection(phone: Phone) -> None:
    phone.offline(True)
    phone.start()
    phone.play(180)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting")


@pytest.mark.long
def test_an_update_leaves_no_old_page_and_loses_no_entry(phone: Phone, studio: Studio) -> None:
    before = phone.page.evaluate(CACHES)
    assert len(before) == 1
    entry_without_connection(phone)
    studio.kill()
    sheet = studio.code / "studio/static/studio/site.css"
    sheet.write_text(sheet.read_text() + "\n:root { --edition: second; }\n")
    studio.start()
    phone.offline(False)
    phone.reload()
    assert phone.page.evaluate(MARKED) == "second"
    until(phone.page, lambda: phone.page.evaluate(CACHES) not in (before, []) and len(phone.page.evaluate(CACHES)) == 1)
    phone.until(KEPT)
    phone.connected_again()
    phone.check_one_entry()
    phone.offline(True)
    phone.reload()
    assert phone.page.evaluate(MARKED) == "second"
    expect(phone.page.locator(".timer")).to_be_visible()


@pytest.mark.long
def test_an_entry_is_sent_when_the_connection_returns_with_no_page_open(phone: Phone) -> None:
    entry_without_connection(phone)
    other = phone.context.new_page()  # of the same browser, with nothing of the student's on it
    other.goto("about:blank")
    phone.page.close()
    assert phone.new_entries() == {}
    phone.offline(False)
    until(other, lambda: len(phone.new_entries()) == 1)
    phone.page = phone.context.new_page()
    phone.page.goto(phone.path)
    phone.later(lambda: not phone.waiting())
    phone.check_one_entry()
