"""What the practice page weighs over the wire, with static files as an installation collects them.

Counted between browser and server, where the service worker's own requests pass too. Bars (the project's own): under
150 KB at a first visit, scripts included, and under 20 KB at a later one.
"""

import socket
import threading
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.served import PHONE, Server

WORKER_DONE = """async () => {
    await navigator.serviceWorker.ready;
    const here = location.origin + location.pathname;
    for (const name of await caches.keys()) if (await (await caches.open(name)).match(here)) return true;
    return false;
}"""


class Wire:
    """Passes bytes on between a browser and the server, and counts what the server sent: heads and bodies."""

    def __init__(self, port: int) -> None:
        self._to = ("127.0.0.1", port)
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = self._door.getsockname()[1]
        self.sent = 0
        self._lock = threading.Lock()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        while True:
            try:
                browser, _ = self._door.accept()
            except OSError:
                return
            server = socket.create_connection(self._to)
            threading.Thread(target=self._pass, args=(browser, server, False), daemon=True).start()
            threading.Thread(target=self._pass, args=(server, browser, True), daemon=True).start()

    def _pass(self, source: socket.socket, sink: socket.socket, counted: bool) -> None:
        try:
            while data := source.recv(65536):
                if counted:
                    with self._lock:
                        self.sent += len(data)
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)
        except OSError:
            pass

    def read(self) -> int:
        """Bytes since the last reading."""
        with self._lock:
            sent, self.sent = self.sent, 0
        return sent

    def close(self) -> None:
        self._door.close()


@pytest.fixture
def wire(server: Server) -> Iterator[Wire]:
    between = Wire(int(server.host.rpartition(":")[2]))
    yield between
    between.close()


def test_a_first_and_a_later_visit_are_light(
    new_context: Callable, server: Server, wire: Wire, record_property: Callable[[str, object], None]
) -> None:
    context = new_context(locale="en-GB", **PHONE)
    page: Page = context.new_page()
    page.goto(server.student.replace(server.host, f"127.0.0.1:{wire.port}"), wait_until="networkidle")
    expect(page.locator(".timer")).to_be_visible()
    for _ in range(100):
        if page.evaluate(WORKER_DONE):
            break
        page.wait_for_timeout(100)
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(500)
    first = wire.read()
    record_property("first visit, bytes", first)
    address = page.url
    page.close()
    page = context.new_page()
    page.goto(address, wait_until="networkidle")
    expect(page.locator(".timer")).to_be_visible()
    page.wait_for_timeout(500)
    later = wire.read()
    record_property("later visit, bytes", later)
    print(f"first visit {first / 1000:.1f} KB, later visit {later / 1000:.1f} KB")
    assert 10_000 < first < 150_000
    assert 1_000 < later < 20_000
