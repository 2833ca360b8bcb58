"""What a hand note asks and keeps: the same rule for the form and for the phone, and down to the row."""

import json
import uuid

import pytest
from django.db import IntegrityError, transaction

from practice.entry_form import HAND_FIELDS
from practice.handcare import of_one
from practice.handcheck import WORDS, fitting, wrong
from practice.handrows import ALSO
from practice.logwork import entry_form
from practice.models import HandNote, PracticeEntry
from practice.record import HandRecord
from practice.store import record_of
from practice.summary import band
from tests.factory import NOW, make_consent, make_entry, make_note, make_student


def given(discomfort=4, **over):
    return HandRecord(discomfort, **({"hand": "fretting", "place": "wrist", "sensation": "ache"} | over))


# a note, what is wrong with it: (field, code)
@pytest.mark.parametrize(
    ("note", "found"),
    [
        (given(), []),
        (given(hand=""), [("hand", "wire-where")]),
        (given(place="", hand=""), [("hand", "wire-where"), ("place", "wire-where")]),
        # nothing holds up what is ticked at 0
        (given(0, sensation="numb", place="", hand=""), []),
        (given(0, place="", hand="", also=("fell", "snap")), []),
        (given(3, place="", hand="", also=("fell",)), [("hand", "wire-where"), ("place", "wire-where")]),
        (given(sensation="sore"), [("sensation", "wire-skin")]),
        (given(sensation="broken", place="index"), [("sensation", "wire-skin")]),
        (given(sensation="dented", place="fingertip"), []),
        (given(sensation="ache", place="fingertip"), []),
        (given(3, rested=4), [("rested", "wire-rested")]),
        (given(3, rested=3), []),
        (given(3, rested=0), []),
        (given(sensation="numb", tip_only=True), [("tip_only", "wire-tip-place")]),
        (given(sensation="numb", tip_only=False), []),
        (given(sensation="", also=("numb",), tip_only=True), [("tip_only", "wire-tip-place")]),
        (given(sensation="", also=("numb",), place="index", tip_only=True, settles="hour"), []),
        (given(sensation="numb", place="index", tip_only=True, settles="hour"), []),
        (given(sensation="numb", place="index", tip_only=True, settles="day"), [("tip_only", "wire-tip-settles")]),
        (given(4, in_words=True), [("discomfort", "wire-words")]),
        (given(5, in_words=True), []),
    ],
)
def test_what_does_not_fit_together(note, found):
    assert wrong(note) == found


def test_what_does_not_belong_is_not_kept():
    assert fitting(given(0)) == HandRecord(0)
    assert fitting(given(0, in_words=True)) == HandRecord(0, in_words=True)
    assert fitting(given(0, sensation="numb")).place == "wrist"
    assert fitting(given(tip_only=True)).tip_only is None
    assert fitting(given(sensation="numb", tip_only=False)).tip_only is False
    assert fitting(given(2, at_rest=True)).at_rest is True


def test_a_yes_that_cannot_wait_is_never_dropped():
    assert fitting(given(0, face_arm_leg=True)).face_arm_leg is True
    assert fitting(given(5, face_arm_leg=True)).face_arm_leg is True
    # a no belongs to numbness and weakness alone
    assert fitting(given(5, face_arm_leg=False)).face_arm_leg is None
    assert fitting(given(0, face_arm_leg=False)).face_arm_leg is None
    for shown in ({"sensation": "numb"}, {"sensation": "weak"}, {"also": ("numb",)}, {"also": ("weak",)}):
        assert fitting(given(0, **{"sensation": "", **shown}, face_arm_leg=False)).face_arm_leg is False
    for also in ALSO:
        assert fitting(given(0, also=(also,))).also == (also,)
    assert fitting(given(3, also=("numb",), tip_only=False)).tip_only is False


@pytest.mark.parametrize("shown", [{"sensation": "numb"}, {"also": ("weak",)}, {}])
@pytest.mark.parametrize("discomfort", [0, 5])
def test_what_fits_is_left_as_it_is(discomfort, shown):
    once = fitting(given(discomfort, **{"sensation": "", **shown}, tip_only=False, face_arm_leg=True, daily=True))
    assert fitting(once) == once


def test_three_words_stand_in_the_middle_of_their_bands():
    assert [band(number) for number in WORDS] == ["little", "some", "lot"]
    for number in WORDS:
        same = [n for n in range(1, 11) if band(n) == band(number)]
        assert number == (same[0] + same[-1]) // 2


WHOLE = {
    "discomfort": "5",
    "also": ["numb", "itself"],
    "face_arm_leg": "no",
    "hand": "fretting",
    "place": "thumb",
    "sensation": "ache",
    "settles": "hour",
    "rested": "2",
    "began": "during",
    "at_rest": "no",
    "daily": "yes",
    "tip_only": "no",
}
KEPT = HandRecord(
    5, "fretting", "thumb", "ache", "hour", 2, "during", False, True, None, False, face_arm_leg=False,
    also=("numb", "itself"),
)  # fmt: skip


def post(cast, hand):
    sent = {"code": str(uuid.uuid4()), "day": "2026-11-12", "total": "20", **hand}
    return cast.client("student").post(f"/s/{cast.student.code}/log/", sent)


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def test_a_whole_note_is_stored_and_read_again(cast):
    make_consent(cast.student)
    assert set(WHOLE) == set(HAND_FIELDS)
    assert post(cast, WHOLE).status_code == 302
    note = HandNote.objects.get()
    assert record_of(PracticeEntry.objects.get()).hand == KEPT
    assert {name: getattr(note.facts, name) for name in vars(KEPT)} == vars(KEPT)
    page = cast.client("teacher").get(f"/students/{cast.student.code}/hand/").content.decode()
    assert "2 after ten minutes’ rest" in page
    assert "while I played" in page
    assert "in the way of daily tasks" in page


def test_the_phone_sends_the_same_note(cast):
    make_consent(cast.student)
    code = uuid.uuid4()
    hand = {"discomfort": 5, "rested": 2, "hand": "fretting", "place": "thumb", "sensation": "ache", "settles": "hour"}
    hand |= {"began": "during", "at_rest": False, "daily": True, "tip_only": False}
    hand |= {"also": ["itself", "numb"], "face_arm_leg": False}
    body = {"day": "2026-11-12", "seconds": 600, "hand": hand}
    address = f"/s/{cast.student.code}/entries/{code}/"
    client = cast.client("student")
    for status in (201, 200):  # sent twice, stored once
        answer = client.put(address, json.dumps(body), content_type="application/json")
        assert answer.status_code == status, answer.content
    assert record_of(PracticeEntry.objects.get()).hand == KEPT


def test_a_phone_that_still_asks_the_older_question_is_heard(cast):
    make_consent(cast.student)
    hand = {"discomfort": 2, "hand": "fretting", "place": "thumb", "sensation": "numb", "sudden": True}
    body = json.dumps({"day": "2026-11-12", "seconds": 600, "hand": hand})
    address = f"/s/{cast.student.code}/entries/{uuid.uuid4()}/"
    assert cast.client("student").put(address, body, content_type="application/json").status_code == 201
    note = HandNote.objects.get()
    assert (note.sudden, note.face_arm_leg, note.also) == (True, None, [])
    assert of_one(note.facts).level == "emergency"


# what is sent wrong, the field that says so
@pytest.mark.parametrize(
    ("hand", "field"),
    [
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "rested": 11}, "hand.rested"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "rested": 5}, "hand.rested"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "sudden": "yes"}, "hand.sudden"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "daily": 1}, "hand.daily"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "began": "once"}, "hand.began"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "sensation": "broken"}, "hand.sensation"),
        ({"discomfort": 4, "hand": "fretting", "place": "wrist", "in_words": True}, "hand.discomfort"),
        ({"discomfort": -1}, "hand.discomfort"),
        ({"discomfort": 3, "also": ["weak"]}, "hand.place"),
        ({"discomfort": 0, "also": ["broken"]}, "hand.also"),
        ({"discomfort": 0, "also": "fell"}, "hand.also"),
        ({"discomfort": 0, "face_arm_leg": "yes"}, "hand.face_arm_leg"),
    ],
)
def test_the_phone_is_told_beside_the_field_and_nothing_is_half_stored(cast, hand, field):
    make_consent(cast.student)
    body = json.dumps({"day": "2026-11-12", "seconds": 600, "hand": hand})
    address = f"/s/{cast.student.code}/entries/{uuid.uuid4()}/"
    answer = cast.client("student").put(address, body, content_type="application/json")
    assert answer.status_code == 422
    assert field in answer.json()["errors"]
    assert not PracticeEntry.objects.exists()
    assert not HandNote.objects.exists()


@pytest.mark.parametrize(
    ("over", "field"),
    [
        ({"rested": "7"}, "rested"),
        ({"rested": "-1"}, "rested"),
        ({"discomfort": "11"}, "discomfort"),
        ({"discomfort": ""}, "discomfort"),
        ({"place": ""}, "place"),
        ({"hand": ""}, "hand"),
        ({"sensation": "sore"}, "sensation"),
        ({"at_rest": "perhaps"}, "at_rest"),
        ({"also": ["fell", "nothing"]}, "also"),
        ({"face_arm_leg": "perhaps"}, "face_arm_leg"),
        ({"sensation": "numb"}, "sensation"),  # ticked under "Any of these?" now
        ({"place": "wrist", "tip_only": "yes"}, "tip_only"),
        ({"settles": "next-day", "tip_only": "yes"}, "tip_only"),
    ],
)
def test_the_form_says_it_beside_the_field_and_keeps_what_was_chosen(cast, over, field):
    make_consent(cast.student)
    response = post(cast, WHOLE | over)
    assert response.status_code == 200
    assert list(response.context["form"].errors) == [field]
    assert response.context["form"]["began"].value() == "during"
    assert not PracticeEntry.objects.exists()


def test_numbness_without_discomfort_is_kept(cast):
    make_consent(cast.student)
    post(cast, {"discomfort": "0", "also": ["numb"], "face_arm_leg": "no"})
    note = HandNote.objects.get()
    assert (note.discomfort, note.also, note.face_arm_leg) == (0, ["numb"], False)


def test_one_tap_when_all_is_well(cast):
    make_consent(cast.student)
    assert post(cast, {"discomfort": "0"}).status_code == 302
    note = HandNote.objects.get()
    assert (note.discomfort, note.hand, note.place, note.at_rest) == (0, "", "", None)


# birth year, whether an adult asks in three words (agreement with 0 to 10 is strong from 8: Ann Emerg Med 2018)
@pytest.mark.django_db
@pytest.mark.parametrize(("born", "words"), [(2019, True), (2018, False), (1990, False), (None, False)])
def test_a_child_under_eight_is_asked_in_three_words(born, words):
    student = make_student(birth_year=born)
    make_consent(student)
    sent = {"code": str(uuid.uuid4()), "day": "2026-11-12", "total": "10", "discomfort": "5"}
    form = entry_form(student, NOW, sent | {"hand": "fretting", "place": "thumb"})
    assert form.is_valid(), form.errors
    assert form.record().hand.in_words is words
    assert len(form.fields["discomfort"].choices) == (4 if words else 11)
    if words:
        other = entry_form(student, NOW, sent | {"discomfort": "4", "hand": "fretting", "place": "thumb"})
        assert "discomfort" in other.errors


@pytest.mark.django_db
@pytest.mark.parametrize("over", [{"rested": 5}, {"in_words": True}, {"rested": 11}])
def test_the_database_knows_the_rules_too(over):
    with pytest.raises(IntegrityError), transaction.atomic():
        make_note(make_student(), 4, **over)


@pytest.mark.django_db
@pytest.mark.parametrize("tiring", [4, None])
def test_the_database_keeps_no_mark_of_words_where_none_was_said(tiring):
    with pytest.raises(IntegrityError), transaction.atomic():
        make_entry(make_student(), tiring=tiring, tiring_in_words=True)
