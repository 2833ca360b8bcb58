"""Logging a session: what is stored, what is refused, and that nothing is stored twice."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from practice.entry_form import read_minutes
from practice.logwork import entry_form
from practice.models import HandNote, PracticeEntry, Result, Segment
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_entry, make_goal


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("12", 720), ("12:30", 750), ("1:05:00", 3900), ("0", 0), ("00:09", 9), ("90:00", 5400)],
)
def test_minutes_as_people_write_them(text, seconds):
    assert read_minutes(text) == seconds


@pytest.mark.parametrize(
    "text", ["-1", "x", "12,5", "1e3", "1:2:3:4", "3:75", "99999999999", "\x00", "１２", "481"]
)
def test_minutes_that_cannot_be(text):
    with pytest.raises(ValidationError):
        read_minutes(text)


@given(st.integers(0, 8 * 3600))
def test_minutes_and_seconds_read_back(seconds):
    assert read_minutes(f"{seconds // 60}:{seconds % 60:02d}") == seconds


def data_for(goal=None, **over):
    values = {"code": str(uuid.uuid4()), "day": TODAY.isoformat(), "start": "17:00", "total": "20"}
    if goal is not None:
        values |= {f"minutes-{goal.code}": "12:30", f"value-{goal.code}": "5"}
    return {**values, **over}


@pytest.fixture
def goal(cast):
    return make_goal(cast.student)


@pytest.fixture
def log(cast, monkeypatch):
    """Posts a form as the student, at NOW."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)

    def send(data, who="student", url=None):
        return cast.client(who).post(url or f"/s/{cast.student.code}/log/", data)

    return send


def test_a_session_is_stored_whole(cast, goal, log):
    make_consent(cast.student)
    sent = data_for(
        goal,
        tiring="3",
        discomfort="2",
        hand="fretting",
        place="wrist",
        sensation="ache",
        settles="hour",
        note="ok",
    )
    assert log(sent).status_code == 302
    entry = PracticeEntry.objects.get()
    assert (str(entry.code), entry.seconds, entry.day, entry.by) == (sent["code"], 1200, TODAY, "student")
    assert entry.begun == dt.datetime(2026, 11, 12, 17, 0, tzinfo=dt.UTC)
    assert (entry.tiring, entry.note) == (3, "ok")
    assert list(Segment.objects.values_list("goal", "seconds")) == [(goal.pk, 750)]
    assert list(Result.objects.values_list("goal", "measure", "value", "day")) == [
        (goal.pk, "clean", 5.0, TODAY)
    ]
    assert list(HandNote.objects.values_list("discomfort", "hand", "place", "entry")) == [
        (2, "fretting", "wrist", entry.pk)
    ]


def test_sending_twice_stores_once(cast, goal, log):
    sent = data_for(goal)
    assert log(sent).status_code == log(sent).status_code == 302
    assert PracticeEntry.objects.count() == Segment.objects.count() == Result.objects.count() == 1


def test_the_same_form_with_other_content_asks_and_keeps_both(cast, goal, log):
    sent = data_for(goal)
    log(sent)
    changed = log({**sent, "total": "25", "start": "16:00"})
    assert changed.status_code == 200
    assert PracticeEntry.objects.count() == 1
    form = changed.context["form"]
    assert form["total"].value() == "25"
    again = {**sent, "total": "25", "start": "16:00", "code": form["code"].value()}
    assert again["code"] != sent["code"]
    assert log(again).status_code == 302
    assert PracticeEntry.objects.count() == 2


def test_another_students_code_is_not_told_and_nothing_is_lost(cast, goal, log):
    theirs = make_entry(cast.other_student)
    answer = log(data_for(goal, code=str(theirs.code)))
    assert answer.status_code == 200
    assert PracticeEntry.objects.filter(student=cast.student).count() == 0
    assert answer.context["form"]["code"].value() != str(theirs.code)


def test_no_hand_value_without_consent(cast, goal, log):
    page = cast.client("student").get(f"/s/{cast.student.code}/").content.decode()
    assert "How tiring" not in page
    log(data_for(goal, tiring="3", discomfort="5", hand="fretting", place="wrist"))
    assert PracticeEntry.objects.get().tiring is None
    assert not HandNote.objects.exists()


def test_a_withdrawn_consent_stops_at_once(cast, goal, log):
    consent = make_consent(cast.student)
    consent.withdrawn_at = NOW
    consent.save()
    log(data_for(goal, tiring="3", discomfort="0"))
    assert PracticeEntry.objects.get().tiring is None
    assert not HandNote.objects.exists()


def test_the_strings_that_failed_make_the_count(cast, log):
    goal = make_goal(cast.student, terms=chord_terms("A-major-partial", "D"), target=4)
    sent = data_for(goal, **{f"value-{goal.code}": "", f"failed-{goal.code}": ["2", "1"]})
    assert log(sent).status_code == 302
    result = Result.objects.get()
    # x5777x sounds four strings; the 2nd did not ring and the 1st, marked x, did: two faults
    assert (result.value, sorted(result.failed_strings)) == (2.0, [1, 2])


@pytest.mark.parametrize(
    ("over", "field"),
    [
        ({"total": "", "minutes": ""}, "total"),
        ({"total": "0"}, "total"),
        ({"total": "-5"}, "total"),
        ({"total": "5"}, "total"),  # less than the goal's 12:30
        ({"total": "999999"}, "total"),
        ({"total": "zwölf"}, "total"),
        ({"total": "600"}, "total"),
        ({"day": "2026-11-13"}, "day"),
        ({"day": "9999-12-31"}, "day"),
        ({"day": "0001-01-01"}, "day"),
        ({"day": "2025-01-01"}, "day"),
        ({"day": "yesterday"}, "day"),
        ({"day": ""}, "day"),
        ({"start": "17:55"}, "start"),  # 20 minutes from then end after NOW
        ({"start": "25:99"}, "start"),
        ({"note": "x" * 1001}, "note"),
        ({"note": "a\x00b"}, "note"),
        ({"code": "no-uuid"}, "code"),
        ({"tiring": "11"}, "tiring"),
        ({"discomfort": "-1"}, "discomfort"),
        ({"discomfort": "3"}, "place"),
        ({"discomfort": "3", "hand": "fretting", "place": "nose"}, "place"),
        ({"hand": "fretting"}, "discomfort"),
    ],
)
def test_bad_input_is_answered_beside_its_field_and_kept(cast, goal, log, over, field):
    make_consent(cast.student)
    over = dict(over)
    if "minutes" in over:
        over[f"minutes-{goal.code}"] = over.pop("minutes")
    answer = log(data_for(goal, **over))
    assert answer.status_code == 200
    form = answer.context["form"]
    assert field in form.errors, form.errors
    assert not PracticeEntry.objects.exists()
    for name, value in over.items():
        assert form[name].value() == value


@pytest.mark.parametrize("value", ["7", "-1", "4.5", "1" * 400, "five", "NaN"])
def test_a_count_that_cannot_be(cast, goal, log, value):
    answer = log(data_for(goal, **{f"value-{goal.code}": value}))
    assert answer.status_code == 200
    assert f"value-{goal.code}" in answer.context["form"].errors


def test_an_overlap_names_the_session_it_meets(cast, goal, log):
    log(data_for(goal, start="16:30", total="30"))
    answer = log(data_for(goal, start="16:40", total="30"))
    assert "16:30" in answer.context["form"].errors["start"][0]
    assert PracticeEntry.objects.count() == 1


def test_only_the_goals_minutes_are_enough(cast, goal, log):
    assert log(data_for(goal, total="", start="")).status_code == 302
    assert PracticeEntry.objects.get().seconds == 750


def test_an_hour_that_the_clock_change_skips_or_repeats_is_stored_in_its_day(cast, goal, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    # 25 October 2026: London's clocks go back at 02:00; 01:30 happens twice
    answer = cast.client("student").post(
        f"/s/{cast.student.code}/log/", data_for(goal, day="2026-10-25", start="01:30")
    )
    assert answer.status_code == 302
    assert PracticeEntry.objects.get().day == dt.date(2026, 10, 25)


def test_a_parent_and_a_teacher_log_and_the_entry_says_so(cast, log):
    make_goal(cast.child)
    assert log(data_for(), who="guardian", url=f"/f/{cast.child.code}/log/").status_code == 302
    sent = data_for(paper="on", start="", day="2026-11-10")
    assert log(sent, who="teacher", url=f"/students/{cast.child.code}/log/").status_code == 302
    rows = PracticeEntry.objects.filter(student=cast.child).order_by("pk").values_list("by", "by_name")
    assert list(rows) == [("parent", "Gil Guardian"), ("paper", "Ada Teacher")]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.dictionaries(
        st.sampled_from(
            [
                "code",
                "day",
                "start",
                "total",
                "note",
                "tiring",
                "discomfort",
                "hand",
                "place",
                "sensation",
                "settles",
                "minutes",
                "value",
                "tried",
                "failed",
            ]
        ),
        st.one_of(
            st.text(max_size=30), st.integers().map(str), st.sampled_from(["2026-11-12", "17:00", "20", "5"])
        ),
    )
)
def test_no_form_breaks_the_parser(cast, goal, values):
    data = {
        f"{k}-{goal.code}" if k in ("minutes", "value", "tried", "failed") else k: v
        for k, v in values.items()
    }
    from django.http import QueryDict

    sent = QueryDict(mutable=True)
    for name, value in data.items():
        sent[name] = value
    form = entry_form(cast.student, NOW, sent)
    if form.is_valid():
        record = form.record()
        assert 1 <= record.seconds <= 8 * 3600
        assert record.end <= NOW + dt.timedelta(minutes=2)
