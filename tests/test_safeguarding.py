"""Boxes in which words are written: what stands beside a child's, and beside the teacher's private ones.

The pages are rendered and read, so that a new box is found wherever it stands.
"""

from html.parser import HTMLParser

import pytest
from django.urls import reverse
from django.utils import timezone

from tests import factory
from tests.test_access import ADDRESSES, TABLE, childs_rows, row, wanted

CONTACT = "Oona Owner, 555 0100, or the police"
READS = "Your teacher, the studio's owner and your guardian can read this note."
MAY_ASK = "The family may ask to see this"

# A page's controls that take words but no free text: a figure, an address, a time, a PIN.
FIGURES = {"numeric", "decimal", "email", "tel", "url"}


class Boxes(HTMLParser):
    """The boxes of a page in which anything can be written: (name, position, ids of their descriptions); and the text
    of every element with an id."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, int, str]] = []
        self.texts: dict[str, str] = {}
        self._open: list[str] = []
        self._starts = [0]
        for line in page.splitlines(keepends=True):
            self._starts.append(self._starts[-1] + len(line))
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        held = dict(attrs)
        written = tag == "textarea" or (
            tag == "input" and held.get("type", "text") in ("text", "search") and held.get("inputmode") not in FIGURES
        )
        if written and not held.get("readonly"):
            line, column = self.getpos()
            where = self._starts[line - 1] + column
            self.found.append((held.get("name", ""), where, held.get("aria-describedby", "")))
        if held.get("id"):
            self._open.append(held["id"])
            self.texts[held["id"]] = ""

    def handle_data(self, data):
        for known in self._open[-1:]:
            self.texts[known] += data


@pytest.fixture
def told(cast):
    """The cast's studio with a contact; a consent, a fresh entry and a row behind every address of the child."""
    cast.studio.safeguarding_contact = CONTACT
    cast.studio.save()
    factory.make_consent(cast.child)
    rows = childs_rows(cast)
    now = timezone.now()
    rows["entry"] = factory.make_entry(
        cast.child, begun=now, day=cast.studio.today(now), stored_at=now, note="Hello.", seconds=60
    ).code
    return rows


def pages(rows, who, client):
    """(name, page) of every address that answers this person with a page."""
    for name, _pattern in ADDRESSES:
        if name in TABLE and row(name)[who] == 200 and not name.endswith(("pdf", "zip", "csv")):
            response = client.get(reverse(name, kwargs={key: rows[key] for key in wanted(name)}))
            if response.status_code == 200 and "text/html" in response.headers["Content-Type"]:
                yield name, response.content.decode()


# -- a child's -------------------------------------------------------------------------------------------------------


def check_box(name, page):
    """Who reads it and whom else to turn to, both above the box."""
    for box, where, _described in Boxes(page).found:
        before = page[:where]
        assert CONTACT in before, (name, box)
        assert READS in before, (name, box)


def test_every_box_of_a_child_shows_who_reads_it_and_whom_else_to_turn_to(cast, told):
    with_boxes = set()
    for name, page in pages(told, "child", cast.client("child")):
        if name.split(":")[1] in PUBLIC_BOXES:
            continue
        if Boxes(page).found:
            with_boxes.add(name)
            check_box(name, page)
    # the log and the correction; a page that gains a box joins by itself, and one that loses it is missed here
    assert with_boxes == {"practice:s-page", "practice:s-correct"}


# open to everybody: boxes for an address to sign in with
PUBLIC_BOXES = {"sign-in", "password-forgotten", "password-sent", "password-new"}


@pytest.mark.parametrize("name", ["practice:s-log", "practice:s-correct", "practice:s-tell"])
def test_a_form_that_comes_back_shows_it_again(cast, told, name):
    path = reverse(name, kwargs={key: told[key] for key in wanted(name)})
    response = cast.client("child").post(path, {"note": "x" * 5000, "day": "nonsense"}, follow=True)
    page = response.content.decode()
    assert Boxes(page).found
    check_box(name, page)


def test_an_unknown_birth_year_counts_as_a_child(cast, told):
    cast.child.birth_year = None
    cast.child.save()
    page = cast.client("child").get(reverse("practice:s-page", args=[cast.child.code])).content.decode()
    check_box("s-page", page)


def test_an_adults_box_names_its_readers_and_no_guardian(cast, told):
    page = cast.client("student").get(reverse("practice:s-page", args=[cast.student.code])).content.decode()
    assert "Your teacher and the studio's owner can read this note." in page
    assert "your guardian can read" not in page


# -- a teacher's -----------------------------------------------------------------------------------------------------

# Boxes whose words the student or the family reads anyway, or that are no words about a student.
READ_ANYWAY = {
    "practice:goal-set": {"words", "title", "section", "progression", "key", "root", "numerals", "chords"},
    "practice:hand-notes": {"begin-words", "own-words", "begin-cleared_by"},
    "practice:log": {"note"},
    "practice:entry": {"note"},
    "practice:paper": {"note"},
}
# Names, addresses, strings and lists: facts on a person's page, in the record's file, and nobody's private words.
FACTS = {
    "students:student-add", "students:student-edit", "students:guardian-add", "students:guardian-edit",
    "students:teacher-add", "students:teacher-edit", "students:studio", "students:people", "students:consent-record",
    "students:link-qr",
    "practice:record-erase", "practice:roster", "practice:overview", "practice:today",
    # about songs and occasions, which the student's own page shows
    "practice:performance", "practice:performances",
}  # fmt: skip


def private(name, box):
    """Whether a box is for the teacher's private words: one whose name says words, reason or note."""
    if name in FACTS or box in READ_ANYWAY.get(name, ()):
        return False
    return any(word in box for word in ("words", "reason", "note"))


def test_every_private_box_of_a_teacher_says_that_the_family_may_ask(cast, told):
    factory.make_note(cast.child, 6, day=factory.TODAY)  # while it stops all playing no next chord is offered
    found = set()
    for name, page in pages(told, "teacher", cast.client("teacher")):
        boxes = Boxes(page)
        for box, _where, described in boxes.found:
            if private(name, box):
                found.add(name)
                help_text = " ".join(boxes.texts.get(one, "") for one in described.split())
                assert MAY_ASK in help_text or "The family reads this" in help_text, (name, box, described)
    assert {"practice:lesson", "practice:hand-notes", "practice:next-chords"} <= found


def test_no_box_of_a_teacher_is_overlooked(cast, told):
    """Every box is a private one, read anyway, or on a page of facts: a new one must be put somewhere."""
    for name, page in pages(told, "teacher", cast.client("teacher")):
        if name in FACTS or "song" in name or name.split(":")[1] in PUBLIC_BOXES:
            continue
        left = {box for box, _where, _described in Boxes(page).found if not private(name, box)}
        left -= READ_ANYWAY.get(name, set())
        # results, minutes, days: figures that a form takes as text to keep what was typed
        left = {box for box in left if not box.startswith(("value", "minutes", "total", "m-", "v-", "day", "start"))}
        assert left == set(), name
    # what stops all playing is closed with a clinician's name, as a return is begun
    factory.make_note(cast.child, 8, day=factory.TODAY)
    page = cast.client("teacher").get(f"/students/{cast.child.code}/hand/").content.decode()
    left = {box for box, _where, _described in Boxes(page).found if not private("practice:hand-notes", box)}
    left -= READ_ANYWAY["practice:hand-notes"]
    assert left
    assert all(box.endswith("-cleared_by") for box in left), left
