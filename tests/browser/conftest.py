"""A real server process on the example studio, and a browser for each person.

No test here touches the database: the server is a process of its own, started as anybody would start it, and
what tests know of it they read from its output and its pages.
"""

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.phone import Phone, Studio
from tests.browser.served import CHROMIUM_ARGS, NO_CHROMIUM, PHONE, WIDE, Server, chromium_path, serve, sign_in
from tests.browser.watch import Watch

HERE = Path(__file__).resolve().parent
WAITS_MS = 10_000


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is marked `browser` and, in a run of one process, comes last.

    Playwright keeps an event loop in its thread until the run ends, and Django refuses database work beside one.
    With several workers the browser's tests come first, so `server` tells Django that the loop is a bystander.
    """
    for item in items:
        if HERE in Path(item.path).parents:
            item.add_marker("browser")
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict) -> dict:
    path = chromium_path()
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail(NO_CHROMIUM)
        pytest.skip(NO_CHROMIUM)
    return {**browser_type_launch_args, "executable_path": path, "args": CHROMIUM_ARGS}


@pytest.fixture(scope="session")
def server(
    browser_type_launch_args: dict, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """`manage.py demo` on a database of its own, static files collected, for the whole run of browser tests."""
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with serve(tmp_path_factory.mktemp("demo"), collected=True) as started:
        yield started


@pytest.fixture(autouse=True)
def _no_error_on_the_server(server: Server) -> Iterator[None]:
    """A traceback in the server's output fails the test during which it was written."""
    before = server.output.stat().st_size
    yield
    said = server.output.read_bytes()[before:].decode(errors="replace")
    assert "Traceback" not in said, said
    assert not re.search(r"/open/(?!\[link\])\S", said), "a personal link stands in the log"


@pytest.fixture
def watch(server: Server) -> Iterator[Watch]:
    """Fails the test for console errors, broken scripts, policy violations and requests to another host."""
    watching = Watch(server.host)
    yield watching
    assert watching.wrong == []


@pytest.fixture
def open_page(
    new_context: Callable[..., BrowserContext], server: Server, watch: Watch
) -> Callable[..., Page]:
    """open_page(**context options) -> a fresh person's page, watched."""

    def open_one(**options) -> Page:
        context = new_context(base_url=server.address, locale="en-GB", reduced_motion="reduce", **options)
        context.set_default_timeout(WAITS_MS)
        page = context.new_page()
        watch.over(page)
        return page

    return open_one


@pytest.fixture
def teacher_page(open_page: Callable[..., Page], server: Server) -> Page:
    """Signed in, on Today, at 1280 px."""
    return sign_in(open_page(**WIDE), server)


@pytest.fixture
def student_page(open_page: Callable[..., Page], server: Server) -> Page:
    """On the student's own page, on a phone."""
    page = open_page(**PHONE)
    page.goto(server.student)
    return page


@pytest.fixture
def guardian_page(open_page: Callable[..., Page], server: Server) -> Page:
    """On the family's page of the week, on a phone."""
    page = open_page(**PHONE)
    page.goto(server.guardian)
    return page


@pytest.fixture(scope="module")
def studio(browser_type_launch_args: dict, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A server of a module's own, which its tests may kill and start again."""
    started = Studio(tmp_path_factory.mktemp("offline"))
    yield started
    started.kill()


@pytest.fixture
def new_phone(new_context: Callable[..., BrowserContext], studio: Studio) -> Callable[..., Phone]:
    """new_phone(script, name, **options) -> a phone that has opened a student's link once; script runs before the
    page's own; name: another student's than the one whose link the demo prints; options: of the browser context."""

    def open_one(script: str = "", name: str = "", **options) -> Phone:
        if not studio.runs:
            studio.start()
        looks = {"locale": "en-GB", "reduced_motion": "reduce", **PHONE, **options}
        context = new_context(base_url=studio.server.address, **looks)
        context.set_default_timeout(20_000)
        if script:
            context.add_init_script(script)
        return Phone(context, studio, name)

    return open_one
