"""Students, guardians and their links, as teachers keep them."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from students.links import sign
from students.models import Guardian, Student
from tests import factory

STUDENT = {
    "name": "Wren Example",
    "birth_year": "2014",
    "joined": "2026-09-01",
    "link_expires": "",
    "instrument": "three-quarter",
    "plays": "left",
    "tuning": "",
    "capo": "0",
    "strings": "steel",
    "string_gauge": ".011 to .052",
    "last_setup": "2026-05-02",
    "hand_size": "small",
    "fingertip_mm": "",
    "reach_mm": "",
    "lesson_weekday": "3",
    "lesson_time": "15:30",
    "lesson_minutes": "30",
    "lesson_every": "1",
    "lesson_anchor": "",
    "plan_days": "5",
    "plan_minutes": "12",
    "daily_most": "25",
}
ADD = "/students/add/"
OLD = {"name": "old", "plan_minutes": 5}


def at(name, *codes):
    return reverse(f"students:{name}", args=codes)


# -- add and edit ------------------------------------------------------------------------------------------------


def test_a_teacher_adds_a_student_of_their_own(cast):
    response = cast.client("teacher").post(ADD, STUDENT)
    student = Student.objects.get(name="Wren Example")
    assert response.url == at("people", student.code)
    assert (student.teacher, student.studio, student.status) == (cast.teacher, cast.studio, "active")
    assert (student.birth_year, student.plays, student.lesson_weekday, student.plan_week) == (2014, "left", 3, 60)
    assert cast.client("other_teacher").get(at("student-edit", student.code)).status_code == 404


def test_only_the_owner_chooses_the_teacher_and_only_from_the_studio(cast):
    theirs = STUDENT | {"teacher": str(cast.other_teacher.code)}
    cast.client("teacher").post(ADD, theirs)
    assert Student.objects.get(name="Wren Example").teacher == cast.teacher
    cast.client("owner").post(ADD, theirs | {"name": "Ash Example"})
    assert Student.objects.get(name="Ash Example").teacher == cast.other_teacher
    far = cast.client("owner").post(ADD, theirs | {"teacher": str(cast.stranger.code)})
    assert far.context["form"]["teacher"].errors
    assert 'name="teacher"' not in cast.client("teacher").get(ADD).content.decode()


def test_a_teacher_who_may_not_sign_in_is_offered_only_where_they_have_the_student(cast):
    cast.teacher.user.is_active = False
    cast.teacher.user.save()
    offered = cast.client("owner").get(ADD).context["form"].fields["teacher"].queryset
    assert cast.teacher not in offered
    offered = cast.client("owner").get(at("student-edit", cast.child.code)).context["form"].fields["teacher"].queryset
    assert cast.teacher in offered


def test_an_edit_changes_what_was_typed_and_nothing_else(cast):
    client = cast.client("teacher")
    page = client.get(at("student-edit", cast.child.code))
    data = {key: "" if value is None else value for key, value in page.context["form"].initial.items()}
    data |= {"name": "Kit Renamed"}
    Student.objects.filter(pk=cast.child.pk).update(link_version=9)
    assert client.post(at("student-edit", cast.child.code), data).url == reverse(
        "practice:student", args=[cast.child.code]
    )
    cast.child.refresh_from_db()
    assert (cast.child.name, cast.child.link_version, cast.child.plan_minutes) == ("Kit Renamed", 9, 20)


@pytest.mark.parametrize(
    ("typed", "since"),
    [
        ({"name": "Kit Renamed", "plan_minutes": "15"}, False),
        ({"capo": "2"}, True),
        ({"instrument": "classical"}, True),
        ({"tuning": "D2 A2 D3 G3 B3 E4"}, True),
    ],
)
def test_another_instrument_is_dated(cast, typed, since):
    client = cast.client("teacher")
    page = client.get(at("student-edit", cast.student.code))
    data = {key: "" if value is None else value for key, value in page.context["form"].initial.items()}
    assert client.post(at("student-edit", cast.student.code), data | typed).status_code == 302
    cast.student.refresh_from_db()
    today = cast.studio.today(timezone.now())
    assert cast.student.instrument_since == (today if since else None)


# field, what is typed, what else is typed
WRONG = [
    ("name", "", {}),
    ("name", "   ", {}),
    ("name", "x" * 121, {}),
    ("name", "two\nlines", {}),
    ("name", "a\x00b", {}),
    ("birth_year", "1899", {}),
    ("birth_year", "2099", {}),
    ("birth_year", "-5", {}),
    ("birth_year", "1" + "0" * 400, {}),
    ("birth_year", "1" * 6000, {}),
    ("birth_year", "twelve", {}),
    ("birth_year", "2014.5", {}),
    ("joined", "", {}),
    ("joined", "9999-12-31", {}),
    ("joined", "0001-01-01", {}),
    ("joined", "yesterday", {}),
    ("joined", "2013-05-01", {}),  # before birth
    ("link_expires", "2020-01-01", {}),
    ("link_expires", "9999-12-31", {}),
    ("instrument", "banjo", {}),
    ("plays", "both", {}),
    ("tuning", "D2 A2 D3 G3 B3", {}),  # five strings
    ("tuning", "H2 A2 D3 G3 B3 E4", {}),
    ("tuning", "\N{GUITAR}", {}),
    ("tuning", "E2 " * 40, {}),
    ("capo", "19", {}),
    ("capo", "-1", {}),
    ("capo", "1" + "0" * 400, {}),
    ("strings", "gut", {}),
    ("string_gauge", "x" * 41, {}),
    ("string_gauge", "a\nb", {}),
    ("last_setup", "9999-12-31", {}),
    ("last_setup", "1949-12-31", {}),
    ("last_setup", "last May", {}),
    ("hand_size", "huge", {}),
    ("fingertip_mm", "7", {}),
    ("fingertip_mm", "NaN", {}),
    ("fingertip_mm", "1e400", {}),
    ("fingertip_mm", "Infinity", {}),
    ("reach_mm", "1000", {}),
    ("lesson_weekday", "7", {}),
    ("lesson_weekday", "", {}),  # a time without a day
    ("lesson_time", "25:00", {}),
    ("lesson_time", "noon", {}),
    ("lesson_minutes", "5", {}),
    ("lesson_minutes", "1000", {}),
    ("lesson_every", "3", {}),
    ("lesson_anchor", "", {"lesson_every": "2"}),
    ("lesson_anchor", "2026-11-13", {"lesson_every": "2"}),  # a Friday
    ("lesson_anchor", "9999-12-30", {"lesson_every": "2"}),  # a Thursday, far away
    ("lesson_weekday", "", {"lesson_every": "2", "lesson_time": "", "lesson_anchor": "2026-11-12"}),
    ("plan_days", "0", {}),
    ("plan_days", "8", {}),
    ("plan_minutes", "4", {}),
    ("plan_minutes", "", {}),
    ("daily_most", "11", {}),  # less than the plan's 12
    ("daily_most", "9" * 30, {}),
]


@pytest.mark.parametrize(("field", "typed", "more"), WRONG)
def test_what_cannot_be_is_said_beside_the_field_and_kept(cast, field, typed, more):
    before = Student.objects.count()
    response = cast.client("teacher").post(ADD, STUDENT | more | {field: typed})
    assert response.status_code == 200
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert len(form.errors[field]) == 1
    assert form[field].value() == typed
    assert f'id="id_{field}_error"' in response.content.decode()
    assert Student.objects.count() == before


def test_fortnightly_lessons_with_a_day_of_theirs_are_stored(cast):
    data = STUDENT | {"lesson_every": "2", "lesson_anchor": "2026-11-12"}
    cast.client("teacher").post(ADD, data)
    student = Student.objects.get(name="Wren Example")
    assert [student.has_lesson_on(dt.date(2026, 11, day)) for day in (12, 19, 26)] == [True, False, True]


def test_a_tuning_of_six_and_a_capo_are_stored(cast):
    cast.client("teacher").post(ADD, STUDENT | {"tuning": "D2 A2 D3 G3 B3 E4", "capo": "3"})
    student = Student.objects.get(name="Wren Example")
    assert student.theory_instrument().open_midi == (41, 48, 53, 58, 62, 67)


def test_what_is_on_the_instrument_is_stored_and_may_stay_unknown(cast):
    cast.client("teacher").post(ADD, STUDENT)
    student = Student.objects.get(name="Wren Example")
    kept = (student.strings, student.string_gauge, student.last_setup)
    assert kept == ("steel", ".011 to .052", dt.date(2026, 5, 2))
    cast.client("teacher").post(ADD, STUDENT | {"name": "Ash E", "strings": "", "string_gauge": "", "last_setup": ""})
    student = Student.objects.get(name="Ash E")
    assert (student.strings, student.string_gauge, student.last_setup) == ("", "", None)


# -- pause, archive, take back -----------------------------------------------------------------------------------


def test_archiving_stops_the_links_and_taking_back_opens_them_again(cast):
    client, path = cast.client("teacher"), at("student-status", cast.child.code)
    link = f"/open/{sign(cast.child.code, 1)}/"
    for status, answer in (("paused", 302), ("archived", 404), ("active", 302)):
        assert client.post(path, {"status": status}).url == at("people", cast.child.code)
        cast.child.refresh_from_db()
        assert cast.child.status == status
        assert client.get(link).status_code == answer


@pytest.mark.parametrize("typed", ["", "gone", "\x00", "9" * 400])
def test_a_status_that_is_none_changes_nothing(cast, typed):
    client = cast.client("teacher")
    page = client.post(at("student-status", cast.child.code), {"status": typed}, follow=True)
    assert "Choose active, paused or archived." in page.content.decode()
    cast.child.refresh_from_db()
    assert cast.child.status == "active"


# -- links -------------------------------------------------------------------------------------------------------


def test_the_people_page_shows_the_links_for_copying_and_on_paper(cast):
    page = cast.client("teacher").get(at("people", cast.child.code))
    text = page.content.decode()
    for person in (cast.child, cast.guardian):
        assert text.count(f"http://testserver/open/{sign(person.code, 1)}/") == 2
    assert "no-store" in page.headers["Cache-Control"]
    assert cast.other_guardian.name not in text


def test_replacing_a_link_stops_the_old_one_at_once(cast):
    client = cast.client("teacher")
    for person, path in (
        (cast.child, at("link-replace", cast.child.code)),
        (cast.guardian, at("guardian-link-replace", cast.child.code, cast.guardian.code)),
    ):
        old = f"/open/{sign(person.code, 1)}/"
        assert client.get(path).status_code == 405
        assert client.get(old).status_code == 302
        assert client.post(path).url == at("people", cast.child.code)
        assert client.get(old).status_code == 404
        assert sign(person.code, 2) in client.get(at("people", cast.child.code)).content.decode()


def test_an_ended_link_is_said_to_be_ended(cast):
    cast.guardian.link_expires = dt.date(2026, 1, 31)
    cast.guardian.save()
    assert "Ended on 31 January 2026" in cast.client("teacher").get(at("people", cast.child.code)).content.decode()


# -- guardians ---------------------------------------------------------------------------------------------------


@pytest.fixture
def sibling(cast):
    return factory.make_student(teacher=cast.teacher, name="Ida Child", birth_year=2018)


def test_a_new_guardian_is_added_with_a_link(cast):
    path = at("guardian-add", cast.child.code)
    assert cast.client("teacher").post(path, {"name": "May Parent", "email": "May@Home.example"}).status_code == 302
    guardian = cast.child.guardians.get(name="May Parent")
    assert (guardian.email, guardian.studio) == ("may@home.example", cast.studio)
    assert Guardian.objects.filter(students=cast.child).count() == 2


def test_two_guardians_without_an_address_are_two_people(cast):
    for name in ("May Parent", "Mo Parent"):
        assert cast.client("teacher").post(at("guardian-add", cast.child.code), {"name": name}).status_code == 302
    assert cast.child.guardians.count() == 3


def test_one_link_opens_all_children_of_a_guardian_who_is_chosen(cast, sibling):
    path = at("guardian-add", sibling.code)
    assert cast.client("teacher").post(path, {"existing": str(cast.guardian.code)}).status_code == 302
    assert list(sibling.guardians.all()) == [cast.guardian]
    client = cast.client("guardian")
    for child in (cast.child, sibling):
        assert client.get(at("f-consent", child.code)).status_code == 200


def test_the_same_name_and_address_is_the_same_guardian(cast, sibling):
    expires = cast.studio.today(timezone.now()) + dt.timedelta(days=30)
    data = {"name": "gil guardian", "email": cast.guardian.email.upper(), "link_expires": expires.isoformat()}
    assert cast.client("teacher").post(at("guardian-add", sibling.code), data).status_code == 302
    assert list(sibling.guardians.all()) == [cast.guardian]
    cast.guardian.refresh_from_db()
    assert (cast.guardian.name, cast.guardian.link_expires) == ("Gil Guardian", None)


def test_an_address_under_another_name_attaches_nobody(cast, sibling):
    """A slip in an address must not open a child's pages to another family, nor tell who that is."""
    client = cast.client("teacher")
    mine = client.post(at("guardian-add", sibling.code), {"name": "May", "email": cast.guardian.email})
    assert "Gil Guardian, who can be chosen above" in str(mine.context["form"].errors["email"])
    other = client.post(at("guardian-add", sibling.code), {"name": "May", "email": cast.other_guardian.email})
    assert "under another name" in str(other.context["form"].errors["email"])
    assert cast.other_guardian.name not in other.content.decode()
    assert not sibling.guardians.exists()


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({}, "name"),
        ({"name": "x" * 500}, "name"),
        ({"name": "a\tb"}, "name"),
        ({"name": "May", "email": "no address"}, "email"),
        ({"name": "May", "email": "a\x00@b.example"}, "email"),
        ({"name": "May", "link_expires": "9999-12-31"}, "link_expires"),
        ({"name": "May", "link_expires": "1" + "0" * 400}, "link_expires"),
        ({"existing": "1" + "0" * 400}, "existing"),
        ({"existing": "\N{GUITAR}"}, "existing"),
        ({"existing": "00000000-0000-4000-8000-000000000000"}, "existing"),
    ],
)
def test_a_guardian_that_cannot_be_is_said_beside_the_field(cast, data, field):
    response = cast.client("teacher").post(at("guardian-add", cast.child.code), data)
    assert response.status_code == 200
    assert set(response.context["form"].errors) == {field}
    assert cast.child.guardians.count() == 1


def test_who_is_a_guardian_already_or_of_others_cannot_be_chosen(cast):
    client, path = cast.client("teacher"), at("guardian-add", cast.child.code)
    for guardian in (cast.guardian, cast.other_guardian):
        response = client.post(path, {"existing": str(guardian.code)})
        assert response.context["form"].errors["existing"]
    again = client.post(path, {"name": cast.guardian.name, "email": cast.guardian.email})
    assert "is here already" in str(again.context["form"].errors["email"])
    both = client.post(path, {"existing": str(cast.guardian.code), "name": "May"})
    assert both.context["form"].errors["existing"]


def test_a_guardian_is_edited_and_keeps_an_address_of_their_own(cast, sibling):
    factory.make_guardian(sibling, name="May", email="may@home.example")
    client, path = cast.client("teacher"), at("guardian-edit", cast.child.code, cast.guardian.code)
    taken = client.post(path, {"name": "Gil Renamed", "email": "MAY@home.example"})
    assert taken.context["form"].errors["email"]
    assert taken.context["form"]["name"].value() == "Gil Renamed"
    assert "Edit Gil Guardian" in taken.content.decode()  # nothing is stored, so nobody is renamed
    assert client.post(path, {"name": "Gil Renamed", "email": "gil@home.example"}).status_code == 302
    cast.guardian.refresh_from_db()
    assert (cast.guardian.name, cast.guardian.email) == ("Gil Renamed", "gil@home.example")


def test_a_removed_guardian_sees_nothing_more_of_that_child(cast, sibling):
    cast.guardian.guardianships.create(student=sibling)
    client, path = cast.client("teacher"), at("guardian-remove", cast.child.code, cast.guardian.code)
    assert client.get(path).status_code == 405
    assert client.post(path).url == at("people", cast.child.code)
    assert cast.client("guardian").get(at("f-consent", cast.child.code)).status_code == 404
    assert cast.client("guardian").get(at("f-consent", sibling.code)).status_code == 200
    assert client.post(path).status_code == 404
    client.post(at("guardian-remove", sibling.code, cast.guardian.code))
    assert not Guardian.objects.filter(pk=cast.guardian.pk).exists()


def test_a_link_that_opens_another_teacher_s_student_is_shown_by_the_owner_alone(cast):
    """The guardian's link opens all of the family: one teacher must not get at another's student by it."""
    cast.other_guardian.guardianships.create(student=cast.child)
    link = sign(cast.other_guardian.code, 1)
    pages = {who: cast.client(who).get(at("people", cast.child.code)).content.decode() for who in ("teacher", "owner")}
    assert cast.other_guardian.name in pages["teacher"]
    assert link not in pages["teacher"]
    assert link in pages["owner"]
    edit = at("guardian-edit", cast.child.code, cast.other_guardian.code)
    assert cast.client("teacher").get(edit).status_code == 403
    assert cast.client("teacher").post(edit, {"name": "x", "email": "me@studio.example"}).status_code == 403
    assert cast.client("owner").get(edit).status_code == 200
    # cutting off a lost phone is open to both
    cut = at("guardian-link-replace", cast.child.code, cast.other_guardian.code)
    assert cast.client("teacher").post(cut).status_code == 302
    assert cast.client("owner").get(f"/open/{link}/").status_code == 404


def test_the_people_page_costs_the_same_for_a_large_family(cast, count_queries):
    client, path = cast.client("teacher"), at("people", cast.child.code)
    client.get(path)
    # session, user, teacher with studio, student, guardians shared with others, consents, guardians
    few = count_queries(client, path)
    assert few == 7
    for number in range(5):
        factory.make_guardian(cast.child, name=f"More {number}")
        factory.make_consent(cast.child, recorded_by=cast.teacher)
    assert count_queries(client, path) == few


def test_the_clock_of_the_studio_decides_what_today_is(cast, monkeypatch):
    """Just past midnight in Auckland it is still yesterday in London."""
    monkeypatch.setattr(timezone, "now", lambda: dt.datetime(2026, 11, 11, 12, 0, tzinfo=dt.UTC))
    data = STUDENT | {"joined": "2026-11-12"}
    assert cast.client("teacher").post(ADD, data).context["form"].errors["joined"]
    cast.studio.zone = "Pacific/Auckland"
    cast.studio.save()
    assert cast.client("teacher").post(ADD, data).status_code == 302
