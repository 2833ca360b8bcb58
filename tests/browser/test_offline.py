"""A phone practises with a connection that comes and goes: nothing timed is lost, nothing is stored twice.

Real Chromium, a real server process that is killed and started again on the same file, the browser's own offline
mode. The page's clock stands still and is moved by the test (Playwright's clock), so that every second that the timer
should count is known here, to a model that knows nothing of the page's code but "Next goal" and "Pause".
"""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.served import PHONE, ROOT, Server, free_port, sign_in, wait_for

MANY = 50  # sequences in the soak
SOME = 5 if os.environ.get("CI") == "true" else 2
WITHIN = 1  # s, for each goal


class Studio:
    """A demo server that can be killed and started again: the same address, the same file. code: where it lies."""

    def __init__(self, folder: Path, code: Path = ROOT) -> None:
        self.folder, self.code, self.port, self.process = folder, code, free_port(), None
        self.file = folder / "demo.sqlite3"
        self.server: Server = self.start()

    def start(self) -> Server:
        output = self.folder / "output.txt"
        words = ("demo", "--port", str(self.port), "--database", str(self.file))
        environment = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "DEBUG"}}
        with output.open("w") as sink:
            self.process = subprocess.Popen(
                [sys.executable, "-u", str(self.code / "manage.py"), *words],
                env={**environment, "STATE_DIR": str(self.folder / "state")},
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=sink,
                stderr=subprocess.STDOUT,
            )
        self.server = wait_for(self.process, output, self.port)
        return self.server

    @property
    def runs(self) -> bool:
        return self.process is not None

    def kill(self) -> None:
        """Stops it as a power cut would."""
        if self.process is not None:
            said = (self.folder / "output.txt").read_text()
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

    def free_time(self, hours: float = 3) -> datetime:
        """An instant in the past with nothing logged for so long after it: entries that overlap are refused."""
        taken = [
            (datetime.fromisoformat(begun).replace(tzinfo=UTC), seconds)
            for begun, seconds in self.rows("SELECT begun, seconds FROM practice_practiceentry")
        ]
        at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=hours)
        span = timedelta(hours=hours)
        while any(begun < at + span and begun + timedelta(seconds=seconds) > at for begun, seconds in taken):
            at -= timedelta(hours=1)
        return at


@pytest.fixture(scope="module")
def studio(browser_type_launch_args: dict, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    started = Studio(tmp_path_factory.mktemp("offline"))
    yield started
    started.kill()


@pytest.fixture
def new_phone(new_context: Callable[..., BrowserContext], studio: Studio) -> Callable[..., "Phone"]:
    """new_phone(script) -> a phone that has opened the student's link once; script runs before the page's own."""

    def open_one(script: str = "") -> Phone:
        if not studio.runs:
            studio.start()
        context = new_context(base_url=studio.server.address, locale="en-GB", reduced_motion="reduce", **PHONE)
        context.set_default_timeout(20_000)
        if script:
            context.add_init_script(script)
        return Phone(context, studio)

    return open_one


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
        all.onsuccess = () => { asked.result.close(); resolve(all.result.map((row) => [row.code, row.state])); };
    };
})"""


@dataclass
class Phone:
    """A phone with one tab in hand, and what its timer should have counted."""

    context: BrowserContext
    studio: Studio
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
        self.page.goto(self.studio.server.student)
        self.path = self.page.url
        self.context.clock.pause_at(self.began + timedelta(seconds=30))
        self.until(KEPT)
        self.goals = [*self.page.locator("li[data-goal]").evaluate_all("all => all.map(one => one.dataset.goal)"), ""]
        assert len(self.goals) > 3
        self.before = self.studio.entries()

    def until(self, script: str) -> None:
        for _ in range(100):
            if self.page.evaluate(script):
                return
            self.page.wait_for_timeout(100)
        raise AssertionError(f"never came true: {script}")

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
        for _ in range(60):
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


def test_a_whole_session_without_a_connection_ends_in_one_entry(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.offline(True)
    phone.reload()
    phone.start()
    phone.play(300)
    phone.next_goal()
    phone.play(200)
    phone.reload()
    expect(phone.page.locator("[data-clock]")).to_have_text("03:20")
    phone.play(61)
    phone.next_goal()
    phone.play(95)
    phone.pause()
    phone.play(1000)  # a pause counts for nothing
    phone.reload()
    phone.start()
    phone.play(5)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting to be sent. It is safe on this phone.")
    phone.studio.kill()
    phone.offline(False)
    phone.context.clock.fast_forward(310_000)
    phone.page.wait_for_timeout(500)
    phone.told("1 entry waiting")
    phone.reload()  # from the phone alone: there is no server
    phone.told("1 entry waiting")
    phone.connected_again()
    phone.told("logged")
    phone.check_one_entry()
    assert [phone.spent[goal] for goal in phone.goals[:3]] == [300, 261, 100]


def run_random(phone: Phone, seed: int) -> None:
    """Some minutes of practice with whatever comes between; ends connected."""
    chance = random.Random(seed)
    off = False
    phone.start()
    phone.play(chance.randint(5, 400))
    for _ in range(chance.randint(6, 14)):
        act = chance.choice(["play", "play", "next", "next", "toggle", "reload", "crash", "tab", "line", "kill"])
        if act == "next":
            phone.next_goal()
        elif act == "toggle":
            (phone.pause if phone.running else phone.start)()
        elif act == "reload":
            phone.reload()
        elif act == "crash":
            phone.crash()
        elif act == "tab":
            phone.second_tab()
        elif act == "line":
            off = not off
            phone.offline(off)
        elif act == "kill":
            if phone.studio.runs:
                phone.studio.kill()
            elif chance.random() < 0.5:
                phone.studio.start()
        phone.play(chance.randint(1, 120))
    phone.finish()
    if chance.random() < 0.5:
        phone.reload()
        phone.finish()  # what was timed is still there
    phone.send()
    expect(phone.page.locator("[data-told]")).not_to_be_empty()
    if chance.random() < 0.5:
        phone.crash()
    phone.connected_again()
    phone.check_one_entry()


@pytest.mark.parametrize("seed", range(SOME))
def test_interrupted_at_random(new_phone: Callable[..., Phone], seed: int) -> None:
    run_random(new_phone(), seed)


@pytest.mark.soak
def test_interrupted_at_random_many_times(new_phone: Callable[..., Phone], rounds: Callable[[int], int]) -> None:
    for seed in range(100, 100 + rounds(MANY)):
        phone = new_phone()
        try:
            run_random(phone, seed)
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
        phone.context.close()


def test_two_tabs_send_one_session_once(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.start()
    phone.play(120)
    first = phone.page
    phone.second_tab()
    phone.next_goal()
    phone.play(60)
    phone.finish()
    second = phone.page
    phone.page = first
    expect(first.locator("[data-clock]")).to_have_text("01:00")  # the other tab's taps show here
    phone.finish()
    phone.send()
    phone.told("logged")
    # the other tab has let go of what was sent from this one
    expect(second.locator("[name=total]")).to_have_value("")
    phone.page = second
    phone.send()
    expect(second.get_by_role("alert")).to_contain_text("How many minutes was it?")
    phone.check_one_entry()


NO_ROOM = """{
    const full = () => { throw new DOMException("full", "QuotaExceededError"); };
    IDBObjectStore.prototype.put = full;
    Storage.prototype.setItem = full;
}"""


@pytest.mark.parametrize("off", [False, True], ids=["connected", "offline"])
def test_a_full_phone_loses_nothing_while_its_page_is_open(new_phone: Callable[..., Phone], off: bool) -> None:
    phone = new_phone(NO_ROOM)
    phone.offline(off)
    phone.start()
    phone.play(90)
    phone.next_goal()
    phone.play(30)
    phone.finish()
    phone.send()
    if off:
        phone.told("leave this page open")
        expect(phone.page.locator("[name=total]")).to_have_value("02:00")
        phone.offline(False)
        phone.later(lambda: "logged" in phone.page.locator("[data-told]").inner_text())
    phone.told("logged")
    expect(phone.page.locator("[data-clock]")).to_have_text("00:00")
    phone.check_one_entry()


def test_a_link_revoked_meanwhile_loses_nothing(new_phone: Callable[..., Phone], new_context) -> None:
    phone = new_phone()
    phone.offline(True)
    phone.start()
    phone.play(240)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting")
    desk = new_context(base_url=phone.studio.server.address, locale="en-GB").new_page()
    sign_in(desk, phone.studio.server)
    code = phone.path.rstrip("/").split("/")[-1]
    desk.goto(f"/students/{code}/people/")
    replace = desk.locator(f"form[action$='/students/{code}/link/replace/']")
    desk.locator("details").filter(has=replace).locator("summary").click()
    replace.locator("button").click()
    phone.offline(False)
    phone.later(lambda: "Your link has ended" in phone.page.locator("[data-told]").inner_text())
    assert [state for _, state in phone.waiting()] == ["waiting"]
    assert phone.new_entries() == {}
    phone.studio.kill()
    phone.studio.start()  # says the link as it is now
    phone.page.goto(phone.studio.server.student)
    phone.connected_again()
    phone.check_one_entry()


def test_a_refused_entry_stays_and_can_be_put_right(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    part = phone.page.locator("fieldset.part").first
    part.get_by_label("Minutes").fill("7")
    phone.page.get_by_label("Day").fill((phone.began - timedelta(days=1)).date().isoformat())
    phone.page.get_by_label("Note to the teacher").fill("typed with care")
    phone.offline(True)
    # over a year ago: the phone does not know better, the server does
    phone.page.get_by_label("Day").fill("2020-01-01")
    phone.send()
    phone.told("1 entry waiting")
    phone.offline(False)
    phone.later(lambda: phone.waiting()[0][1] == "refused")
    row = phone.page.locator("[data-refused] li")
    expect(row).to_contain_text("over a year ago")
    phone.reload()
    expect(row).to_contain_text("over a year ago")
    row.get_by_role("button", name="Put it right").click()
    expect(phone.page.get_by_label("Note to the teacher")).to_have_value("typed with care")
    expect(phone.page.get_by_label("Day")).to_have_attribute("aria-invalid", "true")
    phone.page.get_by_label("Day").fill(phone.began.date().isoformat())
    phone.send()
    phone.told("logged")
    expect(row).to_have_count(0)
    phone.spent = {phone.goals[0]: 420} if part.get_attribute("data-part") == phone.goals[0] else {}
    phone.check_one_entry()


def test_typed_words_survive_a_crash(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.page.get_by_label("Note to the teacher").fill("half a sentence")
    phone.crash()
    expect(phone.page.get_by_label("Note to the teacher")).to_have_value("half a sentence")


def test_three_goals_without_complaint_take_at_most_twelve_taps(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone(
        "addEventListener('click', (event) => { if (event.detail) window.taps = (window.taps || 0) + 1; }, true);"
    )
    phone.start()
    phone.play(120)
    phone.next_goal()
    phone.play(120)
    phone.next_goal()
    phone.play(120)
    phone.finish()
    for part in phone.page.locator("fieldset.part").all()[:3]:
        value = part.locator("[name^=value-]:not([type=hidden])")
        if value.count():
            value.click()
            phone.page.keyboard.type("2" if part.get_attribute("data-measure") in ("clean", "landings") else "60")
    for name in ("tiring", "discomfort"):
        if phone.page.locator(f"[name={name}]").count():
            phone.page.locator(f"[name={name}][value='0']").click()
    phone.send()
    phone.told("logged")
    assert 5 < phone.page.evaluate("window.taps") <= 12
    phone.check_one_entry()


def test_strings_that_failed_are_tapped_on_the_diagram(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    part = phone.page.locator("fieldset.part:has([data-strings])").first
    part.get_by_text("Tell string by string").click()
    hit = part.locator(".hit[data-string='2']")
    assert min(hit.bounding_box()["width"], hit.bounding_box()["height"]) >= 44
    hit.click()
    expect(hit).to_have_attribute("aria-pressed", "true")
    expect(part.locator("[name^=failed-][value='2']")).to_be_checked()
    part.locator("[name^=failed-][value='2']").uncheck()
    expect(hit).to_have_attribute("aria-pressed", "false")
    hit.focus()
    phone.page.keyboard.press("Space")
    expect(part.locator("[name^=failed-][value='2']")).to_be_checked()


def test_my_hand_hurts_stops_and_opens_the_note(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.start()
    phone.play(65)
    phone.page.get_by_text("My hand hurts: stop").click()
    phone.running = False
    phone.play(100)
    expect(phone.page.locator("[data-clock]")).to_have_text("01:05")
    expect(phone.page.locator("[data-rested]")).to_contain_text("Stopped")
    expect(phone.page.locator("[name=total]")).to_have_value("01:05")
    if phone.page.locator("#hand").count():
        expect(phone.page.get_by_role("group", name="Where", exact=True)).to_be_visible()
    else:
        expect(phone.page.get_by_role("button", name="Tell my teacher about my hand")).to_be_visible()


def test_a_rest_is_asked_for_and_the_days_most_said(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    # 25 minutes, then 5 of rest: published, Klickstein, The Musician's Way (2009)
    rest, most = phone.page.locator("[data-break-note]"), phone.page.locator("[data-most-note]")
    phone.start()
    phone.play_watched(25 * 60 - 2)
    phone.next_goal()
    expect(rest).to_be_hidden()
    phone.play(3)
    phone.page.wait_for_timeout(100)
    expect(rest).to_contain_text("25 minutes of playing")
    phone.pause()
    phone.play(5 * 60)
    phone.start()
    expect(rest).to_be_hidden()
    daily = int(phone.page.locator(".timer").get_attribute("data-most"))
    phone.play_watched(daily * 60)
    expect(most).to_contain_text("today's most")
    phone.pause()
    expect(phone.page.locator("[data-whole]")).to_contain_text("1:" if daily >= 35 else ":")
