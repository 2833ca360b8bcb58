"""The root drill in a real browser: the clock is the wall's, the marks are the core's, a drill is stored once."""

import json
import random
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from practice.measures import MEASURES
from studio import theory
from studio.theory.drill import Answer, pick, questions, ready_for_twelve, weights
from tests.browser.phone import KEPT, NO_ROOM, PAGE_ALONE, Phone
from tests.browser.served import PHONE, WIDE, Server, sign_in
from tests.browser.test_pages import code_in, violations

SMALL = {**PHONE, "viewport": {"width": 320, "height": 568}}


def to_drill(page: Page, goal: str = "Roots, 6th string") -> None:
    """From the student's page to the drill of a goal."""
    page.locator("li.goal").filter(has_text=goal).get_by_role("link", name="Drill these notes").click()
    # a click returns before the next page's scripts have run, and what a test evaluates waits for nothing
    page.wait_for_url("**/drill/**")


@pytest.fixture
def drill_page(student_page: Page) -> Page:
    """On the drill of the demo student's goal: the naturals of the 6th string, right answers a minute."""
    student_page.clock.install()
    to_drill(student_page)
    # well ahead: on a busy machine a second may pass on the way, and a clock is not paused in the past
    student_page.clock.pause_at(student_page.evaluate("Date.now() / 1000 + 30"))
    return student_page


def data_of(page: Page) -> dict:
    return json.loads(page.locator("#drill-data").text_content() or "")


def question_of(page: Page, data: dict) -> dict:
    text = page.locator("[data-question]").inner_text()
    return next(question for question in data["questions"].values() if question["text"] == text)


def give(page: Page, data: dict, right: bool = True) -> dict:
    """Taps a right or a wrong answer to the question that is asked."""
    question = question_of(page, data)
    answer = next(answer for answer, (is_right, _) in question["marks"].items() if is_right is right)
    page.locator(f'[data-answers] button[value="{answer}"]').click()
    expect(page.locator("[data-mark]")).to_contain_text(question["marks"][answer][1])
    return question


def entries(page: Page, student: str) -> list[str]:
    """The student's newest entries as the teacher reads them, newest first."""
    page.goto(f"/students/{student}/entries/")
    return [" ".join(text.split()) for text in page.locator("main tbody tr").all_inner_texts()]


def stored(page: Page) -> str:
    page.get_by_role("button", name="Send to my teacher").click()
    told = page.locator("[data-told]")
    expect(told).to_contain_text("logged")
    return told.inner_text()


# -- a round --------------------------------------------------------------------------------------------------------


@pytest.mark.long
def test_a_minute_is_measured_by_the_wall_clock_and_stored(drill_page: Page) -> None:
    page = drill_page
    data = data_of(page)
    assert (data["measure"], len(data["whole"])) == ("right", 7)
    page.get_by_role("button", name="Start").click()
    for number in range(1, 16):
        # 4 s an answer: at 60 s, with the fifteenth, the minute is over
        page.clock.run_for(4000)
        give(page, data)
        if number < 15:
            expect(page.locator("[data-count]")).to_have_text(f"{number} right")
    expect(page.locator("[data-sum]")).to_have_text("15 right in 60 s.")
    expect(page.locator("[data-sends]")).to_have_text(
        "This goes to your teacher: 15 right a minute, your first round, and 1 min of practice."
    )
    assert stored(page) == "1 minute logged, with 1 goal."
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    expect(page.locator("main")).to_contain_text("last 15 right / min")


def test_what_is_missed_is_said_in_words_and_comes_again(drill_page: Page) -> None:
    page = drill_page
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    missed = give(page, data, right=False)
    expect(page.locator("[data-mark]")).to_contain_text(missed["walk"])
    expect(page.locator("[data-keys]")).to_be_hidden()
    page.get_by_role("button", name="Next note").click()
    assert question_of(page, data) != missed
    seen = []
    for _ in range(6):
        page.clock.run_for(1000)
        seen.append(give(page, data)["note"])
    page.get_by_role("button", name="Finish").click()
    expect(page.locator("[data-missed]")).to_have_text(f"Missed: {missed['note']}.")
    expect(page.locator("[data-sends]")).to_have_text("This goes to your teacher: 6 s of practice.")
    page.get_by_role("button", name="Do not store it").click()
    expect(page.get_by_role("button", name="Start")).to_be_visible()


def test_all_strings_come_after_the_goals_own_and_are_not_measured(drill_page: Page) -> None:
    page = drill_page
    page.goto(page.url + "?strings=all")
    data = data_of(page)
    assert len(data["whole"]) == 6 * 12
    page.get_by_role("button", name="Start").click()
    for _ in range(15):
        page.clock.run_for(4000)
        give(page, data)
    expect(page.locator("[data-sum]")).to_have_text("15 right in 60 s.")
    expect(page.locator("[data-sends]")).to_have_text("This goes to your teacher: 1 min of practice.")
    assert stored(page) == "1 minute logged, with 1 goal."
    expect(page.get_by_role("link", name="All strings")).to_have_attribute("aria-current", "page")


def test_time_away_is_no_practice_and_no_measurement(drill_page: Page) -> None:
    page = drill_page
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    give(page, data)
    page.clock.run_for(3_600_000)
    give(page, data)
    expect(page.locator("[data-why]")).to_contain_text("You were away")
    expect(page.locator("[data-sends]")).to_have_text("This goes to your teacher: 2 min of practice.")


def test_a_clock_that_is_set_back_takes_nothing(drill_page: Page) -> None:
    page = drill_page
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    page.clock.run_for(5000)
    give(page, data)
    page.clock.set_system_time(page.evaluate("Date.now() / 1000 - 86400"))
    give(page, data)
    page.clock.run_for(5000)
    give(page, data)
    page.get_by_role("button", name="Finish").click()
    expect(page.locator("[data-sends]")).to_have_text("This goes to your teacher: 10 s of practice.")
    assert "logged" in stored(page)


def test_on_the_guitar_the_player_finds_and_judges(drill_page: Page) -> None:
    page = drill_page
    page.get_by_role("link", name="On the guitar").click()
    page.wait_for_url("**asks=guitar")
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    first = question_of(page, data)
    expect(page.get_by_role("button", name="I had it")).to_be_hidden()
    page.get_by_role("button", name="Found it").click()
    expect(page.locator("[data-mark]")).to_have_text(f"{first['place']} {first['walk']}".strip())
    page.get_by_role("button", name="I was elsewhere").click()
    assert question_of(page, data) != first
    page.get_by_role("button", name="Found it").click()
    page.get_by_role("button", name="I had it").click()
    expect(page.locator("[data-count]")).to_have_text("1 right")


@pytest.mark.long
def test_twelve_against_the_clock_once_the_seven_sit(
    open_page: Callable[..., Page], server: Server, drill_page: Page
) -> None:
    page = drill_page
    student = code_in(page.url)
    desk = sign_in(open_page(**WIDE), server)
    desk.goto(f"/students/{student}/goals/set/?kind=roots&string=5&notes=twelve&measure=seconds&target=40")
    desk.get_by_role("button", name="Set the goal").click()
    expect(desk.locator(".message.success")).to_be_visible()

    page.goto(f"/s/{student}/")
    to_drill(page, "Roots, 5th string")
    data = data_of(page)
    expect(page.locator("[data-about]")).to_contain_text("First the seven naturals")
    page.get_by_role("button", name="Start").click()
    for again in (False, True):
        notes = set()
        for _ in range(7):
            page.clock.run_for(1000)
            notes.add(give(page, data)["note"])
        assert notes == set("ABCDEFG")
        expect(page.locator("[data-why]")).to_contain_text("The seven come first")
        page.get_by_role("button", name="Another round").click()
        expect(page.locator("[data-count]")).to_have_text("0 of 12 right" if again else "0 of 7 right")
    page.clock.run_for(2500)
    missed = give(page, data, right=False)["note"]
    page.clock.run_for(500)
    page.get_by_role("button", name="Next note").click()
    notes = []
    for _ in range(12):
        page.clock.run_for(3000)
        notes.append(give(page, data)["note"])
    assert len(set(notes)) == 12
    assert missed in notes
    expect(page.locator("[data-sum]")).to_have_text("All 12 right in 39 s.")
    # a second round does not take the first one's place
    page.get_by_role("button", name="Another round").click()
    for _ in range(12):
        page.clock.run_for(1000)
        give(page, data)
    expect(page.locator("[data-sends]")).to_contain_text("39 s, your first round")
    assert stored(page) == "1 minute logged, with 1 goal."
    expect(page.locator("main")).to_contain_text("last 39 s")


def test_the_practice_timer_stands_still_beside_a_drill(drill_page: Page) -> None:
    page = drill_page
    page.get_by_role("link", name="Practise").click()
    page.wait_for_url(re.compile(r"/s/[^/]+/$"))
    page.locator("[data-timer] [data-start]").click()
    page.clock.run_for(30_000)
    to_drill(page)
    page.clock.run_for(60_000)
    page.get_by_role("link", name="Practise").click()
    expect(page.locator("[data-clock]")).to_have_text("00:30")
    expect(page.locator("[data-timer] [data-start]")).to_have_text("Start")


# -- never lost, never doubled ---------------------------------------------------------------------------------------


@pytest.mark.long
def test_a_reload_and_a_lost_connection_lose_nothing_and_twice_sent_is_stored_once(
    open_page: Callable[..., Page], server: Server, drill_page: Page
) -> None:
    page = drill_page
    student = code_in(page.url)
    desk = sign_in(open_page(**WIDE), server)
    before = entries(desk, student)
    page.context.add_init_script(PAGE_ALONE)
    page.reload()
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    for _ in range(3):
        page.clock.run_for(4000)
        give(page, data)
    page.reload()
    expect(page.locator("[data-sum]")).to_have_text("A drill that was not sent yet.")
    expect(page.locator("[data-sends]")).to_have_text("This goes to your teacher: 12 s of practice.")
    # the answer is lost on its way back: the server stored it, the phone is told something else by somebody between
    page.route("**/entries/*/", lambda route: (route.fetch(), route.fulfill(status=408, body="late"))[1])
    page.get_by_role("button", name="Send to my teacher").click()
    expect(page.locator("[data-told]")).to_contain_text("It waits on this phone")
    page.unroute("**/entries/*/")
    after = entries(desk, student)
    assert after[1:20] == before[:19]
    assert "Roots, 6th string" in after[0]
    page.reload()
    expect(page.locator("[data-told]")).to_have_text("1 minute logged, with 1 goal.")
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    assert entries(desk, student) == after


@pytest.mark.long
def test_a_drill_without_connection_or_server_waits_on_the_phone(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone(PAGE_ALONE)
    page = phone.page
    to_drill(page)
    phone.until(KEPT)
    phone.offline(True)
    page.reload()
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    for _ in range(5):
        phone.context.clock.run_for(4000)
        give(page, data)
    page.get_by_role("button", name="Finish").click()
    page.get_by_role("button", name="Send to my teacher").click()
    expect(page.locator("[data-told]")).to_contain_text("It waits on this phone")
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    phone.studio.kill()
    phone.offline(False)
    page.reload()
    expect(page.locator("[data-told]")).to_contain_text("It waits on this phone")
    page.goto(phone.path)
    phone.told("1 entry waiting to be sent")
    phone.studio.start()
    phone.later(lambda: not phone.waiting())
    ((seconds, parts),) = phone.new_entries().values()
    assert list(parts.values()) == [seconds] == [20]


@pytest.mark.long
def test_a_drill_that_is_not_taken_is_put_right_on_the_practice_page(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone(PAGE_ALONE)
    page = phone.page
    to_drill(page)
    data = data_of(page)
    page.get_by_role("button", name="Start").click()
    for _ in range(15):
        phone.context.clock.run_for(4000)
        give(page, data)
    no = {"error": "Please look at what is marked.", "errors": {"results.0.value": ["That is out of range."]}}
    page.route("**/entries/*/", lambda route: route.fulfill(status=422, json=no))
    page.get_by_role("button", name="Send to my teacher").click()
    expect(page.locator("[data-told]")).to_contain_text("It stands on your practice page")
    page.unroute("**/entries/*/")
    page.goto(phone.path)
    page.get_by_role("button", name="Put it right").click()
    part = page.locator("fieldset.part").filter(has_text="Roots, 6th string")
    expect(part.get_by_label("Minutes")).to_have_value("1:00")
    value = part.get_by_label("Right answers a minute, first try")
    expect(value).to_have_value("15")
    expect(value).to_have_attribute("aria-invalid", "true")
    value.fill("14")
    phone.send()
    phone.told("1 minute logged, with 1 goal.")
    assert len(phone.new_entries()) == 1
    assert phone.waiting() == []


@pytest.mark.parametrize("off", [False, True])
@pytest.mark.long
def test_a_full_phone_keeps_a_drill_while_its_page_is_open(new_phone: Callable[..., Phone], off: bool) -> None:
    phone = new_phone(NO_ROOM)
    page = phone.page
    to_drill(page)
    page.get_by_role("button", name="Start").click()
    phone.context.clock.run_for(9000)
    give(page, data_of(page))
    page.get_by_role("button", name="Finish").click()
    phone.offline(off)
    page.get_by_role("button", name="Send to my teacher").click()
    if off:
        expect(page.locator("[data-told]")).to_contain_text("leave this page open")
        expect(page.locator("[data-sends]")).to_contain_text("9 s of practice")
        phone.offline(False)
        phone.later(lambda: len(phone.new_entries()) == 1)
    expect(page.locator("[data-told]")).to_have_text("1 minute logged, with 1 goal.")
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    assert [seconds for seconds, _ in phone.new_entries().values()] == [9]


def test_without_a_script_a_question_is_answered_and_marked(open_page: Callable[..., Page], server: Server) -> None:
    page = open_page(java_script_enabled=False, **PHONE)
    page.goto(server.student)
    to_drill(page)
    expect(page.get_by_role("button", name="Start")).to_be_hidden()
    asked = re.match(r"Where is (\w+) on the (6)th string\?", page.locator("[data-question]").inner_text())
    assert asked is not None
    fret = theory.root_frets(6, asked[1])[0]
    page.get_by_role("button", name="open" if fret == 0 else str(fret), exact=True).click()
    expect(page.locator("[data-mark]")).to_contain_text(f"Right: {asked[1]} is")
    expect(page.locator("main")).to_contain_text("nothing is timed or stored")


# -- the script and the core agree -------------------------------------------------------------------------------------


# The measure, seconds, right answers, the value: whole, halves up; seconds begin at 5, right answers end at 240.
ROUNDS = [
    ("seconds", 48.3, 12, 48),
    ("seconds", 48.5, 12, 49),
    ("seconds", 3.0, 2, None),
    ("seconds", 0.0, 12, None),
    ("right", 60.0, 21, 21),
    ("right", 61.5, 21, 20),  # 20.49
    ("right", 60.0, 0, 0),
    ("right", 1.0, 1000, None),
]


def test_the_result_of_a_round(drill_page: Page) -> None:
    for measure, took, right, value in ROUNDS:
        given = [measure, took, right, 60, [MEASURES[measure].lowest, MEASURES[measure].highest]]
        assert drill_page.evaluate("(given) => ledgerlineDrill.value(...given)", given) == value, given


def test_the_script_asks_as_the_core_does(drill_page: Page) -> None:
    draw = random.Random(20)
    pool = questions(6)
    naturals = questions(6, naturals_only=True)
    cases = []
    for _ in range(300):
        length = draw.choice((0, 1, 5, 14, 40))
        history = [
            (draw.choice(pool).id, draw.random() < 0.8, draw.choice((None, 1.0, 4.999, 5.0, 9.0)))
            for _ in range(length)
        ]
        if draw.random() < 0.3:
            history += [(question.id, True, 2.0) for question in naturals] * 2
        cases.append({"history": history, "at": draw.random(), "count": draw.choice((1, 2, 7, 12))})
    ids = [question.id for question in pool]
    got = drill_page.evaluate(
        """([ids, naturals, cases]) => cases.map(({history, at, count}) => [
            ledgerlineDrill.weights(ids.slice(0, count), history),
            ledgerlineDrill.pick(ids.slice(0, count), history, at),
            ledgerlineDrill.ready(naturals, history),
        ])""",
        [ids, [question.id for question in naturals], cases],
    )
    ready = 0
    for case, (their_weights, their_pick, their_ready) in zip(cases, got, strict=True):
        history = [Answer(*answer) for answer in case["history"]]
        asked = pool[: case["count"]]
        assert their_weights == pytest.approx(list(weights(asked, history)), rel=1e-12)
        assert their_pick == pick(asked, history, case["at"]).id
        assert their_ready is ready_for_twelve(naturals, history)
        ready += their_ready
    assert 0 < ready < len(cases)


# -- looked at -----------------------------------------------------------------------------------------------------


def wrong_here(page: Page, where: str) -> list[str]:
    """Violations, a page wider than its screen, and controls under 44 px."""
    wrong = [f"{where}: {said}" for said in violations(page)]
    beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if beyond > 0:
        wrong.append(f"{where}: {beyond} px too wide")
    for control in page.locator("main button:visible, main a.button:visible, main .tabs a:visible").all():
        box = control.bounding_box()
        if box is not None and (box["height"] < 44 or box["width"] < 44):
            wrong.append(f"{where}: {control.inner_text()} is {box['width']:.0f} x {box['height']:.0f} px")
    return wrong


@pytest.mark.parametrize(
    ("scheme", "screen"),
    [pytest.param("light", SMALL, id="320 light"), pytest.param("dark", PHONE, id="390 dark")],
)
@pytest.mark.long
def test_every_state_is_accessible_and_fits(
    open_page: Callable[..., Page], server: Server, scheme: str, screen: dict
) -> None:
    page = open_page(color_scheme=scheme, **screen)
    page.goto(server.student)
    student = code_in(page.url)
    to_drill(page)
    address = page.url
    wrong = []
    for asks in ("find", "name", "guitar"):
        page.goto(f"{address}?asks={asks}")
        wrong += wrong_here(page, f"{asks}, start")
        page.get_by_role("button", name="Start").click()
        wrong += wrong_here(page, f"{asks}, asked")
        if asks == "guitar":
            page.get_by_role("button", name="Found it").click()
        else:
            give(page, data_of(page), right=False)
        wrong += wrong_here(page, f"{asks}, marked")
        page.get_by_role("button", name="Finish").click()
        wrong += wrong_here(page, f"{asks}, end")
        page.get_by_role("button", name="Do not store it").click()
    page.goto(f"/s/{student}/progress/")
    page.wait_for_selector(".chart svg")
    wrong += wrong_here(page, "progress")
    page.goto(f"/s/{student}/progress/charts/")
    wrong += wrong_here(page, "charts")
    desk = sign_in(open_page(color_scheme=scheme, **screen), server)
    desk.goto(f"/students/{student}/link/qr/")
    wrong += wrong_here(desk, "code")
    assert wrong == []
