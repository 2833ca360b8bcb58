"""A young child's three words on their way from the phone: each number goes out with its mark."""

import json
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.served import PHONE, Server


@pytest.mark.parametrize("words", [True, False])
def test_the_phone_sends_the_mark_of_words_with_both_numbers(
    open_page: Callable[..., Page], server: Server, words: bool
) -> None:
    page = open_page(**PHONE)
    sent = []

    def answer(route: Route) -> None:
        # as the server would, which stays as it is for the other tests
        body = json.loads(route.request.post_data)
        sent.append(body)
        route.fulfill(status=201, json={"code": body["code"], "version": 1, "said": "10 minutes are logged."})

    page.context.route("**/entries/*/", answer)
    page.goto(server.student)
    if words:  # as the page is drawn for a child under eight (tests/practice/test_logform.py)
        page.evaluate("document.getElementById('hand').dataset.words = ''")
    page.get_by_label("Minutes altogether").fill("10")
    page.get_by_role("group", name="How tiring for the hand?").get_by_label("5", exact=True).check()
    page.get_by_role("group", name="How does your hand feel?").get_by_label("0", exact=True).check()
    page.get_by_role("button", name="Send to my teacher").click()
    expect(page.locator("[data-told]")).to_contain_text("logged")
    (body,) = sent
    assert (body["tiring"], body["hand"]["discomfort"]) == (5, 0)
    assert (body.get("tiring_in_words"), body["hand"].get("in_words")) == ((True, True) if words else (None, None))
