"""The body that a phone sends: what it gives, and which field is named when it cannot be."""

import datetime as dt
import json
import uuid
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from practice import handcheck, wire
from practice.handrows import ALSO
from practice.record import EntryRecord, HandNoteRecord, HandRecord, ResultRecord, same_note
from practice.wire_words import TEMPLATES, in_words
from studio import theory

NOW = dt.datetime(2026, 11, 12, 18, 0, tzinfo=dt.UTC)
ZONE = "Europe/London"
CODE = uuid.UUID("11111111-1111-4111-8111-111111111111")
CHORD, CHANGE = uuid.UUID(int=1), uuid.UUID(int=2)
# x5777x: four strings sound
GOALS = {
    CHORD: wire.WireGoal(("clean", "landings"), theory.place("A-major-partial", "D", "steel-string")),
    CHANGE: wire.WireGoal(("changes",)),
}
HAND = {
    "hand": ["fretting", "both"],
    "place": ["wrist"],
    "sensation": ["ache"],
    "settles": ["hour"],
    "began": ["during"],
}
WHOLE = {
    "code": str(CODE),
    "begun": "2026-11-12T17:00:00Z",
    "seconds": 1200,
    "segments": [{"goal": str(CHORD), "seconds": 750}],
    "results": [{"goal": str(CHANGE), "measure": "changes", "value": 31}],
    "tiring": 3,
    "hand": {"discomfort": 2, "hand": "fretting", "place": "wrist", "sensation": "ache", "settles": "hour"},
    "note": " ok ",
}


def read(body):
    return wire.read(body if isinstance(body, bytes) else json.dumps(body).encode(), CODE, GOALS, HAND)


def place(body, others=(), now=NOW):
    return wire.place(read(body), now, ZONE, others)


def test_a_whole_body():
    assert place(WHOLE) == EntryRecord(
        code=CODE,
        begun=dt.datetime(2026, 11, 12, 17, 0, tzinfo=dt.UTC),
        seconds=1200,
        segments=((CHORD, 750),),
        results=(ResultRecord(CHANGE, "changes", 31.0),),
        tiring=3,
        hand=HandRecord(2, "fretting", "wrist", "ache", "hour"),
        note="ok",
    )


def test_the_least_that_is_an_entry():
    record = place({"day": "2026-11-12", "seconds": 60})
    # nobody said when: it ends now
    assert (record.begun, record.seconds, record.placed) == (NOW - dt.timedelta(seconds=60), 60, True)
    assert place({"day": "2026-11-12", "segments": [{"goal": str(CHORD), "seconds": 90}]}).seconds == 90


def test_a_local_time_is_the_studios():
    # 1 July is summer time in London: an hour ahead of UTC
    sent = read({"day": "2026-07-01", "start": "17:00", "seconds": 60})
    assert wire.place(sent, NOW, ZONE, ()).begun == dt.datetime(2026, 7, 1, 16, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("failed", "clean"),
    [([], 4), ([2], 3), ([2, 1], 2), ([1, 6], 2), ([1, 2, 3, 4, 5, 6], 0)],  # strings 6 and 1 are marked x
)
def test_the_strings_that_failed_make_the_count(failed, clean):
    body = WHOLE | {"results": [{"goal": str(CHORD), "measure": "clean", "failed": failed}]}
    assert place(body).results == (ResultRecord(CHORD, "clean", clean, tuple(sorted(failed))),)


def result(**over):
    return WHOLE | {"results": [{"goal": str(CHORD), "measure": "clean", "value": 4} | over]}


@pytest.mark.parametrize(
    ("body", "paths"),
    [
        (b"", ["body"]),
        (b"{", ["body"]),
        (b"\xff", ["body"]),
        (b"[" * 30000, ["body"]),
        (b'{"seconds": 1, "seconds": 2}', ["body"]),  # which of both?
        (b'{"day": "2026-11-12", "seconds": NaN}', ["body"]),
        (b'{"day": "2026-11-12", "seconds": ' + b"9" * 5000 + b"}", ["body"]),
        (b'{"day": "2026-11-12", "seconds": 1e400}', ["seconds"]),
        ([], ["body"]),
        (None, ["body"]),
        (WHOLE | {"what": 1}, ["body"]),
        (WHOLE | {"code": str(uuid.UUID(int=9))}, ["code"]),
        (WHOLE | {"code": "{" + str(CODE) + "}"}, ["code"]),
        (WHOLE | {"version": 0}, ["version"]),
        (WHOLE | {"begun": "2026-11-12T17:00:00"}, ["begun"]),  # no offset: no instant
        (WHOLE | {"begun": "0001-01-01T00:00:00+14:00"}, ["begun"]),
        (WHOLE | {"begun": 1}, ["begun"]),
        (WHOLE | {"begun": None}, ["day"]),
        (WHOLE | {"begun": None, "day": "2026-02-30"}, ["day"]),
        (WHOLE | {"begun": None, "day": "12.11.2026"}, ["day"]),
        (WHOLE | {"begun": None, "day": "2026-11-12", "start": "25:00"}, ["start"]),
        (WHOLE | {"seconds": 0}, ["seconds"]),
        (WHOLE | {"seconds": True}, ["seconds"]),
        (WHOLE | {"seconds": 12.5}, ["seconds"]),
        (WHOLE | {"seconds": "1200"}, ["seconds"]),
        (WHOLE | {"seconds": 28801}, ["seconds"]),
        (WHOLE | {"seconds": 600}, ["seconds"]),  # less than the goal's 750
        (WHOLE | {"seconds": None, "segments": None}, ["seconds"]),
        (WHOLE | {"segments": {}}, ["segments"]),
        (WHOLE | {"segments": [None]}, ["segments.0"]),
        (WHOLE | {"segments": [{}]}, ["segments.0.goal", "segments.0.seconds"]),
        (WHOLE | {"segments": [{"goal": str(uuid.UUID(int=9)), "seconds": 5}]}, ["segments.0.goal"]),
        (WHOLE | {"segments": [{"goal": str(CHORD), "seconds": 5}] * 2}, ["segments.1.goal"]),
        (WHOLE | {"segments": [{"goal": str(CHORD), "seconds": 5, "x": 1}]}, ["segments.0"]),
        (WHOLE | {"segments": [{}] * 201}, ["segments"]),
        (result(measure="changes"), ["results.0.measure"]),
        (result(measure=None), ["results.0.measure"]),
        (result(measure=["clean"]), ["results.0.measure"]),
        (result(value=5), ["results.0.value"]),  # four strings sound
        (result(value=-1), ["results.0.value"]),
        (result(value=1.5), ["results.0.value"]),
        (result(value=10**400), ["results.0.value"]),
        (result(value=None), ["results.0.value"]),
        (result(failed=[1]), ["results.0.value"]),  # three by the strings, four by the number
        (result(value=None, failed=[7]), ["results.0.failed"]),
        (result(value=None, failed=[1, 1]), ["results.0.failed"]),
        (result(value=None, failed=[None]), ["results.0.failed"]),
        (result(value=None, failed="1"), ["results.0.failed"]),
        (result(measure="landings", failed=[1]), ["results.0.failed"]),
        (WHOLE | {"results": WHOLE["results"] * 2}, ["results.1.goal"]),
        (WHOLE | {"tiring": 11}, ["tiring"]),
        (WHOLE | {"tiring": 3, "tiring_in_words": True}, ["tiring"]),  # no word stands for 3
        (WHOLE | {"tiring": 2, "tiring_in_words": "yes"}, ["tiring_in_words"]),
        (WHOLE | {"hand": 3}, ["hand"]),
        (WHOLE | {"hand": {}}, ["hand.discomfort"]),
        (WHOLE | {"hand": {"discomfort": 3}}, ["hand.hand", "hand.place"]),
        (WHOLE | {"hand": {"discomfort": 3, "hand": "fretting", "place": "nose"}}, ["hand.place"]),
        (WHOLE | {"hand": {"discomfort": 0, "also": ["fell", "fire"]}}, ["hand.also"]),
        (WHOLE | {"hand": {"discomfort": 0, "also": {"fell": 1}}}, ["hand.also"]),
        (WHOLE | {"hand": {"discomfort": 0, "face_arm_leg": 1}}, ["hand.face_arm_leg"]),
        (WHOLE | {"note": 5}, ["note"]),
        (WHOLE | {"note": "x" * 1001}, ["note"]),
        (WHOLE | {"note": "a\x00b"}, ["note"]),
        (WHOLE | {"note": "\ud800"}, ["note"]),
        (WHOLE | {"tiring": -1, "note": 5}, ["note", "tiring"]),  # all at once
        (b" " * (64 * 1024 + 1), ["body"]),
    ],
)
def test_what_cannot_be_is_named_by_its_field(body, paths):
    with pytest.raises(wire.WireError) as raised:
        read(body)
    assert sorted(raised.value.errors) == paths
    for said in in_words(raised.value.errors).values():
        assert all("%" not in one and one.endswith((".", "?")) for one in said)


@pytest.mark.parametrize(
    ("over", "path", "code"),
    [
        ({"begun": "2026-11-12T17:55:00Z"}, "begun", "wire-future"),
        ({"begun": "2025-01-01T17:00:00Z"}, "begun", "wire-too-old"),
        ({"begun": "9999-12-31T23:59:59Z"}, "begun", "wire-too-old"),
        ({"begun": None, "day": "2026-11-13"}, "day", "wire-day-to-come"),
        ({"begun": None, "day": "2025-01-01"}, "day", "wire-too-old"),
        ({"begun": None, "day": "2026-11-12", "start": "17:55"}, "start", "wire-future"),
        ({"begun": "2026-11-12T16:35:00Z"}, "begun", "wire-overlap"),
    ],
)
def test_a_time_that_cannot_be(over, path, code):
    other = (NOW - dt.timedelta(minutes=90), NOW - dt.timedelta(minutes=70))
    with pytest.raises(wire.WireError) as raised:
        place(WHOLE | over, [other])
    assert [one.code for one in raised.value.errors[path]] == [code]


def test_what_is_stored_is_not_checked_again():
    other = (NOW - dt.timedelta(minutes=60), NOW - dt.timedelta(minutes=40))
    with pytest.raises(wire.WireError):
        place(WHOLE, [other])
    assert wire.place(read(WHOLE), NOW, ZONE, [other], check=False).seconds == 1200


def test_every_code_has_words():
    import re
    from pathlib import Path

    source = Path(wire.__file__).read_text("utf-8") + Path(handcheck.__file__).read_text("utf-8")
    used = set(re.findall(r'"(wire-[a-z-]+)"', source)) | {"wire-future", "wire-overlap"}
    assert used == set(TEMPLATES)


@pytest.mark.parametrize("also", [["weak", "fell", "numb"], ["numb", "weak", "fell", "fell"], ["fell", "numb", "weak"]])
def test_ticks_are_read_as_a_set_in_one_order(also):
    hand = read(WHOLE | {"hand": {"discomfort": 0, "also": also}}).record.hand
    assert hand == HandRecord(0, also=("fell", "numb", "weak"))


def test_a_body_of_a_page_that_was_drawn_earlier_is_read_as_it_was_said():
    choices = {**HAND, "sensation": ["numb", "weak"]}
    for sensation in ("numb", "weak"):
        hand = {"discomfort": 4, "hand": "both", "place": "wrist", "sensation": sensation, "sudden": True}
        body = json.dumps(WHOLE | {"hand": hand}).encode()
        assert wire.read(body, CODE, GOALS, choices).record.hand == HandRecord(**hand)


# -- a hand note by itself ---------------------------------------------------------------------------------------------


def place_note(body, joined=None, check=True):
    return wire.place_note(wire.read_note(json.dumps(body).encode(), CODE, HAND), NOW, ZONE, joined, check=check)


def test_a_note_by_itself():
    sent = place_note({"code": str(CODE), "hand": WHOLE["hand"], "day": "2026-11-11"})
    at = dt.datetime(2026, 11, 11, 20, 0, tzinfo=dt.UTC)
    assert sent == HandNoteRecord(CODE, at, HandRecord(2, "fretting", "wrist", "ache", "hour"))
    assert place_note({"hand": {"discomfort": 0}}) == HandNoteRecord(CODE, NOW, HandRecord(0), placed=True)


def test_an_evening_is_the_studios():
    assert place_note({"hand": {"discomfort": 0}, "day": "2026-07-01"}).at.hour == 19


@pytest.mark.parametrize(
    ("body", "path", "code"),
    [
        ({"day": "2026-11-13"}, "day", "wire-day-to-come"),
        ({"day": "2025-11-10"}, "day", "wire-too-old"),
        ({"at": "2025-11-10T12:00:00Z"}, "at", "wire-too-old"),
        ({"at": "0001-01-01T00:00:00Z"}, "at", "wire-too-old"),
        ({"day": "2026-11-01"}, "day", "wire-note-before-joined"),
        ({"at": "2026-11-01T12:00:00Z"}, "at", "wire-note-before-joined"),
    ],
)
def test_a_day_on_which_no_note_can_lie(body, path, code):
    body = body | {"hand": {"discomfort": 0}}
    with pytest.raises(wire.WireError) as raised:
        place_note(body, joined=dt.date(2026, 11, 2))
    assert [one.code for one in raised.value.errors[path]] == [code]
    assert place_note(body, joined=dt.date(2026, 11, 2), check=False).hand == HandRecord(0)


def test_a_note_that_came_again_says_the_same():
    first = place_note({"hand": WHOLE["hand"], "day": "2026-11-11"})
    assert same_note(first, replace(first, at=first.at - dt.timedelta(hours=3)), ZONE)
    assert not same_note(first, replace(first, at=first.at - dt.timedelta(days=1)), ZONE)
    assert same_note(first, replace(first, at=NOW, placed=True), ZONE)
    assert not same_note(first, replace(first, hand=HandRecord(0)), ZONE)


whole_numbers = st.integers(1, 600)
answers = st.sampled_from([None, False, True])
records = st.builds(
    EntryRecord,
    code=st.just(CODE),
    begun=st.datetimes(dt.datetime(2026, 1, 1), dt.datetime(2026, 11, 1), timezones=st.just(dt.UTC)),
    seconds=st.integers(1300, 28800),
    segments=st.lists(st.tuples(st.sampled_from([CHORD, CHANGE]), whole_numbers), unique_by=lambda one: one[0]).map(
        tuple
    ),
    results=st.one_of(
        st.just(()),
        st.sets(st.integers(1, 6)).map(
            lambda failed: (ResultRecord(CHORD, "clean", float(max(0, 4 - len(failed))), tuple(sorted(failed))),)
        ),
        st.integers(0, 240).map(lambda value: (ResultRecord(CHANGE, "changes", float(value)),)),
    ),
    tiring=st.none() | st.integers(0, 10),
    hand=st.none()
    | st.just(HandRecord(0))
    | st.builds(
        HandRecord, st.integers(1, 10), st.just("fretting"), st.just("wrist"), rested=st.sampled_from([None, 0, 1]),
        began=st.sampled_from(["", "during"]), at_rest=answers, daily=answers, sudden=answers,
        face_arm_leg=st.sampled_from([None, True]), also=st.sets(st.sampled_from(ALSO)).map(handcheck.in_order),
    )
    | st.builds(
        HandRecord, st.sampled_from([0, 2, 5, 8]), st.just("both"), st.just("wrist"), in_words=st.just(True)
    ).map(handcheck.fitting),
    tiring_in_words=st.booleans(),
    note=st.text(max_size=50)
    .map(lambda text: text.replace("\x00", "").strip())
    .filter(lambda text: text.isprintable()),
).map(lambda record: replace(record, tiring_in_words=record.tiring_in_words and record.tiring in (0, 2, 5, 8)))


@given(records)
def test_reading_is_the_inverse_of_writing(record):
    assert wire.place(read(wire.write(record)), NOW, ZONE, ()) == record


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@settings(max_examples=300)
@given(
    st.one_of(
        st.binary(max_size=60),
        anything,
        st.dictionaries(st.sampled_from(["code", "day", "at", "hand", "also"]), anything),
        st.dictionaries(st.sampled_from(["discomfort", "also", "face_arm_leg", "place"]), anything).map(
            lambda hand: {"hand": {"discomfort": 0, **hand}}
        ),
    )
)
def test_no_body_of_a_note_ends_in_another_exception(body):
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    sent, errors = None, {}
    try:
        sent = wire.place_note(wire.read_note(raw, CODE, HAND), NOW, ZONE, None)
    except wire.WireError as error:
        errors = error.errors
    if sent is None:
        assert errors
        assert all(in_words(errors).values())
        return
    assert NOW - dt.timedelta(days=367) <= sent.at <= NOW
    assert handcheck.wrong(sent.hand) == []


@settings(max_examples=300)
@given(st.one_of(st.binary(max_size=60), anything, st.dictionaries(st.sampled_from(sorted(WHOLE)), anything)))
def test_no_body_ends_in_another_exception(body):
    record, errors = None, {}
    try:
        record = place(body)
    except wire.WireError as error:
        errors = error.errors
    if record is None:
        assert errors
        assert all(in_words(errors).values())
    else:
        assert 1 <= record.seconds <= 8 * 3600
        assert record.end <= NOW + dt.timedelta(minutes=2)
