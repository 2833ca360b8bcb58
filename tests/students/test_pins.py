"""A PIN on a personal link: who is asked, how often, and what nobody gets past."""

import datetime as dt
import json
import re
import uuid
import zoneinfo

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from practice.models import PracticeEntry
from students import pins
from students.links import sign
from students.models import Guardian, Student
from tests import factory
from tests.test_access import ADDRESSES, childs_rows, wanted

PIN = "2741"


@pytest.fixture
def clock(monkeypatch):
    """clock(minutes) sets the time to so many minutes after the start."""
    start = timezone.now()

    def at(minutes):
        monkeypatch.setattr("django.utils.timezone.now", lambda: start + dt.timedelta(minutes=minutes))
        return start + dt.timedelta(minutes=minutes)

    at(0)
    return at


def opened(person):
    """A browser that has opened the person's link."""
    client = Client()
    client.get(f"/open/{sign(person.code, person.link_version)}/")
    return client


def area(who):
    return "f" if who == "guardian" else "s"


def home(cast, who):
    return f"/{area(who)}/{child(cast, who).code}/"


def child(cast, who):
    return cast.child if who == "guardian" else cast.student


def unlock(cast, who, client, pin, **more):
    return client.post(f"{home(cast, who)}unlock/", {"pin": pin, **more})


WHO = pytest.mark.parametrize("who", ["student", "guardian"])


@pytest.fixture
def bound(cast):
    """bound(who) -> that person, whose link is bound to PIN."""

    def bind(who):
        person = getattr(cast, who)
        pins.set_pin(person, PIN)
        return person

    return bind


@WHO
def test_a_pin_is_set_by_who_holds_the_link_and_kept_as_a_hash(cast, who):
    client, path = cast.client(who), f"{home(cast, who)}pin/"
    answer = client.post(path, {"action": "set", "pin": PIN, "again": PIN})
    assert (answer.status_code, answer.url) == (302, path)
    person = getattr(cast, who)
    person.refresh_from_db()
    assert PIN not in person.pin
    assert identify_hasher(person.pin)
    assert person.link_version == 1
    # who set it goes on, another browser with the same link is asked
    assert client.get(home(cast, who)).status_code == 200
    other = opened(person)
    page = other.get(home(cast, who))
    assert page.status_code == 401
    assert "no-store" in page.headers["Cache-Control"]
    assert person.pin not in page.content.decode()
    assert unlock(cast, who, other, PIN).url == home(cast, who)
    assert other.get(home(cast, who)).status_code == 200


def addresses():
    """(name, whose) of every address of a student's or a family's, but for the door itself."""
    for name, _pattern in ADDRESSES:
        kind = name.split(":")[1]
        if kind.startswith(("s-", "f-")) and "student" in wanted(name) and kind[2:] != "unlock":
            yield name, "guardian" if kind.startswith("f-") else "child"


def test_no_page_answer_or_form_of_a_bound_link_opens_without_its_pin(cast):
    """Walks the whole site: the day somebody adds a page, it is behind the PIN too."""
    walked = 0
    rows = childs_rows(cast)
    pins.set_pin(cast.child, PIN)
    pins.set_pin(cast.guardian, PIN)
    for name, who in addresses():
        path = reverse(name, kwargs={key: rows.get(key) or uuid.uuid4() for key in wanted(name)})
        client = opened(getattr(cast, who))
        for method in ("get", "post", "put", "delete", "head", "options"):
            answer = getattr(client, method)(path)
            assert answer.status_code == 401, (name, method, answer.status_code)
        told = client.get(path, headers={"accept": "application/json"})
        assert (told.status_code, told.json()["pin"]) == (401, True), name
        assert "entries" not in told.json()
        walked += 1
    assert walked > 15


@WHO
def test_five_wrong_tries_and_then_fifteen_minutes_of_nothing(cast, bound, clock, who):
    person = bound(who)
    client = opened(person)
    for left in (4, 3, 2, 1):
        answer = unlock(cast, who, client, "0000")
        assert answer.status_code == 401
        assert re.search(rf"{left} (try is|tries are) left", answer.content.decode())
    answer = unlock(cast, who, client, "0000")
    assert answer.status_code == 429
    until = clock(0).astimezone(dt.UTC) + dt.timedelta(minutes=15)
    assert "Five wrong tries" in answer.content.decode()
    assert f"{until.astimezone(zone(cast)):%H:%M}" in answer.content.decode()
    # the right one now, from this browser and from a fresh one, and also a minute before the end
    for minutes in (0, 14):
        clock(minutes)
        for browser in (client, opened(person)):
            assert unlock(cast, who, browser, PIN).status_code == 429
            assert browser.get(home(cast, who)).status_code == 401
    clock(15)
    assert unlock(cast, who, client, PIN).status_code == 302
    person.refresh_from_db()
    assert (person.pin_wrong, person.pin_wrong_at) == (0, None)


def zone(cast):
    return zoneinfo.ZoneInfo(cast.studio.zone)


def test_after_the_wait_five_tries_are_counted_anew(cast, bound, clock):
    client = opened(bound("student"))
    for start in (0, 15, 30):
        clock(start)
        codes = [unlock(cast, "student", client, "0000").status_code for _ in range(7)]
        assert codes == [401] * 4 + [429] * 3


def test_wrong_tries_of_long_ago_do_not_count(cast, bound, clock):
    client = opened(bound("student"))
    for _ in range(4):
        unlock(cast, "student", client, "0000")
    clock(16)
    assert "4 tries are left" in unlock(cast, "student", client, "0000").content.decode()


def test_tries_that_come_at_the_same_time_are_all_counted(cast, bound, clock):
    """Each attacker's process read the row before the others wrote: the counter in the row decides, not theirs."""
    bound("student")
    now = clock(0)
    stale = [Student.objects.get(pk=cast.student.pk) for _ in range(12)]
    answers = [pins.try_pin(row, f"{n:04}", now) for n, row in enumerate(stale)]
    assert answers == [pins.Answer.WRONG] * 5 + [pins.Answer.WAIT] * 7
    assert pins.try_pin(Student.objects.get(pk=cast.student.pk), PIN, now) is pins.Answer.WAIT


def test_the_counter_is_written_before_the_pin_is_looked_at(cast, bound, clock, monkeypatch):
    bound("student")
    seen = []

    def look(text, hashed):
        seen.append(Student.objects.get(pk=cast.student.pk).pin_wrong)
        return False

    monkeypatch.setattr(pins, "check_password", look)
    for _ in range(5):
        pins.try_pin(cast.student, "0000", clock(0))
    assert seen == [1, 2, 3, 4, 5]
    # and once the wait has begun it is not looked at at all
    pins.try_pin(cast.student, PIN, clock(0))
    assert len(seen) == 5


def test_one_persons_wrong_tries_do_not_shut_out_another(cast, bound, clock):
    bound("guardian")
    client = opened(bound("student"))
    for _ in range(6):
        unlock(cast, "student", client, "0000")
    assert unlock(cast, "guardian", opened(cast.guardian), PIN).status_code == 302


@WHO
def test_a_changed_pin_is_asked_for_anew_everywhere_else(cast, bound, who):
    person = bound(who)
    first, second = opened(person), opened(person)
    for client in (first, second):
        unlock(cast, who, client, PIN)
        assert client.get(home(cast, who)).status_code == 200
    path = f"{home(cast, who)}pin/"
    # the same digits chosen again count as new
    assert first.post(path, {"action": "set", "current": PIN, "pin": PIN, "again": PIN}).status_code == 302
    assert first.get(home(cast, who)).status_code == 200
    assert second.get(home(cast, who)).status_code == 401
    assert first.post(path, {"action": "set", "current": PIN, "pin": "90417", "again": "90417"}).status_code == 302
    assert unlock(cast, who, second, PIN).status_code == 401
    assert unlock(cast, who, second, "90417").status_code == 302


@WHO
@pytest.mark.parametrize("action", ["set", "remove"])
def test_a_phone_left_open_does_not_hand_the_link_over(cast, bound, clock, who, action):
    person = bound(who)
    client, path = opened(person), f"{home(cast, who)}pin/"
    unlock(cast, who, client, PIN)
    stored = person.pin
    for current in ("", "0000", "x"):
        answer = client.post(path, {"action": action, "current": current, "pin": "90417", "again": "90417"})
        assert answer.status_code == 200
        assert "current" in answer.context["form"].errors
    for _ in range(5):
        client.post(path, {"action": action, "current": "1111", "pin": "90417", "again": "90417"})
    late = client.post(path, {"action": action, "current": PIN, "pin": "90417", "again": "90417"})
    assert "Wait 15 minutes" in str(late.context["form"].errors["current"])
    person.refresh_from_db()
    assert person.pin == stored


@WHO
def test_its_holder_takes_it_off(cast, bound, who):
    person = bound(who)
    client = opened(person)
    unlock(cast, who, client, PIN)
    assert client.post(f"{home(cast, who)}pin/", {"action": "remove", "current": PIN}).status_code == 302
    assert opened(person).get(home(cast, who)).status_code == 200


NO_PINS = ["", "123", "274100000", "27 41", "٢٧٤١", "27a1", "-274", "1111", "1234", "8765", "0123", "99999999"]


@pytest.mark.parametrize("pin", NO_PINS)
def test_what_is_no_pin_or_no_secret_is_refused_beside_the_field(cast, pin):
    client, path = cast.client("student"), f"/s/{cast.student.code}/pin/"
    answer = client.post(path, {"action": "set", "pin": pin, "again": pin})
    assert answer.status_code == 200
    assert set(answer.context["form"].errors) == {"pin"}
    cast.student.refresh_from_db()
    assert cast.student.pin == ""
    with pytest.raises(ValidationError):
        pins.check_choice(pin)


def test_two_different_pins_are_not_set(cast):
    answer = cast.client("student").post(f"/s/{cast.student.code}/pin/", {"action": "set", "pin": PIN, "again": "2742"})
    assert set(answer.context["form"].errors) == {"again"}
    assert "2741" not in answer.content.decode()  # a PIN is never written back into a page


def test_the_phones_queue_waits_and_loses_nothing(cast, bound):
    """A phone that practised before the PIN was set elsewhere: 401 in JSON, and the same body is taken after it."""
    client = opened(cast.student)
    assert client.get(home(cast, "student")).status_code == 200
    bound("student")
    code = uuid.uuid4()
    address = reverse("practice:s-entry", args=[cast.student.code, code])
    day = cast.studio.today(timezone.now()) - dt.timedelta(days=1)
    body = json.dumps({"code": str(code), "day": day.isoformat(), "seconds": 600})
    for answer in (
        client.get(reverse("practice:s-token", args=[cast.student.code]), headers={"accept": "application/json"}),
        client.put(address, body, content_type="application/json"),
    ):
        assert (answer.status_code, answer.headers["Content-Type"]) == (401, "application/json")
        assert answer.json()["pin"] is True
        assert not answer.has_header("Location")
    assert not PracticeEntry.objects.exists()
    unlock(cast, "student", client, PIN)
    assert client.put(address, body, content_type="application/json").status_code == 201
    assert PracticeEntry.objects.get().code == code


def test_a_form_that_meets_the_pin_says_how_to_send_it_again(cast, bound):
    client = opened(cast.student)
    bound("student")
    page = client.post(reverse("practice:s-log", args=[cast.student.code]), {"total": "20"})
    assert page.status_code == 401
    assert "not stored yet" in page.content.decode()
    assert not PracticeEntry.objects.exists()


def test_after_the_pin_one_is_on_the_page_that_was_asked_for_and_on_no_other_site(cast, bound):
    person = bound("student")
    base = f"/s/{cast.student.code}/"
    client = opened(person)
    page = client.get(f"{base}progress/?x=1").content.decode()
    assert f'value="{base}progress/?x=1"' in page
    for asked, led in (
        (f"{base}progress/?x=1", f"{base}progress/?x=1"),
        ("https://elsewhere.example/", base),
        ("//elsewhere.example/", base),
        (f"//elsewhere.example{base}", base),
        (f"{base}../../today/", f"{base}../../today/"),  # still this site
        ("/students/add/", base),
        ("javascript:alert(1)", base),
        ("", base),
        ("x" * 5000, base),
    ):
        browser = opened(person)
        answer = unlock(cast, "student", browser, PIN, next=asked)
        if len(asked) > 2000:
            assert answer.status_code == 401
        else:
            assert (answer.status_code, answer.url) == (302, led), asked


def test_the_session_gets_a_new_key_when_the_pin_was_right(cast, bound):
    client = opened(bound("student"))
    before = client.session.session_key
    unlock(cast, "student", client, PIN)
    assert client.session.session_key != before


def test_the_door_answers_nobody_without_a_working_link(cast, bound):
    """Trying PINs takes the link: a code alone, another's link or a replaced one counts nothing and tells nothing."""
    bound("student")
    bound("guardian")
    replaced = opened(cast.student)
    cast.student.replace_link()
    for client in (Client(), cast.client("child"), cast.client("teacher"), replaced, cast.client("other_guardian")):
        assert unlock(cast, "student", client, PIN).status_code == 404
        assert client.post(f"/s/{uuid.uuid4()}/unlock/", {"pin": PIN}).status_code == 404
    assert unlock(cast, "guardian", cast.client("other_guardian"), PIN).status_code == 404
    assert list(Student.objects.filter(pk=cast.student.pk).values_list("pin_wrong", flat=True)) == [0]


def test_an_open_link_of_one_role_does_not_open_the_others_pages(cast, bound):
    """A shared tablet with the child's link and the guardian's, of which one is bound."""
    pins.set_pin(cast.guardian, PIN)
    client = opened(cast.child)
    client.get(f"/open/{sign(cast.guardian.code, 1)}/")
    assert client.get(f"/s/{cast.child.code}/").status_code == 200
    assert client.get(f"/f/{cast.child.code}/").status_code == 401
    # another guardian's own link on the same tablet opens the family's page
    other = factory.make_guardian(cast.child, name="May Parent")
    client.get(f"/open/{sign(other.code, 1)}/")
    assert client.get(f"/f/{cast.child.code}/").status_code == 200
    # both bound: the one opened last is asked
    pins.set_pin(other, "80413")
    assert "May, your PIN" in client.get(f"/f/{cast.child.code}/").content.decode()


def test_a_mark_in_the_session_is_good_for_its_person_alone(cast, bound):
    first, second = bound("student"), cast.child
    pins.set_pin(second, PIN)
    client = opened(first)
    unlock(cast, "student", client, PIN)
    client.get(f"/open/{sign(second.code, 1)}/")
    assert client.get(f"/s/{second.code}/").status_code == 401
    session = client.session
    session[pins.SESSION_KEY] = {str(second.code): session[pins.SESSION_KEY][str(first.code)]}
    session.save()
    assert client.get(f"/s/{second.code}/").status_code == 401
    for broken in ([], "x", None, {str(second.code): None}, {str(second.code): ["x"]}):
        session[pins.SESSION_KEY] = broken
        session.save()
        assert client.get(f"/s/{second.code}/").status_code == 401


def test_a_guardian_with_a_password_sets_it_for_the_link_only_from_their_own_childrens_address(cast):
    cast.guardian.user = factory.make_user()
    cast.guardian.save(update_fields=["user"])
    client = Client()
    client.force_login(cast.guardian.user, "django.contrib.auth.backends.ModelBackend")
    sent = {"action": "set", "pin": PIN, "again": PIN}
    assert client.post(f"/f/{cast.other_student.code}/pin/", sent).status_code == 404
    assert client.post(f"/f/{cast.child.code}/pin/", sent).status_code == 302
    cast.guardian.refresh_from_db()
    assert cast.guardian.pin


# -- the teacher -----------------------------------------------------------------------------------------------------


def test_the_teacher_takes_a_forgotten_pin_off_in_one_tap_and_the_link_stays(cast):
    client = cast.client("teacher")
    for person, path in (
        (cast.child, reverse("students:pin-remove", args=[cast.child.code])),
        (cast.guardian, reverse("students:guardian-pin-remove", args=[cast.child.code, cast.guardian.code])),
    ):
        people = reverse("students:people", args=[cast.child.code])
        assert path not in client.get(people).content.decode()
        pins.set_pin(person, PIN)
        page = client.get(people).content.decode()
        assert f'<form method="post" action="{path}"' in page
        assert person.pin not in page
        assert client.post(path).url == people
        person.refresh_from_db()
        assert (person.pin, person.link_version) == ("", 1)
        pages = "f" if isinstance(person, Guardian) else "s"
        assert opened(person).get(f"/{pages}/{cast.child.code}/").status_code == 200


def test_a_pin_that_keeps_a_former_teacher_out_is_the_owners_to_take_off(cast):
    """The first teacher knows the guardian's link; the guardian now has a child with a colleague, too."""
    cast.guardian.guardianships.create(student=cast.other_student)
    pins.set_pin(cast.guardian, PIN)
    path = reverse("students:guardian-pin-remove", args=[cast.child.code, cast.guardian.code])
    assert cast.client("teacher").post(path).status_code == 403
    page = cast.client("teacher").get(reverse("students:people", args=[cast.child.code])).content.decode()
    assert path not in page
    cast.guardian.refresh_from_db()
    assert cast.guardian.pin
    assert cast.client("owner").post(path).status_code == 302


def test_asking_for_the_pin_costs_few_queries(cast, bound, django_assert_num_queries):
    client = opened(bound("student"))
    with django_assert_num_queries(2):  # session, student of the link with studio and teacher
        assert client.get(home(cast, "student")).status_code == 401
    unlock(cast, "student", client, PIN)
