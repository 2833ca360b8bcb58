"""A real server process on the example studio, and a browser for each person.

No test here touches the database: the server is a process of its own, started as anybody would start it, and
what tests know of it they read from its output and its pages.
"""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.watch import Watch

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WIDE = {"viewport": {"width": 1280, "height": 900}}
WAITS_MS = 10_000


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is marked `browser` and runs last, on one worker.

    Playwright keeps an event loop in its thread, and Django refuses database work beside one.
    """
    for item in items:
        if HERE in Path(item.path).parents:
            item.add_marker("browser")
            item.add_marker(pytest.mark.xdist_group("browser"))
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)


def chromium_path() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict) -> dict:
    path = chromium_path()
    if path is None:
        say = "The browser tests need Chromium: apt-get install chromium"
        if os.environ.get("CI") == "true":
            pytest.fail(say)
        pytest.skip(say)
    quiet = ["background-networking", "component-update", "sync", "gpu", "quic"]
    return {
        **browser_type_launch_args,
        "executable_path": path,
        "args": ["--no-sandbox", "--no-first-run", *(f"--disable-{name}" for name in quiet)],
    }


@dataclass(frozen=True)
class Server:
    """address: without a slash at its end; student, guardian: their links; output: what the server wrote."""

    address: str
    email: str
    password: str
    student: str
    guardian: str
    output: Path

    @property
    def host(self) -> str:
        return urlsplit(self.address).netloc


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def read_output(text: str, output: Path) -> Server | None:
    """The address, sign-in and links that `manage.py demo` prints, or None while it has not printed all."""
    links = re.findall(r"https?://\S+/open/\S+", text)
    address = re.search(r"https?://[\w.:\[\]-]+(?=/?\s)", text)
    sign_in = re.search(r"(\S+@\S+)\s+(?:\S+\s+)*?(\S+)\s*$", text, flags=re.M)
    if len(links) < 2 or address is None or sign_in is None:
        return None
    return Server(address[0], sign_in[1], sign_in[2], links[0], links[1], output)


@pytest.fixture(scope="session")
def server(browser_type_launch_args: dict, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """`manage.py demo` on a database of its own, for the whole run of browser tests."""
    folder = tmp_path_factory.mktemp("demo")
    output, port = folder / "output.txt", free_port()
    environment = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "DEBUG"}}
    with output.open("w") as sink:
        process = subprocess.Popen(
            [
                *(sys.executable, "-u", str(ROOT / "manage.py"), "demo"),
                *("--port", str(port), "--database", str(folder / "demo.sqlite3")),
            ],
            env={**environment, "STATE_DIR": str(folder / "state")},
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=sink,
            stderr=subprocess.STDOUT,
        )
    try:
        yield wait_for(process, output, port)
    finally:
        process.send_signal(signal.SIGINT)
        try:
            process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def wait_for(process: subprocess.Popen, output: Path, port: int, seconds: float = 90) -> Server:
    until = time.monotonic() + seconds
    while time.monotonic() < until and process.poll() is None:
        found = read_output(output.read_text(), output)
        if found is not None:
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/", timeout=5):
                    return found
            except OSError:
                pass
        time.sleep(0.2)
    pytest.fail(f"The demo did not start (exit {process.poll()}):\n{output.read_text()}")


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


def sign_in(page: Page, server: Server) -> Page:
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill(server.email)
    page.get_by_label("Password").fill(server.password)
    page.locator("main form button[type=submit], main form button.main").first.click()
    page.wait_for_url("**/today/")
    return page


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
