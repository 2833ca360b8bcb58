"""The whole loop in real browsers: a goal is set, practised and logged; teacher and family see what came of it."""

import datetime as dt
import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.served import Server

MINUTES = 6


def roster_row(page: Page, name: str) -> Locator:
    page.goto("/roster/")
    return page.get_by_role("row").filter(has=page.get_by_role("link", name=name, exact=True))


def minutes_this_week(row: Locator) -> int:
    said = re.search(r"(\d+) of \d+", row.inner_text())
    assert said is not None
    return int(said[1])


def first_row(page: Page, heading: str) -> list[str]:
    """The newest row of the table under the chart of that heading."""
    chart = page.locator("figure.chart").filter(has=page.get_by_role("heading", name=heading, exact=True))
    return [text.strip() for text in chart.locator("tbody tr").first.locator("th, td").all_text_contents()]


def offers(page: Page, home: str) -> dict[str, str]:
    """What could come next, each with its first reason in words and a way to set it."""
    page.goto(f"{home}next/")
    found = {}
    for offer in page.locator("li.goal").all():
        expect(offer.get_by_role("button", name=re.compile("Set as a goal, due "))).to_be_visible()
        reason = offer.locator("p").first.inner_text()
        assert re.match(r"\w+ .{10,}\.", reason)
        found[offer.get_by_role("heading").inner_text()] = reason
    return found


def choose_chord(page: Page, shape: str, root: str) -> None:
    page.get_by_label("Shape").select_option(label=shape)
    page.get_by_label("Root").fill(root)


def test_from_a_goal_to_the_familys_week(
    teacher_page: Page, student_page: Page, guardian_page: Page, server: Server
) -> None:
    # -- the student's name, from the page that the family opened
    name = teacher_sees_name(teacher_page, student_page)
    row = roster_row(teacher_page, name)
    minutes_before = minutes_this_week(row)
    expect(row).not_to_contain_text("About the hand")

    # -- the teacher: roster -> student -> a goal, looked at before it is set
    row.get_by_role("link", name=name).click()
    expect(teacher_page.get_by_role("heading", level=1)).to_have_text(name)
    expect(teacher_page.get_by_role("link", name="Set a goal")).to_be_visible()
    home = teacher_page.url
    goals_before = teacher_page.locator("table.goals tbody tr").count()
    offered = offers(teacher_page, home)
    assert len(offered) == 3
    teacher_page.goto(f"{home}goals/set/")
    look = teacher_page.locator("#goal-look")
    choose_chord(teacher_page, "E-shape minor", "F#")
    expect(look.get_by_role("heading").first).to_contain_text("F#m")
    expect(look.locator("svg").first).to_be_visible()
    caution = look.locator(".caution").filter(has_text="barre").first
    expect(caution).to_be_visible()
    way_out = caution.get_by_role("link").first
    expect(way_out).to_be_visible()
    teacher_page.get_by_label("Root").fill("H")
    expect(look.locator(".stop")).to_be_visible()
    teacher_page.get_by_label("Root").fill("B")
    expect(look.get_by_role("heading").first).to_contain_text("Bm")
    expect(look).to_contain_text("fret 7")
    expect(teacher_page.get_by_label("Target")).to_have_value("6")
    title = look.get_by_role("heading").first.inner_text()
    teacher_page.get_by_label("Your words to the student").fill("Roll the index finger towards its side.")
    teacher_page.get_by_role("button", name="Set the goal").click()
    teacher_page.wait_for_url(home)
    expect(teacher_page.get_by_role("status")).to_contain_text(f"Set: {title}")
    assert teacher_page.locator("table.goals tbody tr").count() > goals_before

    # -- the student: the goal stands on the phone with its diagram; a session is timed and logged
    began = dt.datetime.now() - dt.timedelta(minutes=MINUTES)
    student_page.clock.install(time=began)
    student_page.reload()
    goal = student_page.locator("li.goal").filter(has_text=title)
    expect(goal.locator("svg").first).to_be_visible()
    expect(goal).to_contain_text("Roll the index finger towards its side.")
    while student_page.locator(".timer [data-now]").inner_text() != title:
        student_page.get_by_role("button", name="Next goal").click()
    student_page.get_by_role("button", name="Start").click()
    student_page.clock.fast_forward(MINUTES * 60 * 1000)
    student_page.get_by_role("button", name="Finish").click()
    part = student_page.get_by_role("group", name=title, exact=True)
    expect(part.get_by_label("Minutes")).to_have_value(re.compile(rf"0{MINUTES}:0\d"))
    part.get_by_label("Clean strings, first try").fill("4")
    student_page.get_by_role("group", name="How tiring for the hand?").get_by_label("6", exact=True).check()
    student_page.get_by_role("group", name="How does your hand feel?").get_by_label("5", exact=True).check()
    # what is not 0 opens the questions by itself
    student_page.get_by_label("the hand that presses, left", exact=True).check()
    student_page.get_by_role("button", name="wrist", exact=True).click()
    expect(student_page.get_by_role("radio", name="wrist", exact=True)).to_be_checked()
    student_page.get_by_label("What it is like").select_option("ache")
    student_page.get_by_label("It goes away").select_option("within the hour")
    student_page.get_by_role("button", name="Send to my teacher").click()
    # what the hand asks for is seen first, and alone
    expect(student_page.get_by_role("heading", level=1)).to_contain_text("Rest the barres today.")
    expect(student_page.locator("[data-told]")).to_contain_text("logged")
    expect(student_page.locator("[data-clock]")).to_have_text("00:00")

    # -- the teacher: the roster, the chart's table, the hand note behind one tap
    row = roster_row(teacher_page, name)
    assert minutes_this_week(row) == minutes_before + MINUTES
    about = row.get_by_text("About the hand")
    expect(about).to_be_visible()
    reason = row.locator("details p")
    expect(reason).to_be_hidden()
    about.click()
    expect(reason).to_be_visible()

    teacher_page.goto(f"{home}charts/")
    assert first_row(teacher_page, "Minutes by week")[1] == str(minutes_before + MINUTES)
    assert first_row(teacher_page, "Discomfort and minutes on barres")[2] == "5"
    line = teacher_page.get_by_role("heading", name=title, exact=True)
    expect(teacher_page.locator("figure.chart").filter(has=line)).to_be_visible()
    weeks = teacher_page.locator("figure.chart").filter(has=teacher_page.get_by_role("heading", name="Minutes by week"))
    expect(weeks.locator("svg")).to_contain_text(f"{minutes_before + MINUTES} so far")

    teacher_page.goto(f"{home}hand/")
    expect(teacher_page.locator("main")).to_contain_text("5 of 10, wrist (fretting hand), ache, within the hour")

    # -- the hand's note turns what could come next
    eased = offers(teacher_page, home)
    assert eased
    assert not set(offered) & set(eased)
    # the reason waits behind one tap, like the note itself
    reason = teacher_page.get_by_text("paused for the hand")
    expect(reason).to_be_hidden()
    teacher_page.get_by_text("About the hand").click()
    expect(reason).to_be_visible()

    # -- the guardian: the week that runs has these minutes, and the hand's
    # (from Saturday on it is the one that a family sees first)
    guardian_page.reload()
    later = guardian_page.get_by_role("link", name=re.compile("the week after"))
    if later.count():
        later.click()
    expect(guardian_page.locator(".three")).to_contain_text(f"{minutes_before + MINUTES} minutes")
    expect(guardian_page.locator("main")).to_contain_text(title)


def teacher_sees_name(teacher_page: Page, student_page: Page) -> str:
    """The whole name of the student whose link was opened, as the teacher's page has it."""
    code = student_page.url.split("/")[4]
    teacher_page.goto(f"/students/{code}/")
    return teacher_page.get_by_role("heading", level=1).inner_text()
