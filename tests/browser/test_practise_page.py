"""The practice page in the hand: the way to stop is always in view, the screen stays on, the phone's clock is put right
meanwhile; and the queue, which lets go of an entry only when it is told that this very entry is stored.

Real Chromium, a real server, a clock that the test moves: see tests/browser/phone.py.
"""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.phone import PAGE_ALONE, Phone, until
from tests.browser.served import PHONE, Server
from tests.browser.test_logform import ADULT, NO_CONSENT, SMALLEST, TOO_SMALL
from tests.browser.test_pages import code_in, violations

Phones = Callable[..., Phone]

# -- the timer -------------------------------------------------------------------------------------------------------

STOP = "My hand hurts: stop"
# Whether the middle of the link is what a finger would touch there.
REACHED = """(link) => {
    const box = link.getBoundingClientRect();
    return link.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
}"""


@pytest.mark.parametrize("name", [ADULT, NO_CONSENT], ids=["consent", "no consent"])
def test_the_way_to_stop_is_in_view_wherever_the_page_is(new_phone: Phones, name: str) -> None:
    phone = new_phone(name=name)
    stop = phone.page.get_by_text(STOP)
    phone.start()
    phone.play(65)
    height = phone.page.evaluate("document.documentElement.scrollHeight")
    for top in range(0, height, 400):
        phone.page.evaluate("top => scrollTo(0, top)", top)
        assert stop.evaluate(REACHED), f"scrolled to {top} px"
    stop.click()
    phone.running = False
    phone.play(100)
    expect(phone.page.locator("[data-clock]")).to_have_text("01:05")
    # what to do now is seen where the page has gone, with what may be said of the hand below it
    rested = phone.page.locator("[data-rested]")
    expect(rested).to_be_in_viewport(ratio=1)
    expect(rested).to_contain_text("let the hand rest")
    below = "How tiring for the hand?" if name == ADULT else "How does your hand feel?"
    expect(phone.page.get_by_text(below)).to_be_in_viewport()
    phone.page.evaluate("scrollTo(0, 0)")
    phone.start()
    expect(rested).to_be_hidden()


def test_what_says_to_rest_and_to_finish_is_in_view_too(new_phone: Phones) -> None:
    phone = new_phone(name=ADULT)
    phone.start()
    phone.page.locator("#log").scroll_into_view_if_needed()
    # Klickstein, The Musician's Way (2009): 25 minutes, then 5 of rest
    phone.play_watched(25 * 60)
    expect(phone.page.locator("[data-break-note]")).to_be_in_viewport(ratio=1)
    phone.play_watched(60 * int(phone.page.locator(".timer").get_attribute("data-most") or 0))
    expect(phone.page.locator("[data-most-note]")).to_be_in_viewport(ratio=1)
    assert phone.page.get_by_text(STOP).evaluate(REACHED)


# What the page asks of the browser's own lock, which is really asked for. (A blank page has none.)
LOCKS = """if (self.WakeLock) {
window.locks = [];
const asked = WakeLock.prototype.request;
WakeLock.prototype.request = async function (kind) {
    const lock = await asked.call(this, kind);
    window.locks.push(kind);
    lock.addEventListener("release", () => window.locks.pop());
    return lock;
}; }"""


def test_the_screen_stays_on_while_the_clock_runs(new_phone: Phones) -> None:
    phone = new_phone(LOCKS)
    assert phone.page.evaluate("window.locks") == []
    phone.start()
    phone.until("window.locks.join() === 'screen'")
    phone.next_goal()
    phone.play(5)
    assert phone.page.evaluate("window.locks") == ["screen"]
    phone.pause()
    phone.until("window.locks.length === 0")


REFUSED = """if (self.WakeLock) {
WakeLock.prototype.request = () => Promise.reject(new DOMException("no", "NotAllowedError"));
}"""


@pytest.mark.long
def test_a_browser_that_keeps_no_screen_on_times_all_the_same(new_phone: Phones) -> None:
    phone = new_phone(REFUSED)
    phone.start()
    phone.play(61)
    expect(phone.page.locator("[data-clock]")).to_have_text("01:01")
    assert phone.broken == []


@pytest.mark.parametrize("hours", [1, pytest.param(24, marks=pytest.mark.long)])
def test_a_clock_that_is_set_back_takes_no_second(new_phone: Phones, hours: int) -> None:
    phone = new_phone()
    phone.start()
    phone.play(120)
    phone.context.clock.set_system_time(phone.began + timedelta(seconds=150) - timedelta(hours=hours))
    phone.play(60)
    expect(phone.page.locator("[data-clock]")).to_have_text("03:00")
    phone.next_goal()
    phone.play(30)
    phone.finish()
    phone.send()
    phone.told("logged")
    phone.check_one_entry()


# -- the queue -------------------------------------------------------------------------------------------------------

ENTRY = "**/s/*/entries/*/"
NOT_THIS = [
    {"status": 200, "content_type": "text/html", "body": "<title>Sign in to this hotel's network</title>"},
    {"status": 200, "content_type": "application/json", "body": "{}"},
    {"status": 201, "content_type": "application/json", "body": '{"code": "00000000-0000-4000-8000-000000000000"}'},
    {"status": 204},
    {"status": 302, "headers": {"Location": "/sign-in/"}},
    {"status": 403, "content_type": "application/json", "body": '{"error": "no"}'},
    {"status": 500, "content_type": "text/html", "body": "<title>Broken</title>"},
    {"status": 502, "content_type": "application/json", "body": '{"error": "nobody there"}'},
]


def test_the_phone_lets_go_only_of_what_it_is_told_is_stored(new_phone: Phones) -> None:
    phone = new_phone(PAGE_ALONE)
    answers = list(NOT_THIS)
    given = []

    def between(route: Route) -> None:
        """Something stands between the phone and the studio and answers in its place."""
        given.append(answers.pop(0))
        route.fulfill(**given[-1])

    phone.context.route(ENTRY, between)
    phone.start()
    phone.play(90)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting")
    while answers:
        count = len(given)
        phone.later(lambda count=count: len(given) > count)
        phone.page.wait_for_timeout(100)
        assert [state for _, state in phone.waiting()] == ["waiting"], given[-1]
    phone.context.unroute(ENTRY)
    phone.later(lambda: not phone.waiting())
    phone.check_one_entry()


@pytest.mark.long
def test_two_tabs_have_one_sender(new_phone: Phones) -> None:
    phone = new_phone(PAGE_ALONE)
    held: list[Route] = []
    phone.context.route(ENTRY, lambda route: held.append(route))
    phone.offline(True)
    phone.start()
    phone.play(90)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting")
    first = phone.page
    phone.second_tab()
    phone.offline(False)
    for page in (first, phone.page):
        page.evaluate("() => { ledgerline.queue.send(); }")
    until(phone.page, lambda: bool(held))
    phone.page.wait_for_timeout(500)
    assert len(held) == 1
    held[0].continue_()
    for page in (first, phone.page):
        expect(page.locator("[data-told]")).to_contain_text("logged")
    assert len(held) == 1
    phone.check_one_entry()


# Another content under the code of an entry that is stored, as a phone would queue it that was put back from a copy.
OTHER = """async (code) => {
    const form = document.getElementById("log");
    const base = document.querySelector("[data-queue]").dataset.base;
    const student = document.querySelector("[data-queue]").dataset.queue;
    const day = form.elements.day.value;
    await ledgerline.queue.put({
        code, student, address: base + "entries/" + code + "/", token: base + "token/",
        body: { code, day, seconds: 720, segments: [], results: [], note: "twelve it was" },
        values: { code: [code], day: [day], total: ["12"], note: ["twelve it was"] },
    });
    await ledgerline.queue.send();
}"""


@pytest.mark.long
def test_other_content_under_a_stored_code_is_told_and_put_right(new_phone: Phones) -> None:
    phone = new_phone(PAGE_ALONE)
    phone.start()
    phone.play(90)
    phone.finish()
    phone.send()
    phone.told("logged")
    ((code, (seconds, _)),) = phone.new_entries().items()
    assert seconds == 90
    phone.page.evaluate(OTHER, code)
    row = phone.page.locator("[data-refused] li")
    expect(row).to_contain_text("stored before, with other values")
    assert phone.new_entries()[code][0] == 90
    row.get_by_role("button", name="Put it right").click()
    expect(phone.page.get_by_label("Note to the teacher")).to_have_value("twelve it was")
    phone.send()
    phone.told("logged")
    expect(row).to_have_count(0)
    # the correction named the version that it changes
    assert phone.new_entries()[code][0] == 720
    assert phone.waiting() == []


# -- the pages round it ----------------------------------------------------------------------------------------------

AROUND = ("consent", "entries", "pin", "account", "record", "progress")
# A link that stands alone is a control; one within a sentence is not.
LINKS = """(smallest) => [...document.querySelectorAll("main a, footer a")]
    .filter((one) => one.checkVisibility() && [...one.parentElement.childNodes].every((other) =>
        other === one || !other.textContent.trim() || "/·".includes(other.textContent.trim()) || other.tagName === "A"))
    .map((one) => [one, one.getBoundingClientRect()])
    .filter(([one, box]) => box.height < smallest - .5 || box.width < smallest - .5)
    .map(([one, box]) => `${one.textContent.trim()} ${box.width} ${box.height}`)"""


def too_small(page: Page) -> list[str]:
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    return page.evaluate(TOO_SMALL, SMALLEST) + page.evaluate(LINKS, SMALLEST)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.long
def test_every_page_of_a_student_is_accessible_and_in_reach(
    open_page: Callable[..., Page], server: Server, scheme: str
) -> None:
    page = open_page(color_scheme=scheme, **PHONE)
    page.goto(server.student)
    student = code_in(page.url)
    wrong = too_small(page)
    for name in AROUND:
        page.goto(f"/s/{student}/{name}/")
        wrong += [f"{name}: {said}" for said in (*violations(page), *too_small(page))]
    page.goto(f"/s/{student}/")
    page.get_by_label("Minutes altogether").fill("1")
    page.get_by_role("button", name="Send to my teacher").click()
    expect(page.locator("[data-told]")).to_contain_text("logged")
    page.goto(f"/s/{student}/entries/")
    page.get_by_role("link", name="Put it right").first.click()
    page.wait_for_url("**/correct/")
    wrong += [f"correcting: {said}" for said in (*violations(page), *too_small(page))]
    page.goto(f"/s/{student}/pin/")
    page.get_by_label("New PIN", exact=True).fill("12")
    page.get_by_role("button", name="Set the PIN").click()
    expect(page.get_by_label("New PIN", exact=True)).to_have_attribute("aria-invalid", "true")
    wrong += [f"a PIN refused: {said}" for said in (*violations(page), *too_small(page))]
    assert wrong == []
