"""Sending an entry once, surely: what a PUT stores, refuses and answers, whoever sends whatever however often."""

import copy
import datetime as dt
import json
import threading
import uuid

import pytest
from django.db import connection, connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from practice.models import HandNote, PracticeEntry, Result, Segment
from practice.record import EntryRecord, HandRecord
from practice.store import store_entry
from students.links import sign
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_entry, make_goal, make_note, make_student


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def goal(cast):
    return make_goal(cast.student)


@pytest.fixture
def put(cast):
    """put(body) -> the answer; a body that is bytes goes as it is."""

    def send(body, code=None, who="student", student=None, client=None, **more):
        code = code or (body.get("code") if isinstance(body, dict) else None) or uuid.uuid4()
        return (client or cast.client(who)).put(
            f"/s/{(student or cast.student).code}/entries/{code}/",
            body if isinstance(body, bytes) else json.dumps(body).encode(),
            content_type=more.pop("content_type", "application/json"),
            **more,
        )

    return send


def body_of(goal, **over):
    return {
        "code": str(uuid.uuid4()),
        "begun": "2026-11-12T17:00:00Z",
        "seconds": 1200,
        "segments": [{"goal": str(goal.code), "seconds": 750}],
        "results": [{"goal": str(goal.code), "measure": "clean", "failed": [3]}],
        "note": "ok",
        **over,
    }


HURT = {"discomfort": 2, "hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"}


def rows():
    return [model.objects.count() for model in (PracticeEntry, Segment, Result, HandNote)]


def test_an_entry_is_stored_whole(cast, goal, put):
    make_consent(cast.student)
    body = body_of(goal, tiring=3, hand=HURT)
    answer = put(body)
    assert answer.status_code == 201
    assert (answer.json()["code"], answer.json()["version"]) == (body["code"], 1)
    entry = PracticeEntry.objects.get()
    assert (str(entry.code), entry.seconds, entry.by, entry.by_name) == (
        body["code"],
        1200,
        "student",
        cast.student.name,
    )
    assert entry.begun == dt.datetime(2026, 11, 12, 17, 0, tzinfo=dt.UTC)
    assert (entry.tiring, entry.note, entry.version, entry.former) == (3, "ok", 1, [])
    assert list(Segment.objects.values_list("goal", "seconds")) == [(goal.pk, 750)]
    # Bm at fret 7 in the E-shape sounds six strings; one failed
    assert list(Result.objects.values_list("value", "failed_strings")) == [(5.0, [3])]
    assert list(HandNote.objects.values_list("discomfort", "place", "entry")) == [(2, "wrist", entry.pk)]


@pytest.mark.parametrize(
    "when",
    [
        {"begun": "2026-11-12T17:00:00Z"},
        {"begun": None, "day": "2026-11-12"},
        {"begun": None, "day": "2026-11-10", "start": "17:00"},
    ],
)
def test_the_same_again_stores_nothing_also_days_later(cast, goal, put, when, monkeypatch):
    body = body_of(goal, **when)
    assert put(body).status_code == 201
    before = rows(), PracticeEntry.objects.values().get()
    for later in (0, 1, 30, 400):
        monkeypatch.setattr("django.utils.timezone.now", lambda later=later: NOW + dt.timedelta(days=later))
        phone = Client()  # a session ends after two weeks: the link is opened again
        phone.get(f"/open/{sign(cast.student.code, cast.student.link_version)}/")
        answer = put(body, client=phone)
        assert (answer.status_code, answer.json()["code"]) == (200, body["code"])
    assert (rows(), PracticeEntry.objects.values().get()) == before


@pytest.mark.parametrize(
    "over",
    [{"seconds": 1500}, {"note": "other"}, {"begun": "2026-11-12T16:00:00Z"}, {"segments": []}, {"results": []}],
)
def test_the_same_id_with_other_content_is_told_what_is_stored(goal, put, over):
    body = body_of(goal)
    put(body)
    before = rows(), PracticeEntry.objects.values().get()
    answer = put({**body, **over})
    assert answer.status_code == 409
    assert answer.json()["error"]
    stored = answer.json()["stored"]
    assert (stored["code"], stored["seconds"], stored["note"], stored["version"]) == (body["code"], 1200, "ok", 1)
    assert (rows(), PracticeEntry.objects.values().get()) == before
    # what is told can be sent as it stands
    assert put({name: value for name, value in stored.items() if name != "version"}).status_code == 200


def test_how_tiring_in_three_words_keeps_its_mark_through_a_correction(cast, goal, put):
    make_consent(cast.student)
    body = body_of(goal, tiring=5, tiring_in_words=True)
    assert put(body).status_code == 201
    entry = PracticeEntry.objects.get()
    assert (entry.tiring, entry.tiring_in_words) == (5, True)
    assert put(body).status_code == 200
    # the same number as a number is something else, and what was said of the hand is not read back
    told = put({**body, "tiring_in_words": None})
    assert told.status_code == 409
    assert "in_words" not in told.content.decode()
    assert put({**body, "note": "Slower.", "version": 1}).status_code == 200
    entry.refresh_from_db()
    assert (entry.tiring, entry.tiring_in_words, entry.version) == (5, True, 2)
    assert "tiring_in_words" not in json.dumps(entry.former)
    assert put({**body, "note": "Slower.", "tiring": 4, "version": 2}).json()["errors"].keys() == {"tiring"}


def test_without_a_consent_no_mark_is_kept_either(cast, goal, put):
    assert put(body_of(goal, tiring=5, tiring_in_words=True)).status_code == 201
    entry = PracticeEntry.objects.get()
    assert (entry.tiring, entry.tiring_in_words) == (None, False)


def test_a_correction_names_the_version_that_it_changes(cast, goal, put):
    make_consent(cast.student)
    body = body_of(goal, hand=HURT, tiring=3)
    put(body)
    changed = {**body, "seconds": 1500, "results": [], "hand": {**HURT, "discomfort": 1}, "version": 1}
    for _ in range(2):  # the correction, too, may come twice
        answer = put(changed)
        assert (answer.status_code, answer.json()["code"], answer.json()["version"]) == (200, body["code"], 2)
    entry = PracticeEntry.objects.get()
    assert (entry.seconds, entry.version, entry.tiring) == (1500, 2, 3)
    assert rows() == [1, 1, 0, 1]
    assert HandNote.objects.get().discomfort == 1
    # the former values are kept, but for the hand's
    (former,) = entry.former
    assert (former["version"], former["by"], former["entry"]["seconds"]) == (1, "student", 1200)
    assert former["entry"]["results"] == [{"goal": str(goal.code), "measure": "clean", "value": 5.0, "failed": [3]}]
    assert (former["entry"]["hand"], former["entry"]["tiring"]) == (None, None)
    # another correction of version 1 comes too late
    late = put({**body, "seconds": 1600, "version": 1})
    assert (late.status_code, late.json()["stored"]["version"]) == (409, 2)
    assert PracticeEntry.objects.get().seconds == 1500


def test_a_note_that_the_teacher_has_seen_outlives_a_correction(cast, goal, put):
    make_consent(cast.student)
    body = body_of(goal, hand=HURT)
    put(body)
    HandNote.objects.update(seen_at=NOW)
    assert put({**body, "hand": {"discomfort": 0}, "version": 1}).status_code == 200
    assert sorted((note.discomfort, note.entry is None) for note in HandNote.objects.all()) == [(0, False), (2, True)]


def test_after_two_days_a_student_does_not_correct(goal, put, monkeypatch):
    body = body_of(goal)
    put(body)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + dt.timedelta(hours=48, seconds=1))
    answer = put({**body, "seconds": 1500, "version": 1})
    assert answer.status_code == 409
    assert "teacher" in answer.json()["error"]
    assert PracticeEntry.objects.get().seconds == 1200


def test_another_students_id_is_not_told(cast, goal, put):
    theirs = make_entry(cast.other_student, note="private words")
    answer = put(body_of(goal, code=str(theirs.code)))
    assert answer.status_code == 409
    assert set(answer.json()) == {"error", "taken"}
    assert "private" not in answer.content.decode()
    assert not cast.student.entries.exists()


def test_another_students_goal_is_refused_and_nothing_is_stored(cast, put):
    answer = put(body_of(make_goal(cast.other_student)))
    assert answer.status_code == 422
    assert set(answer.json()["errors"]) == {"segments.0.goal", "results.0.goal"}
    assert rows() == [0, 0, 0, 0]


def test_a_goal_set_aside_meanwhile_still_takes_what_was_practised(goal, put):
    goal.set_aside(NOW)
    assert put(body_of(goal)).status_code == 201


def test_no_hand_value_without_consent_and_the_same_again_is_the_same(goal, put):
    body = body_of(goal, tiring=3, hand=HURT)
    assert put(body).status_code == 201
    assert PracticeEntry.objects.get().tiring is None
    assert not HandNote.objects.exists()
    assert put(body).status_code == 200


def test_a_long_body_is_refused_unread(goal, put):
    for body in (b"x" * (64 * 1024 + 1), b'{"note": "' + b"x" * 5_000_000 + b'"}'):
        answer = put(body)
        assert (answer.status_code, answer.headers["Content-Type"]) == (413, "application/json")


def test_a_body_that_breaks_off_is_refused(goal, put):
    whole = json.dumps(body_of(goal)).encode()
    for cut in range(1, len(whole), 7):
        assert put(whole[:cut]).status_code == 400
    assert rows() == [0, 0, 0, 0]


def test_another_content_type_is_refused(goal, put):
    answer = put(body_of(goal), content_type="text/plain")
    assert (answer.status_code, answer.headers["Content-Type"]) == (415, "application/json")


def test_without_a_valid_link_401_and_never_a_redirect(cast, goal, put):
    assert put(body_of(goal), client=Client()).status_code == 401
    client = cast.client("student")
    assert client.get(f"/s/{cast.student.code}/token/").status_code == 200
    cast.student.replace_link()
    for answer in (
        put(body_of(goal)),
        client.get(f"/s/{cast.student.code}/token/", headers={"accept": "application/json"}),
    ):
        assert (answer.status_code, set(answer.json())) == (401, {"error"})
    assert rows() == [0, 0, 0, 0]
    # the new link opened on the same phone: the same entry is taken
    client.get(f"/open/{sign(cast.student.code, cast.student.link_version)}/")
    assert put(body_of(goal)).status_code == 201


def test_a_late_answer_to_the_old_session_does_not_take_the_new_ones_cookie(cast, goal, put):
    """The phone opens a link while its queue is sending: that request names the session that is gone."""
    client = Client()
    client.get(f"/open/{sign(cast.student.code, cast.student.link_version)}/")
    client.cookies["sessionid"] = "a" * 32
    answer = put(body_of(goal), client=client)
    assert answer.status_code == 401
    assert "sessionid" not in answer.cookies
    # signing out still takes it
    client.force_login(cast.teacher.user, "django.contrib.auth.backends.ModelBackend")
    assert client.post("/sign-out/").cookies["sessionid"].value == ""


def test_at_another_students_address_it_is_refused(cast, goal, put):
    for who in ("child", "guardian", "teacher"):
        assert put(body_of(goal), who=who).status_code in (401, 404), who
    assert rows() == [0, 0, 0, 0]


def test_a_bad_token_is_403_and_a_fresh_one_does(cast, goal, put):
    client = Client(enforce_csrf_checks=True)
    client.get(f"/open/{sign(cast.student.code, cast.student.link_version)}/")
    body = body_of(goal)
    for token in ({}, {"x-csrftoken": "made-up"}):
        answer = put(body, client=client, headers=token)
        assert (answer.status_code, set(answer.json())) == (403, {"error"})
    assert rows() == [0, 0, 0, 0]
    given = client.get(f"/s/{cast.student.code}/token/")
    assert "no-store" in given.headers["Cache-Control"]
    assert put(body, client=client, headers={"x-csrftoken": given.json()["token"]}).status_code == 201


def test_at_most_twelve_queries(cast, goal, put):
    make_consent(cast.student)
    other = make_goal(cast.student, terms=chord_terms("E-minor", "A"))
    body = body_of(goal, tiring=2)
    body["segments"].append({"goal": str(other.code), "seconds": 60})
    cast.client("student")
    with CaptureQueriesContext(connection) as stored:
        assert put(body).status_code == 201
    # session, student of the link, goals, sessions near, entry of the code; on PostgreSQL the lock of the student's
    # row; consent, entry, segments, results. The savepoint stands for a transaction's begin and end.
    asked = [query["sql"][:80] for query in stored if "SAVEPOINT" not in query["sql"]]
    assert len(asked) <= 11, asked
    with CaptureQueriesContext(connection) as again:
        assert put(body).status_code == 200
    # the first six, then note, segments and results of what is stored
    assert len(again) <= 9


def test_with_a_hand_its_answer_costs_the_same_however_long_the_history(cast, goal, put):
    make_consent(cast.student)
    cast.client("student")

    def queries(minute, hand):
        with CaptureQueriesContext(connection) as captured:
            answer = put(body_of(goal, begun=f"2026-11-12T{minute // 60:02}:{minute % 60:02}:00Z", hand=hand))
        assert answer.status_code == 201, answer.content
        return [query["sql"][:80] for query in captured if "SAVEPOINT" not in query["sql"]]

    few = queries(60, HURT)
    # the eleven above; a note of the code, the hand note, what is kept of it; consent and the seven of `facts_of`
    assert len(few) <= 11 + 3 + 8, few
    for days in range(1, 30):
        make_entry(cast.student, day=TODAY - dt.timedelta(days=days))
        make_note(cast.student, 1, day=TODAY - dt.timedelta(days=days))
    # four days of the last seven hold a note now: a person is asked for, so whether one was told is looked up
    assert len(queries(120, HURT)) == len(few) + 1
    assert len(queries(180, {**HURT, "discomfort": 8})) == len(few) + 1


def test_whoever_comes_second_at_the_same_moment_finds_the_first(cast, goal, put, monkeypatch):
    """Both looked and found nothing; the second's insert is refused by the database, and the answer is the first's."""
    from practice.views import sync

    body = body_of(goal)
    real = sync.PracticeEntry.objects.filter

    def late(*args, **kwargs):
        monkeypatch.undo()
        monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
        assert put(body).status_code == 201
        return real(pk=0)

    monkeypatch.setattr(sync.PracticeEntry.objects, "filter", late)
    assert put(body).status_code == 200
    assert rows() == [1, 1, 1, 0]


@pytest.mark.skipif(connection.vendor == "sqlite", reason="the tests' SQLite lies in memory, where tables lock at once")
@pytest.mark.django_db(transaction=True)
def test_the_same_entry_sent_by_two_at_once_is_stored_once():
    student = make_student()
    goal = make_goal(student)
    body = body_of(goal)
    barrier, codes = threading.Barrier(4), []

    def send():
        client = Client()
        client.get(f"/open/{sign(student.code, student.link_version)}/")
        barrier.wait()
        answer = client.put(
            f"/s/{student.code}/entries/{body['code']}/", json.dumps(body), content_type="application/json"
        )
        codes.append(answer.status_code)
        connections.close_all()

    threads = [threading.Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(codes) == [200, 200, 200, 201]
    assert rows() == [1, 1, 1, 0]


def test_the_worker_is_served_under_its_scope_and_names_what_it_keeps(client, db, settings):
    settings.WHITENOISE_USE_FINDERS = True
    answer = client.get("/s/worker.js")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert "no-cache" in answer.headers["Cache-Control"]
    told = json.loads(answer.content.decode().splitlines()[0].removeprefix("const TOLD = ").removesuffix(";"))
    assert {"/static/studio/queue.js", "/static/studio/timer.js", "/static/studio/site.css"} <= set(told["kept"])
    for path in told["kept"]:
        assert client.get(path).status_code == 200, path


def test_the_workers_version_follows_the_files(tmp_path, monkeypatch):
    from practice import worker

    (tmp_path / "worker.js").write_text("1")
    (tmp_path / "page.js").write_text("1")
    monkeypatch.setattr(worker, "_file", lambda name: tmp_path / name.removeprefix("studio/"))
    before = worker._script()
    assert worker._script() == before
    (tmp_path / "page.js").write_text("2")
    assert worker._script().splitlines()[0] != before.splitlines()[0]


# -- whatever anybody sends --------------------------------------------------------------------------------------------

anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.just("\ud800")
    | st.just(10**400),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
FIELDS = ["code", "version", "begun", "day", "start", "seconds", "segments", "results", "tiring"]
FIELDS += ["tiring_in_words", "hand", "note"]
PLACES = [*FIELDS, "segments.0", "segments.0.goal", "segments.0.seconds", "results.0", "results.0.goal"]
PLACES += ["results.0.measure", "results.0.value", "results.0.failed", "hand.discomfort", "hand.place", "other"]


def changed(body, place, value):
    body = copy.deepcopy(body)
    *way, last = place.split(".")
    inner = body
    for step in way:
        inner = inner[int(step)] if step.isdigit() else inner[step]
    inner[int(last) if last.isdigit() else last] = value
    return body


changes = st.lists(st.tuples(st.sampled_from(PLACES), anything), min_size=1, max_size=3)


def drive(cast, goal, put, example):
    """One hostile body, then the sound one under the same code, twice, then the hostile one again."""
    places, cut, order = example
    sound = body_of(goal, hand=HURT, tiring=2)
    body = sound
    for place, value in places:
        try:
            body = changed(body, place, value)
        except (KeyError, IndexError, TypeError):
            continue
    names = sorted(body, key=lambda name: order * hash(name) % 97)
    try:
        raw = json.dumps({name: body[name] for name in names}).encode()
    except ValueError:
        return
    raw = raw[: len(raw) - cut]
    first = put(raw, code=sound["code"])
    check(first, sound["code"])
    entry = PracticeEntry.objects.filter(code=sound["code"]).first()
    assert (entry is not None) == (first.status_code == 201)
    if entry is None:
        assert rows() == [0, 0, 0, 0]
    second = put(sound)
    assert second.status_code in ({201} if entry is None else {200, 409})
    assert put(sound).status_code == (200 if entry is None else second.status_code)
    check(put(raw, code=sound["code"]), sound["code"])
    assert PracticeEntry.objects.count() == 1
    assert HandNote.objects.filter(entry__isnull=False).count() <= 1
    PracticeEntry.objects.all().delete()
    HandNote.objects.all().delete()


def check(answer, code):
    assert answer.headers["Content-Type"] == "application/json"
    said = answer.json()
    if answer.status_code in (200, 201):
        assert said["code"] == code
        return
    assert answer.status_code in (400, 409, 413, 422), answer
    assert said["error"]
    if answer.status_code in (400, 422):
        assert said["errors"]
        # a name of the body, or of a part of it
        assert {path.split(".")[0] for path in said["errors"]} <= {*FIELDS, "body"}


bodies = st.tuples(changes, st.sampled_from([0, 0, 0, 1, 5, 60]), st.integers(1, 50))
driven = settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)


@settings(driven, max_examples=200)
@given(bodies)
def test_no_body_breaks_it(cast, goal, put, example):
    make_consent(cast.student)
    drive(cast, goal, put, example)


@pytest.mark.soak
def test_no_body_of_thousands_breaks_it(cast, goal, put, rounds):
    make_consent(cast.student)

    @settings(driven, max_examples=rounds(2000))
    @given(bodies)
    def run(example):
        drive(cast, goal, put, example)

    run()


# -- what a reviewer with bad intentions found


def test_no_hand_value_is_read_back(cast, put):
    make_consent(cast.student)
    entry = make_entry(cast.student, seconds=1200, tiring=7)
    make_note(cast.student, 6, entry=entry)
    answer = put({"code": str(entry.code), "day": TODAY.isoformat(), "seconds": 61})
    assert answer.status_code == 409
    stored = answer.json()["stored"]
    assert stored["version"] == entry.version
    assert not {"tiring", "hand"} & {name for name, value in stored.items() if value is not None}


def test_a_parents_entry_is_not_the_students_to_correct(cast, put):
    entry = make_entry(cast.student, seconds=1200, by="parent")
    answer = put({"code": str(entry.code), "day": TODAY.isoformat(), "seconds": 61, "version": 1})
    assert answer.status_code == 409
    entry.refresh_from_db()
    assert (entry.seconds, entry.version) == (1200, 1)


def test_a_consent_withdrawn_while_the_form_was_open_keeps_no_hand_value(cast):
    consent = make_consent(cast.student)
    record = EntryRecord(uuid.uuid4(), NOW - dt.timedelta(hours=1), 600, tiring=5, hand=HandRecord(0))
    consent.withdrawn_at = NOW
    consent.save()
    stored = store_entry(cast.student, record, "student", "x", NOW, hand_consent=True)
    assert stored.entry.tiring is None
    assert not stored.entry.hand_notes.exists()
