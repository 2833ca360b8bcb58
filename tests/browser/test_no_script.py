"""The same work without JavaScript: plain pages first, scripts only improve them."""

import datetime as dt
import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.browser.served import PHONE, WIDE, Server, sign_in


def test_a_goal_is_looked_at_and_set_without_script(open_page: Callable[..., Page], server: Server) -> None:
    page = open_page(java_script_enabled=False, **WIDE)
    page.goto(server.student)
    code = page.url.split("/")[4]
    sign_in(page, server)
    page.goto(f"/students/{code}/goals/set/")
    page.get_by_label("Shape").select_option(label="open D")
    page.get_by_label("Root").fill("D")
    page.get_by_role("button", name="Look").click()
    look = page.locator("#goal-look")
    expect(look.get_by_role("heading").first).to_contain_text("D, open")
    expect(look.locator("svg").first).to_be_visible()
    expect(page.get_by_label("Root")).to_have_value("D")

    # a chord outside the key: not seen yet, so it is said before it is set
    page.get_by_label("Key", exact=False).first.fill("F")
    page.get_by_role("button", name="Set the goal").click()
    expect(page.get_by_role("alert").filter(has_text="something to know first")).to_be_visible()
    expect(look.locator(".caution").filter(has_text="F major").first).to_be_visible()
    expect(page.get_by_label("Root")).to_have_value("D")
    page.get_by_role("button", name="Set the goal").click()
    page.wait_for_url(f"**/students/{code}/")
    expect(page.get_by_role("status")).to_contain_text("Set: D, open")


def test_a_session_is_logged_without_script(open_page: Callable[..., Page], server: Server) -> None:
    page = open_page(java_script_enabled=False, **PHONE)
    page.goto(server.student)
    code = page.url.split("/")[4]
    expect(page.get_by_role("button", name="Start")).to_be_hidden()
    goal = page.locator("li.goal h2").first.inner_text()
    yesterday = dt.date.fromisoformat(page.get_by_label("Day").input_value()) - dt.timedelta(days=1)
    page.get_by_label("Day").fill(yesterday.isoformat())
    page.get_by_role("group", name=goal, exact=True).get_by_label("Minutes").fill("7")
    page.get_by_role("group", name="How tiring for the hand?").get_by_label("3", exact=True).check()
    words = "Played it with the window open."
    page.get_by_label("Note to the teacher").fill(words)
    page.get_by_label("Minutes altogether").fill("twelve or so")
    page.get_by_role("button", name="Send to my teacher").click()

    # what was typed is still there, and beside the field stands what is wrong with it
    total = page.get_by_label("Minutes altogether")
    expect(total).to_have_value("twelve or so")
    expect(total).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("Note to the teacher")).to_have_value(words)
    expect(page.get_by_role("group", name="How tiring for the hand?").get_by_label("3", exact=True)).to_be_checked()
    total.fill("9")
    page.get_by_role("button", name="Send to my teacher").click()
    page.wait_for_url(re.compile(r"logged="))

    teacher = sign_in(open_page(java_script_enabled=False, **WIDE), server)
    teacher.goto(f"/students/{code}/entries/")
    entry = teacher.get_by_role("row").filter(has_text=words)
    expect(entry).to_have_count(1)
    expect(entry.get_by_role("cell", name="9", exact=True)).to_be_visible()


def test_the_roster_is_sorted_and_narrowed_without_script(
    open_page: Callable[..., Page], server: Server
) -> None:
    page = sign_in(open_page(java_script_enabled=False, **WIDE), server)
    page.goto("/roster/")
    everybody = page.locator("tbody tr").count()
    page.get_by_role("link", name="Minutes this week").click()
    page.wait_for_url("**sort=**")
    minutes = [int(text) for text in page.locator("tbody td.n b").all_inner_texts()]
    assert len(minutes) == everybody > 20
    assert minutes in (sorted(minutes), sorted(minutes, reverse=True))
    page.get_by_label("Needs attention").check()
    page.get_by_role("button", name="Show").click()
    page.wait_for_url("**attention=**")
    assert 0 < page.locator("tbody tr").count() < everybody
