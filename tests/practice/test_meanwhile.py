"""What came between reading and writing: a consent withdrawn, a record erased, while a page or a phone was at it."""

import json
import uuid
from dataclasses import replace

import pytest
from django.urls import reverse

from practice import acts, hand_acts, store
from practice.erase import erase_hand_values
from practice.models import HandReturn, PracticeEntry, TellTeacher
from students import middleware
from students.models import Student
from studio import theory
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_entry, make_goal, make_note


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def withdraw(student, erase=True):
    """A family's withdrawal, as of now."""
    student.consents.update(withdrawn_at=NOW)
    if erase:
        erase_hand_values(student)


# -- a correction --------------------------------------------------------------------------------------------------


def read(student, entry):
    """The row as a request read it, with its record under another note."""
    row = PracticeEntry.objects.get(pk=entry.pk)
    row.student = student
    return row, replace(store.record_of(row), note="Slower.")


@pytest.mark.parametrize("agreed", [True, False])
def test_a_correction_brings_no_erased_hand_value_back(cast, agreed):
    """A page corrects without a word of the hand, a phone with it: read before the erasing, written after it."""
    make_consent(cast.student)
    row, record = read(cast.student, make_entry(cast.student, tiring=7))
    withdraw(cast.student)
    store.correct_entry(row, record, 1, "student", NOW, agreed)
    stored = PracticeEntry.objects.get()
    assert (stored.tiring, stored.note, stored.version) == (None, "Slower.", 2)


def test_a_correction_under_a_withdrawn_consent_leaves_what_is_hidden(cast):
    """Withdrawn without erasing: a phone's record that says nothing of the hand takes nothing away either."""
    make_consent(cast.student)
    entry = make_entry(cast.student, tiring=7)
    make_note(cast.student, 5, entry=entry)
    row, record = read(cast.student, entry)
    withdraw(cast.student, erase=False)
    store.correct_entry(row, replace(record, tiring=None, hand=None), 1, "student", NOW, True)
    stored = PracticeEntry.objects.get()
    assert (stored.tiring, stored.hand_notes.count(), stored.version) == (7, 1, 2)


# -- a teacher's page ------------------------------------------------------------------------------------------------


@pytest.fixture
def withdrawn_at_the_last_moment(cast, monkeypatch):
    """The consent stands while the page is read, and is withdrawn with erasing before the student's row is held."""
    make_consent(cast.student)
    make_note(cast.student, 6, at=NOW, day=TODAY)
    monkeypatch.setattr(store, "hold", withdraw)


def test_a_goal_keeps_no_word_of_the_hand(cast, withdrawn_at_the_last_moment):
    terms = theory.Goal.from_terms(chord_terms())
    goal = acts.set_goal(
        cast.student, terms, measure="clean", day=TODAY, now=NOW, due=TODAY,
        acknowledged=["open-hand-note", "first-barre-full"], hand_reason="The doctor agreed.",
    )  # fmt: skip
    goal.refresh_from_db()
    assert (goal.hand_reason, goal.acknowledged) == ("", ["first-barre-full"])


def test_a_goal_taken_up_again_keeps_no_reason(cast, withdrawn_at_the_last_moment):
    goal = make_goal(cast.student, set_aside_at=NOW)
    url = reverse("practice:goal-act", args=[cast.student.code, goal.code])
    sent = {"action": "take-back", "hand_reason": "The doctor agreed."}
    assert cast.client("teacher").post(url, sent).status_code == 302
    goal.refresh_from_db()
    assert (goal.set_aside_at, goal.hand_reason) == (None, "")


def test_no_return_begins(cast, withdrawn_at_the_last_moment):
    with pytest.raises(hand_acts.Refused, match="consent"):
        hand_acts.begin(cast.student, TODAY, "Dr Reed", "", cast.teacher, NOW, "Closed.")
    assert not HandReturn.objects.exists()


# -- a phone that sends while the record is being erased -----------------------------------------------------------


@pytest.fixture
def erased_meanwhile(cast, monkeypatch):
    """The record goes once the request knows who asks."""
    cast.client("student")
    real = middleware.viewer_of_links

    def then_erased(*args, **kwargs):
        viewer = real(*args, **kwargs)
        Student.objects.filter(pk=cast.student.pk).delete()
        return viewer

    monkeypatch.setattr(middleware, "viewer_of_links", then_erased)


def test_an_entry_is_answered_with_404_and_not_stored(cast, erased_meanwhile):
    body = {"day": NOW.date().isoformat(), "seconds": 600}
    address = reverse("practice:s-entry", args=[cast.student.code, uuid.uuid4()])
    answer = cast.client("student").put(address, json.dumps(body), content_type="application/json")
    assert answer.status_code == 404
    assert "Nothing was stored" in answer.json()["error"]
    assert not PracticeEntry.objects.exists()


def test_a_wish_for_a_word_is_answered_with_404(cast, erased_meanwhile):
    address = reverse("practice:s-tell-send", args=[cast.student.code, uuid.uuid4()])
    answer = cast.client("student").put(address, "{}", content_type="application/json")
    assert answer.status_code == 404
    assert answer.json()["error"]
    assert not TellTeacher.objects.exists()


def test_a_form_is_answered_with_404(cast, erased_meanwhile):
    sent = {"code": str(uuid.uuid4()), "day": NOW.date().isoformat(), "total": "10"}
    assert cast.client("student").post(f"/s/{cast.student.code}/log/", sent).status_code == 404
    assert not PracticeEntry.objects.exists()
