"""Thousands of bodies at the addresses that store an entry and a hand note: wrong in a known place, or damaged and sent
out of order.

tests/practice/test_sync.py puts any value at any place of one body. Here two more questions are asked, each with an
oracle of its own: is it the wrong field that is named, and no other; and does the database, after any series of bodies
for several sessions (repeated, reordered, corrected, removed, cut short, with bytes flipped), hold exactly what the
answers said, with no part of a refused one.

`ROUNDS=0.1` makes a tenth of the rounds, as `.ci/run` does.
"""

import copy
import datetime as dt
import json
import uuid
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from practice.handrows import ALSO
from practice.models import HandNote, PracticeEntry, RemovedEntry, Result, Segment, TellTeacher
from practice.store import remove_entry, take_back
from tests.factory import NOW, make_consent, make_goal, make_roots_goal

pytestmark = pytest.mark.soak

DRIVEN = {"suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow], "deadline": None}
CODES = [f"{n:08d}-0000-4000-8000-000000000000" for n in (1, 2, 3)]
TABLES = (PracticeEntry, Segment, Result, HandNote, RemovedEntry)
# Bm in the E-shape sounds six strings
SOUNDING = 6
HURT = {"discomfort": 2, "hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"}


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def goals(cast):
    make_consent(cast.student)
    return make_goal(cast.student), make_roots_goal(cast.student)


def sound(goals, number=0, variant=0):
    """A body that is right: three sessions that do not overlap, two ways each to have been."""
    clean, roots = (str(goal.code) for goal in goals)
    begun = NOW - dt.timedelta(hours=1 + 2 * number)
    return {
        "code": CODES[number],
        "begun": begun.isoformat(),
        "seconds": 1500 if variant else 1200,
        "segments": [{"goal": clean, "seconds": 750}, {"goal": roots, "seconds": 300}],
        "results": [
            {"goal": clean, "measure": "clean", "failed": [3] if variant else [2, 5]},
            {"goal": roots, "measure": "seconds", "value": 55},
        ],
        "tiring": 2 if variant else 3,
        "tiring_in_words": bool(variant),
        "hand": {**HURT, "discomfort": 3} if variant else HURT,
        "note": f"variant {variant}",
    }


def put(cast, raw, code, content_type="application/json"):
    path = f"/s/{cast.student.code}/entries/{code}/"
    return cast.client("student").put(path, raw, content_type=content_type)


def snapshot():
    return [list(model.objects.order_by("pk").values()) for model in TABLES]


def clear():
    for model in TABLES:
        model.objects.all().delete()


# -- is it the wrong field that is named ------------------------------------------------------------------------------

nothings = st.sampled_from([[], {}, [[]], {"a": 1}, True, False, 1.5, -1, 10**30, 1e308])
ids = st.sampled_from([str(uuid.UUID(int=9)), "{" + str(uuid.UUID(int=9)) + "}", "x", 5, True, [], {}])


def outside(lowest, highest, null=False):
    """Whatever is no whole number from lowest to highest."""
    whole = st.integers().filter(lambda n: not lowest <= n <= highest)
    others = st.sampled_from(["1", True, 1.5, 0.1, [], {}, [1], "NaN"])
    return whole | others | (st.none() if null else st.nothing())


# the place in the body, what is wrong there for certain, the path that must be named
WRONG = {
    "code": (ids.filter(lambda one: one != CODES[0]), "code"),
    "version": (outside(1, 1_000_000), "version"),
    "begun": (
        st.sampled_from(["", "yesterday", "2026-11-12", "2026-11-12T17:00:00", "2026-13-01T00:00:00Z", "17:00", 5, True,
                         [], {}, "2026-11-12T17:00:00+99:00", "٢٠٢٦-11-12T17:00:00Z"]),
        "begun",
    ),
    "day": (st.sampled_from(["", "12.11.2026", "2026-02-30", "2026-1-1", 5, True, [], {}, "２０２６-11-12"]), "day"),
    "start": (st.sampled_from(["", "5 pm", "25:00", "7:00", "17:00:00", 17, True, []]), "start"),
    "seconds": (outside(1, 28_800), "seconds"),
    "segments": (st.sampled_from([{}, "x", 5, True, [{}] * 201]), "segments"),
    "segments.0": (st.sampled_from([None, 5, "x", [], True]), "segments.0"),
    "segments.0.goal": (ids | st.none(), "segments.0.goal"),
    "segments.1.seconds": (outside(1, 28_800, null=True), "segments.1.seconds"),
    "segments.1.strange": (nothings, "segments.1"),
    "results": (st.sampled_from([{}, "x", 5, True, [{}] * 201]), "results"),
    "results.0": (st.sampled_from([None, 5, "x", [], True]), "results.0"),
    "results.0.goal": (ids | st.none(), "results.0.goal"),
    "results.0.measure": (st.sampled_from([None, "", "tempo", "seconds", "x", 5, [], {}, True]), "results.0.measure"),
    "results.0.failed": (
        st.sampled_from([[0], [7], [3, 3], [None], ["3"], [True], [1.5], "3", {}, 3, [[3]], [10**30], [1] * 201]),
        "results.0.failed",
    ),
    "results.0.value": (st.sampled_from([-1, 7, 1.5, True, "4", [], {}, 10**30, 1e308, 5]), "results.0.value"),
    "results.1.value": (st.sampled_from([None, -1, True, "40", [], {}, 10**400, 1e308, 0]), "results.1.value"),
    "results.1.failed": (st.sampled_from([[], [1], "x", 5]), "results.1.failed"),
    "results.1.strange": (nothings, "results.1"),
    "tiring": (outside(0, 10), "tiring"),
    "tiring_in_words": (st.sampled_from(["yes", "", 1, 0, [], {}]), "tiring_in_words"),
    "hand": (st.sampled_from([5, "x", [], True]), "hand"),
    "hand.discomfort": (outside(0, 10, null=True), "hand.discomfort"),
    "hand.place": (st.sampled_from(["nose", "Wrist", 5, True, [], {}]), "hand.place"),
    "hand.hand": (st.sampled_from(["left", 5, True, [], {}]), "hand.hand"),
    "hand.at_rest": (st.sampled_from(["yes", "", 1, 0, [], {}]), "hand.at_rest"),
    "hand.also": (st.sampled_from(["fell", {}, 5, True, ["fire"], [["fell"]], [None], ["fell"] * 201]), "hand.also"),
    "hand.face_arm_leg": (st.sampled_from(["yes", "", 1, 0, [], {}]), "hand.face_arm_leg"),
    "hand.strange": (nothings, "hand"),
    "note": (st.sampled_from([5, True, [], {}, "x" * 1001, "a\0b", "\ud800", "\udfff" * 3]), "note"),
    "strange": (nothings, "body"),
}  # fmt: skip


def nested(one: str, other: str) -> bool:
    """Whether one of two places hides the other, or both ask of the same result, of which the first is said."""
    if one.startswith(f"{other}.") or other.startswith(f"{one}."):
        return True
    return one.split(".")[:2] == other.split(".")[:2] and one.startswith("results.")


@st.composite
def faults(draw):
    places: list[str] = []
    for place in draw(st.lists(st.sampled_from(sorted(WRONG)), min_size=1, max_size=4, unique=True)):
        if not any(nested(place, other) for other in places):
            places.append(place)
    return [(place, draw(WRONG[place][0])) for place in places]


def put_in(body, place, value):
    *way, last = place.split(".")
    inner = body
    for step in way:
        inner = inner[int(step)] if isinstance(inner, list) else inner[step]
    inner[int(last) if isinstance(inner, list) else last] = value


def test_of_a_body_with_known_faults_exactly_these_fields_are_named(cast, goals, rounds):
    seen: set[str] = set()

    @settings(max_examples=rounds(2000), **DRIVEN)
    @given(faults(), st.permutations(list(sound(goals))))
    def run(wrong, order):
        body = copy.deepcopy(sound(goals))
        body = {name: body[name] for name in order}
        for place, value in wrong:
            put_in(body, place, value)
        answer = put(cast, json.dumps(body).encode(), CODES[0])
        expected = {WRONG[place][1] for place, _ in wrong}
        assert answer.status_code == (400 if expected == {"body"} else 422), (wrong, answer.content)
        assert answer.headers["Content-Type"] == "application/json"
        said = answer.json()
        assert said["error"]
        assert set(said["errors"]) == expected, wrong
        assert all(one and "%(" not in one for told in said["errors"].values() for one in told)
        assert [len(rows) for rows in snapshot()] == [0] * len(TABLES)
        seen.update(place for place, _ in wrong)

    run()
    if rounds(2000) >= 1000:
        assert seen == set(WRONG)


# -- does the database hold what the answers said ---------------------------------------------------------------------

# what happens to the bytes on the way: name, where (as a share of the length), with what
WAYS = ("cut", "flip", "flip", "insert", "again", "twice", "wrap", "bom", "spaces", "latin")
MANGLES = st.tuples(st.sampled_from([""] * 12 + list(WAYS)), st.floats(0, 1, exclude_max=True), st.integers(0, 255))
# kind, which session, which of its two ways to have been, the version it names, what happens to it, said type
MOVES = st.tuples(
    st.sampled_from(["send"] * 12 + ["remove", "type"]),
    st.sampled_from([0, 0, 0, 1, 2]),
    st.sampled_from([0, 0, 1]),
    st.sampled_from([None, None, 1, 1, 2, 3]),
    MANGLES,
    st.sampled_from(["text/plain", "application/xml", "json"]),
)
SERIES = st.lists(MOVES, min_size=3, max_size=9)


def mangled(raw: bytes, how: str, where: float, byte: int) -> bytes:
    at = int(where * len(raw))
    match how:
        case "cut":
            return raw[: max(at, 1)]  # the test client sends no type with an empty body
        case "flip":
            return raw[:at] + bytes([byte]) + raw[at + 1 :]
        case "insert":
            return raw[:at] + bytes([byte]) * 3 + raw[at:]
        case "again":
            return raw + raw
        case "twice":  # one name given twice
            return raw[:-1] + b', "seconds": 60}'
        case "wrap":
            return b"[" * (1 + byte) + raw + b"]" * (1 + byte)
        case "bom":
            return b"\xef\xbb\xbf" + raw
        case "spaces":
            return b" \n\t" * byte + raw
        case "latin":
            return raw.replace(b"variant", "variänt".encode("latin-1"))
    return raw


def said_by(body):
    """What a body that was taken says, by rules written down here once more."""
    segments = {(one["goal"], one["seconds"]) for one in body.get("segments") or []}
    results = set()
    for one in body.get("results") or []:
        failed = frozenset(one.get("failed") or ())
        value = SOUNDING - len(failed) if one.get("failed") is not None else one["value"]
        results.add((one["goal"], one["measure"], float(value), failed))
    hand = body.get("hand")
    return {
        "begun": dt.datetime.fromisoformat(body["begun"]),
        "seconds": max(body.get("seconds") or 1, sum(seconds for _, seconds in segments)),
        "segments": segments,
        "results": results,
        "tiring": (body.get("tiring"), bool(body.get("tiring") is not None and body.get("tiring_in_words"))),
        "discomfort": None if hand is None else hand["discomfort"],
        "note": (body.get("note") or "").strip(),
    }


def stored(code):
    """The same of what is stored, read row by row."""
    entry = PracticeEntry.objects.get(code=code)
    notes = list(HandNote.objects.filter(entry=entry))
    assert len(notes) <= 1
    return {
        "begun": entry.begun,
        "seconds": entry.seconds,
        "segments": {(str(one.goal.code), one.seconds) for one in Segment.objects.filter(entry=entry)},
        "results": {
            (str(one.goal.code), one.measure, one.value, frozenset(one.failed_strings))
            for one in Result.objects.filter(entry=entry)
        },
        "tiring": (entry.tiring, entry.tiring_in_words),
        "discomfort": notes[0].discomfort if notes else None,
        "note": entry.note,
    }


def step(cast, goals, move):
    """One body or one removal; what it may have done is checked against what was there before. What became of it."""
    before = snapshot()
    code = CODES[move[1]]
    entry = PracticeEntry.objects.filter(code=code).first()
    kind, number, variant, version, how, said_type = move
    if kind == "remove":
        if entry is not None:
            remove_entry(entry, entry.version, "teacher", "Ada Teacher", NOW)
        return "removed"
    if kind == "type":
        answer = put(cast, json.dumps(sound(goals, number)).encode(), code, content_type=said_type)
        assert answer.status_code == 415
        assert answer.json()["error"]
        assert snapshot() == before
        return "type"
    body = sound(goals, number, variant) | ({} if version is None else {"version": version})
    raw = mangled(json.dumps(body).encode(), *how)
    answer = put(cast, raw, code)
    assert answer.headers["Content-Type"] == "application/json"
    said = answer.json()
    if answer.status_code not in (200, 201):
        assert answer.status_code in (400, 409, 413, 422), (move, answer.content)
        assert said["error"]
        assert snapshot() == before, move
        if answer.status_code in (400, 422):
            assert said["errors"]
        elif answer.status_code == 409 and "stored" in said:
            # what it is told is there; of the hand nothing
            assert said["stored"]["seconds"] == entry.seconds
            assert not said["stored"]["hand"]
        return str(answer.status_code)
    assert said["code"] == code
    told, kept = said_by(json.loads(raw)), stored(code)
    apart = told.pop("begun") - kept.pop("begun")
    assert abs(apart.total_seconds()) < 1
    assert kept == told, move
    assert not RemovedEntry.objects.filter(code=code).exists()
    if answer.status_code == 201:
        assert entry is None
        assert said["version"] == 1
    elif said["version"] == entry.version:
        assert snapshot() == before, move  # the same once more
    else:
        assert (version, said["version"]) == (entry.version, entry.version + 1)
    # what belongs to the other sessions has not been touched, part by part
    mine = PracticeEntry.objects.get(code=code).pk
    assert of_others(snapshot(), mine) == of_others(before, mine)
    return "stored" if answer.status_code == 201 else "same" if said["version"] == entry.version else "corrected"


def of_others(tables, mine):
    """The rows that do not belong to one entry."""
    return [
        [row for row in rows if row.get("entry_id", row["id"] if "former" in row else None) != mine] for rows in tables
    ]


def test_after_any_series_of_bodies_the_database_holds_what_the_answers_said(cast, goals, rounds):
    became = Counter()

    @settings(max_examples=rounds(300), **DRIVEN)
    @given(SERIES)
    def run(series):
        clear()
        for move in series:
            became[step(cast, goals, move)] += 1
        # at the end a session can still be sent, or holds something else, or was removed
        answer = put(cast, json.dumps(sound(goals)).encode(), CODES[0])
        assert answer.status_code in (200, 201, 409, 422)  # 422: a flipped byte moved another session over it
        if answer.status_code == 409 and "stored" not in answer.json():
            assert RemovedEntry.objects.filter(code=CODES[0]).exists()

    run()
    if rounds(300) >= 100:
        # the drive reaches all that can become of a body
        assert set(became) >= {"stored", "same", "corrected", "removed", "type", "400", "409", "422"}, became
        assert sum(became.values()) > 5 * 100, became


# -- a hand note by itself --------------------------------------------------------------------------------------------

NOTE_CODES = [f"{n:08d}-0000-4000-9000-000000000000" for n in (1, 2)]


def note_body(number=0, variant=0):
    """A note that is right, in two ways to have been."""
    return {
        "code": NOTE_CODES[number],
        "at": (NOW - dt.timedelta(minutes=30 - number)).isoformat(),
        "hand": {**HURT, "also": ["weak", "fell"]} if variant else HURT,
    }


def put_note(cast, raw, code, content_type="application/json"):
    path = f"/s/{cast.student.code}/hand/{code}/"
    return cast.client("student").put(path, raw, content_type=content_type)


NOTE_WRONG = {place: WRONG[place] for place in WRONG if place.startswith("hand.") and place != "hand.discomfort"} | {
    "code": (ids.filter(lambda one: one != NOTE_CODES[0]), "code"),
    "at": (
        st.sampled_from(["", "yesterday", "2026-11-12", "2026-11-12T17:00:00", "2020-01-01T00:00:00Z", 5, True, [], {},
                         "0001-01-01T00:00:00Z", "0001-01-01T00:00:00+23:59", "2026-11-12T17:00:00+99:00"]),
        "at",
    ),
    "day": (st.sampled_from(["", "12.11.2026", "2026-02-30", "2026-1-1", 5, True, [], {}]), "day"),
    "hand.discomfort": (outside(0, 10, null=True), "hand.discomfort"),
    "strange": (nothings, "body"),
}  # fmt: skip


def test_of_a_note_with_known_faults_exactly_these_fields_are_named(cast, goals, rounds):
    seen: set[str] = set()

    @settings(max_examples=rounds(1000), **DRIVEN)
    @given(st.lists(st.sampled_from(sorted(NOTE_WRONG)), min_size=1, max_size=3, unique=True), st.data())
    def run(places, data):
        body = copy.deepcopy(note_body())
        for place in places:
            put_in(body, place, data.draw(NOTE_WRONG[place][0], label=place))
        answer = put_note(cast, json.dumps(body).encode(), NOTE_CODES[0])
        expected = {NOTE_WRONG[place][1] for place in places}
        if len(expected) > 1:
            # a day that cannot be is looked at once everything can be read
            expected -= {"at"} - set(answer.json().get("errors", {}))
        assert answer.status_code == (400 if expected == {"body"} else 422), (places, answer.content)
        assert set(answer.json()["errors"]) == expected, places
        assert not HandNote.objects.exists()
        seen.update(places)

    run()
    if rounds(1000) >= 500:
        assert seen == set(NOTE_WRONG)


def test_after_any_series_of_notes_the_database_holds_what_the_answers_said(cast, goals, rounds):
    became = Counter()

    def step(move):
        kind, number, variant, wrong, how, said_type = move
        number, code = number % 2, NOTE_CODES[number % 2]
        before = list(HandNote.objects.order_by("pk").values())
        note = HandNote.objects.filter(code=code).first()
        if kind == "remove":
            if note is not None:
                assert take_back(note, "student", NOW)
            return "back"
        if kind == "type":
            assert put_note(cast, b"{}", code, said_type).status_code == 415
            return "type"
        body = note_body(number, variant)
        if wrong == 3:
            body["hand"] = {**body["hand"], "place": "nose"}
        raw = mangled(json.dumps(body).encode(), *how)
        answer = put_note(cast, raw, code)
        said = answer.json()
        after = list(HandNote.objects.order_by("pk").values())
        if answer.status_code not in (200, 201):
            assert answer.status_code in (400, 409, 422), (move, answer.content)
            assert said["error"]
            assert after == before, move
            if answer.status_code == 409:
                assert said["taken"]
                assert note is not None or TellTeacher.objects.filter(code=code).exists()
            return str(answer.status_code)
        assert (said["code"], said["kept"]) == (code, True)
        sent = json.loads(raw)["hand"]
        stored = HandNote.objects.get(code=code)
        assert stored.discomfort == sent["discomfort"]
        assert stored.also == [one for one in ALSO if one in sent.get("also", [])]
        assert (stored.student, stored.entry) == (cast.student, None)
        assert (after == before) is (answer.status_code == 200), move
        return "kept" if answer.status_code == 201 else "same"

    @settings(max_examples=rounds(200), **DRIVEN)
    @given(SERIES)
    def run(series):
        clear()
        TellTeacher.objects.all().delete()
        for move in series:
            became[step(move)] += 1
        assert not PracticeEntry.objects.exists()

    run()
    if rounds(200) >= 100:
        assert set(became) >= {"kept", "same", "back", "type", "400", "409", "422"}, became
