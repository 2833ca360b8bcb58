"""The owner's page: the studio and its teachers."""

import re

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from students.models import Student, Studio, Teacher, User
from tests import factory

STUDIO = {
    "name": "Test Lane Studio",
    "zone": "Europe/Lisbon",
    "week_start": "6",
    "adult_age": "16",
    "safeguarding_contact": "Oona, 555 0100",
    "retention_months": "18",
}


def edit(teacher):
    return reverse("students:teacher-edit", args=[teacher.code])


def test_the_owner_says_what_holds_for_all(cast):
    client = cast.client("owner")
    assert client.post("/studio/", STUDIO).url == "/studio/"
    cast.studio.refresh_from_db()
    got = (cast.studio.zone, cast.studio.week_start, cast.studio.adult_age, cast.studio.safeguarding_contact)
    assert got == ("Europe/Lisbon", 6, 16, "Oona, 555 0100")
    assert cast.studio.retention_months == 18
    page = client.get("/studio/").content.decode()
    for name in ("Ada Teacher", "Bo Teacher", "Oona Owner"):
        assert name in page
    assert "Far Owner" not in page


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("name", "x" * 121),
        ("name", "a\r\nBcc: x@y.example"),
        ("zone", "Mars/Olympus"),
        ("zone", ""),
        ("zone", "../../etc/passwd"),
        ("zone", "\x00"),
        ("week_start", "7"),
        ("week_start", "-1"),
        ("adult_age", "12"),
        ("adult_age", "22"),
        ("adult_age", "1" + "0" * 400),
        ("adult_age", "old"),
        ("safeguarding_contact", "x" * 201),
        ("retention_months", "0"),
        ("retention_months", "121"),
        ("retention_months", "for ever"),
    ],
)
def test_what_cannot_be_is_said_beside_the_field_and_kept(cast, field, typed):
    response = cast.client("owner").post("/studio/", STUDIO | {field: typed})
    assert response.status_code == 200
    assert set(response.context["form"].errors) == {field}
    assert response.context["form"][field].value() == typed
    cast.studio.refresh_from_db()
    assert cast.studio.zone == "Europe/London"


def test_a_changed_adult_age_counts_at_once(cast):
    cast.client("owner").post("/studio/", STUDIO)
    student = Student.objects.select_related("studio").get(pk=cast.other_student.pk)
    assert student.studio.adult_age == 16


# the studio's limit; whether somebody who is 17 this year decides alone, and then a guardian's consent counts no more
@pytest.mark.parametrize(("adult_age", "alone"), [(18, False), (17, False), (16, True)])
def test_the_studios_limit_says_whose_consent_counts(cast, adult_age, alone):
    today = cast.studio.today(timezone.now())
    Student.objects.filter(pk=cast.child.pk).update(birth_year=today.year - 17)
    Studio.objects.filter(pk=cast.studio.pk).update(adult_age=adult_age)
    for given_by, counts in (("guardian", not alone), ("student", alone)):
        factory.make_consent(cast.child, given_by=given_by)
        student = Student.objects.with_hand_consent(today).select_related("studio").get(pk=cast.child.pk)
        # the rule in Python and the one in SQL
        assert (student.may_keep_hand_values(today), student.hand_consent) == (counts, counts)
        student.consents.all().delete()


def test_a_new_teacher_gets_a_mail_and_sets_the_first_password(cast):
    data = {"name": "New Teacher", "email": "New@Studio.example"}
    response = cast.client("owner").post("/studio/teachers/add/", data)
    teacher = Teacher.objects.get(name="New Teacher")
    assert response.url == edit(teacher)
    assert (teacher.studio, teacher.user.email, teacher.is_owner) == (cast.studio, "new@studio.example", False)
    assert not teacher.user.has_usable_password()
    [message] = mail.outbox
    assert message.to == ["new@studio.example"]
    address = re.search(r"http://testserver(\S+)", message.body).group(1)
    # the same stands on the page, for handing over
    assert "/password/new/" in cast.client("owner").get(edit(teacher)).content.decode()

    phone = Client()
    form = phone.get(address)
    phone.post(form.url, {"new_password1": "brand new phrase 7", "new_password2": "brand new phrase 7"})
    teacher.user.refresh_from_db()
    assert teacher.user.check_password("brand new phrase 7")
    assert "/password/new/" not in cast.client("owner").get(edit(teacher)).content.decode()


def test_a_new_teacher_who_lost_the_mail_asks_for_another(cast, client):
    cast.client("owner").post("/studio/teachers/add/", {"name": "New", "email": "new@studio.example"})
    mail.outbox.clear()
    client.post("/password/forgotten/", {"email": "new@studio.example"})
    assert len(mail.outbox) == 1


def test_a_mail_that_cannot_be_sent_leaves_the_link(cast, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # the discard port: nobody answers
    data = {"name": "New", "email": "new@studio.example"}
    page = cast.client("owner").post("/studio/teachers/add/", data, follow=True).content.decode()
    assert "could not be sent" in page
    assert "/password/new/" in page


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("name", ""),
        ("name", "a\nb"),
        ("name", "x" * 500),
        ("email", ""),
        ("email", "no address"),
        ("email", "x" * 300 + "@a.example"),
        ("email", "a\x00@b.example"),
    ],
)
def test_a_teacher_that_cannot_be_is_said_beside_the_field_and_kept(cast, field, typed):
    data = {"name": "New Teacher", "email": "new@studio.example", field: typed}
    response = cast.client("owner").post("/studio/teachers/add/", data)
    assert response.status_code == 200
    assert set(response.context["form"].errors) == {field}
    assert response.context["form"][field].value() == typed
    assert not User.objects.filter(email="new@studio.example").exists()


def test_an_address_has_one_account(cast):
    data = {"name": "New", "email": cast.stranger.user.email.upper()}
    response = cast.client("owner").post("/studio/teachers/add/", data)
    assert response.context["form"].errors["email"]


def test_a_teacher_is_edited_and_shut_out(cast):
    client = cast.client("teacher")
    data = {"name": "Ada Renamed", "email": "ada@studio.example"}  # may_sign_in not ticked
    assert cast.client("owner").post(edit(cast.teacher), data).url == "/studio/"
    cast.teacher.refresh_from_db()
    cast.teacher.user.refresh_from_db()
    assert (cast.teacher.name, cast.teacher.user.email) == ("Ada Renamed", "ada@studio.example")
    assert client.get("/roster/").status_code == 302
    assert cast.student.teacher_id == cast.teacher.pk


def test_an_owner_gives_neither_the_studio_away_nor_shuts_themselves_out(cast):
    response = cast.client("owner").post(edit(cast.owner), {"name": "Oona", "email": "oona@studio.example"})
    assert set(response.context["form"].errors) == {"is_owner", "may_sign_in"}
    cast.owner.refresh_from_db()
    assert cast.owner.is_owner


def test_a_second_owner_may_be_made_and_sees_all(cast):
    data = {"name": "Ada", "email": "ada@studio.example", "is_owner": "on", "may_sign_in": "on"}
    cast.client("owner").post(edit(cast.teacher), data)
    assert cast.client("teacher").get("/studio/").status_code == 200
    assert cast.client("teacher").get(edit(cast.owner)).status_code == 200


@pytest.mark.parametrize("who", ["teacher", "other_teacher", "student", "guardian"])
def test_others_do_not_find_it(cast, who):
    for path in ("/studio/", "/studio/teachers/add/", edit(cast.teacher)):
        for method in ("get", "post"):
            assert getattr(cast.client(who), method)(path).status_code in {404, 302}
    assert cast.client("teacher").get("/studio/").status_code == 404


def test_another_studio_s_teacher_is_not_found(cast):
    assert cast.client("stranger").get(edit(cast.teacher)).status_code == 404
    assert cast.client("owner").post(edit(cast.stranger), {"name": "x"}).status_code == 404


def test_the_page_costs_the_same_for_many_teachers(cast, count_queries):
    client = cast.client("owner")
    few = count_queries(client, "/studio/")
    # session, user, teacher with studio, studio, teachers with their students counted, who left
    assert few == 6
    for number in range(5):
        factory.make_student(teacher=factory.make_teacher(studio=cast.studio, name=f"More {number}"))
    assert count_queries(client, "/studio/") == few
