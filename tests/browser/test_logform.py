"""The log on a phone: changes counted by taps, goals folded, the place tapped on a drawn hand, a timer that ran on with
nobody there, and a wish for a word that waits for the connection.

Real Chromium, a real server, a clock that the test moves: see tests/browser/phone.py.
"""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.phone import Phone
from tests.browser.served import PHONE, Server
from tests.browser.test_pages import violations

SMALLEST = 44  # px, the smallest control on a page that is used with one hand
ADULT = "Callum Restarick"  # four goals, consent given
NO_CONSENT = "Ash Merriweather"

Phones = Callable[..., Phone]


def changes_goal(phone: Phone) -> str:
    found = phone.page.locator(".part[data-measure=changes]").first.get_attribute("data-part")
    assert found
    return found


def counters(phone: Phone, goal: str) -> tuple[Locator, Locator]:
    """On the goal's card, and in the log."""
    both = phone.page.locator(f"[data-counter='{goal}']")
    expect(both).to_have_count(2)
    return both.first, both.last


def tick(phone: Phone, seconds: float) -> None:
    phone.context.clock.run_for(int(seconds * 1000))


def count(phone: Phone, where: Locator, seconds: int, taps: int) -> None:
    """A whole count with so many taps, and the end of it."""
    where.get_by_role("button", name=f"Count for {seconds} s").click()
    for _ in range(taps):
        tick(phone, (seconds - 1) / taps)
        where.get_by_role("button", name="Tap at each arrival").click()
    tick(phone, 1.5)


# -- counting changes ------------------------------------------------------------------------------------------------


@pytest.mark.long
def test_half_a_minute_is_doubled_and_lasts_as_the_wall_clock_says(new_phone: Phones) -> None:
    phone = new_phone(name=ADULT)
    goal = changes_goal(phone)
    card, log = counters(phone, goal)
    value = phone.page.locator(f"[name='value-{goal}']")
    card.get_by_role("button", name="Count for 30 s").click()
    tap = card.get_by_role("button", name="Tap at each arrival")
    expect(tap).to_be_focused()
    for _ in range(5):
        tick(phone, 2)
        tap.click()
    phone.reload()
    card, log = counters(phone, goal)
    tap = card.get_by_role("button", name="Tap at each arrival")
    expect(tap).to_contain_text("5")
    tick(phone, 5)
    tap.click()
    # the page is gone for a while, and the half minute is over meanwhile
    phone.context.clock.fast_forward(60_000)
    expect(card.get_by_role("status")).to_contain_text("Arrivals in 30 seconds: 6. Doubled, that is 12 a minute.")
    expect(log.get_by_role("status")).to_contain_text("12 a minute")
    expect(value).to_have_value("12")
    tap.click(force=True)  # one too many: it says that it is not to be used any more
    expect(value).to_have_value("12")
    tick(phone, 3)
    expect(tap).to_be_hidden()
    expect(card.get_by_role("button", name="Count for 60 s")).to_be_visible()
    phone.reload()
    expect(value).to_have_value("12")
    expect(counters(phone, goal)[1].get_by_role("status")).to_contain_text("today’s first try")


def test_the_first_try_stays_until_the_student_says_otherwise(new_phone: Phones) -> None:
    phone = new_phone(name=ADULT)
    goal = changes_goal(phone)
    _, log = counters(phone, goal)
    value = phone.page.locator(f"[name='value-{goal}']")
    count(phone, log, 60, 9)
    expect(value).to_have_value("9")
    tick(phone, 2)
    count(phone, log, 30, 7)
    expect(value).to_have_value("9")
    expect(log.get_by_role("status")).to_contain_text("Today’s first try counts, and it stays in the log: 9.")
    tick(phone, 2)
    log.get_by_role("button", name="Put 14 in its place").click()
    expect(value).to_have_value("14")
    phone.page.get_by_label("Minutes altogether").fill("5")
    phone.send()
    phone.told("logged")
    ((stored,),) = phone.studio.rows(
        "SELECT value FROM practice_result WHERE entry_id = (SELECT MAX(id) FROM practice_practiceentry)"
    )
    assert stored == 14
    # the next session begins without it
    tick(phone, 0.1)
    expect(log.get_by_role("status")).to_be_empty()
    expect(value).to_have_value("")
    # a first try of this day stands in the log already
    count(phone, log, 30, 3)
    expect(value).to_have_value("6")
    expect(log.get_by_role("status")).to_contain_text("Today’s first try is logged already and counts: 14.")


def test_changes_are_counted_by_key_and_a_key_held_down_is_one(new_phone: Phones) -> None:
    phone = new_phone(name=ADULT)
    card, _ = counters(phone, changes_goal(phone))
    card.get_by_role("button", name="Count for 30 s").focus()
    phone.page.keyboard.press("Enter")
    tap = card.get_by_role("button", name="Tap at each arrival")
    expect(tap).to_be_focused()
    for key in ("Space", "Enter", "Space"):
        phone.page.keyboard.press(key)
    expect(tap).to_contain_text("3")
    phone.page.keyboard.down("Enter")
    for _ in range(5):
        phone.page.keyboard.down("Enter")  # what a keyboard sends while a key is held
    phone.page.keyboard.up("Enter")
    expect(tap).to_contain_text("4")
    card.get_by_role("button", name="Stop, and count nothing").click()
    expect(card.get_by_role("button", name="Count for 30 s")).to_be_visible()
    expect(phone.page.locator(f"[name='value-{changes_goal(phone)}']")).to_have_value("")


# -- many goals ------------------------------------------------------------------------------------------------------


def test_what_was_practised_stands_first_and_the_rest_is_folded(new_phone: Phones) -> None:
    phone = new_phone()
    parts = phone.page.locator(".part")
    assert parts.count() >= 7
    others = phone.page.locator("[data-others]")
    phone.start()
    for _ in range(4):
        phone.next_goal()
    phone.play(70)
    phone.finish()
    open_parts = phone.page.locator("#log > .part")
    expect(open_parts).to_have_count(1)
    assert open_parts.get_attribute("data-part") == phone.goals[4]
    expect(others.locator("> summary")).to_have_text(f"Other goals ({parts.count() - 1})")
    folded = others.get_by_label("Minutes").first
    expect(folded).to_be_hidden()
    others.locator("> summary").focus()
    phone.page.keyboard.press("Enter")
    expect(folded).to_be_visible()
    # an error inside opens it
    folded.fill("seven or so")
    others.locator("> summary").click()
    expect(folded).to_be_hidden()
    phone.send()
    expect(folded).to_be_visible()
    expect(folded).to_have_attribute("aria-invalid", "true")
    folded.fill("")
    phone.send()
    phone.told("logged")


# -- the hand --------------------------------------------------------------------------------------------------------


def test_the_drawn_hand_and_the_list_stay_in_step(new_phone: Phones) -> None:
    phone = new_phone(name=ADULT)
    hand = phone.page.locator("#hand")
    expect(hand.locator("[data-drawn]")).to_be_hidden()  # one tap on 0 says it all
    hand.get_by_role("group", name="How does your hand feel?").get_by_label("3", exact=True).check()
    drawn = hand.locator("[data-drawn]")
    expect(drawn).to_contain_text("Your left hand")
    spots = drawn.get_by_role("button")
    places = hand.locator("input[name=place]")
    assert spots.count() == places.count() == 12
    for spot in spots.all():
        box = spot.locator(".hit").first.bounding_box()
        assert min(box["width"], box["height"]) >= SMALLEST - 0.5, spot.get_attribute("aria-label")
    for spot in spots.all():
        name = spot.get_attribute("aria-label")
        spot.click()
        place = spot.get_attribute("data-place")
        expect(hand.locator(f"input[name=place][value='{place}']")).to_be_checked()
        expect(spot).to_have_attribute("aria-pressed", "true")
        expect(drawn.locator("[aria-pressed=true]")).to_have_count(1)
        expect(drawn.get_by_role("status")).to_contain_text(str(name))
    hand.locator("input[name=place][value='palm']").check()
    expect(drawn.locator("[data-place=palm]")).to_have_attribute("aria-pressed", "true")
    drawn.locator("[data-place=third]").focus()
    phone.page.keyboard.press("Space")
    expect(hand.get_by_label("3 third finger")).to_be_checked()
    # the other hand is its mirror image, and its numbers can still be read
    hand.get_by_label("picking hand, right").check()
    expect(drawn).to_contain_text("Your right hand")
    first, last = (drawn.locator(f"[data-place={place}] .hit").bounding_box() for place in ("index", "little"))
    assert first["x"] > last["x"]
    phone.page.get_by_label("Minutes altogether").fill("5")
    phone.send()
    phone.told("logged")
    note = phone.studio.rows("SELECT discomfort, hand, place FROM practice_handnote ORDER BY id DESC LIMIT 1")
    assert note == [(3, "picking", "third")]


# discomfort, what is ticked, the questions that stand there: "4 or more" and "numbness or weakness" as
# practice/handcare.py, the others as practice/handrows.py
@pytest.mark.parametrize(
    ("discomfort", "ticked", "more", "help", "tip"),
    [
        pytest.param("3", "", False, False, False, marks=pytest.mark.long),
        pytest.param("4", "", True, False, False, marks=pytest.mark.long),
        pytest.param("1", "weak", True, True, False, marks=pytest.mark.long),
        ("1", "numb", True, True, True),
    ],
)
def test_a_question_shows_where_it_belongs_and_what_is_hidden_is_not_sent(
    new_phone: Phones, discomfort: str, ticked: str, more: bool, help: bool, tip: bool
) -> None:
    phone = new_phone(name=ADULT)
    hand = phone.page.locator("#hand")
    # first as bad as can be, with every question answered
    hand.get_by_role("group", name="How does your hand feel?").get_by_label("9", exact=True).check()
    hand.get_by_label("numb or tingling").check()
    hand.get_by_label("What it is like").select_option("ache")
    for name in ("face_arm_leg", "at_rest", "daily", "tip_only"):
        hand.locator(f"input[name={name}][value=no]").check()
    hand.get_by_label("fretting hand, left").check()
    hand.locator("[data-place=index]").click()
    # and then as it is
    hand.get_by_role("group", name="How does your hand feel?").get_by_label(discomfort, exact=True).check()
    hand.get_by_label("numb or tingling").uncheck()
    if ticked:
        hand.locator(f"input[name=also][value={ticked}]").check()
    expect(hand.locator("#id_at_rest")).to_be_visible(visible=more)
    expect(hand.locator("#id_face_arm_leg")).to_be_visible(visible=help)
    expect(hand.locator("#id_tip_only")).to_be_visible(visible=tip)
    assert hand.locator("[name=sudden]").count() == 0
    phone.page.get_by_label("Minutes altogether").fill("5")
    phone.send()
    phone.told("logged")
    columns = "at_rest, daily, face_arm_leg, tip_only, sudden"
    (answers,) = phone.studio.rows(f"SELECT {columns} FROM practice_handnote ORDER BY id DESC LIMIT 1")
    wanted = ((0, 0) if more else (None, None)) + ((0,) if help else (None,)) + ((0,) if tip else (None,)) + (None,)
    assert answers == wanted


# -- a timer that ran on ---------------------------------------------------------------------------------------------


def stay_away(phone: Phone, minutes: int) -> None:
    """The page is closed with its clock running, and opened again."""
    phone.page.goto("about:blank")
    phone.context.clock.fast_forward(minutes * 60_000)
    phone.page.goto(phone.path)
    phone.ready()


def away_question(page: Page) -> Locator:
    return page.get_by_role("region", name="The timer ran on")


# the answer, the minutes of the 63 that are counted
@pytest.mark.parametrize(
    ("said", "counted"),
    [pytest.param("all", 63, marks=pytest.mark.long), pytest.param("none", 0, marks=pytest.mark.long), ("some", 20)],
)
def test_a_long_time_with_the_page_closed_is_asked_about(new_phone: Phones, said: str, counted: int) -> None:
    phone = new_phone()
    phone.start()
    phone.play(120)
    stay_away(phone, 63)
    question = away_question(phone.page)
    expect(question).to_contain_text("The timer ran on for 63 minutes while this page was closed. Were you playing?")
    expect(phone.page.locator("[data-clock]")).to_have_text("02:00")
    phone.reload()  # nothing was assumed, and nothing is lost
    expect(question).to_contain_text("63 minutes")
    # what waits for an answer is not sent without it
    phone.finish()
    expect(question).to_be_focused()
    phone.send()
    expect(question).to_be_focused()
    assert phone.waiting() == []
    if said == "all":
        question.get_by_role("button", name="Yes: count all 63 minutes").click()
        # playing went on: so does the clock, until it is stopped
        expect(phone.page.locator(".timer [data-start]")).to_have_text("Pause")
        phone.tap("Pause")
    elif said == "none":
        question.get_by_role("button", name="No: only until I left").click()
    else:
        some = question.get_by_label("how many minutes")
        some.fill("64")
        question.get_by_role("button", name="Count these").click()
        expect(question.get_by_role("alert")).to_contain_text("from 0 to 63")
        some.fill(str(counted))
        phone.page.keyboard.press("Enter")
    expect(question).to_be_hidden()
    phone.finish()
    phone.spent = {phone.goals[0]: 120 + counted * 60}
    phone.send()
    phone.told("logged")
    phone.check_one_entry()


@pytest.mark.long
def test_a_shorter_stretch_is_asked_about_only_past_the_days_most(new_phone: Phones) -> None:
    phone = new_phone(name="Benedikt Sorley")
    timer = phone.page.locator(".timer")
    left = int(timer.get_attribute("data-most") or 0) - int(timer.get_attribute("data-done") or 0)
    assert left > 20
    phone.start()
    stay_away(phone, 11)
    expect(away_question(phone.page)).to_be_hidden()
    expect(phone.page.locator("[data-clock]")).to_have_text("11:00")
    phone.play_watched((left - 13) * 60)
    stay_away(phone, 11)
    expect(away_question(phone.page)).to_contain_text("The timer ran on for 11 minutes")


def test_a_phone_that_slept_with_its_page_open_is_asked_too(new_phone: Phones) -> None:
    phone = new_phone()
    phone.start()
    phone.play(60)
    phone.context.clock.fast_forward(50 * 60_000)
    expect(away_question(phone.page)).to_contain_text("50 minutes")
    expect(phone.page.locator("[data-clock]")).to_have_text("01:00")


# -- a wish for a word -----------------------------------------------------------------------------------------------


def wishes(phone: Phone) -> int:
    ((number,),) = phone.studio.rows("SELECT COUNT(*) FROM practice_tellteacher")
    return number


def test_tell_my_teacher_waits_for_the_connection_and_is_kept_once(new_phone: Phones) -> None:
    phone = new_phone(name=NO_CONSENT)
    before = wishes(phone)
    phone.offline(True)
    wish = phone.page.get_by_role("button", name="Tell my teacher about my hand")
    wish.click()
    phone.told("Your wish for a word with your teacher waits on this phone")
    wish.click()  # said twice, wished once
    phone.reload()
    phone.told("waits on this phone")
    assert [state for _, state in phone.waiting()] == ["waiting"]
    phone.studio.kill()
    phone.offline(False)
    phone.context.clock.fast_forward(310_000)
    phone.page.wait_for_timeout(300)
    assert len(phone.waiting()) == 1
    phone.connected_again()
    phone.told("Your teacher will see that you want a word about your hand.")
    assert wishes(phone) == before + 1
    assert phone.broken == []


ANSWER_LOST = """{
    const real = window.fetch;
    let lost = false;
    window.fetch = async (...asked) => {
        const answer = await real(...asked);
        if (lost || !String(asked[0]).includes("/tell/")) return answer;
        lost = true;
        throw new TypeError("the answer was lost");
    };
}"""


@pytest.mark.long
def test_a_wish_whose_answer_was_lost_is_kept_once(new_phone: Phones) -> None:
    phone = new_phone(ANSWER_LOST, name=NO_CONSENT)
    before = wishes(phone)
    phone.page.get_by_role("button", name="Tell my teacher about my hand").click()
    phone.told("waits on this phone")
    phone.later(lambda: wishes(phone) > before)
    phone.connected_again()
    phone.told("Your teacher will see")
    assert wishes(phone) == before + 1


# -- for every hand and eye ------------------------------------------------------------------------------------------

TOO_SMALL = """(smallest) => [...document.querySelectorAll(
        "button, .button, select, textarea, summary, [role=button], .chip, input:not([type=hidden]):not(.chip input)"
    )].filter((one) => one.checkVisibility() && !one.closest("[role=button] *"))
    .map((one) => [one, one.querySelector(".hit") || one.closest(".tick > label") || one])
    .map(([one, whole]) => [one, whole.getBoundingClientRect()])
    .filter(([one, box]) => box.height < smallest - .5 || box.width < smallest - .5)
    .map(([one, box]) => `${one.outerHTML.slice(0, 80)} ${one.textContent.trim()} ${box.width} ${box.height}`)"""


@pytest.mark.parametrize("scheme", [pytest.param("light", marks=pytest.mark.long), "dark"])
@pytest.mark.parametrize(
    "name",
    [
        pytest.param("", id="child"),
        pytest.param(ADULT, id="adult", marks=pytest.mark.long),
        pytest.param(NO_CONSENT, id="no-consent"),
    ],
)
def test_all_of_it_is_large_enough_and_said(new_phone: Phones, name: str, scheme: str) -> None:
    phone = new_phone(name=name, color_scheme=scheme)
    phone.start()
    phone.play(60)
    phone.context.clock.fast_forward(50 * 60_000)
    expect(away_question(phone.page)).to_be_visible()
    card, _ = counters(phone, changes_goal(phone))
    card.get_by_role("button", name="Count for 30 s").click()
    if phone.page.locator("#hand").count():
        phone.page.locator("input[name=discomfort]").last.check()
        for code in ("numb", "fell"):
            phone.page.locator(f"input[name=also][value={code}]").check()
        phone.page.locator("input[name=face_arm_leg][value=yes]").check()
        phone.page.locator("[data-place=thumb]").click()
    phone.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert phone.page.evaluate(TOO_SMALL, SMALLEST) == []
    phone.context.clock.resume()  # axe-core waits by the page's own clock
    assert violations(phone.page) == []
    assert phone.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    assert phone.broken == []


def test_without_script_all_of_it_is_there(open_page: Callable[..., Page], server: Server) -> None:
    page = open_page(java_script_enabled=False, **PHONE)
    page.goto(server.student)
    expect(page.locator("[data-counter]").first).to_be_hidden()
    expect(page.locator("[data-away]")).to_be_hidden()
    expect(page.locator("[data-drawn]")).to_be_hidden()
    others = page.locator("[data-others]")
    expect(others.get_by_label("Minutes").first).to_be_hidden()
    others.locator("> summary").click()
    expect(others.get_by_label("Minutes").first).to_be_visible()
    expect(page.get_by_text("If it is not 0:")).to_be_visible()
    for name in ("also", "face_arm_leg", "place", "at_rest", "tip_only"):
        expect(page.locator(f"input[name={name}]").first).to_be_visible()
    part = page.locator(".part[data-measure=changes]").first
    title = part.locator("legend").inner_text()
    today = date.fromisoformat(page.get_by_label("Day").input_value())
    page.get_by_label("Day").fill((today - timedelta(days=1)).isoformat())
    page.get_by_role("group", name=title, exact=True).get_by_label("Changes a minute, first try").fill("24")
    page.get_by_label("Minutes altogether").fill("9")
    page.get_by_role("button", name="Send to my teacher").click()
    page.wait_for_url("**logged=**")
