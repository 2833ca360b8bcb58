"""Whatever is typed into a week's boxes or a correction: messages, never a broken page, nothing half-stored."""

import datetime as dt

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from practice.models import PracticeEntry, RemovedEntry, Result, Segment
from tests.factory import NOW, make_entry, make_goal, make_result
from tests.practice.test_correcting import typed as form_of
from tests.practice.test_paper import DAYS, MONDAY, hidden_of
from tests.students.test_forms_random import few, typed


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def rows():
    return [model.objects.count() for model in (PracticeEntry, Segment, Result)]


boxes = st.dictionaries(
    st.tuples(st.sampled_from("mgvcs"), st.integers(0, 6)),
    st.one_of(typed, st.integers(0, 600).map(str), st.sampled_from(["5", "20", "7:30"])),
    min_size=1,
    max_size=9,
)


@few
@given(sent=boxes)
def test_a_week_is_stored_whole_or_not_at_all(cast, sent):
    goal = make_goal(cast.child)
    path = f"{reverse('practice:paper', args=[cast.child.code])}?week={MONDAY}"
    client = cast.client("teacher")
    names = {
        (kind, n): {"g": f"g-{goal.code}-{DAYS[n]}", "v": f"v-{goal.code}"}.get(kind, f"{kind}-{DAYS[n]}")
        for kind, n in sent
    }
    data = {**hidden_of(client.get(path)), **{names[key]: value for key, value in sent.items()}}
    answer = client.post(path, data)
    assert answer.status_code in (200, 302), data
    if answer.status_code == 200:
        assert answer.context["form"].errors
        assert rows() == [0, 0, 0]
    else:
        entries = PracticeEntry.objects.all()
        assert 1 <= len(entries) == len({entry.day for entry in entries}) <= 4
        for entry in entries:
            assert DAYS[0] <= entry.day <= DAYS[3]
            assert entry.begun + dt.timedelta(seconds=entry.seconds) <= NOW + dt.timedelta(minutes=2)
            assert sum(part.seconds for part in entry.segments.all()) <= entry.seconds
        # the same again, whatever it was, stores nothing more
        before = rows()
        assert client.post(path, data).status_code in (200, 302)
        assert rows() == before
    PracticeEntry.objects.all().delete()
    goal.delete()


FIELDS = ["version", "day", "start", "total", "note", "m", "v", "f", "action"]
corrections = st.dictionaries(st.sampled_from(FIELDS), typed, min_size=1, max_size=5)


@few
@given(sent=corrections)
def test_a_correction_is_stored_whole_or_not_at_all(cast, sent):
    goal = make_goal(cast.student)
    entry = make_entry(cast.student, (goal, 600), seconds=1200, stored_at=NOW)
    make_result(goal, 5, entry=entry)
    names = {"m": f"m-{goal.code}", "v": f"v-{goal.code}-clean", "f": f"f-{goal.code}-clean"}
    for who, name in (("teacher", "practice:entry"), ("student", "practice:s-correct")):
        path, client = reverse(name, args=[cast.student.code, entry.code]), cast.client(who)
        before = PracticeEntry.objects.values().get(), list(Segment.objects.values()), list(Result.objects.values())
        page = client.get(path)
        if page.context["why_not"]:
            continue
        data = form_of(page, **{names.get(key, key): value for key, value in sent.items()})
        answer = client.post(path, data)
        assert answer.status_code in (200, 302, 409), data
        after = PracticeEntry.objects.values().get(), list(Segment.objects.values()), list(Result.objects.values())
        if answer.status_code == 302 and after != before:
            assert after[0]["version"] == before[0]["version"] + 1 == len(after[0]["former"]) + 1
        else:
            assert after == before
    assert not RemovedEntry.objects.exists()
    PracticeEntry.objects.all().delete()
    goal.delete()
