"""A phone that practises with a connection that comes and goes, and the studio's server that may be killed.

Real Chromium, a real server process that is killed and started again on the same file, the browser's own offline
mode. The page's clock stands still and is moved by the test (Playwright's clock), so that every second that the timer
should count is known here, to a model that knows nothing of the page's code but "Next goal" and "Pause".
"""

import signal
import sqlite3
import uuid
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.core.signing import Signer
from playwright.sync_api import BrowserContext, Page, expect

from students.links import SALT
from tests.browser.served import CLOCKED, ROOT, free_port, start

WITHIN = 1  # s, for each goal


class Studio:
    """A demo server that can be killed and started again: the same address, the same file. code: where it lies.

    For the server it is eight in the evening when it is made, whatever the hour is: what a test finds of hours before
    lies in the same day for the phone and for the studio."""

    def __init__(self, folder: Path, code: Path = ROOT) -> None:
        self.folder, self.code, self.port = folder, code, free_port()
        self.file = folder / "demo.sqlite3"
        now = datetime.now(UTC)
        self.ahead = now.replace(hour=20, minute=0, second=0, microsecond=0) - now
        self.clock = folder / "clock.txt"
        self.clock.write_text(str(self.ahead.total_seconds()))
        self.start()

    def start(self) -> None:
        program = [CLOCKED, self.clock, self.code]
        self.process, self.server = start(self.folder, port=self.port, program=program)

    @property
    def runs(self) -> bool:
        return self.process is not None

    def kill(self) -> None:
        """Stops it as a power cut would."""
        if self.process is not None:
            said = self.server.output.read_text()
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None
            assert "Traceback" not in said, said

    def rows(self, sql: str, *values: object) -> list[tuple]:
        with closing(sqlite3.connect(f"file:{self.file}?mode=ro", uri=True, timeout=20)) as database:
            return database.execute(sql, values).fetchall()

    def entries(self) -> dict[str, tuple[int, dict[str, int]]]:
        """code -> (seconds, seconds by goal) of every entry that is stored."""
        found = {
            str(uuid.UUID(code)): (seconds, {})
            for code, seconds in self.rows("SELECT code, seconds FROM practice_practiceentry")
        }
        parts = """SELECT entry.code, goal.code, part.seconds FROM practice_segment part
            JOIN practice_practiceentry entry ON entry.id = part.entry_id
            JOIN practice_goal goal ON goal.id = part.goal_id"""
        for entry, goal, seconds in self.rows(parts):
            found[str(uuid.UUID(entry))][1][str(uuid.UUID(goal))] = seconds
        return found

    def link_of(self, name: str) -> str:
        """The personal link of a student of the example studio, as a printed sheet would show it."""
        ((code, version),) = self.rows("SELECT code, link_version FROM students_student WHERE name = ?", name)
        key = (self.folder / "state" / "secret-key").read_text("ascii").strip()
        return f"{self.server.address}/open/{Signer(key=key, salt=SALT).sign(f'{uuid.UUID(code)}:{version}')}/"

    def free_time(self, hours: float = 3) -> datetime:
        """An instant in the past with nothing logged for so long after it: entries that overlap are refused."""
        taken = [
            (datetime.fromisoformat(begun).replace(tzinfo=UTC), seconds)
            for begun, seconds in self.rows("SELECT begun, seconds FROM practice_practiceentry")
        ]
        at = (datetime.now(UTC) + self.ahead).replace(microsecond=0) - timedelta(hours=hours)
        span = timedelta(hours=hours)
        while any(begun < at + span and begun + timedelta(seconds=seconds) > at for begun, seconds in taken):
            at -= timedelta(hours=1)
        return at


KEPT = """async () => {
    await navigator.serviceWorker.ready;
    for (const name of await caches.keys()) {
        if (await (await caches.open(name)).match(location.origin + location.pathname)) return true;
    }
    return false;
}"""
WAITING = """() => new Promise((resolve, reject) => {
    const asked = indexedDB.open("ledgerline", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "code" });
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
        const all = asked.result.transaction("entries").objectStore("entries").getAll();
        all.onsuccess = () => {
            asked.result.close();
            // beside what waits lies what the server answered about a hand
            resolve(all.result.filter((row) => row.state !== "answer").map((row) => [row.code, row.state]));
        };
    };
})"""

NO_ROOM = """{
    const full = () => { throw new DOMException("full", "QuotaExceededError"); };
    IDBObjectStore.prototype.put = full;
    Storage.prototype.setItem = full;
}"""
# Without the service worker's own sending, which a test cannot listen to.
PAGE_ALONE = """if (self.ServiceWorkerRegistration) {
Object.defineProperty(ServiceWorkerRegistration.prototype, "sync", { get: () => undefined });
}"""


def until(page: Page, so: Callable[[], bool]) -> None:
    """Real time goes by until something is so; the page's own clock stands as it is."""
    for _ in range(300):
        if so():
            return
        page.wait_for_timeout(100)
    raise AssertionError("never came true")


@dataclass
class Phone:
    """A phone with one tab in hand, and what its timer should have counted."""

    context: BrowserContext
    studio: Studio
    name: str = ""  # whose phone it is; empty: the student's whose link the demo prints
    page: Page = field(init=False)
    goals: list[str] = field(default_factory=list)
    spent: dict[str, int] = field(default_factory=dict)
    current: int = 0
    running: bool = False

    def __post_init__(self) -> None:
        self.broken: list[str] = []
        self.began = self.studio.free_time()
        self.context.clock.install(time=self.began)
        self.context.on("page", lambda page: page.on("pageerror", lambda error: self.broken.append(str(error))))
        self.page = self.context.new_page()
        self.page.goto(self.studio.link_of(self.name) if self.name else self.studio.server.student)
        self.path = self.page.url
        # well ahead of the page, however long it took to come: a clock is not paused in the past
        self.context.clock.pause_at(self.page.evaluate("Date.now() / 1000 + 30"))
        self.until(KEPT)
        self.goals = [*self.page.locator("li[data-goal]").evaluate_all("all => all.map(one => one.dataset.goal)"), ""]
        assert len(self.goals) > 3
        self.before = self.studio.entries()

    def until(self, script: str) -> None:
        until(self.page, lambda: self.page.evaluate(script))

    def tap(self, name: str) -> None:
        self.page.locator(".timer").get_by_role("button", name=name, exact=True).click()

    # -- what a player does, in the browser and in the model

    def play(self, seconds: int) -> None:
        self.context.clock.fast_forward(seconds * 1000)
        if self.running:
            goal = self.goals[self.current]
            self.spent[goal] = self.spent.get(goal, 0) + seconds

    def play_watched(self, seconds: int) -> None:
        """With the page in view all along: a jump of the clock looks like a phone that slept."""
        while seconds:
            step = min(seconds, 240)
            self.play(step)
            seconds -= step

    def start(self) -> None:
        self.tap("Start")
        self.running = True

    def pause(self) -> None:
        self.tap("Pause")
        self.running = False

    def next_goal(self) -> None:
        self.tap("Next goal")
        self.current = (self.current + 1) % len(self.goals)

    def finish(self) -> None:
        self.tap("Finish")
        self.running = False

    def send(self) -> None:
        self.page.get_by_role("button", name="Send to my teacher").click()

    # -- what happens to the phone

    def reload(self) -> None:
        self.page.reload()
        self.ready()

    def ready(self) -> None:
        expect(self.page.locator(".timer")).to_be_visible()

    def crash(self) -> None:
        """The tab is gone without a word, and the page is opened again."""
        gone = self.page
        self.page = self.context.new_page()
        gone.close()
        self.page.goto(self.path)
        self.ready()

    def second_tab(self) -> None:
        self.page = self.context.new_page()
        self.page.goto(self.path)
        self.ready()

    def offline(self, off: bool) -> None:
        self.context.set_offline(off)

    def later(self, until: Callable[[], bool]) -> None:
        """Time goes by until something is so: the page's own clock stands still, and its next try is due."""
        for _ in range(150):
            self.context.clock.fast_forward(310_000)
            self.page.wait_for_timeout(200)
            if until():
                return
        raise AssertionError(f"never came; waiting: {self.waiting()}")

    # -- what came of it

    def told(self, words: str) -> None:
        expect(self.page.locator("[data-told]")).to_contain_text(words)

    def waiting(self) -> list[list[str]]:
        return self.page.evaluate(WAITING)

    def new_entries(self) -> dict[str, tuple[int, dict[str, int]]]:
        return {code: told for code, told in self.studio.entries().items() if code not in self.before}

    def connected_again(self) -> None:
        if not self.studio.runs:
            self.studio.start()
        self.offline(False)
        self.later(lambda: not self.waiting())

    def check_one_entry(self) -> None:
        found = self.new_entries()
        assert len(found) == 1, found
        ((seconds, parts),) = found.values()
        wanted = {goal: spent for goal, spent in self.spent.items() if goal and spent}
        assert set(parts) == set(wanted)
        for goal, spent in wanted.items():
            assert abs(parts[goal] - spent) <= WITHIN, (goal, parts[goal], spent)
        assert abs(seconds - sum(self.spent.values())) <= WITHIN
        assert self.waiting() == []
        assert self.broken == []
