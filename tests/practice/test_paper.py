"""A week copied from the printed sheet: seven boxes, stored once, all or nothing, and the sheet itself."""

import datetime as dt
import re
import uuid

import pytest
from django.urls import reverse

from practice.models import PracticeEntry, RemovedEntry, Result, Segment
from students.calendar import local_day
from tests.factory import (
    NOW,
    TODAY,
    chord_terms,
    make_consent,
    make_entry,
    make_goal,
    make_note,
    make_return,
    make_roots_goal,
)

MONDAY = dt.date(2026, 11, 9)  # NOW is the Thursday of this week, 18:00
DAYS = [MONDAY + dt.timedelta(days=n) for n in range(7)]


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def goal(cast):
    return make_goal(cast.child)


@pytest.fixture
def paper(cast):
    """paper(typed, ...) -> the answer to the form drawn for that week, sent with what was typed into it."""

    def send(typed, who="teacher", week=MONDAY, drawn=None, name=None):
        name = name or ("practice:f-paper" if who.endswith("guardian") else "practice:paper")
        address = f"{reverse(name, args=[cast.child.code])}?week={week}"
        hidden = drawn or hidden_of(cast.client(who).get(address))
        return cast.client(who).post(address, {**hidden, **typed})

    return send


def hidden_of(response):
    assert response.status_code == 200
    return dict(re.findall(r'<input type="hidden" name="([cs]-[^"]+)" value="([^"]*)">', response.content.decode()))


def address_of(cast, name="practice:paper", week=MONDAY):
    return f"{reverse(name, args=[cast.child.code])}?week={week}"


def stored():
    return [(one.day, one.seconds // 60) for one in PracticeEntry.objects.order_by("day")]


def test_a_row_of_boxes_becomes_one_entry_a_day(cast, paper):
    answer = paper({f"m-{DAYS[0]}": "20", f"m-{DAYS[2]}": "15", f"m-{DAYS[3]}": "1:05:00"})
    assert (answer.status_code, answer.url) == (302, f"/students/{cast.child.code}/paper/?week={MONDAY}")
    assert stored() == [(DAYS[0], 20), (DAYS[2], 15), (DAYS[3], 65)]
    for entry in PracticeEntry.objects.all():
        assert (entry.student, entry.by, entry.by_name) == (cast.child, "paper", "Ada Teacher")
        assert local_day(entry.begun, "Europe/London") == entry.day
        assert entry.begun + dt.timedelta(seconds=entry.seconds) <= NOW
    page = cast.client("teacher").get(answer.url).content.decode()
    assert "100 minutes on 3 days stored" in page


def test_a_parent_copies_it_and_is_named(cast, paper):
    assert paper({f"m-{DAYS[1]}": "12"}, who="guardian").url == f"/f/{cast.child.code}/paper/?week={MONDAY}"
    entry = PracticeEntry.objects.get()
    assert (entry.by, entry.by_name, entry.day) == ("paper", "Gil Guardian", DAYS[1])


def test_the_same_form_twice_stores_once_also_at_the_same_time_of_another_day(cast, paper, monkeypatch):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    typed = {f"m-{DAYS[0]}": "20", f"m-{DAYS[3]}": "10"}
    for later in (0, 0, 1, 5):
        monkeypatch.setattr("django.utils.timezone.now", lambda later=later: NOW + dt.timedelta(days=later))
        assert paper(typed, drawn=drawn).status_code == 302
        assert stored() == [(DAYS[0], 20), (DAYS[3], 10)]


def test_going_back_and_writing_one_box_more_stores_that_box_alone(cast, goal, paper):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    typed = {f"m-{DAYS[0]}": "20", f"v-{goal.code}": "5"}
    assert paper(typed, drawn=drawn).status_code == 302
    assert paper({**typed, f"m-{DAYS[2]}": "15"}, drawn=drawn).status_code == 302
    assert stored() == [(DAYS[0], 20), (DAYS[2], 15)]
    # the week's value stays where it was stored
    assert list(Result.objects.values_list("day", "value")) == [(DAYS[0], 5.0)]


def test_another_number_in_a_stored_box_is_told_beside_it_and_stores_nothing(cast, paper):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    paper({f"m-{DAYS[0]}": "20"}, drawn=drawn)
    answer = paper({f"m-{DAYS[0]}": "25", f"m-{DAYS[1]}": "10"}, drawn=drawn)
    assert set(answer.context["form"].errors) == {f"m-{DAYS[0]}"}
    assert "20 minutes" in str(answer.context["form"].errors)
    assert stored() == [(DAYS[0], 20)]
    assert 'value="25"' in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({f"m-{DAYS[0]}": "twenty"}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "-5"}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "20:75"}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "481"}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "9" * 4000}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "1\x000"}, f"m-{DAYS[0]}"),
        ({f"m-{DAYS[0]}": "٣٠"}, f"m-{DAYS[0]}"),
        ({}, "__all__"),
        ({f"m-{DAYS[0]}": "0"}, "__all__"),
        ({f"m-{DAYS[0]}": " "}, "__all__"),
    ],
)
def test_what_cannot_be_is_said_beside_its_box_and_kept(cast, paper, typed, field):
    answer = paper({f"m-{DAYS[1]}": "10" if field != "__all__" else "", **typed})
    assert answer.status_code == 200
    form = answer.context["form"]
    assert set(form.errors) == {field}
    assert not PracticeEntry.objects.exists()
    for name, value in typed.items():
        assert form[name].value() == value
        if field != "__all__":
            assert f'id="id_{name}_error"' in answer.content.decode()


def test_no_day_to_come_and_none_before_joining(cast, paper):
    cast.child.joined = DAYS[1]
    cast.child.save(update_fields=["joined"])
    page = cast.client("teacher").get(address_of(cast))
    closed = [bool(box.closed) for box in page.context["boxes"]]
    assert closed == [True, False, False, False, True, True, True]
    assert len(re.findall(r'<input[^>]*name="m-[^"]+"[^>]* disabled', page.content.decode())) == 4
    # sent all the same, past the page: not stored
    answer = paper({f"m-{DAYS[0]}": "20", f"m-{DAYS[4]}": "20"})
    assert answer.status_code == 200
    assert paper({f"m-{DAYS[0]}": "20", f"m-{DAYS[1]}": "20", f"m-{DAYS[6]}": "20"}).status_code == 302
    assert stored() == [(DAYS[1], 20)]


def test_today_takes_no_more_minutes_than_it_is_old(cast, paper, monkeypatch):
    """Ten past midnight in the studio's zone: twenty minutes of today cannot have been, and would fall on yesterday."""
    just_after = dt.datetime(2026, 11, 12, 0, 10, tzinfo=dt.UTC)
    monkeypatch.setattr("django.utils.timezone.now", lambda: just_after)
    assert set(paper({f"m-{DAYS[3]}": "20"}).context["form"].errors) == {f"m-{DAYS[3]}"}
    assert paper({f"m-{DAYS[3]}": "5", f"m-{DAYS[2]}": "20"}).status_code == 302
    assert stored() == [(DAYS[2], 20), (DAYS[3], 5)]


def test_every_entry_stays_on_its_day_on_a_full_day_and_when_clocks_change(cast, paper, monkeypatch):
    make_entry(cast.child, day=DAYS[0], begun=dt.datetime(2026, 11, 9, 14, tzinfo=dt.UTC), seconds=8 * 3600)
    make_entry(cast.child, day=DAYS[0], begun=dt.datetime(2026, 11, 9, 22, tzinfo=dt.UTC), seconds=2 * 3600 - 60)
    assert paper({f"m-{DAYS[0]}": "20"}).status_code == 302
    assert PracticeEntry.objects.get(by="paper").day == DAYS[0]
    # in spring: the night from 28 to 29 March 2026 has no hour from 1 to 2 in London
    cast.child.joined = dt.date(2026, 1, 1)
    cast.child.save(update_fields=["joined"])
    week = dt.date(2026, 3, 23)
    days = [week + dt.timedelta(days=n) for n in range(7)]
    assert paper({f"m-{day}": "30" for day in days}, week=week).status_code == 302
    assert sorted(PracticeEntry.objects.filter(day__lt=DAYS[0]).values_list("day", flat=True)) == days


def test_what_is_logged_already_is_shown_beside_the_box(cast, paper):
    make_entry(cast.child, day=DAYS[1], seconds=1500)
    page = cast.client("teacher").get(address_of(cast)).content.decode()
    assert "has 25 min" in page
    assert "Tuesday 10 November: 25 minutes (student)" in page
    # seen on the page: it goes on top
    assert paper({f"m-{DAYS[1]}": "10"}).status_code == 302
    assert PracticeEntry.objects.filter(day=DAYS[1]).count() == 2


def test_what_is_logged_meanwhile_is_told_before_anything_goes_on_top(cast, paper):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    make_entry(cast.child, day=DAYS[1], seconds=1500)
    answer = paper({f"m-{DAYS[1]}": "25", f"m-{DAYS[2]}": "10"}, drawn=drawn)
    assert set(answer.context["form"].errors) == {f"m-{DAYS[1]}"}
    assert PracticeEntry.objects.count() == 1
    # the page that says so knows it now
    assert paper({f"m-{DAYS[1]}": "25"}, drawn=hidden_of(answer)).status_code == 302


def test_minutes_by_goal_and_one_value_for_the_week(cast, goal, paper):
    roots = make_roots_goal(cast.child)
    answer = paper(
        {
            f"m-{DAYS[0]}": "20",
            f"g-{goal.code}-{DAYS[0]}": "12",
            f"g-{roots.code}-{DAYS[0]}": "5",
            f"g-{goal.code}-{DAYS[1]}": "10",  # without minutes above: their sum
            f"m-{DAYS[2]}": "15",
            f"v-{goal.code}": "5",
            f"v-{roots.code}": "58",
        }
    )
    assert answer.status_code == 302
    assert stored() == [(DAYS[0], 20), (DAYS[1], 10), (DAYS[2], 15)]
    assert sorted(Segment.objects.values_list("entry__day", "goal__kind", "seconds")) == [
        (DAYS[0], "chord", 720),
        (DAYS[0], "roots", 300),
        (DAYS[1], "chord", 600),
    ]
    # a value stands on the last day on which its goal was played
    assert sorted(Result.objects.values_list("goal__kind", "day", "value")) == [
        ("chord", DAYS[1], 5.0),
        ("roots", DAYS[0], 58.0),
    ]


def test_a_value_without_any_minutes_of_its_goal_goes_to_the_last_day(cast, goal, paper):
    assert paper({f"m-{DAYS[0]}": "20", f"m-{DAYS[2]}": "15", f"v-{goal.code}": "0"}).status_code == 302
    assert list(Result.objects.values_list("day", "value")) == [(DAYS[2], 0.0)]


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"v": "7"}, "v"),  # six strings sound
        ({"v": "-1"}, "v"),
        ({"v": "five"}, "v"),
        ({"v": "1e400"}, "v"),
        ({"g": "30", "m": "20"}, "m"),
        ({"v": "5", "m": ""}, "v"),
        ({"g": "x"}, "g"),
    ],
)
def test_a_goals_boxes_are_checked_too(cast, goal, paper, typed, wrong):
    names = {"v": f"v-{goal.code}", "g": f"g-{goal.code}-{DAYS[0]}", "m": f"m-{DAYS[0]}"}
    sent = {names["m"]: "20", **{names[name]: value for name, value in typed.items()}}
    answer = paper(sent)
    assert answer.status_code == 200
    assert set(answer.context["form"].errors) == {names[wrong]}
    assert not PracticeEntry.objects.exists()


def test_nothing_is_stored_when_one_box_cannot_be(cast, paper):
    """The middle box carries the code of somebody else's entry: all or nothing, and nothing is told of it."""
    theirs = make_entry(cast.other_student, note="private", seconds=777)
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    forged = {**drawn, f"c-{DAYS[1]}": str(theirs.code)}
    answer = paper({f"m-{day}": "20" for day in DAYS[:3]}, drawn=forged)
    assert set(answer.context["form"].errors) == {f"m-{DAYS[1]}"}
    assert "private" not in answer.content.decode()
    assert not cast.child.entries.exists()
    renewed = hidden_of(answer)
    assert renewed[f"c-{DAYS[1]}"] != str(theirs.code)
    assert paper({f"m-{day}": "20" for day in DAYS[:3]}, drawn=renewed).status_code == 302
    theirs.refresh_from_db()
    assert (theirs.student, theirs.seconds) == (cast.other_student, 777)


@pytest.mark.parametrize("code", ["", "x", "0" * 400, "\x00", "{}"])
def test_a_code_that_is_none_gets_a_new_one(cast, paper, code):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    assert paper({f"m-{DAYS[0]}": "20"}, drawn={**drawn, f"c-{DAYS[0]}": code}).status_code == 302
    assert stored() == [(DAYS[0], 20)]


def test_an_entry_that_was_removed_does_not_come_back_by_the_same_form(cast, paper):
    drawn = hidden_of(cast.client("teacher").get(address_of(cast)))
    code = uuid.UUID(drawn[f"c-{DAYS[0]}"])
    RemovedEntry.objects.create(code=code, student=cast.child, at=NOW, by="teacher")
    answer = paper({f"m-{DAYS[0]}": "20"}, drawn=drawn)
    assert set(answer.context["form"].errors) == {f"m-{DAYS[0]}"}
    assert not PracticeEntry.objects.exists()


def test_the_week_that_is_asked_for_lies_between_joining_and_now(cast):
    client = cast.client("teacher")
    first = cast.studio.week_of(cast.child.joined)
    before = dt.date(2026, 11, 2)
    cases = {"2026-11-15": MONDAY, "2026-11-08": before, "2030-01-01": MONDAY, "2020-01-01": first}
    for asked, shown in cases.items():
        page = client.get(f"{reverse('practice:paper', args=[cast.child.code])}?week={asked}")
        assert page.context["week"] == shown
    assert client.get(f"{reverse('practice:paper', args=[cast.child.code])}").context["week"] == MONDAY
    for text in ("x", "2026-13-01", "", "9999-12-31x", "٢٠٢٦-١١-٠٩"):
        assert client.get(f"{reverse('practice:paper', args=[cast.child.code])}?week={text}").status_code == 404


def test_the_week_starts_on_the_studios_day(cast):
    cast.studio.week_start = 6
    cast.studio.save(update_fields=["week_start"])
    page = cast.client("teacher").get(reverse("practice:paper", args=[cast.child.code]))
    assert page.context["boxes"][0].day == dt.date(2026, 11, 8)


def test_goals_that_were_not_on_that_weeks_sheet_are_not_asked(cast, goal):
    goal.day = MONDAY + dt.timedelta(days=7)
    goal.save(update_fields=["day"])
    gone = make_goal(cast.child, set_aside_at=NOW - dt.timedelta(days=30))
    during = make_goal(cast.child, set_aside_at=NOW - dt.timedelta(days=1))
    page = cast.client("teacher").get(address_of(cast))
    assert [line.goal for line in page.context["lines"]] == [during]
    assert str(gone.code) not in page.content.decode()


@pytest.mark.parametrize("name", ["practice:paper", "practice:sheet"])
def test_the_pages_cost_the_same_with_many_goals_and_entries(cast, count_queries, goal, name):
    client, path = cast.client("teacher"), address_of(cast, name)
    make_entry(cast.child, (goal, 600), day=DAYS[0])
    few = count_queries(client, path)
    for number in range(4):
        more = make_goal(cast.child, terms=chord_terms(root="CDEF"[number]))
        make_entry(cast.child, (more, 600), day=DAYS[number % 3])
    assert count_queries(client, path) == few


def test_the_sheet_has_each_goal_with_its_diagram_and_the_seven_days_in_one_row(cast, goal):
    for who, name in (("teacher", "practice:sheet"), ("guardian", "practice:f-sheet")):
        page = cast.client(who).get(address_of(cast, name)).content.decode()
        head = re.search(r'<table class="boxes">\s*<thead><tr>(.*?)</tr>', page, flags=re.S)[1]
        assert [f"{day:%a}<br>{day.day} {day:%b}" in head for day in DAYS] == [True] * 7
        first_row = re.search(r'<tr class="whole">(.*?)</tr>', page, flags=re.S)[1]
        assert first_row.count("<td></td>") == 7
        assert page.count("<svg") >= 1
        assert goal.title in page


def test_the_sheet_says_how_to_find_a_movable_chords_fret(cast, goal):
    page = cast.client("teacher").get(address_of(cast, "practice:sheet")).content.decode()
    # B on the lowest string: E, F a half tone up, G and A and B a whole tone each [derived]
    assert "Index at fret 7. Count up the 6th string: open E, F 1, G 3, A 5, B 7." in page


def test_the_sheet_keeps_to_the_step_of_a_return(cast, goal):
    make_consent(cast.child)
    make_return(cast.child)
    open_chord = make_goal(cast.child, terms=chord_terms("open-Em", ""))
    # 2 times 5 minutes on the first step (BAPAM, published), and no barre
    for who, name in (("teacher", "practice:sheet"), ("guardian", "practice:f-sheet")):
        answer = cast.client(who).get(address_of(cast, name))
        assert (answer.context["plan"], answer.context["most"]) == (10, 10)
        assert [card.goal.title for card in answer.context["cards"]] == [open_chord.title]
        assert "2 times 5 minutes today" in answer.content.decode()
        assert f"Resting for now: {goal.title}." in answer.content.decode()
    # something was felt: nothing is played until the teacher has set the step
    make_note(cast.child, 1)
    answer = cast.client("teacher").get(address_of(cast, "practice:sheet"))
    assert (answer.context["plan"], answer.context["cards"]) == (0, ())
    assert "Stop for today." in answer.content.decode()
    assert "Nothing is set yet" not in answer.content.decode()


def test_an_adults_hand_bends_no_sheet_that_the_family_sees(cast):
    """An adult's own consent does not reach the guardians, not even by a barre that is missing on a sheet."""
    cast.child.birth_year = 1990
    cast.child.save(update_fields=["birth_year"])
    make_goal(cast.child)
    make_consent(cast.child, given_by="student")
    make_note(cast.child, 7, day=TODAY)
    family = cast.client("guardian").get(address_of(cast, "practice:f-sheet"))
    teacher = cast.client("teacher").get(address_of(cast, "practice:sheet"))
    assert len(family.context["cards"]) == 1
    assert family.context["plan"] == cast.child.plan_minutes > teacher.context["plan"]
