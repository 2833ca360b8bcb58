"""A phone practises with a connection that comes and goes: nothing timed is lost, nothing is stored twice.

Real Chromium, a real server, a clock that the test moves: see tests/browser/phone.py.
"""

import random
from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from tests.browser.phone import NO_ROOM, Phone
from tests.browser.served import sign_in

MANY = 50  # sequences in the soak
SOME = [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 5))]


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


@pytest.mark.parametrize("seed", SOME)
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


@pytest.mark.long
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
    replace.locator("button").click()
    expect(desk.get_by_role("status")).to_contain_text("a new link")
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
        expect(phone.page.get_by_role("group", name="How does your hand feel?")).to_be_visible()
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
