"""A demo server in a process of its own, and how a browser is started here. Used by tests and by `pictures`."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
MANAGE = ROOT / "manage.py"
CLOCKED = ROOT / "tests" / "browser" / "clocked.py"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
WIDE = {"viewport": {"width": 1280, "height": 900}}
NO_CHROMIUM = "The browser tests need Chromium: apt-get install chromium"
QUIET = ("background-networking", "component-update", "sync", "gpu", "quic")
CHROMIUM_ARGS = ["--no-sandbox", "--no-first-run", *(f"--disable-{name}" for name in QUIET)]

NOT_PASSED_ON = {"DATABASE_URL", "DEBUG", "DJANGO_ALLOW_ASYNC_UNSAFE"}


def chromium_path() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser")


@dataclass(frozen=True)
class Server:
    """address: without a slash at its end; email, password: the owner's, who teaches the linked student; student,
    guardian: their links; output: what the server wrote."""

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
    """What `manage.py demo` prints, or None while it has not printed all. The owner teaches the linked student."""
    sign_in = re.search(r"^Owner: sign in at (\S+)/ as (\S+), password (\S+)$", text, flags=re.M)
    student = re.search(r"^Student .*?: (\S+)$", text, flags=re.M)
    guardian = re.search(r"^Guardian .*?: (\S+)\n", text, flags=re.M)
    if sign_in is None or student is None or guardian is None:
        return None
    return Server(*sign_in.groups(), student[1], guardian[1], output)


def environment(folder: Path, **more: str) -> dict[str, str]:
    passed_on = {name: value for name, value in os.environ.items() if name not in NOT_PASSED_ON}
    return {**passed_on, "STATE_DIR": str(folder / "state"), **more}


def start(folder: Path, *words: str, port: int, program: Sequence[Path] = (MANAGE,)) -> tuple[subprocess.Popen, Server]:
    """`manage.py demo` on a database in `folder`, once it answers. program: what runs in place of manage.py, with what
    it is told before "demo"."""
    output = folder / "output.txt"
    with output.open("w") as sink:
        process = subprocess.Popen(
            [
                *(sys.executable, "-u", *map(str, program), "demo"),
                *("--port", str(port), "--database", str(folder / "demo.sqlite3"), *words),
            ],
            env=environment(folder),
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=sink,
            stderr=subprocess.STDOUT,
        )
    try:
        return process, wait_for(process, output, port)
    except BaseException:
        process.kill()
        process.wait()
        raise


@contextmanager
def serve(folder: Path, *words: str, collected: bool = False, program: Sequence[Path] = (MANAGE,)) -> Iterator[Server]:
    """`manage.py demo` until the block ends, as `start` starts it. collected: with static files collected first, as a
    real installation has them: named by their content, compressed, kept by browsers for good."""
    if collected:
        collect = [sys.executable, str(MANAGE), "collectstatic", "--noinput", "-v", "0"]
        subprocess.run(collect, env=environment(folder, COLLECTING="true"), cwd=folder, check=True)
    process, server = start(folder, *words, port=free_port(), program=program)
    try:
        yield server
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
    raise RuntimeError(f"The demo did not start (exit {process.poll()}):\n{output.read_text()}")


def sign_in(page: Page, server: Server) -> Page:
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill(server.email)
    page.get_by_label("Password").fill(server.password)
    page.locator("main form button").first.click()
    page.wait_for_url("**/today/")
    return page
