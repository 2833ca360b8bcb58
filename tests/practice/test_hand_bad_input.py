"""What cannot be a hand note is told beside the field, through the form and through the phone's door alike; nothing is
lost and nothing half stored.
"""

import datetime as dt
import json
import uuid

import pytest
from django.core import mail

from practice.handcheck import too_early
from practice.models import HandEpisode, HandNote, PracticeEntry
from students.models import Student
from tests import factory
from tests.factory import NOW, TODAY

NOTE = {"discomfort": 5, "hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"}
JOINED = TODAY - dt.timedelta(days=20)


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def agreed(cast):
    Student.objects.filter(pk=cast.student.pk).update(joined=JOINED)
    factory.make_consent(cast.student)
    return cast.student


def form(cast, code=None, who="student", url=None, **over):
    sent = {"code": str(code or uuid.uuid4()), "day": TODAY.isoformat(), "total": "20", "note": "my words", **NOTE}
    sent = {name: str(value) for name, value in {**sent, **over}.items() if value is not None}
    return cast.client(who).post(url or f"/s/{cast.student.code}/log/", sent)


def phone(cast, code=None, hand=None, **over):
    body = {"day": TODAY.isoformat(), "seconds": 1200, "note": "my words", "hand": {**NOTE, **(hand or {})}, **over}
    address = f"/s/{cast.student.code}/entries/{code or uuid.uuid4()}/"
    return cast.client("student").put(address, json.dumps(body), content_type="application/json")


def nothing_stored():
    return not PracticeEntry.objects.exists() and not HandNote.objects.exists() and not HandEpisode.objects.exists()


# what is given, the field that says so in the form, and on the phone
WRONG = [
    ({"place": ""}, "place", "hand.place"),
    ({"hand": ""}, "hand", "hand.hand"),
    ({"discomfort": 11}, "discomfort", "hand.discomfort"),
    ({"discomfort": -1}, "discomfort", "hand.discomfort"),
    ({"discomfort": "a lot"}, "discomfort", "hand.discomfort"),
    ({"discomfort": "4.5"}, "discomfort", "hand.discomfort"),
    ({"place": "knee"}, "place", "hand.place"),
    ({"hand": "left"}, "hand", "hand.hand"),
    ({"rested": 6}, "rested", "hand.rested"),
]


@pytest.mark.parametrize(("given", "field", "path"), WRONG)
def test_it_is_told_beside_the_field_and_what_was_typed_stays(cast, agreed, given, field, path):
    told = form(cast, **given)
    assert told.status_code == 200
    assert field in told.context["form"].errors
    page = told.content.decode()
    assert f'id="id_{field}_error"' in page
    assert "my words" in page
    assert told.context["form"]["sensation"].value() == "ache"
    answer = phone(cast, hand=given)
    assert answer.status_code == 422
    assert answer.json()["errors"][path][0]
    assert nothing_stored()
    assert not mail.outbox


# a day, and whether it may carry a hand note
@pytest.mark.parametrize(
    ("day", "held"),
    [
        (JOINED, True),
        (JOINED - dt.timedelta(days=1), False),
        (JOINED - dt.timedelta(days=300), False),
        (TODAY + dt.timedelta(days=1), False),
        (dt.date(2031, 1, 1), False),
    ],
)
def test_a_note_of_a_day_that_cannot_be(cast, agreed, day, held):
    told = form(cast, day=day.isoformat())
    assert (told.status_code == 302) is held
    if not held:
        assert list(told.context["form"].errors) == ["day"]
        assert "my words" in told.content.decode()
        assert nothing_stored()
    answer = phone(cast, day=day.isoformat(), start="09:00")
    assert answer.status_code == (201 if held else 422)
    assert HandNote.objects.count() == (2 if held else 0)


def test_an_instant_before_the_first_day_or_still_to_come(cast, agreed):
    early = dt.datetime.combine(JOINED, dt.time(0, 10), tzinfo=dt.UTC) - dt.timedelta(hours=2)
    for begun in (early, NOW + dt.timedelta(hours=1)):
        answer = phone(cast, day=None, begun=begun.isoformat())
        assert answer.status_code == 422
        assert list(answer.json()["errors"]) == ["begun"]
    assert nothing_stored()


def test_the_days_are_the_studios():
    # 23:30 UTC is the next day's 00:30 in a London summer
    at = dt.datetime(2026, 7, 1, 23, 30, tzinfo=dt.UTC)
    assert not too_early(at, dt.date(2026, 7, 2), "Europe/London")
    assert too_early(at, dt.date(2026, 7, 2), "UTC")
    assert not too_early(at, None, "UTC")


def test_practice_before_the_first_day_may_be_logged_without_the_hand(cast, agreed):
    none = dict.fromkeys(NOTE)
    day = (JOINED - dt.timedelta(days=3)).isoformat()
    assert form(cast, day=day, **none).status_code == 302
    assert not HandNote.objects.exists()


@pytest.mark.parametrize("who", ["teacher", "guardian"])
def test_the_teachers_and_the_parents_form_ask_the_same(cast, who):
    child = cast.child
    Student.objects.filter(pk=child.pk).update(joined=JOINED)
    factory.make_consent(child)
    url = f"/students/{child.code}/log/" if who == "teacher" else f"/f/{child.code}/log/"
    for given, field in (({"place": ""}, "place"), ({"day": (JOINED - dt.timedelta(days=1)).isoformat()}, "day")):
        told = form(cast, who=who, url=url, **given)
        assert told.status_code == 200
        assert field in told.context["form"].errors
    assert nothing_stored()


def test_the_same_note_sent_twice_is_one_note_and_one_mail(cast, agreed, django_capture_on_commit_callbacks):
    code = uuid.uuid4()
    for _again in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            assert form(cast, code).status_code == 302
    assert HandNote.objects.count() == HandEpisode.objects.count() == len(mail.outbox) == 1
    code = uuid.uuid4()
    for status in (201, 200):
        with django_capture_on_commit_callbacks(execute=True):
            assert phone(cast, code, start="08:00").status_code == status
    assert HandNote.objects.count() == 2
    assert HandEpisode.objects.count() == len(mail.outbox) == 1


def test_the_same_code_with_another_note_changes_nothing_and_says_so(cast, agreed):
    code = uuid.uuid4()
    assert phone(cast, code).status_code == 201
    answer = phone(cast, code, hand={"discomfort": 2})
    assert answer.status_code == 409
    assert answer.json()["error"]
    assert HandNote.objects.get().discomfort == 5


def test_a_note_from_a_revoked_link_is_kept_on_the_phone_and_nowhere_else(cast, agreed):
    client = cast.client("student")
    assert client.get(f"/s/{agreed.code}/").status_code == 200
    agreed.refresh_from_db()
    agreed.replace_link()
    told = form(cast)
    assert told.status_code == 404
    assert "link" in told.content.decode()
    answer = phone(cast)
    # the phone lets go of an entry on a 200 or 201 alone: it stays in its queue, and says why
    assert answer.status_code == 401
    assert answer.json()["error"] == "Open your personal link again, or sign in."
    assert nothing_stored()


def test_without_consent_a_note_is_dropped_and_the_session_kept(cast):
    factory.make_consent(cast.student, withdrawn_at=NOW)
    assert form(cast).status_code == 302
    assert phone(cast, start="09:00").status_code == 201
    assert PracticeEntry.objects.count() == 2
    assert not HandNote.objects.exists()
    assert not HandEpisode.objects.exists()
