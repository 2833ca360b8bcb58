"""Who gets what: every address of the site, asked for by everybody, against one table.

The table is the promise; an address without a row, and a row without an address, fail.
"""

import datetime as dt
import uuid

import pytest
from django.test import Client
from django.urls import URLPattern, get_resolver, resolve, reverse

from tests import factory

WHO = (
    "anonymous",
    "owner",  # of the same studio
    "teacher",  # the child's and the student's
    "other_teacher",  # of the same studio, with students of their own
    "stranger",  # owner of another studio
    "child",  # by a personal link, like the next four; whose page it is, where an address names a student
    "student",  # another student of the same teacher
    "other_student",  # a student of the other teacher
    "guardian",  # the child's
    "other_guardian",  # of the other teacher's student
    "child_signed_in",  # the same child, with a password of their own
    "guardian_signed_in",
)

# What a GET answers, in the order of WHO. Addresses that name a student, guardian or goal name the child's.
# 302 is the sign-in page; 404 is "not yours": it does not say whether the page exists.
#                             anon own tea oth str chi stu ost gua ogu chs gus
PUBLIC_PAGE = "               200 200 200 200 200 200 200 200 200 200 200 200"
POST_FOR_ALL = "              405 405 405 405 405 405 405 405 405 405 405 405"
SIGNED_IN = "                 302 200 200 200 200 404 404 404 404 404 200 200"
TEACHERS = "                  302 200 200 200 200 404 404 404 404 404 404 404"
TEACHERS_POST = "             302 405 405 405 405 404 404 404 404 404 404 404"
TEACHER_OF = "                302 200 200 404 404 404 404 404 404 404 404 404"
TEACHER_OF_POST = "           302 405 405 404 404 404 404 404 404 404 404 404"
OWNERS = "                    302 200 404 404 200 404 404 404 404 404 404 404"
OWNER_OF = "                  302 200 404 404 404 404 404 404 404 404 404 404"
STUDENT_SELF = "              404 404 404 404 404 200 404 404 404 404 200 404"
STUDENT_SELF_POST = "         404 404 404 404 404 405 404 404 404 404 405 404"
GUARDIAN_OF = "               404 404 404 404 404 404 404 404 200 404 404 200"
GUARDIAN_OF_POST = "          404 404 404 404 404 404 404 404 405 404 404 405"
LEADS_ON = "                  302 302 302 302 302 302 302 302 302 302 302 302"
NOT_SIGNED = "                404 404 404 404 404 404 404 404 404 404 404 404"

TABLE = {
    "students:sign-in": PUBLIC_PAGE,
    "students:sign-out": POST_FOR_ALL,
    "students:open-link": NOT_SIGNED,  # asked with a token that nobody signed
    "students:password": SIGNED_IN,
    "students:password-forgotten": PUBLIC_PAGE,
    "students:password-sent": PUBLIC_PAGE,
    "students:password-new": PUBLIC_PAGE,  # a dead link says so and offers a new one
    "students:student-add": TEACHERS,
    "students:student-edit": TEACHER_OF,
    "students:student-status": TEACHER_OF_POST,
    "students:people": TEACHER_OF,
    "students:link-replace": TEACHER_OF_POST,
    "students:link-qr": TEACHER_OF,
    "students:guardian-add": TEACHER_OF,
    "students:guardian-edit": TEACHER_OF,
    "students:guardian-remove": TEACHER_OF_POST,
    "students:guardian-link-replace": TEACHER_OF_POST,
    "students:pin-remove": TEACHER_OF_POST,
    "students:guardian-pin-remove": TEACHER_OF_POST,
    "students:account-end": TEACHER_OF_POST,
    "students:s-account": STUDENT_SELF,
    "students:s-pin": STUDENT_SELF,
    "students:f-pin": GUARDIAN_OF,
    "students:s-unlock": POST_FOR_ALL,  # answers whoever holds a link that is bound to a PIN, and nobody else
    "students:f-unlock": POST_FOR_ALL,
    "students:consent-record": TEACHER_OF,
    "students:consent-withdraw": TEACHER_OF_POST,
    "students:consent-end-left": TEACHER_OF_POST,
    "students:s-consent": STUDENT_SELF,
    "students:f-consent": GUARDIAN_OF,
    "students:studio": OWNERS,
    "students:teacher-add": OWNERS,
    "students:teacher-edit": OWNER_OF,
    "practice:home": LEADS_ON,  # to one's own first page, or the sign-in page
    "practice:today": TEACHERS,
    "practice:roster": TEACHERS,
    "practice:overview": TEACHERS,
    "practice:roster-csv": TEACHERS,
    "practice:help": TEACHERS,
    "practice:student": TEACHER_OF,
    "practice:next-chords": TEACHER_OF,
    "practice:next-decline": TEACHER_OF_POST,
    "practice:next-take-back": TEACHER_OF_POST,
    "practice:teaching-order": TEACHERS,
    "practice:student-songs": TEACHER_OF,
    "practice:songs": TEACHERS,
    "practice:songs-csv": TEACHERS,
    "practice:song-add": TEACHERS,
    "practice:song-preview": TEACHERS_POST,
    "practice:song-import": TEACHERS,
    "practice:song": TEACHER_OF,  # a song of the child's teacher, here and below
    "practice:song-who": TEACHER_OF,
    "practice:song-edit": TEACHER_OF,
    "practice:song-delete": TEACHER_OF,
    "practice:charts": TEACHER_OF,
    "practice:report": TEACHER_OF,
    "practice:report-pdf": TEACHER_OF,
    "practice:reports": TEACHERS,
    "practice:reports-zip": TEACHERS,
    "practice:log": TEACHER_OF,
    "practice:entries": TEACHER_OF,
    "practice:entry": TEACHER_OF,
    "practice:paper": TEACHER_OF,
    "practice:sheet": TEACHER_OF,
    "practice:record": TEACHER_OF,
    "practice:record-zip": TEACHER_OF,
    "practice:record-erase": OWNER_OF,
    "practice:s-record": STUDENT_SELF,
    "practice:s-record-zip": NOT_SIGNED,  # the child's: a guardian has it, or an adult their own
    "practice:f-record": GUARDIAN_OF,
    "practice:f-record-zip": GUARDIAN_OF,
    "practice:hand-notes": TEACHER_OF,
    "practice:hand-note-add": TEACHER_OF,
    "practice:hand-close": TEACHER_OF_POST,
    "practice:hand-return": TEACHER_OF_POST,
    "practice:goal-set": TEACHER_OF,
    "practice:goal-preview": TEACHER_OF_POST,
    "practice:goal-act": TEACHER_OF_POST,
    "practice:lesson": TEACHER_OF,
    "practice:performances": TEACHER_OF,
    "practice:performance": TEACHER_OF,
    "practice:performance-due": TEACHER_OF_POST,
    "practice:performance-remove": TEACHER_OF_POST,
    "practice:s-page": STUDENT_SELF,
    "practice:s-log": STUDENT_SELF_POST,
    "practice:s-tell": STUDENT_SELF_POST,
    "practice:s-tell-send": STUDENT_SELF_POST,  # takes PUT alone
    "practice:s-hand": STUDENT_SELF,
    "practice:s-hand-ask": STUDENT_SELF_POST,
    "practice:s-hand-answer": STUDENT_SELF,
    "practice:s-hand-send": STUDENT_SELF_POST,  # takes PUT alone
    "practice:s-hand-back": STUDENT_SELF_POST,
    "practice:s-drill": STUDENT_SELF,
    "practice:s-progress": STUDENT_SELF,
    "practice:s-progress-charts": STUDENT_SELF,
    "practice:s-entry": STUDENT_SELF_POST,  # takes PUT alone
    "practice:s-entries": STUDENT_SELF,
    "practice:s-correct": STUDENT_SELF,
    "practice:s-token": STUDENT_SELF,
    "practice:s-worker": PUBLIC_PAGE,
    "practice:f-week": GUARDIAN_OF,
    "practice:f-chart": GUARDIAN_OF,
    "practice:f-week-pdf": GUARDIAN_OF,
    "practice:f-log": GUARDIAN_OF,
    "practice:f-tell": GUARDIAN_OF_POST,
    "practice:f-hand": GUARDIAN_OF,  # of a minor: tests/practice/test_hand_note.py
    "practice:f-hand-ask": GUARDIAN_OF_POST,
    "practice:f-hand-answer": GUARDIAN_OF,
    "practice:f-hand-back": GUARDIAN_OF_POST,
    "practice:f-paper": GUARDIAN_OF,
    "practice:f-sheet": GUARDIAN_OF,
}


def walk(patterns, space=()):
    """(name with its namespaces, pattern) of every address, includes walked into."""
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield ":".join([*space, pattern.name or "?"]), pattern
        else:
            yield from walk(pattern.url_patterns, [*space, pattern.namespace] if pattern.namespace else space)


ADDRESSES = list(walk(get_resolver().url_patterns))


# Addresses that say of themselves whom they serve: no page of the middleware stands before them.
PUBLIC = {name for name, pattern in ADDRESSES if not getattr(pattern.callback, "login_required", True)}


@pytest.fixture
def client_of(cast):
    """client_of(who) -> a client of each of WHO."""
    clients = {}

    def client(who):
        if who.endswith("_signed_in") and who not in clients:
            person = getattr(cast, who.removesuffix("_signed_in"))
            person.user = factory.make_user()
            person.save(update_fields=["user"])
            clients[who] = Client()
            clients[who].force_login(person.user, "django.contrib.auth.backends.ModelBackend")
        return clients.get(who) or cast.client(who)

    return client


def childs_rows(cast):
    """The rows that addresses name: the child's, wherever they ask for some."""
    return {
        "student": cast.child.code,
        "guardian": cast.guardian.code,
        "teacher": cast.teacher.code,
        "goal": factory.make_goal(cast.child).code,
        "roots": factory.make_roots_goal(cast.child).code,
        "note": factory.make_note(cast.child).code,
        "declined": factory.make_declined(cast.child).code,
        "song": factory.make_song(cast.teacher).code,
        "performance": factory.make_performance(cast.child).code,
        "entry": factory.make_entry(cast.child).code,
        "tell": uuid.uuid4(),
        "token": "never-signed",
        "uidb64": "MQ",
    }


@pytest.fixture
def address(cast):
    """address(name) -> the path of a name, with the child's rows; a guardian has agreed to hand values."""
    factory.make_consent(cast.child)
    rows = childs_rows(cast)
    return lambda name: reverse(name, kwargs={key: rows[key] for key in wanted(name)})


def wanted(name):
    return next(pattern for known, pattern in ADDRESSES if known == name).pattern.converters


def row(name):
    return dict(zip(WHO, map(int, TABLE[name].split()), strict=True))


def test_every_address_has_a_row_and_every_row_an_address():
    names = [name for name, _ in ADDRESSES]
    assert len(names) == len(set(names)) > 40
    assert set(names) == set(TABLE)


@pytest.mark.parametrize("name", TABLE)
def test_a_page_is_for_whom_the_table_says(client_of, address, name):
    path = address(name)
    got = {who: client_of(who).get(path) for who in WHO}
    assert {who: response.status_code for who, response in got.items()} == row(name)
    for who, response in got.items():
        if response.status_code == 302 and name not in PUBLIC:
            assert response.url == f"{reverse('students:sign-in')}?next={path}", who


@pytest.mark.parametrize("name", TABLE)
def test_who_may_not_read_may_not_write_and_an_empty_form_breaks_nothing(client_of, address, name):
    path = address(name)
    nobodys = reverse(name, kwargs={key: uuid.uuid4() for key in wanted(name)})
    clients = {who: client_of(who) for who in WHO}
    # who may act comes last: an empty form may well do something, such as taking the guardian off
    for who, status in sorted(row(name).items(), key=lambda cell: cell[1] in (200, 405)):
        response = clients[who].post(path)
        if status in (200, 405) or name in PUBLIC:
            assert response.status_code < 500, who
        else:
            # the answer for a row that does not exist, so that it does not tell which do
            assert response.status_code == clients[who].post(nobodys).status_code, who
            assert response.status_code in {status, 405}, who


@pytest.mark.parametrize("name", [name for name in TABLE if name not in PUBLIC])
def test_a_script_without_a_person_gets_401_and_no_redirect(client, address, name):
    asked = client.get(address(name), headers={"accept": "application/json"})
    sent = client.post(address(name), {"a": 1}, content_type="application/json")
    for response in (asked, sent):
        assert response.status_code == 401
        assert response.headers["Content-Type"] == "application/json"
        assert response.json()["error"]


@pytest.mark.parametrize("name", [name for name in TABLE if "student" in wanted(name)])
def test_an_unknown_student_is_404(client_of, name):
    path = reverse(name, kwargs={key: uuid.uuid4() for key in wanted(name)})
    for who in ("owner", "teacher", "child", "guardian", "child_signed_in", "guardian_signed_in"):
        assert {client_of(who).get(path).status_code, client_of(who).post(path).status_code} <= {404, 405}, who


@pytest.mark.parametrize("name", [name for name in TABLE if {"student"} < set(wanted(name))])
def test_a_row_of_another_student_is_404_under_ones_own(cast, name):
    """Addresses that hang a second row on a student: the child's address with a row of the other student's."""
    rows = {
        "student": cast.child.code,
        "guardian": cast.other_guardian.code,
        "goal": factory.make_goal(cast.other_student).code,
        "roots": factory.make_roots_goal(cast.other_student).code,
        "performance": factory.make_performance(cast.other_student).code,
        "entry": factory.make_entry(cast.other_student).code,
        "tell": uuid.uuid4(),
        "note": factory.make_note(cast.other_student).code,
        "declined": factory.make_declined(cast.other_student).code,
    }
    path = reverse(name, kwargs={key: rows[key] for key in wanted(name)})
    for who in ("owner", "teacher"):
        assert cast.client(who).post(path).status_code == 404, who


def test_no_address_takes_a_form_without_its_token():
    assert [name for name, pattern in ADDRESSES if getattr(pattern.callback, "csrf_exempt", False)] == []


@pytest.mark.parametrize("name", [name for name in TABLE if {200, 405} & set(row(name).values())])
def test_no_page_knows_other_methods(cast, address, name):
    path = address(name)
    who = next(who for who in ("owner", "child", "guardian") if row(name)[who] in (200, 405))
    for method in ("put", "patch", "delete"):
        if method == "put" and name in ("practice:s-entry", "practice:s-tell-send", "practice:s-hand-send"):
            continue  # tests/practice/test_sync.py, test_hand_note.py
        assert getattr(cast.client(who), method)(path).status_code == 405, method


@pytest.mark.parametrize(
    "path", ["/students/1/", "/students/%00/", "/s/not-a-code/", "/f/../today/", "/no/such/page", "/open//"]
)
def test_malformed_addresses_are_404(client, db, path):
    assert client.get(path).status_code == 404


def test_a_revoked_link_stops_at_once(cast):
    for who, name in (("child", "practice:s-page"), ("guardian", "practice:f-week")):
        path = reverse(name, args=[cast.child.code])
        assert cast.client(who).get(path).status_code == 200
        getattr(cast, who).replace_link()
        assert cast.client(who).get(path).status_code == 404


def test_the_pages_of_an_archived_student_are_closed_to_the_family(cast):
    paths = {
        "child": reverse("practice:s-page", args=[cast.child.code]),
        "guardian": reverse("practice:f-week", args=[cast.child.code]),
    }
    assert [cast.client(who).get(path).status_code for who, path in paths.items()] == [200, 200]
    cast.child.status = "archived"
    cast.child.save(update_fields=["status"])
    assert [cast.client(who).get(path).status_code for who, path in paths.items()] == [404, 404]


def test_a_link_does_not_outlive_its_day(cast):
    cast.child.link_expires = dt.date(2020, 1, 1)
    cast.child.save(update_fields=["link_expires"])
    assert cast.client("child").get(reverse("practice:s-page", args=[cast.child.code])).status_code == 404


def test_views_are_found_where_the_table_says():
    """The table is keyed by names: a name that led to another's address would walk one page twice."""
    for name, pattern in ADDRESSES:
        kwargs = {key: "a" if key in ("token", "uidb64") else uuid.uuid4() for key in wanted(name)}
        assert resolve(reverse(name, kwargs=kwargs)).func is pattern.callback, name
