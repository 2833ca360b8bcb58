"""The printed sheet and the page that copies it, as hands meet them: keys, a phone without script, one sheet of A4."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.phone import Phone
from tests.browser.served import PHONE, WIDE, Server, sign_in
from tests.browser.test_pages import violations

# Keystroke-level model (Card, Moran and Newell, 1980; values from memory): 0.28 s a key for an average typist who does
# not do it for a living, 1.35 s for each time one has to look and think, here once a box, and 0.4 s for a hand that
# goes to the keyboard.
KEY, THINK, HOME = 0.28, 1.35, 0.4


def last_week(page: Page) -> list[str]:
    """Opens the week before and says the names of its seven boxes."""
    page.get_by_role("link", name="the week before").click()
    page.wait_for_url(re.compile(r"week="))
    return page.locator("input[name^='m-']").evaluate_all("all => all.map(one => one.name)")


def test_a_whole_week_is_typed_from_the_keyboard_alone_in_under_30_seconds(
    teacher_page: Page, open_page: Callable[..., Page], server: Server
) -> None:
    student = open_page(**PHONE)
    student.goto(server.student)
    code = student.url.split("/")[4]
    page = teacher_page
    page.goto(f"/students/{code}/paper/")
    boxes = last_week(page)
    assert len(boxes) == 7
    # the cursor stands in the first box that is open and has nothing yet; the whole row is typed here
    page.locator(f"[name='{boxes[0]}']").focus()
    week, keys = ["11", "12", "13", "14", "15", "16", "17"], 0
    for name, minutes in zip(boxes, week, strict=True):
        assert page.evaluate("document.activeElement.name") == name
        for key in minutes:
            page.keyboard.press(key)
            keys += 1
        if name != boxes[-1]:
            page.keyboard.press("Tab")
            keys += 1
    page.keyboard.press("Enter")
    keys += 1
    expect(page.get_by_role("status")).to_contain_text("98 minutes on 7 days stored")
    assert keys == 21
    assert HOME + keys * KEY + len(week) * THINK < 30
    # who goes back in the browser meets empty boxes, and beside each what it has by now
    page.go_back()
    expect(page.locator(f"[name='{boxes[6]}']")).to_have_value("")
    expect(page.locator(".day").nth(6)).to_contain_text("has ")
    expect(page.locator("main")).to_contain_text("17 minutes (from paper)")
    page.goto(f"/students/{code}/entries/")
    of_17 = page.get_by_role("row").filter(has=page.get_by_role("cell", name="17", exact=True))
    expect(of_17.filter(has_text="from paper")).to_have_count(1)


def test_the_first_box_without_an_entry_is_ready_to_type_in(teacher_page: Page, server: Server) -> None:
    page = teacher_page
    page.goto(server.student)
    code = page.url.split("/")[4]
    page.goto(f"/students/{code}/paper/")
    # a browser moves the cursor with its first picture of the page, which may come after its scripts
    ready = page.locator(":focus")
    expect(ready).to_have_attribute("name", re.compile("m-"))
    expect(ready).to_be_enabled()


def test_a_parent_copies_it_on_a_phone_without_script(open_page: Callable[..., Page], server: Server) -> None:
    page = open_page(java_script_enabled=False, **PHONE)
    page.goto(server.guardian)
    page.get_by_role("link", name="Copy a paper week").click()
    page.get_by_role("link", name="the week before").click()
    page.wait_for_url(re.compile(r"week="))
    boxes = page.locator("input[name^='m-']")
    expect(boxes).to_have_count(7)
    # one row, each box wide and high enough for a finger
    places = [boxes.nth(n).bounding_box() for n in range(7)]
    assert len({round(place["y"]) for place in places if place}) == 1
    for place in places:
        assert place is not None
        assert place["height"] >= 44
        assert place["width"] >= 40
    boxes.nth(0).fill("21")
    boxes.nth(1).fill("twenty")
    page.get_by_role("button", name="Store the week").click()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was stored yet")
    expect(boxes.nth(0)).to_have_value("21")
    expect(boxes.nth(1)).to_have_value("twenty")
    expect(boxes.nth(1)).to_have_attribute("aria-invalid", "true")
    boxes.nth(1).fill("22")
    page.get_by_role("button", name="Store the week").click()
    expect(page.get_by_role("status")).to_contain_text("43 minutes on 2 days stored")
    expect(page.locator("main")).to_contain_text("from paper")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.long
def test_errors_and_the_correction_are_as_readable(open_page: Callable[..., Page], server: Server, scheme: str) -> None:
    page = sign_in(open_page(color_scheme=scheme, **WIDE), server)
    page.goto(server.student)
    code = page.url.split("/")[4]
    page.goto(f"/students/{code}/paper/")
    boxes = last_week(page)
    page.locator(f"[name='{boxes[2]}']").fill("x")
    page.get_by_text("Minutes by goal").click()
    page.locator("input[name^='g-']:not([disabled])").first.fill("y")
    page.get_by_role("button", name="Store the week").click()
    expect(page.get_by_role("alert").filter(has_text="Nothing was stored yet")).to_be_visible()
    assert violations(page) == []
    page.goto(f"/students/{code}/entries/")
    page.get_by_role("row").get_by_role("link", name="Correct").first.click()
    expect(page.get_by_role("button", name="Store the correction")).to_be_visible()
    assert violations(page) == []
    page.get_by_label("Minutes altogether").fill("x")
    page.get_by_role("button", name="Store the correction").click()
    expect(page.locator("main").get_by_role("alert")).to_be_visible()
    assert violations(page) == []


def test_the_sheet_prints_on_one_page(teacher_page: Page, server: Server, tmp_path: Path) -> None:
    page = teacher_page
    page.goto(server.student)
    code = page.url.split("/")[4]
    page.goto(f"/students/{code}/sheet/")
    assert page.locator(".sheet-goals > li").count() >= 5
    printed = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    page.emulate_media(media="print")
    for gone in ("header nav", "button", ".weeks"):
        for one in page.locator(gone).all():
            assert not one.is_visible(), gone
    cells = page.locator(".boxes .whole td").evaluate_all("all => all.map(one => one.getBoundingClientRect().top)")
    assert len(cells) == 8
    assert len(set(cells[:7])) == 1


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.long)])
def test_the_door_with_the_pin(open_page: Callable[..., Page], server: Server, scheme: str) -> None:
    own, other = open_page(**PHONE), open_page(color_scheme=scheme, **PHONE)
    own.goto(server.guardian)
    own.get_by_role("link", name="A PIN for this link").click()
    own.get_by_label("New PIN", exact=True).fill("2741")
    own.get_by_label("The new PIN once more").fill("2741")
    own.get_by_role("button", name="Set the PIN").click()
    try:
        other.goto(server.guardian)
        expect(other.get_by_label("PIN", exact=True)).to_be_focused()
        assert violations(other) == []
        other.keyboard.type("0000")
        other.keyboard.press("Enter")
        expect(other.get_by_role("alert")).to_contain_text("4 tries are left")
        assert violations(other) == []
        other.get_by_label("PIN", exact=True).fill("2741")
        other.keyboard.press("Enter")
        other.wait_for_url(re.compile(r"/f/[^/]+/$"))
    finally:
        own.get_by_label("The present PIN").fill("2741")
        own.get_by_role("button", name="Take the PIN off").click()
        expect(own.get_by_role("status")).to_contain_text("The PIN is off")


@pytest.mark.long
def test_a_session_waits_on_the_phone_for_the_pin_and_is_sent_with_it(
    new_phone: Callable[..., Phone], new_context: Callable[..., BrowserContext]
) -> None:
    """The PIN is set on another phone while this one has no connection."""
    phone = new_phone()
    phone.offline(True)
    phone.start()
    phone.play(240)
    phone.finish()
    phone.send()
    phone.told("1 entry waiting")
    other = new_context(base_url=phone.studio.server.address, locale="en-GB").new_page()
    other.goto(phone.studio.server.student)
    code = other.url.split("/")[4]
    other.goto(f"/s/{code}/pin/")
    other.get_by_label("New PIN", exact=True).fill("2741")
    other.get_by_label("The new PIN once more").fill("2741")
    other.get_by_role("button", name="Set the PIN").click()
    expect(other.get_by_role("status")).to_contain_text("The PIN is set")
    phone.offline(False)
    phone.later(lambda: "bound to a PIN" in phone.page.locator("[data-told]").inner_text())
    assert [state for _, state in phone.waiting()] == ["waiting"]
    assert phone.new_entries() == {}
    # the page asks now, and does not stay behind on the phone for whoever has no PIN and no connection
    phone.page.reload()
    pin = phone.page.get_by_label("PIN", exact=True)
    expect(pin).to_be_visible()
    phone.offline(True)
    with pytest.raises(Exception, match=r"ERR_INTERNET_DISCONNECTED|ERR_FAILED"):
        phone.page.reload()
    phone.offline(False)
    phone.page.goto(phone.path)
    pin.fill("0000")
    phone.page.get_by_role("button", name="Open").click()
    expect(phone.page.get_by_role("alert")).to_contain_text("4 tries are left")
    pin.fill("2741")
    phone.page.get_by_role("button", name="Open").click()
    phone.ready()
    phone.connected_again()
    phone.check_one_entry()
