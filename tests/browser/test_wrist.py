"""The wrist story, played by three people over a month: a discomfort that rises, the notice, the goals that rest, the
mails, the parent's words, the way back step by step, and the episode that closes.

The server is a process of its own whose clock the test moves; its mails are files that the test reads.
"""

import datetime as dt
import email
import email.policy
import re
from collections.abc import Callable, Iterator
from email.message import EmailMessage
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.served import CLOCKED, PHONE, ROOT, WIDE, Server, serve, sign_in
from tests.browser.test_pages import violations

HEALTH = re.compile(r"\b(hand|wrist|pain|hurt|ache|health|discomfort|doctor|numb|weak)\w*", re.IGNORECASE)
DAYS = 40


class Story:
    """The server and its days: day 0 is forty days before the real today. `on(day)` moves everybody there."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.offset = folder, folder / "offset.txt"
        self.pages: list[Page] = []
        self.server: Server | None = None
        # noon of each day, so that no day ends while the story runs
        now = dt.datetime.now(dt.UTC)
        self.noon = (now.replace(hour=12, minute=0) - now).total_seconds()
        self.day = 0
        self.move(0)

    def move(self, day: int) -> None:
        self.day = day
        seconds = (day - DAYS) * 86400 + self.noon
        draft = self.offset.with_suffix(".new")
        draft.write_text(f"{seconds:.0f}")
        draft.replace(self.offset)

    @property
    def now(self) -> dt.datetime:
        return dt.datetime.now(dt.UTC) + dt.timedelta(seconds=float(self.offset.read_text()))

    def on(self, day: int) -> None:
        self.move(day)
        for page in self.pages:
            page.clock.set_fixed_time(self.now)

    def mails(self) -> list[EmailMessage]:
        """The mails in the order in which they were written. (studio/settings: the demo keeps them as files.)"""
        found = []
        for file in sorted((self.folder / "mail").glob("*.log"), key=lambda one: one.stat().st_mtime_ns):
            for text in re.split(r"\n-{79}\n", file.read_text("utf-8")):
                if text.strip():
                    found.append(email.message_from_string(text.lstrip(), policy=email.policy.default))
        return found


@pytest.fixture
def story(browser_type_launch_args: dict, tmp_path: Path) -> Iterator[Story]:
    told = Story(tmp_path)
    with serve(tmp_path, program=[CLOCKED, told.offset, ROOT]) as told.server:
        yield told
        said = told.server.output.read_text(errors="replace")
        assert "Traceback" not in said, said


@pytest.fixture
def person(new_context: Callable, story: Story) -> Callable[..., Page]:
    def open_one(**options) -> Page:
        context = new_context(
            base_url=story.server.address, locale="en-GB", reduced_motion="reduce", service_workers="block", **options
        )
        context.set_default_timeout(15_000)
        page = context.new_page()
        page.clock.set_fixed_time(story.now)
        story.pages.append(page)
        return page

    return open_one


def log(page: Page, story: Story, discomfort: int, minutes: int = 10) -> None:
    """How the hand feels, at the wrist of the fretting hand where it is not 0, with so many minutes; 0: a note
    alone."""
    page.goto(story.server.student)
    if minutes:
        page.get_by_label("Minutes altogether").fill(str(minutes))
    page.get_by_role("group", name="How does your hand feel?").get_by_label(str(discomfort), exact=True).check()
    if discomfort:
        page.locator("input[name=hand][value=fretting]").check()
        page.get_by_role("radio", name="wrist", exact=True).check(force=True)
        page.get_by_label("What it is like").select_option("ache")
        page.get_by_label("It goes away").select_option("within the hour")
    page.get_by_role("button", name="Send to my teacher").first.click()
    expect(page.locator("[data-told]")).to_contain_text("logged" if minutes else "is kept")
    page.goto(story.server.student)


def visit(page: Page, address: str, server: Server) -> None:
    """Opens a teacher's page, by way of the sign-in page where the session has ended in two weeks."""
    page.goto(address)
    if page.get_by_label("Password").count():
        page.get_by_label("E-mail").fill(server.email)
        page.get_by_label("Password").fill(server.password)
        page.locator("main form button").first.click()
        expect(page.get_by_label("Password")).to_have_count(0)


def advice(page: Page) -> Locator:
    """The step of a return, or what else stands beside the day's list."""
    return page.locator("aside.advice")


def answer(page: Page) -> Locator:
    """What the hand's notes ask for, at the head of the page."""
    return page.locator(".hand-answer")


@pytest.mark.long
def test_the_wrist_story(story: Story, person: Callable[..., Page]) -> None:
    server = story.server
    teacher = sign_in(person(**WIDE), server)
    student, guardian = person(**PHONE), person(**PHONE)
    student.goto(server.student)
    home = f"/students/{student.url.split('/')[4]}/"
    teacher.goto(home)
    name = teacher.get_by_role("heading", level=1).inner_text()

    # -- day 0: a barre is set, and all is well
    set_barre(teacher, home, "B")
    teacher.wait_for_url(f"**{home}")
    expect(teacher.locator("main")).to_contain_text("Bm, E-shape at 7")
    log(student, story, 0)
    expect(answer(student)).to_have_count(0)
    expect(student.locator("li.goal").filter(has_text="Bm, E-shape at 7")).to_be_visible()

    # -- two weeks of a rising wrist: nothing, then ease off
    story.on(3)
    log(student, story, 1)
    expect(answer(student)).to_have_count(0)
    for day, discomfort in ((7, 2), (10, 3)):
        story.on(day)
        log(student, story, discomfort)
        expect(student.get_by_role("heading", level=1)).to_contain_text("Take it easy today.")
        expect(student.locator("li.goal").filter(has_text="Bm, E-shape at 7")).to_be_visible()
    assert story.mails() == []

    # -- day 14: the notice. The barre rests, the day is half as long, and two people are written to
    story.on(14)
    log(student, story, 5)
    expect(student.get_by_role("heading", level=1)).to_contain_text("Rest the barres today.")
    expect(student.locator("main")).to_contain_text("Resting for now: Bm, E-shape at 7")
    expect(student.locator("main")).to_contain_text("half the minutes")
    expect(student.locator("li.goal").filter(has_text="Bm, E-shape at 7")).to_have_count(0)
    assert "Start with" not in student.locator("main").inner_text()
    answer(student).get_by_text("For grown-ups: why this, and where it comes from").click()
    expect(answer(student)).to_contain_text("The rule: one note of 4 or more.")
    expect(answer(student)).to_contain_text("Stanhope")
    easy_to_use(student)
    to_teacher, to_guardian = story.mails()
    assert to_teacher["To"] == server.email
    assert to_guardian["To"] != server.email
    for mail in (to_teacher, to_guardian):
        assert not HEALTH.search(mail["Subject"])
        assert name.split()[0] not in mail["Subject"]
        body = mail.get_content()
        assert "a hand note to look at" in body
        assert not re.search(r"\b(5|wrist|ache)\b", re.sub(r"http\S+", "", body))
    assert f"{server.address}/open/" in to_guardian.get_content()
    assert "/open/" not in to_teacher.get_content()

    # -- the next day's note asks for more, in the same episode: both are written to again
    story.on(15)
    log(student, story, 6)
    expect(student.get_by_role("heading", level=1)).to_contain_text("a doctor should look at your hand.")
    assert len(story.mails()) == 4

    # -- the teacher, by the mail's own address: the note, and no new barre without a reason
    visit(teacher, re.search(r"http\S+", to_teacher.get_content())[0], server)
    main = teacher.locator("main")
    expect(main).to_contain_text("A doctor or hand therapist should look at this hand")
    expect(main).to_contain_text("The teacher was written to on")
    # high strings are asked after where an index finger, a thumb or a fingertip tires, and say nothing about a wrist
    expect(main).not_to_contain_text("string height")
    easy_to_use(teacher)
    set_barre(teacher, home, "C")
    expect(main).to_contain_text("Barres rest just now, and this goal lays a finger flat over three strings or more.")

    # -- the parent, by the mail's link: plain words, no number
    guardian.goto(re.search(r"http\S+/open/\S+", to_guardian.get_content())[0])
    if guardian.get_by_role("link", name=re.compile("the week after")).count():
        shown = guardian.url
        guardian.get_by_role("link", name=re.compile("the week after")).click()
        guardian.wait_for_url(lambda address: address != shown)
    words = guardian.locator("main")
    expect(words).to_contain_text("Please let a doctor or a hand therapist see")
    expect(words).to_contain_text("some discomfort on")
    expect(words).to_contain_text("at its most in the wrist")
    assert not re.search(r"\b6 of 10\b", words.inner_text())
    easy_to_use(guardian)

    # -- cleared: the way back begins on the first step, and what was noted is dealt with
    story.on(18)
    visit(teacher, f"{home}hand/", server)
    teacher.get_by_text("Begin a return").click()
    teacher.get_by_label("Cleared by").fill("Dr Reed, hand therapist")
    teacher.get_by_role("button", name="Begin on the first step").click()
    expect(main).to_contain_text("2 times 5 minutes a day, 60 minutes of rest between")
    expect(main).to_contain_text("Cleared by Dr Reed, hand therapist; a stepwise return begins")
    expect(main.get_by_role("heading", name="Not dealt with yet")).to_have_count(0)
    student.goto(server.student)
    expect(advice(student)).to_contain_text("Step 1 of your way back: 2 times 5 minutes today, and no more.")
    expect(student.locator("main")).to_contain_text("10 minutes planned")
    guardian.reload()
    expect(words).to_contain_text("is coming back to playing step by step")
    for page in (teacher, student, guardian):
        easy_to_use(page)

    # -- three days of nothing felt, and only then the next step
    for day in (18, 19, 20):
        story.on(day)
        visit(teacher, f"{home}hand/", server)
        expect(teacher.get_by_role("button", name=re.compile("Next step"))).to_have_count(0)
        log(student, story, 0)
    story.on(21)
    visit(teacher, f"{home}hand/", server)
    expect(main).to_contain_text("3 days on this step are logged and nothing was felt")
    teacher.get_by_role("button", name="Next step: 2 times 10 minutes, 50 of rest").click()
    expect(main).to_contain_text("2 times 10 minutes a day, 50 minutes of rest between")

    # -- something is felt: stop at once, and the teacher hears of it, however little it is
    story.on(22)
    log(student, story, 1)
    expect(student.get_by_role("heading", level=1)).to_contain_text("Stop for today.")
    expect(student.locator("ol.goals, .timer")).to_have_count(0)
    expect(advice(student).first).to_contain_text("one step back is proposed")
    assert len(story.mails()) == 6
    easy_to_use(student)
    visit(teacher, f"{home}hand/", server)
    expect(main.get_by_role("heading", name="Not dealt with yet")).to_be_visible()

    # -- rest, and a week with two notes of 0: the episode closes by itself
    story.on(26)
    log(student, story, 0, minutes=0)
    visit(teacher, f"{home}hand/", server)
    expect(main.get_by_role("heading", name="Not dealt with yet")).to_be_visible()
    story.on(30)
    log(student, story, 0, minutes=0)
    visit(teacher, f"{home}hand/", server)
    expect(main.get_by_role("heading", name="Not dealt with yet")).to_have_count(0)
    assert len(story.mails()) == 6

    # -- back one, and the return ends in the teacher's words; its steps stay
    teacher.get_by_role("button", name="Go back one step").click()
    expect(main).to_contain_text("Return, step 1")
    teacher.get_by_text("End the return").click()
    teacher.get_by_label("How it ended").fill("Well again, strings lowered.")
    teacher.get_by_role("button", name="End it").click()
    expect(main).to_contain_text("Well again, strings lowered.")
    student.goto(server.student)
    expect(student.locator("li.goal").filter(has_text="Bm, E-shape at 7")).to_be_visible()


def easy_to_use(page: Page) -> None:
    """Nothing that axe-core calls a fault, with every part unfolded, and no wider than the screen."""
    page.evaluate("document.querySelectorAll('main details').forEach(one => one.open = true)")
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def set_barre(page: Page, home: str, root: str) -> None:
    """Fills the form for an E-shape minor at a root, and sends it once what it means is shown."""
    page.goto(f"{home}goals/set/")
    page.get_by_label("Shape").select_option(label="E-shape minor")
    page.get_by_label("Root").fill(root)
    look = page.locator("#goal-look")
    expect(look.get_by_role("heading").first).to_contain_text(f"{root}m")
    page.get_by_role("button", name="Set the goal").click()
