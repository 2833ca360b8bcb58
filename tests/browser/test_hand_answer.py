"""What somebody says about a hand, on the phone: what must not wait is said before anything is sent; the answer is seen
first, and alone, in every way that a note can go; and nothing that was drawn before it is seen beside.

Real Chromium, a real server, a clock that the test moves: see tests/browser/phone.py. Each test has a student of its
own, since an answer that stops all playing stays until the teacher has closed it.
"""

import datetime as dt
import itertools
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, Request, expect

from practice import handrows
from practice.facts import HandFacts
from practice.handanswer import Reader, answer_of
from practice.handcare import of_one
from practice.words import say
from tests.browser.phone import Phone, Studio, until
from tests.browser.served import PHONE, sign_in
from tests.browser.test_logform import SMALLEST, TOO_SMALL
from tests.browser.test_pages import violations

Phones = Callable[..., Phone]

SEND = "Send to my teacher"
HOW = "How does your hand feel?"
NO_CONSENT = "Ash Merriweather"


# -- what a person does ----------------------------------------------------------------------------------------------


def feel(page: Page, number: int, place: str = "", hand: str = "fretting") -> None:
    page.get_by_role("group", name=HOW).get_by_label(str(number), exact=True).check()
    if place:
        page.locator(f"input[name=hand][value={hand}]").check(force=True)
        page.locator(f"input[name=place][value={place}]").check(force=True)


def tick(page: Page, *codes: str) -> None:
    for code in codes:
        page.locator(f"input[name=also][value={code}]").check(force=True)


def send(page: Page) -> None:
    page.get_by_role("button", name=SEND).click()


def answer(page: Page) -> Locator:
    """The answer as the phone shows it: in front of everything else."""
    return page.locator("[data-answered]")


def alone(page: Page, head: str) -> None:
    """The answer is what is seen first, and nothing else of the page is seen."""
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_have_count(1)
    expect(heading).to_contain_text(head)
    expect(heading).to_be_in_viewport()
    for name in ("Start", "Next goal", "Finish", SEND):
        expect(page.get_by_role("button", name=name, exact=True)).to_have_count(0)
    expect(
        page.locator(".timer, ol.goals, #log, .why, [data-tune], [data-metronome]").locator("visible=true")
    ).to_have_count(0)
    seen = page.locator("main").inner_text()
    assert "planned" not in seen
    assert "Start with" not in seen


def answered_by_the_server(page: Page) -> None:
    expect(answer(page)).not_to_contain_text("when this phone is connected")


def easy_to_use(page: Page) -> None:
    """Light and dark, on a phone and on a small one: nothing that axe-core calls a fault, nothing wider than it,
    and at 390 px nothing too small for a thumb."""
    page.context.clock.resume()  # axe-core waits by the page's own clock
    for scheme, width in itertools.product(("light", "dark"), (390, 320)):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 844})
        assert violations(page) == [], (scheme, width)
        beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert beyond <= 0, (scheme, width)
        if width == 390:
            assert page.evaluate(TOO_SMALL, SMALLEST) == []


def notes(phone: Phone, name: str, columns: str = "discomfort, entry_id") -> list[tuple]:
    return phone.studio.rows(
        f"SELECT {columns} FROM practice_handnote WHERE student_id ="
        " (SELECT id FROM students_student WHERE name = ?) ORDER BY id DESC",
        name,
    )


def entries(phone: Phone, name: str) -> int:
    ((number,),) = phone.studio.rows(
        "SELECT COUNT(*) FROM practice_practiceentry WHERE student_id ="
        " (SELECT id FROM students_student WHERE name = ?)",
        name,
    )
    return number


# -- one table, read twice -------------------------------------------------------------------------------------------

PLACES = ("", "fingertip", "index", "wrist", "shoulder")
SENSATIONS = ("", "sore", "ache", "numb")
SETTLES = ("at-once", "hour", "day", "next-day", "rest")
NEVER = {"hand": "fretting", "settles": "", "also": (), "at_rest": None, "daily": None, "tip_only": None}


def table() -> list[dict[str, Any]]:
    """Notes of every kind: all of number, place and sensation; each tick, pair of ticks and question beside."""
    found: list[dict[str, Any]] = []
    for number, place, sensation in itertools.product((0, 1, 3, 4, 6, 7, 10), PLACES, SENSATIONS):
        found.append({"discomfort": number, "place": place, "sensation": sensation})
    for number, place in itertools.product((0, 2, 5, 8, 10), ("", "fingertip", "wrist")):
        for ticks in (*itertools.combinations(handrows.ALSO, 1), *itertools.combinations(handrows.ALSO, 2)):
            found.append({"discomfort": number, "place": place, "also": ticks})
        for name, value in itertools.product(("at_rest", "daily", "tip_only", "face_arm_leg"), (True, False)):
            for also in ((), ("numb",), ("weak",)):
                found.append({"discomfort": number, "place": place, name: value, "also": also})
        for settles, hand in itertools.product(
            ("at-once", "hour", "day", "next-day", "rest"), ("fretting", "picking", "")
        ):
            for also in ((), ("numb",)):
                found.append({"discomfort": number, "place": place, "settles": settles, "hand": hand, "also": also})
    return [NEVER | one for one in found]


IN_THE_PAGE = """(notes) => notes.map((note) => {
    const { rules } = self.ledgerline;
    const row = rules.row(note);
    if (!row) return null;
    return [row.code, row.level, rules.text(row, note).content.querySelector("[data-words]").textContent.trim()];
})"""


@pytest.mark.parametrize("name", ["Callum Restarick", pytest.param("", marks=pytest.mark.long)], ids=["adult", "child"])
def test_the_phone_and_the_rule_book_give_the_same_answer(new_phone: Phones, name: str) -> None:
    phone = new_phone(name=name)
    given = table()
    assert len(given) > 400
    said = phone.page.evaluate(IN_THE_PAGE, [{**one, "also": list(one["also"])} for one in given])
    first = "Callum" if name else "Wren"
    reader = Reader("adult" if name else "child", first, "Rosamund Teale")
    day, at = dt.date(2026, 1, 5), dt.datetime(2026, 1, 5, 12, tzinfo=dt.UTC)
    fired = set()
    for one, found in zip(given, said, strict=True):
        row = handrows.row_of(one)
        if row is None:
            assert found is None, one
            continue
        fired.add(row.code)
        head = answer_of(of_one(HandFacts(day=day, at=at, **one)), reader)
        assert head is not None
        assert found == [row.code, row.level, say(head.head)], one
    # `sudden` is the question of old rows, which no form asks any more
    assert fired == {row.code for row in handrows.ROWS} - {"sudden", "sudden-numb"}


# -- before anything is sent -----------------------------------------------------------------------------------------


def test_what_must_not_wait_is_said_on_the_very_answer_offline_too(new_phone: Phones) -> None:
    phone = new_phone(name="Callum Restarick")
    page = phone.page
    alarm = page.locator("[data-alarm]")
    phone.offline(True)
    phone.reload()
    question = page.get_by_role("group", name=re.compile("one side of the face suddenly numb or weak"))
    expect(question).to_be_hidden()
    expect(alarm).to_be_hidden()
    feel(page, 0)
    tick(page, "weak")
    expect(question).to_be_visible()
    # right under the list that calls for it
    gap = question.bounding_box()["y"] - page.locator("fieldset.any").first.bounding_box()["y"]
    assert 0 < gap < 400
    expect(alarm).to_be_hidden()
    question.get_by_label("yes").check()
    expect(page.get_by_role("alert").locator("visible=true")).to_contain_text("Call the emergency number now.")
    expect(alarm).to_be_in_viewport()
    question.get_by_label("no").check()
    expect(alarm).to_be_hidden()
    tick(page, "fell")
    expect(alarm).to_contain_text("Get medical advice today.")
    tick(page, "snap")
    expect(alarm).to_contain_text("Go to an emergency department now.")
    page.locator("input[name=also][value=fell]").uncheck(force=True)
    expect(page.locator("input[name=also][value=snap]")).to_be_enabled()  # weak asks for it, too
    page.locator("input[name=also][value=weak]").uncheck(force=True)
    expect(page.locator("input[name=also][value=snap]")).to_be_disabled()
    expect(alarm).to_be_hidden()
    feel(page, 7)
    expect(alarm).to_contain_text("Stop for today. See a doctor or hand therapist before you play again.")
    feel(page, 6)
    expect(alarm).to_be_hidden()
    assert phone.broken == []


def test_a_child_is_told_to_get_a_grown_up(new_phone: Phones) -> None:
    phone = new_phone()
    tick(phone.page, "numb")
    phone.page.locator("input[name=face_arm_leg][value=yes]").check(force=True)
    expect(phone.page.locator("[data-alarm]")).to_contain_text(
        "Get a grown-up to call the emergency number now. Nobody there? Call it yourself."
    )


def test_at_most_four_questions_more_for_a_little(new_phone: Phones) -> None:
    phone = new_phone(name="Callum Restarick")
    page = phone.page
    asked = (
        "() => [...document.querySelectorAll('#hand [data-when] .field')].filter((one) => one.checkVisibility()).length"
    )
    assert page.evaluate(asked) == 0
    feel(page, 3)
    assert page.evaluate(asked) == 4  # which hand, where, what it is like, when it settles
    feel(page, 4)
    assert page.evaluate(asked) > 4
    feel(page, 0)
    assert page.evaluate(asked) == 0


# -- the answer, first and alone -------------------------------------------------------------------------------------


def test_the_answer_stands_at_once_and_what_was_drawn_before_is_gone(new_phone: Phones) -> None:
    name = "Benedikt Sorley"
    phone = new_phone(name=name)
    page = phone.page
    expect(page.get_by_role("heading", level=1)).to_contain_text("Start with")
    before = entries(phone, name)
    page.get_by_label("Minutes altogether").fill("7")
    feel(page, 8, "wrist")
    send(page)
    alone(page, "Stop for today.")
    expect(page.get_by_role("heading", level=1)).to_be_focused()
    expect(answer(page)).to_contain_text("Your 7 minutes are kept and sent.")
    assert entries(phone, name) == before + 1
    assert notes(phone, name)[0][0] == 8
    # the page that follows is drawn from the same answer
    answer(page).get_by_role("link", name="Go on").click()
    expect(answer(page)).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).to_have_count(1)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Stop for today.")
    expect(page.locator(".timer, ol.goals")).to_have_count(0)
    expect(page.locator("main")).not_to_contain_text("planned")
    expect(page.get_by_role("button", name="Tell my teacher about my hand")).to_be_visible()
    # what was played before can still be logged
    page.get_by_text("Log what was played before").click()
    page.get_by_label("Minutes altogether").fill("3")
    send_buttons = page.get_by_role("button", name=SEND)
    send_buttons.last.click()
    phone.told("3 minutes logged")
    assert entries(phone, name) == before + 2
    assert phone.broken == []
    easy_to_use(page)


def test_a_note_needs_no_minutes_and_is_no_practice(new_phone: Phones) -> None:
    name = "Femke Adair"
    phone = new_phone(name=name)
    before, kept = entries(phone, name), len(notes(phone, name))
    feel(phone.page, 5, "wrist")
    send(phone.page)
    alone(phone.page, "Rest the barres today.")
    answered_by_the_server(phone.page)
    assert entries(phone, name) == before
    assert len(notes(phone, name)) == kept + 1
    assert notes(phone, name)[0] == (5, None)
    answer(phone.page).get_by_role("link", name="Go on").click()
    page = phone.page
    expect(page.get_by_role("heading", level=1)).to_contain_text("Rest the barres today.")
    expect(page.locator("main")).to_contain_text("half the minutes")
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_visible()
    resting = page.get_by_text("Resting for now:").inner_text()
    titles = page.locator("ol.goals h2").all_inner_texts()
    assert titles
    for title in titles:
        assert title not in resting
    assert "Start with" not in page.locator("main").inner_text()
    # nothing was typed about minutes, so nothing else went with it
    page.get_by_label("Note to the teacher").fill("It began on Monday.")
    feel(page, 4, "wrist")
    send(page)
    expect(page.locator("#log .summary")).to_contain_text("A note to the teacher goes with minutes.")
    expect(page.get_by_label("Note to the teacher")).to_have_value("It began on Monday.")
    easy_to_use(page)


def test_a_zero_is_kept_on_a_rest_day_by_itself(new_phone: Phones) -> None:
    name = "Perpetua Lindgren"
    phone = new_phone(name=name)
    before = entries(phone, name)
    phone.page.get_by_role("link", name="How is your hand?").click()
    feel(phone.page, 0)
    send(phone.page)
    phone.told("Your note about the hand is kept.")
    expect(answer(phone.page)).to_be_hidden()
    assert notes(phone, name, "discomfort, place, entry_id")[0] == (0, "", None)
    assert entries(phone, name) == before
    feel(phone.page, 8)
    tick(phone.page, "numb", "fell")
    easy_to_use(phone.page)


def test_the_way_to_stop_leads_to_the_questions_before_anything_was_timed(new_phone: Phones) -> None:
    name = "Perpetua Lindgren"
    phone = new_phone(name=name)
    before = entries(phone, name)
    phone.page.get_by_text("My hand hurts: stop").click()
    expect(phone.page.locator("[data-rested]")).to_be_in_viewport()
    feel(phone.page, 7, "wrist")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    answered_by_the_server(phone.page)
    assert entries(phone, name) == before


def test_offline_the_phone_answers_and_the_server_takes_its_place(new_phone: Phones) -> None:
    name = "Marguerite Thornalley"
    phone = new_phone(name=name)
    phone.offline(True)
    feel(phone.page, 9, "index")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    expect(answer(phone.page)).to_contain_text("is told when this phone is connected")
    expect(phone.page.locator("[data-told]")).to_contain_text("waits on this phone")
    # the page that is kept here is older than the answer
    phone.page.reload()
    alone(phone.page, "Stop for today.")
    answer(phone.page).get_by_role("link", name="Go on").click()
    expect(phone.page.locator(".timer, ol.goals").locator("visible=true")).to_have_count(0)
    expect(phone.page.get_by_role("heading", level=1)).to_contain_text("Stop for today.")
    assert "Start with" not in phone.page.locator("main").inner_text()
    phone.page.reload()
    phone.connected_again()
    alone(phone.page, "Stop for today.")
    answered_by_the_server(phone.page)
    assert notes(phone, name)[0][0] == 9
    phone.offline(True)
    phone.page.reload()
    alone(phone.page, "Stop for today.")
    phone.offline(False)
    answer(phone.page).get_by_role("link", name="Go on").click()
    expect(answer(phone.page)).to_be_hidden()
    expect(phone.page.locator(".timer")).to_have_count(0)
    assert phone.broken == []


def test_a_wrong_tap_is_taken_back_before_and_after_it_went_out(new_phone: Phones) -> None:
    name = "Solveig Tarrant"
    phone = new_phone(name=name)
    before = len(notes(phone, name))
    phone.offline(True)
    phone.page.get_by_label("Minutes altogether").fill("6")
    feel(phone.page, 9, "index")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    answer(phone.page).get_by_role("button", name="I tapped that by mistake").click()
    expect(answer(phone.page)).to_be_hidden()
    expect(phone.page.locator(".timer")).to_be_visible()
    phone.connected_again()
    phone.told("6 minutes logged")  # what was played stays
    assert len(notes(phone, name)) == before
    # of today, and just now: the phone's own clock stands hours before the studio's
    day = phone.page.get_by_label("Day")
    day.fill(day.input_value())
    feel(phone.page, 9, "index")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    until(phone.page, lambda: len(notes(phone, name)) == before + 1)
    answered_by_the_server(phone.page)
    answer(phone.page).get_by_role("button", name="I tapped that by mistake").click()
    expect(phone.page.get_by_role("status").filter(has_text="Taken back.")).to_be_visible()
    expect(answer(phone.page)).to_be_hidden()
    expect(phone.page.locator(".timer")).to_be_visible()
    assert len(notes(phone, name)) == before


def test_another_tab_shows_it_too(new_phone: Phones) -> None:
    phone = new_phone(name="Nadia Ferrant")
    first = phone.page
    phone.second_tab()
    phone.start()
    phone.play(30)
    phone.page.bring_to_front()
    phone.offline(True)
    feel(first, 8, "palm")
    send(first)
    for page in (first, phone.page):
        alone(page, "Stop for today.")
        expect(answer(page)).to_contain_text("when this phone is connected")
    phone.connected_again()
    for page in (first, phone.page):
        alone(page, "Stop for today.")
        answered_by_the_server(page)
    # the clock of the other tab does not run on behind it
    assert phone.page.evaluate("ledgerline.timer.runs()") is False
    assert phone.broken == []


def test_the_background_sends_it_and_the_open_page_hears(new_phone: Phones) -> None:
    name = "Linus Hathersage"
    phone = new_phone(name=name)
    phone.offline(True)
    feel(phone.page, 8, "palm")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    # the page's own way out is shut: what is sent now is sent by the service worker
    phone.page.evaluate("() => { ledgerline.queue.send = async () => 'away'; }")
    expect(answer(phone.page)).to_contain_text("when this phone is connected")
    phone.offline(False)
    until(phone.page, lambda: notes(phone, name)[0][0] == 8)
    answered_by_the_server(phone.page)
    alone(phone.page, "Stop for today.")


def test_sent_while_no_page_was_open_it_is_shown_when_one_opens(new_phone: Phones) -> None:
    name = "Dorothea Lindqvist-Amaro"
    phone = new_phone(name=name)
    phone.offline(True)
    feel(phone.page, 8, "palm")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    other = phone.context.new_page()
    other.goto("about:blank")
    phone.page.close()
    phone.offline(False)
    until(other, lambda: notes(phone, name)[0][0] == 8)
    # without a connection again: the page that is kept here is older than the note
    phone.offline(True)
    phone.page = phone.context.new_page()
    phone.page.goto(phone.path)
    alone(phone.page, "Stop for today.")
    answered_by_the_server(phone.page)
    phone.offline(False)
    answer(phone.page).get_by_role("link", name="Go on").click()
    expect(phone.page.get_by_role("heading", level=1)).to_contain_text("Stop for today.")
    expect(answer(phone.page)).to_be_hidden()


def stop_worker(page: Page) -> None:
    """The browser ends the service worker, as it does with any that has nothing to do."""
    talk = page.context.new_cdp_session(page)
    talk.send("ServiceWorker.enable")
    talk.send("ServiceWorker.stopAllWorkers")


def test_a_worker_that_is_killed_between_loses_no_answer(new_phone: Phones) -> None:
    name = "Yusuf Calloway"
    phone = new_phone(name=name)
    phone.offline(True)
    feel(phone.page, 8, "palm")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    stop_worker(phone.page)
    alone(phone.page, "Stop for today.")
    phone.connected_again()
    answered_by_the_server(phone.page)
    alone(phone.page, "Stop for today.")
    assert notes(phone, name)[0][0] == 8


# -- the server knows what was noted before --------------------------------------------------------------------------


def test_a_stricter_answer_of_the_server_is_shown_in_place_of_the_phones(new_phone: Phones) -> None:
    name = "Elowen Prideaux"
    phone = new_phone(name=name)
    page = phone.page
    yesterday = dt.date.fromisoformat(page.get_by_label("Day").input_value()) - dt.timedelta(days=1)
    page.get_by_label("Day").fill(yesterday.isoformat())
    feel(page, 4, "wrist")
    send(page)
    alone(page, "Rest the barres today.")
    answer(page).get_by_role("link", name="Go on").click()
    expect(answer(page)).to_be_hidden()
    # by itself the second note says the same; on a second day it asks for a clinician
    phone.offline(True)
    feel(page, 4, "wrist")
    send(page)
    alone(page, "Rest the barres today.")
    expect(page.get_by_role("heading", level=1)).not_to_contain_text("doctor")
    phone.connected_again()
    alone(page, "doctor")


def test_a_milder_answer_of_the_server_is_not_shown_instead(new_phone: Phones) -> None:
    name = "Sunniva Brackenridge-Osei"
    phone = new_phone(name=name)
    page = phone.page
    feel(page, 0)
    send(page)
    phone.told("Your note about the hand is kept.")
    # of a day before that 0, which settles it for the server
    yesterday = dt.date.fromisoformat(page.get_by_label("Day").input_value()) - dt.timedelta(days=1)
    page.get_by_label("Day").fill(yesterday.isoformat())
    feel(page, 5, "wrist")
    send(page)
    alone(page, "Rest the barres today.")
    phone.later(lambda: not phone.waiting())
    alone(page, "Rest the barres today.")
    answered_by_the_server(page)
    answer(page).get_by_role("link", name="Go on").click()
    expect(answer(page)).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).not_to_contain_text("Rest the barres")


def test_what_is_refused_is_told_below_the_answer_and_put_right(new_phone: Phones) -> None:
    name = "Solveig Tarrant"
    phone = new_phone(name=name)
    page = phone.page
    before = len(notes(phone, name))
    # over a year ago: the phone does not know better, the server does
    page.get_by_label("Day").fill("2020-01-01")
    feel(page, 8, "palm")
    send(page)
    alone(page, "Stop for today.")
    row = page.locator("[data-refused] li")
    expect(row).to_contain_text("Your hand · 2020-01-01")
    assert len(notes(phone, name)) == before
    row.get_by_role("button", name="Put it right").click()
    expect(page.get_by_label("Day")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("input[name=discomfort][value='8']")).to_be_checked()
    page.get_by_label("Day").fill(phone.began.date().isoformat())
    send(page)
    alone(page, "Stop for today.")
    answered_by_the_server(page)
    expect(row).to_have_count(0)
    assert len(notes(phone, name)) == before + 1
    assert phone.waiting() == []


# -- without a consent -----------------------------------------------------------------------------------------------


def test_without_a_consent_the_phone_answers_and_nothing_leaves_it(new_phone: Phones) -> None:
    phone = new_phone(name=NO_CONSENT)
    page = phone.page
    asked: list[Request] = []
    before = len(notes(phone, NO_CONSENT))
    expect(page.locator("form[data-ask]")).to_contain_text("Nothing you answer here is kept or sent.")
    page.context.on("request", lambda request: asked.append(request))
    feel(page, 8, "wrist")
    expect(page.locator("[data-alarm]")).to_contain_text("Stop for today.")
    page.get_by_role("button", name="See what to do").click()
    alone(page, "Stop for today.")
    expect(answer(page)).to_contain_text("Nothing you tapped here was kept or sent.")
    expect(answer(page).get_by_role("button", name="Tell my teacher about my hand")).to_be_visible()
    phone.page.wait_for_timeout(500)
    phone.context.clock.fast_forward(310_000)
    phone.page.wait_for_timeout(500)
    sent = [one for one in asked if one.method != "GET" or "/s/" in one.url]
    assert sent == []
    assert page.evaluate("() => JSON.stringify(localStorage)").count("severe") == 0
    assert phone.waiting() == []
    page.reload()
    expect(answer(page)).to_be_hidden()
    assert len(notes(phone, NO_CONSENT)) == before
    feel(page, 0)
    page.get_by_role("button", name="See what to do").click()
    expect(page.locator("[data-nothing]")).to_contain_text("Nothing you answered asks for a rest.")
    feel(page, 5, "wrist")
    page.get_by_role("button", name="See what to do").click()
    alone(page, "Rest the barres today.")
    easy_to_use(page)


# -- enough for today ------------------------------------------------------------------------------------------------


def test_over_the_days_most_start_is_no_main_action_before_and_after_a_reload(new_phone: Phones) -> None:
    phone = new_phone(name="Horace Penhallow")
    page = phone.page
    start = page.locator(".timer [data-start]")
    expect(start).to_have_class(re.compile("main"))
    expect(page.locator("[data-enough]")).to_be_hidden()
    most = int(page.locator(".timer").get_attribute("data-most") or 0)
    done = int(page.locator(".timer").get_attribute("data-done") or 0)
    phone.start()
    phone.play_watched((most - done) * 60 + 1)
    heading = page.get_by_role("heading", level=1)
    expect(heading).to_have_text("That is enough for today.")
    expect(start).not_to_have_class(re.compile("main"))
    expect(page.locator("[data-enough]")).to_be_visible()
    phone.pause()
    phone.finish()
    send(page)
    phone.told("logged")
    expect(heading).to_have_text("That is enough for today.")
    phone.reload()
    expect(heading).to_have_text("That is enough for today.")
    expect(start).not_to_have_class(re.compile("main"))
    expect(page.locator("[data-enough] .rest")).not_to_have_count(0)
    easy_to_use(page)


# -- what a phone keeps of it ----------------------------------------------------------------------------------------


def test_leaving_takes_the_answer_away(new_phone: Phones) -> None:
    phone = new_phone(name="Maren Applegarth")
    feel(phone.page, 8, "palm")
    send(phone.page)
    alone(phone.page, "Stop for today.")
    answered_by_the_server(phone.page)
    phone.until("() => Object.keys(localStorage).some((key) => key.startsWith('ledgerline.hand.'))")
    phone.page.locator("footer details > summary").click()
    phone.page.get_by_role("button", name="Leave", exact=True).click()
    phone.page.wait_for_url("**/sign-in/")
    left = """() => new Promise((resolve) => {
        const asked = indexedDB.open("ledgerline");
        asked.onsuccess = () => {
            const all = asked.result.transaction("entries").objectStore("entries").getAllKeys();
            all.onsuccess = () => resolve([...all.result, ...Object.keys(localStorage)]);
        };
    })"""
    assert phone.page.evaluate(left) == []


# -- without JavaScript, and the family ------------------------------------------------------------------------------


@pytest.fixture
def plain(new_context: Callable[..., BrowserContext], studio: Studio) -> Callable[..., Page]:
    """plain(link, **options) -> a page on this module's server, without JavaScript unless the options say otherwise."""

    def open_one(link: str, **options: Any) -> Page:
        if not studio.runs:
            studio.start()
        settings = {"java_script_enabled": False, "locale": "en-GB", "reduced_motion": "reduce", **PHONE, **options}
        page = new_context(base_url=studio.server.address, **settings).new_page()
        page.goto(link)
        return page

    return open_one


def test_without_script_the_answer_is_the_next_page(plain: Callable[..., Page], studio: Studio) -> None:
    page = plain(studio.link_of("Pip Okonjo"))
    expect(page.get_by_text("With numbness, tingling or weakness:")).to_be_visible()
    expect(page.get_by_role("link", name="My hand hurts: stop")).to_be_visible()
    # what is missing is said, and what must not wait above it
    feel(page, 9)
    send(page)
    expect(page.get_by_role("alert").first).to_contain_text("Stop for today. Tell a grown-up at home today.")
    expect(page.locator("#log .summary")).to_contain_text("Say where")
    feel(page, 9, "wrist")
    send(page)
    page.wait_for_url("**/hand/answer/?note=*")
    alone(page, "Stop for today. Tell a grown-up at home today.")
    page.get_by_role("link", name="Go on").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Stop for today.")
    expect(page.locator(".timer, ol.goals")).to_have_count(0)
    assert "Start with" not in page.locator("main").inner_text()


def test_without_script_and_consent_it_is_answered_and_nothing_kept(plain: Callable[..., Page], studio: Studio) -> None:
    page = plain(studio.link_of(NO_CONSENT))
    feel(page, 8, "wrist")
    page.get_by_role("button", name="See what to do").click()
    page.wait_for_url("**/hand/ask/")
    alone(page, "Stop for today.")
    expect(page.locator("main")).to_contain_text("Nothing you tapped here was kept or sent.")
    expect(page.get_by_role("button", name="Tell my teacher about my hand")).to_be_visible()
    name = "SELECT COUNT(*) FROM practice_handnote WHERE student_id = (SELECT id FROM students_student WHERE name = ?)"
    assert studio.rows(name, NO_CONSENT) == [(0,)]


def test_a_family_says_it_for_a_child_and_reads_its_own_answer(plain: Callable[..., Page], studio: Studio) -> None:
    page = plain(studio.server.guardian, java_script_enabled=True)
    home = page.url.split("?")[0]
    page.goto(home + "log/")
    page.get_by_role("group", name=re.compile("hand feel")).get_by_label("8", exact=True).check()
    expect(page.locator("[data-alarm]")).to_contain_text("No more playing today.")
    page.get_by_role("link", name=re.compile("Only about")).click()
    page.get_by_role("group", name=re.compile("hand feel")).get_by_label("8", exact=True).check()
    page.locator("input[name=hand][value=fretting]").check(force=True)
    page.locator("[data-place=wrist]").click()
    page.get_by_role("button", name="Send to the teacher").click()
    page.wait_for_url("**/hand/answer/?note=*")
    alone(page, "No more playing today.")
    easy_to_use(page)
    page.get_by_role("button", name="I tapped that by mistake").click()
    expect(page.get_by_role("status")).to_contain_text("Taken back.")


# -- last, since it stops whoever the first tests played with --------------------------------------------------------


def test_the_emergency_answer_stands_alone_and_offers_nothing_to_play(new_phone: Phones) -> None:
    name = "Callum Restarick"
    phone = new_phone(name=name)
    page = phone.page
    feel(page, 0)
    tick(page, "numb")
    page.locator("input[name=face_arm_leg][value=yes]").check(force=True)
    send(page)
    alone(page, "Call the emergency number now.")
    answered_by_the_server(page)
    expect(answer(page).locator(".rest")).to_have_count(0)
    # painless, without a place, and kept
    assert notes(phone, name, "discomfort, place, face_arm_leg")[0] == (0, "", 1)
    easy_to_use(page)


def test_taking_a_consent_back_says_what_ends_and_asks_the_teacher_to_talk(
    plain: Callable[..., Page], studio: Studio
) -> None:
    name = "Femke Adair"
    page = plain(studio.link_of(name))
    feel(page, 5, "wrist")
    send(page)
    page.wait_for_url("**/hand/answer/?note=*")
    page.get_by_role("link", name="Go on").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Rest the barres today.")
    page.get_by_role("link", name="What is kept about your hand").click()
    for ends in ("barre chords that rest, fewer minutes, a stop", "Just now the plan is eased", "is asked"):
        expect(page.locator("main")).to_contain_text(ends)
    page.get_by_role("button", name="Withdraw my consent").click()
    expect(page.get_by_text("Your consent is withdrawn.")).to_be_visible()
    page.goto(studio.link_of(name))
    expect(page.get_by_role("heading", level=1)).to_contain_text("Start with")
    expect(page.get_by_text("Nothing you answer here is kept or sent.")).to_be_visible()
    teacher = sign_in(plain("about:blank"), studio.server)
    teacher.goto("/roster/")
    teacher.get_by_role("link", name=name).first.click()
    teacher.wait_for_url("**/students/*/")
    teacher.goto(f"{teacher.url}hand/")
    expect(teacher.locator("main")).to_contain_text("talk the plan over")
