"""An adult student's sign-in by e-mail: made once, by the right person, ended at once."""

import pytest
from django.contrib.auth import get_user
from django.core import mail
from django.test import Client
from django.urls import reverse

from students.links import sign
from students.models import Student, Teacher, User
from tests import factory
from tests.students.test_sign_in import _set_by_mail

EMAIL, PHRASE = "robin@home.example", "seven green strings"
TYPED = {"email": EMAIL, "new_password1": PHRASE, "new_password2": PHRASE}


def path_of(student):
    return reverse("students:s-account", args=[student.code])


def opened(student):
    client = Client()
    client.get(f"/open/{sign(student.code, student.link_version)}/")
    return client


def signed_in(client=None):
    client = client or Client()
    answer = client.post("/sign-in/", {"username": EMAIL, "password": PHRASE})
    return client, answer


@pytest.fixture
def account(cast):
    """Robin, an adult, has set e-mail and password, and kept the link."""
    assert opened(cast.student).post(path_of(cast.student), TYPED).status_code == 302
    cast.student.refresh_from_db()
    return cast.student


def test_an_adult_sets_e_mail_and_password_and_lands_on_their_own_page(cast):
    client = opened(cast.student)
    answer = client.post(path_of(cast.student), {**TYPED, "email": " Robin@Home.Example "})
    assert (answer.status_code, answer.url) == (302, path_of(cast.student))
    cast.student.refresh_from_db()
    assert path_of(cast.student) in client.get(f"/s/{cast.student.code}/").content.decode()
    assert (cast.student.user.email, cast.student.link_version) == (EMAIL, 1)
    assert PHRASE not in cast.student.user.password
    assert f"You sign in as {EMAIL}" in client.get(path_of(cast.student)).content.decode()
    other, landed = signed_in()
    assert landed.url == f"/s/{cast.student.code}/"
    assert other.get(landed.url).status_code == 200
    # nothing of a teacher's, nobody else's
    assert other.get("/today/").status_code == 404
    assert other.get(f"/s/{cast.child.code}/").status_code == 404
    assert other.get(f"/students/{cast.student.code}/").status_code == 404


def test_the_link_stops_if_so_chosen_and_this_browser_goes_on(cast):
    client, before = opened(cast.student), opened(cast.student)
    answer = client.post(path_of(cast.student), {**TYPED, "stop_link": "on"})
    assert answer.url == path_of(cast.student)
    assert client.get(answer.url).status_code == 200
    assert client.session.get_expiry_age() <= 14 * 24 * 3600
    assert before.get(f"/s/{cast.student.code}/").status_code == 404
    assert Client().get(f"/open/{sign(cast.student.code, 1)}/").status_code == 404
    assert signed_in()[1].status_code == 302


def test_the_link_is_stopped_later_by_who_gave_the_password_and_not_by_its_bearer(account):
    bearer = opened(account)
    assert bearer.post(path_of(account), {"action": "stop-link"}).status_code == 403
    account.refresh_from_db()
    assert account.link_version == 1
    # in a browser that holds the link as well
    client, _answer = signed_in(opened(account))
    assert client.post(path_of(account), {"action": "stop-link"}).status_code == 302
    account.refresh_from_db()
    assert account.link_version == 2
    assert client.get(path_of(account)).status_code == 200
    assert bearer.get(f"/s/{account.code}/").status_code == 404


@pytest.mark.parametrize("birth_year", [None, 2012, 2008, 2009])
def test_who_is_a_minor_by_the_studios_rule_does_not(cast, birth_year, monkeypatch):
    """In 2026 whoever was born in 2008 may still be 17: an adult is who is one on any day of the year."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: factory.NOW)
    cast.student.birth_year = birth_year
    cast.student.save(update_fields=["birth_year"])
    client = opened(cast.student)
    page = client.get(path_of(cast.student)).content.decode()
    assert "<input" not in page.split("<main")[1].split("</main>")[0]
    # nor is a minor's page led there
    assert path_of(cast.student) not in client.get(f"/s/{cast.student.code}/").content.decode()
    assert client.post(path_of(cast.student), TYPED).status_code == 403
    assert not User.objects.filter(email=EMAIL).exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"email": ""}, "email"),
        ({"email": "no address"}, "email"),
        ({"email": "a\x00@b.example"}, "email"),
        ({"email": "x" * 300 + "@b.example"}, "email"),
        ({"new_password1": "", "new_password2": ""}, "new_password1"),
        ({"new_password2": "seven green string"}, "new_password2"),
        ({"new_password1": "short7", "new_password2": "short7"}, "new_password2"),
        ({"new_password1": "password1234", "new_password2": "password1234"}, "new_password2"),
        ({"new_password1": "92837465012", "new_password2": "92837465012"}, "new_password2"),
        # like the address itself: the validators know it
        ({"new_password1": "robin@home.example", "new_password2": "robin@home.example"}, "new_password2"),
    ],
)
def test_what_cannot_be_is_said_beside_the_field_and_no_password_is_written_back(cast, typed, field):
    answer = opened(cast.student).post(path_of(cast.student), {**TYPED, **typed})
    assert answer.status_code == 200
    assert field in answer.context["form"].errors
    page = answer.content.decode()
    assert PHRASE not in page
    assert not User.objects.filter(student__isnull=False).exists()


def test_a_taken_address_is_refused_without_saying_whose_and_not_often(cast):
    client = opened(cast.student)
    before = User.objects.count()
    said = set()
    for who in (cast.teacher.user.email, cast.stranger.user.email.upper()):
        answer = client.post(path_of(cast.student), {**TYPED, "email": who})
        assert answer.status_code == 200
        said |= set(answer.context["form"].errors["email"])
        assert cast.teacher.name not in answer.content.decode()
    assert len(said) == 1
    for _number in range(8):
        client.post(path_of(cast.student), {**TYPED, "email": cast.teacher.user.email})
    answer = client.post(path_of(cast.student), TYPED)
    assert answer.status_code == 429
    # the same student's link in a fresh browser, too; another student is not held up
    assert opened(cast.student).post(path_of(cast.student), TYPED).status_code == 429
    assert User.objects.count() == before
    cast.other_student.birth_year = 1980
    cast.other_student.save(update_fields=["birth_year"])
    assert opened(cast.other_student).post(path_of(cast.other_student), TYPED).status_code == 302


def test_a_second_account_for_the_same_student_is_not_made(account):
    """By a bearer of the link who knows no password: neither another address nor another password."""
    client = opened(account)
    assert client.post(path_of(account), {**TYPED, "email": "thief@away.example"}).status_code == 403
    # two forms sent at once: the row decides
    from students.forms import SignInByEmailForm

    stale = Student(pk=account.pk, code=account.code, studio=account.studio)
    form = SignInByEmailForm({**TYPED, "email": "thief@away.example"}, student=stale)
    assert form.is_valid()
    assert form.save() is None
    assert not User.objects.filter(email="thief@away.example").exists()
    account.refresh_from_db()
    assert account.user.email == EMAIL


def test_a_teacher_who_tries_the_link_stays_who_they_are(cast):
    client = cast.client("teacher")
    client.get(f"/open/{sign(cast.student.code, 1)}/")
    client.post(path_of(cast.student), {**TYPED, "stop_link": "on"})
    assert get_user(client).email == cast.teacher.user.email
    assert client.get("/today/").status_code == 200


# -- ended -----------------------------------------------------------------------------------------------------------


def test_the_teacher_sees_it_and_ends_it_in_one_tap(cast, account):
    phone, _answer = signed_in()
    teacher, people = cast.client("teacher"), reverse("students:people", args=[account.code])
    path = reverse("students:account-end", args=[account.code])
    page = teacher.get(people).content.decode()
    assert f"Signs in with e-mail: {EMAIL}" in page
    assert f'<form method="post" action="{path}"' in page
    assert teacher.post(path).url == people
    assert phone.get(f"/s/{account.code}/").status_code == 404
    assert signed_in()[1].status_code == 200
    assert not User.objects.filter(email=EMAIL).exists()
    assert opened(account).get(f"/s/{account.code}/").status_code == 200  # the link goes on
    assert EMAIL not in teacher.get(people).content.decode()
    assert teacher.post(path).url == people  # twice does nothing


@pytest.mark.parametrize("who", ["other_teacher", "stranger", "student", "child", "guardian", "anonymous"])
def test_nobody_else_ends_it(cast, account, who):
    for name in ("students:account-end", "students:link-replace", "students:pin-remove"):
        assert cast.client(who).post(reverse(name, args=[account.code])).status_code in (302, 404)
    assert User.objects.filter(email=EMAIL).exists()


def test_a_lost_phone_is_cut_off_in_one_tap_whatever_it_was_opened_with(cast, account):
    by_link, (by_password, _answer) = opened(account), signed_in()
    teacher = cast.client("teacher")
    path = reverse("students:link-replace", args=[account.code])
    page = teacher.get(reverse("students:people", args=[account.code])).content.decode()
    # one tap: the button stands open on the page, behind no other
    form = page.index(f'action="{path}"')
    assert page[:form].count("<details") == page[:form].count("</details>")
    assert teacher.post(path).status_code == 302
    for phone in (by_link, by_password):
        assert phone.get(f"/s/{account.code}/").status_code == 404
        asked = phone.get(f"/s/{account.code}/token/", headers={"accept": "application/json"})
        assert asked.status_code == 401
    # a password that the phone remembers, and its mailbox, open nothing either
    assert signed_in()[1].status_code == 200
    Client().post("/password/forgotten/", {"email": EMAIL})
    assert mail.outbox == []
    # the student comes back by the new link and may set it up anew
    account.refresh_from_db()
    assert opened(account).post(path_of(account), TYPED).status_code == 302


def test_an_account_that_a_thief_made_of_a_stolen_link_ends_with_the_link(cast):
    thief = opened(cast.student)
    thief.post(path_of(cast.student), {**TYPED, "stop_link": "on"})
    assert thief.get(f"/s/{cast.student.code}/").status_code == 200
    cast.client("teacher").post(reverse("students:link-replace", args=[cast.student.code]))
    assert thief.get(f"/s/{cast.student.code}/").status_code == 404
    assert signed_in()[1].status_code == 200


def test_links_replaced_with_a_change_of_teacher_end_what_was_made_of_them(cast, account):
    cast.guardian.user = factory.make_user()
    cast.guardian.save(update_fields=["user"])
    Student.objects.filter(pk__in=[account.pk, cast.child.pk]).replace_links()
    for person in (account, cast.guardian):
        person.refresh_from_db()
        assert (person.user, person.link_version) == (None, 2)
    assert User.objects.count() == Teacher.objects.count()


def test_a_replaced_guardians_link_ends_their_sign_in_too(cast):
    cast.guardian.user = factory.make_user(email="gil@family.example")
    cast.guardian.save(update_fields=["user"])
    phone = Client()
    phone.post("/sign-in/", {"username": "gil@family.example", "password": factory.PASSWORD})
    assert phone.get(f"/f/{cast.child.code}/").status_code == 200
    path = reverse("students:guardian-link-replace", args=[cast.child.code, cast.guardian.code])
    cast.client("teacher").post(path)
    assert phone.get(f"/f/{cast.child.code}/").status_code == 404


def test_who_also_teaches_keeps_the_account(cast):
    cast.student.user = cast.other_teacher.user
    cast.student.save(update_fields=["user"])
    cast.student.cut_off()
    cast.student.refresh_from_db()
    assert cast.student.user is None
    assert Teacher.objects.filter(pk=cast.other_teacher.pk, user__isnull=False).exists()


def test_a_forgotten_password_comes_by_mail_and_changes_like_a_teachers(cast, account, client):
    _set_by_mail(client, EMAIL, "another long pass phrase")
    browser = Client()
    landed = browser.post("/sign-in/", {"username": EMAIL, "password": "another long pass phrase"})
    assert landed.url == f"/s/{account.code}/"
    third = {"new_password1": "third one 99", "new_password2": "third one 99"}
    data = {"old_password": "another long pass phrase", **third}
    assert browser.post("/password/", data).url == f"/s/{account.code}/"


def test_an_archived_student_does_not_sign_in(cast, account):
    phone, _answer = signed_in()
    account.status = "archived"
    account.save(update_fields=["status"])
    assert phone.get(f"/s/{account.code}/").status_code == 404
    assert "belongs to nobody" in signed_in()[1].content.decode()
