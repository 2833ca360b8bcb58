"""Every form of every page, fed with nonsense: a message by the field, what was typed kept, never a 500.

The forms are read off the pages themselves, so a new form is tested without a line here.
"""

from html.parser import HTMLParser
from urllib.parse import urlsplit

import pytest
from django.urls import reverse

from tests import factory
from tests.test_access import TABLE, childs_rows, row, wanted

NONSENSE = {
    "words": "twelve or so",
    "nothing": "",
    "blank": "   ",
    "minus": "-1",
    "huge": "99999999999999999999999",
    "not a number": "NaN",
    "beyond floats": "1e400",
    "far day": "9999-12-31",
    "no day": "2026-02-30",
    "no time": "25:61",
    "long": "Bb" * 5000,
    "zero byte": "a\x00b",
    "markup": "<script>alert(1)</script>",
    "other digits": "٣٤",
    "no choice": "00000000-0000-0000-0000-000000000000",
}
# What a person types freely; a refused form shows it again. A password is never sent back.
EXACT = {"number", "date", "time", "email"}
TYPED = {"text", "number", "email", "date", "time", "search", "textarea"}


class Forms(HTMLParser):
    """The POST forms of a page: action and (name, kind, value) of each control, and what it says is wrong."""

    def __init__(self, text: str):
        super().__init__()
        self.forms: list[dict] = []
        self.wrong: set[str] = set()
        self._form = self._area = self._select = None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if given.get("aria-invalid") == "true":
            self.wrong.add(given.get("name", ""))
        if tag == "form":
            self._form = {"method": given.get("method", "get").lower(), "action": given.get("action") or ""}
            self._form["fields"] = []
            self.forms.append(self._form)
        name = given.get("name")
        if self._form is None or "disabled" in given:
            return
        if tag == "input" and name:
            kind = given.get("type", "text")
            if kind not in {"checkbox", "radio"} or "checked" in given:
                value = given.get("value", "on" if kind == "checkbox" else "")
                self._form["fields"].append([name, kind, value])
        elif tag == "textarea" and name:
            self._area = [name, "textarea", ""]
            self._form["fields"].append(self._area)
        elif tag == "select" and name:
            self._select = [name, "select", None]
            self._form["fields"].append(self._select)
        elif tag == "option" and self._select and (self._select[2] is None or "selected" in given):
            self._select[2] = given.get("value", "")

    def handle_data(self, data):
        if self._area is not None:
            self._area[2] += data

    def handle_endtag(self, tag):
        if tag == "form":
            self._form = None
        elif tag == "textarea":
            self._area = None
        elif tag == "select":
            self._select = None

    def posts(self):
        return [form for form in self.forms if form["method"] == "post"]


def forms_of(response) -> Forms:
    kind = response.headers.get("Content-Type", "")
    return Forms(response.content.decode()) if kind.startswith("text/html") else Forms("")


def reader(name):
    """One person who may read the page, or None."""
    return next((who for who in ("teacher", "owner", "child", "guardian") if row(name)[who] == 200), None)


PAGES = [(name, reader(name)) for name in TABLE if reader(name)]


@pytest.fixture
def path_of(cast):
    factory.make_consent(cast.child)
    rows = childs_rows(cast)
    return lambda name: reverse(name, kwargs={key: rows[key] for key in wanted(name)})


@pytest.mark.parametrize(("name", "who"), PAGES)
@pytest.mark.long
def test_nonsense_in_every_field_at_once(cast, path_of, name, who):
    client, path = cast.client(who), path_of(name)
    for form in forms_of(client.get(path)).posts():
        action = urlsplit(form["action"]).path or path
        if action.startswith("/sign-out"):
            continue
        for what, nonsense in NONSENSE.items():
            sent = {field: nonsense if kind != "hidden" else value for field, kind, value in form["fields"]}
            response = client.post(action, sent)
            assert response.status_code < 500, (action, what)


@pytest.mark.parametrize(("name", "who"), PAGES)
@pytest.mark.long
def test_nonsense_in_one_field_is_told_beside_it_and_kept(cast, path_of, name, who):
    client, path = cast.client(who), path_of(name)
    for form in forms_of(client.get(path)).posts():
        action = urlsplit(form["action"]).path or path
        if action.startswith("/sign-out"):
            continue
        good = {field: value or "" for field, _, value in form["fields"]}
        for field, kind, _ in form["fields"]:
            for what in ("words", "huge", "zero byte"):
                if field == "csrfmiddlewaretoken":
                    continue
                response = client.post(action, good | {field: NONSENSE[what]})
                assert response.status_code < 500, (action, field, what)
                again = forms_of(response)
                # a sign-in says of name and password together that they do not fit
                if kind in EXACT and what == "words" and name != "students:sign-in":
                    assert response.status_code in {200, 422}, (action, field)
                    assert field in again.wrong, (action, field)
                if field in again.wrong and kind in TYPED and what != "zero byte":
                    kept = [other for known in again.posts() for other in known["fields"]]
                    assert [field, kind, NONSENSE[what]] in kept, (action, field, what)


def test_the_reader_of_forms_finds_forms(cast, path_of):
    """The sweep above must not be empty: these pages have forms with something to type."""
    for name, who in (
        ("students:student-add", "teacher"),
        ("practice:goal-set", "teacher"),
        ("practice:lesson", "teacher"),
        ("practice:log", "teacher"),
        ("practice:s-page", "child"),
        ("practice:f-log", "guardian"),
    ):
        forms = forms_of(cast.client(who).get(path_of(name))).posts()
        assert TYPED & {kind for form in forms for _, kind, _ in form["fields"]}, name
