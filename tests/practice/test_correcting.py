"""Correcting and removing what was logged, on plain pages: who, how long, and what is kept of it."""

import datetime as dt
import json
import uuid
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from practice import store
from practice.correcting import minutes_typed
from practice.entry_form import read_minutes
from practice.models import HandNote, PracticeEntry, RemovedEntry, Result, Segment
from students.links import sign
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_entry, make_goal, make_note, make_result


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    set_clock(monkeypatch, NOW)


def set_clock(monkeypatch, at):
    monkeypatch.setattr("django.utils.timezone.now", lambda: at)


@pytest.fixture
def goal(cast):
    return make_goal(cast.student)


@pytest.fixture
def entry(cast, goal):
    """20 minutes, 12 and a half of them on B minor, 5 of 6 strings clean: the third failed."""
    entry = make_entry(
        cast.student, (goal, 750), seconds=1200, note="cold fingers", tiring=3, by_name="Robin Example", stored_at=NOW
    )
    make_result(goal, 5, entry=entry, failed_strings=[3])
    return entry


def path_of(cast, entry, who="teacher"):
    name = "practice:s-correct" if who == "student" else "practice:entry"
    return reverse(name, args=[cast.student.code, entry.code])


def typed(response, **over):
    """What the form of a page sends when only `over` was typed into it."""
    form = response.context["form"]
    data = {name: form[name].value() for name in form.fields}
    data = {name: value for name, value in data.items() if value not in (None, "", [])}
    data["day"], data["start"] = f"{data['day']}", f"{data['start']:%H:%M}"
    return {**data, "action": "correct", **over}


def correct(cast, entry, who="teacher", **over):
    client, path = cast.client(who), path_of(cast, entry, who)
    return client.post(path, typed(client.get(path), **over))


WHO = pytest.mark.parametrize("who", ["teacher", "student"])


@WHO
def test_a_correction_changes_what_was_typed_and_keeps_what_stood_before(cast, goal, entry, who):
    answer = correct(cast, entry, who, total="25", **{f"m-{goal.code}": "15", f"v-{goal.code}-clean": "4"},
                     **{f"f-{goal.code}-clean": ["3", "1"]}, note="warm by then")  # fmt: skip
    back = {"teacher": "practice:entries", "student": "practice:s-entries"}[who]
    assert (answer.status_code, answer.url) == (302, reverse(back, args=[cast.student.code]))
    entry.refresh_from_db()
    assert (entry.seconds, entry.note, entry.version, entry.by) == (1500, "warm by then", 2, "student")
    assert list(Segment.objects.values_list("goal", "seconds")) == [(goal.pk, 900)]
    assert list(Result.objects.values_list("value", "failed_strings", "day")) == [(4.0, [1, 3], TODAY)]
    (former,) = entry.former
    name = cast.teacher.name if who == "teacher" else cast.student.name
    assert (former["version"], former["by"], former["name"], former["until"]) == (1, who, name, NOW.isoformat())
    assert (former["entry"]["seconds"], former["entry"]["note"]) == (1200, "cold fingers")
    page = cast.client(who).get(answer.url).content.decode()
    assert f"Corrected on 12 November 2026, 18:00 by {name}" in page
    assert "20 minutes" in page
    assert "Bm, E-shape at 7: 12:30 min" in page
    assert "Bm, E-shape at 7: 5 clean strings" in page
    assert "“cold fingers”" in page


@WHO
def test_what_was_not_touched_is_not_changed(cast, entry, who):
    before = [model.objects.values().get() for model in (PracticeEntry, Result, Segment)]
    assert correct(cast, entry, who).status_code == 302
    assert [model.objects.values().get() for model in (PracticeEntry, Result, Segment)] == before
    # to the second: the form shows minutes of the day only
    PracticeEntry.objects.filter(pk=entry.pk).update(begun=NOW - dt.timedelta(minutes=60, seconds=17), seconds=1234)
    correct(cast, entry, who, note="only this")
    entry.refresh_from_db()
    assert (entry.begun, entry.seconds, entry.note) == (NOW - dt.timedelta(minutes=60, seconds=17), 1234, "only this")


@WHO
def test_the_hand_is_neither_shown_nor_changed(cast, goal, entry, who):
    make_consent(cast.student)
    note = make_note(cast.student, 6, entry=entry)
    page = cast.client(who).get(path_of(cast, entry, who)).content.decode()
    assert "wrist" not in page
    sent = {"tiring": "9", "discomfort": "0", "hand": "picking", "place": "thumb"}
    assert correct(cast, entry, who, note="x", **sent).status_code == 302
    entry.refresh_from_db()
    assert (entry.tiring, entry.tiring_in_words) == (3, False)
    PracticeEntry.objects.update(tiring=5, tiring_in_words=True)
    assert correct(cast, PracticeEntry.objects.get(), who, note="y").status_code == 302
    entry.refresh_from_db()
    assert (entry.note, entry.tiring, entry.tiring_in_words) == ("y", 5, True)
    assert HandNote.objects.values().get() == {**HandNote.objects.values().get(), "id": note.pk, "discomfort": 6}
    assert "tiring" not in json.dumps(entry.former).replace('"tiring": null', "")


def test_strings_told_anew_are_counted_again(cast, goal, entry):
    correct(cast, entry, **{f"f-{goal.code}-clean": ["1", "2", "3"]})
    assert list(Result.objects.values_list("value", "failed_strings")) == [(3.0, [1, 2, 3])]
    correct(cast, entry, **{f"f-{goal.code}-clean": []})
    assert list(Result.objects.values_list("value", "failed_strings")) == [(6.0, [])]


def test_a_value_taken_out_takes_the_result_out(cast, goal, entry):
    correct(cast, entry, **{f"v-{goal.code}-clean": "", f"f-{goal.code}-clean": []})
    assert not Result.objects.exists()


def test_a_goal_that_was_forgotten_is_added_and_one_of_long_ago_is_not_lost(cast, goal, entry):
    goal.set_aside(NOW)
    other = make_goal(cast.student, terms=chord_terms(root="A"))
    answer = correct(cast, entry, total="30", **{f"m-{other.code}": "5", f"v-{other.code}-clean": "6"})
    assert answer.status_code == 302
    assert sorted(Segment.objects.values_list("goal", "seconds")) == [(goal.pk, 750), (other.pk, 300)]
    assert sorted(Result.objects.values_list("goal", "value")) == [(goal.pk, 5.0), (other.pk, 6.0)]


def test_a_measure_that_the_goal_is_no_longer_set_by_is_kept(cast, goal, entry):
    make_result(goal, 3, entry=entry, measure="landings")
    correct(cast, entry, note="x")
    assert sorted(Result.objects.values_list("measure", "value")) == [("clean", 5.0), ("landings", 3.0)]


@pytest.mark.parametrize(
    ("name", "text", "field"),
    [
        ("total", "0", "total"),
        ("total", "5", "total"),  # less than its goal
        ("total", "x", "total"),
        ("total", "9" * 50, "total"),
        ("total", "481", "total"),
        ("day", "", "day"),
        ("day", "2026-11-13", "day"),  # tomorrow
        ("day", "0001-01-01", "day"),
        ("day", "9999-12-31", "day"),
        ("start", "17:59", "start"),  # ends in the future
        ("start", "25:00", "start"),
        ("note", "x" * 1001, "note"),
        ("note", "a\x00b", "note"),
        ("m", "two", "m"),
        ("v", "7", "v"),
        ("v", "-1", "v"),
        ("v", "1e400", "v"),
        ("v", "3", "v"),  # not what the strings say
        ("f", ["9"], "f"),
        ("version", "", "version"),
        ("version", "1" + "0" * 400, "version"),
    ],
)
def test_what_cannot_be_is_said_beside_the_field_and_nothing_is_lost(cast, goal, entry, name, text, field):
    names = {"m": f"m-{goal.code}", "v": f"v-{goal.code}-clean", "f": f"f-{goal.code}-clean"}
    answer = correct(cast, entry, **{names.get(name, name): text})
    assert answer.status_code == 200, answer
    form = answer.context["form"]
    assert set(form.errors) == {names.get(field, field)}, form.errors
    assert form[names.get(name, name)].value() == text
    entry.refresh_from_db()
    assert (entry.seconds, entry.version, entry.former) == (1200, 1, [])
    assert Result.objects.count() == Segment.objects.count() == 1


def test_another_session_at_that_time_is_told_and_the_note_alone_is_not_held_up_by_one(cast, entry):
    make_entry(cast.student, begun=NOW - dt.timedelta(hours=3), seconds=1800)
    answer = correct(cast, entry, start="15:10")
    assert set(answer.context["form"].errors) == {"start"}
    # stored long ago beside another: only what is moved is checked
    make_entry(cast.student, begun=entry.begun, seconds=1200)
    assert correct(cast, entry, note="only this").status_code == 302


def test_a_student_corrects_for_48_hours_and_the_teacher_however_late(cast, entry, monkeypatch):
    for later, status in ((dt.timedelta(hours=48), 302), (dt.timedelta(hours=48, seconds=1), 403)):
        set_clock(monkeypatch, NOW + later)
        client, path = cast.client("student"), path_of(cast, entry, "student")
        page = client.get(path)
        assert page.status_code == 200
        sent = typed(page, note=f"{later}") if status == 302 else {"action": "correct", "version": 2, "total": "60"}
        assert client.post(path, sent).status_code == status
    assert "After two days your teacher corrects it" in page.content.decode()
    assert "<textarea" not in page.content.decode()
    assert client.post(path, {"action": "remove", "version": "2"}).status_code == 403
    assert "Put it right" not in client.get(reverse("practice:s-entries", args=[cast.student.code])).content.decode()
    set_clock(monkeypatch, NOW + dt.timedelta(days=200))
    teacher = Client()
    teacher.force_login(cast.teacher.user, "django.contrib.auth.backends.ModelBackend")
    path = path_of(cast, entry)
    assert teacher.post(path, typed(teacher.get(path), total="30")).status_code == 302
    entry.refresh_from_db()
    assert entry.seconds == 1800


@pytest.mark.parametrize("by", ["parent", "paper", "teacher"])
def test_a_student_does_not_touch_what_somebody_else_logged(cast, entry, by):
    PracticeEntry.objects.update(by=by)
    client, path = cast.client("student"), path_of(cast, entry, "student")
    assert "Somebody else logged this session" in client.get(path).content.decode()
    for action in ("correct", "remove"):
        assert client.post(path, {"action": action, "version": "1", "total": "60"}).status_code == 403
    assert PracticeEntry.objects.get().seconds == 1200


def test_a_student_does_not_undo_the_teachers_correction(cast, goal, entry):
    assert correct(cast, entry, "teacher", total="13").status_code == 302
    client, path = cast.client("student"), path_of(cast, entry, "student")
    assert "Your teacher has corrected this session" in client.get(path).content.decode()
    assert client.post(path, {"action": "remove", "version": "2"}).status_code == 403
    # nor by the phone's way in
    body = {"code": str(entry.code), "begun": entry.begun.isoformat(), "seconds": 6000, "version": 2}
    address = reverse("practice:s-entry", args=[cast.student.code, entry.code])
    put = client.put(address, json.dumps(body), content_type="application/json")
    assert put.status_code == 409
    assert "teacher has corrected" in put.json()["error"]
    assert PracticeEntry.objects.get().seconds == 780


@WHO
def test_two_who_correct_at_once_are_told_what_is_stored(cast, goal, entry, who):
    client, path = cast.client(who), path_of(cast, entry, who)
    drawn = typed(client.get(path), total="40", note="mine")
    # the phone of the same student, meanwhile
    theirs = replace(store.record_of(entry), seconds=1500, note="theirs")
    store.correct_entry(entry, theirs, 1, "student", NOW, False)
    answer = client.post(path, drawn)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Somebody else corrected this session meanwhile" in page
    assert "25 minutes" in page
    assert "“theirs”" in page
    assert 'value="40"' in page
    assert ">\nmine</textarea>" in page
    entry.refresh_from_db()
    assert (entry.seconds, entry.version) == (1500, 2)
    # sent once more, knowingly, it is stored over the other, which is kept
    assert client.post(path, {**drawn, "version": answer.context["form"]["version"].value()}).status_code == 302
    entry.refresh_from_db()
    assert (entry.seconds, [one["entry"]["seconds"] for one in entry.former]) == (2400, [1200, 1500])


@WHO
def test_a_removal_is_final_and_leaves_that_it_was(cast, goal, entry, who, monkeypatch):
    client, path = cast.client(who), path_of(cast, entry, who)
    assert "This is final" in client.get(path).content.decode()
    answer = client.post(path, {"action": "remove", "version": "1"})
    assert answer.status_code == 302
    assert [model.objects.count() for model in (PracticeEntry, Segment, Result)] == [0, 0, 0]
    removed = RemovedEntry.objects.get()
    name = cast.teacher.name if who == "teacher" else cast.student.name
    assert (removed.code, removed.by, removed.by_name, removed.at) == (entry.code, who, name, NOW)
    assert not {"note", "seconds", "former"} & {field.name for field in RemovedEntry._meta.get_fields()}
    assert "1 session was removed" in client.get(answer.url).content.decode()
    assert client.get(path).status_code == client.post(path, {"action": "remove", "version": "1"}).status_code == 404


def test_a_phone_that_did_not_hear_its_first_answer_does_not_bring_a_removed_session_back(cast, goal):
    client = cast.client("student")
    code = uuid.uuid4()
    address = reverse("practice:s-entry", args=[cast.student.code, code])
    body = json.dumps({"code": str(code), "day": "2026-11-12", "seconds": 600})
    assert client.put(address, body, content_type="application/json").status_code == 201
    entry = PracticeEntry.objects.get()
    client.post(path_of(cast, entry, "student"), {"action": "remove", "version": "1"})
    late = client.put(address, body, content_type="application/json")
    assert (late.status_code, late.json()["taken"]) == (409, True)
    assert "removed" in late.json()["error"]
    assert not PracticeEntry.objects.exists()
    # of another student's removed entry nothing is told
    other = cast.client("other_student")
    theirs = other.put(
        reverse("practice:s-entry", args=[cast.other_student.code, code]), body, content_type="application/json"
    )
    assert (theirs.status_code, theirs.json()["error"]) == (409, "Please send it once more.")


@pytest.mark.parametrize("version", ["", "0", "2", "x", "-1", "1" * 400, "\x00", "١"])
def test_a_removal_names_the_version_that_it_saw(cast, entry, version):
    answer = cast.client("teacher").post(path_of(cast, entry), {"action": "remove", "version": version})
    assert answer.status_code == 409
    assert PracticeEntry.objects.filter(pk=entry.pk).exists()
    assert not RemovedEntry.objects.exists()


def test_a_removal_of_what_was_corrected_meanwhile_shows_it_first(cast, entry):
    client, path = cast.client("teacher"), path_of(cast, entry)
    drawn = client.get(path).context["form"]["version"].value()
    correct(cast, entry, "student", total="33")
    answer = client.post(path, {"action": "remove", "version": drawn})
    assert answer.status_code == 409
    assert "33 minutes" in answer.content.decode()
    assert PracticeEntry.objects.filter(pk=entry.pk).exists()


def test_a_hand_note_goes_with_its_session_unless_the_teacher_has_seen_it(cast, entry):
    make_consent(cast.student)
    make_note(cast.student, 3, entry=entry)
    seen = make_note(cast.student, 6, entry=entry, seen_at=NOW)
    cast.client("student").post(path_of(cast, entry, "student"), {"action": "remove", "version": "1"})
    assert list(HandNote.objects.values_list("pk", "entry")) == [(seen.pk, None)]


# how long ago the session was stored, whose note it is, what it said, whether it goes with its session
@pytest.mark.parametrize(
    ("minutes", "by", "said", "goes"),
    [
        (59, "student", {"discomfort": 8}, True),  # a wrong tap, while it may be taken back
        (61, "student", {"discomfort": 8}, False),
        (59, "parent", {"discomfort": 8}, False),  # somebody else's
        (61, "student", {"discomfort": 1, "also": ["fell"]}, False),
        (61, "student", {"discomfort": 8, "place": "fingertip", "sensation": "sore"}, True),  # stops its day alone
        (61, "student", {"discomfort": 6}, True),
    ],
)
def test_what_stops_all_playing_does_not_go_with_its_session(cast, entry, minutes, by, said, goes):
    make_consent(cast.student)
    PracticeEntry.objects.filter(pk=entry.pk).update(stored_at=NOW - dt.timedelta(minutes=minutes))
    note = make_note(cast.student, **said, entry=entry, by=by)
    cast.client("student").post(path_of(cast, entry, "student"), {"action": "remove", "version": "1"})
    assert not PracticeEntry.objects.filter(pk=entry.pk).exists()
    assert HandNote.objects.filter(pk=note.pk).exists() is not goes


def test_nobody_corrects_anothers_entry(cast, entry):
    """By the address of one's own student, and by the other's."""
    theirs = make_entry(cast.other_student, note="private")
    for who, name, student in (
        ("teacher", "practice:entry", cast.student),
        ("owner", "practice:entry", cast.student),
        ("student", "practice:s-correct", cast.student),
        ("teacher", "practice:entry", cast.other_student),
        ("student", "practice:s-correct", cast.other_student),
        ("guardian", "practice:s-correct", cast.child),
        ("stranger", "practice:entry", cast.student),
    ):
        path = reverse(name, args=[student.code, theirs.code])
        client = cast.client(who)
        assert client.get(path).status_code == 404, (who, name)
        assert client.post(path, {"action": "remove", "version": "1"}).status_code == 404, (who, name)
    theirs.refresh_from_db()
    assert theirs.version == 1


def test_a_correction_with_another_students_goal_changes_nothing(cast, entry):
    foreign = make_goal(cast.other_student)
    correct(cast, entry, **{f"m-{foreign.code}": "5", f"v-{foreign.code}-clean": "2"})
    assert not Segment.objects.filter(goal=foreign).exists()
    assert not Result.objects.filter(goal=foreign).exists()


def test_what_was_typed_is_shown_as_text(cast, entry):
    correct(cast, entry, note="<script>alert(1)</script>")
    correct(cast, entry, note="plain")
    for who, name in (("teacher", "practice:entries"), ("student", "practice:s-entries")):
        client = cast.client(who)
        for path in (reverse(name, args=[cast.student.code]), path_of(cast, entry, who)):
            page = client.get(path).content.decode()
            assert "<script>alert" not in page
            assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize(("who", "name"), [("teacher", "practice:entries"), ("student", "practice:s-entries")])
def test_a_list_with_corrections_costs_the_same(cast, goal, entry, count_queries, who, name):
    path = reverse(name, args=[cast.student.code])
    correct(cast, entry, note="x")
    few = count_queries(cast.client(who), path)
    for days in range(1, 8):
        more = make_entry(cast.student, (goal, 300), day=TODAY - dt.timedelta(days=days), former=entry.former)
        make_result(goal, 4, entry=more)
        RemovedEntry.objects.create(code=uuid.uuid4(), student=cast.student, at=NOW, by="student")
    assert count_queries(cast.client(who), path) == few


def test_the_students_way_to_the_page(cast, entry):
    client = cast.client("student")
    progress = client.get(reverse("practice:s-progress", args=[cast.student.code])).content.decode()
    listed = reverse("practice:s-entries", args=[cast.student.code])
    assert listed in progress
    assert path_of(cast, entry, "student") in client.get(listed).content.decode()
    teachers = cast.client("teacher").get(reverse("practice:entries", args=[cast.student.code]))
    assert path_of(cast, entry) in teachers.content.decode()


@pytest.mark.parametrize("seconds", [1, 59, 60, 61, 750, 3599, 3600, 3661, 5400, 28799, 28800])
def test_seconds_are_typed_as_they_are_read(seconds):
    assert read_minutes(minutes_typed(seconds)) == seconds


def test_a_link_that_was_replaced_corrects_nothing(cast, entry):
    client = Client()
    client.get(f"/open/{sign(cast.student.code, 1)}/")
    path = path_of(cast, entry, "student")
    sent = typed(client.get(path), total="33")
    cast.student.replace_link()
    assert client.post(path, sent).status_code == 404
    entry.refresh_from_db()
    assert entry.seconds == 1200
