"""Who gets what: every address of the site, asked for by everybody, against one table.

The table is the promise; an address without a row, and a row without an address, fail.
"""

import uuid

import pytest
from django.urls import URLPattern, get_resolver, resolve, reverse

from tests import factory

WHO = (
    "anonymous",
    "owner",  # of the same studio
    "teacher",  # the child's and the student's
    "other_teacher",  # of the same studio, with students of their own
    "stranger",  # owner of another studio
    "child",  # whose page it is, where an address names a student
    "student",  # another student of the same teacher
    "other_student",  # a student of the other teacher
    "guardian",  # the child's
    "other_guardian",  # of the other teacher's student
)

# What a GET answers, in the order of WHO. Addresses that name a student, guardian or goal name the child's.
# 302 for anonymous is the sign-in page; 404 is "not yours": it does not say whether the page exists.
#                             anon own tea oth str chi stu ost gua ogu
PUBLIC_PAGE = "               200 200 200 200 200 200 200 200 200 200"
TEACHERS = "                  302 200 200 200 200 404 404 404 404 404"
TEACHER_OF = "                302 200 200 404 404 404 404 404 404 404"
TEACHER_OF_POST = "           302 405 405 404 404 404 404 404 404 404"
OWNERS = "                    302 200 404 404 200 404 404 404 404 404"
STUDENT_SELF = "              404 404 404 404 404 200 404 404 404 404"
STUDENT_SELF_POST = "         404 404 404 404 404 405 404 404 404 404"
GUARDIAN_OF = "               404 404 404 404 404 404 404 404 200 404"
GUARDIAN_OF_POST = "          404 404 404 404 404 404 404 404 405 404"

TABLE = {
    "students:sign-in": PUBLIC_PAGE,
    "students:sign-out": "    405 405 405 405 405 405 405 405 405 405",
    "students:open-link": "   404 404 404 404 404 404 404 404 404 404",  # with a token that nobody signed
    "students:password": TEACHERS,
    "students:password-forgotten": PUBLIC_PAGE,
    "students:password-sent": PUBLIC_PAGE,
    "students:password-new": PUBLIC_PAGE,  # a dead link says so and offers a new one
    "students:student-add": TEACHERS,
    "students:student-edit": TEACHER_OF,
    "students:student-status": TEACHER_OF_POST,
    "students:people": TEACHER_OF,
    "students:link-replace": TEACHER_OF_POST,
    "students:guardian-add": TEACHER_OF,
    "students:guardian-edit": TEACHER_OF,
    "students:guardian-remove": TEACHER_OF_POST,
    "students:guardian-link-replace": TEACHER_OF_POST,
    "students:consent-record": TEACHER_OF,
    "students:consent-withdraw": TEACHER_OF_POST,
    "students:s-consent": STUDENT_SELF,
    "students:f-consent": GUARDIAN_OF,
    "students:studio": OWNERS,
    "students:teacher-add": OWNERS,
    "students:teacher-edit": "302 200 404 404 404 404 404 404 404 404",
    "practice:home": PUBLIC_PAGE,
    "practice:today": TEACHERS,
    "practice:roster": TEACHERS,
    "practice:roster-csv": TEACHERS,
    "practice:student": TEACHER_OF,
    "practice:next-chords": TEACHER_OF,
    "practice:charts": TEACHER_OF,
    "practice:log": TEACHER_OF,
    "practice:entries": TEACHER_OF,
    "practice:hand-notes": TEACHER_OF,
    "practice:hand-close": TEACHER_OF_POST,
    "practice:goal-set": TEACHER_OF,
    "practice:goal-preview": TEACHER_OF,
    "practice:goal-act": TEACHER_OF_POST,
    "practice:lesson": TEACHER_OF,
    "practice:s-page": STUDENT_SELF,
    "practice:s-log": STUDENT_SELF_POST,
    "practice:s-tell": STUDENT_SELF_POST,
    "practice:f-week": GUARDIAN_OF,
    "practice:f-chart": GUARDIAN_OF,
    "practice:f-log": GUARDIAN_OF,
    "practice:f-tell": GUARDIAN_OF_POST,
}


def walk(patterns, space=()):
    """(name with its namespaces, pattern) of every address, includes walked into."""
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield ":".join([*space, pattern.name or "?"]), pattern
        else:
            yield from walk(pattern.url_patterns, [*space, pattern.namespace] if pattern.namespace else space)


ADDRESSES = list(walk(get_resolver().url_patterns))


@pytest.fixture
def address(cast):
    """address(name) -> the path of a name, with the child's rows wherever it asks for some."""
    goal = factory.make_goal(cast.child)
    factory.make_consent(cast.child)
    rows = {
        "student": cast.child.code,
        "guardian": cast.guardian.code,
        "teacher": cast.teacher.code,
        "goal": goal.code,
        "note": factory.make_note(cast.child).code,
        "token": "never-signed",
        "uidb64": "MQ",
    }
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
def test_a_page_is_for_whom_the_table_says(cast, address, name):
    path = address(name)
    got = {who: cast.client(who).get(path) for who in WHO}
    assert {who: response.status_code for who, response in got.items()} == row(name)
    if row(name)["anonymous"] == 302:
        assert got["anonymous"].url == f"{reverse('students:sign-in')}?next={path}"


@pytest.mark.parametrize("name", TABLE)
def test_who_may_not_read_may_not_write_and_nobody_breaks_a_page_with_an_empty_form(cast, address, name):
    path = address(name)
    for who, status in row(name).items():
        response = cast.client(who).post(path)
        if name != "students:open-link" and status in (302, 404):
            assert response.status_code == status, who
        else:
            assert response.status_code < 500, who


@pytest.mark.parametrize("name", [name for name in TABLE if row(name)["anonymous"] != 200])
def test_a_script_without_a_person_gets_401_and_no_redirect(cast, address, name):
    if name in ("students:sign-out", "students:open-link"):
        pytest.skip("public: it has a view of its own for everybody")
    client = cast.client("anonymous")
    asked = client.get(address(name), headers={"accept": "application/json"})
    sent = client.post(address(name), {"a": 1}, content_type="application/json")
    for response in (asked, sent):
        assert response.status_code == 401
        assert response.headers["Content-Type"] == "application/json"
        assert response.json()["error"]


@pytest.mark.parametrize("name", [name for name in TABLE if "student" in wanted(name)])
def test_an_unknown_student_is_404_for_everybody(cast, name):
    path = reverse(name, kwargs={key: uuid.uuid4() for key in wanted(name)})
    for who in ("owner", "teacher", "child", "guardian"):
        assert cast.client(who).get(path).status_code in {404, 405}, who
        assert cast.client(who).post(path).status_code == 404, who


# Addresses that hang a second row on a student: the child's address with a row of the other student's.
@pytest.mark.parametrize(
    "name", [name for name in TABLE if {"student"} < set(wanted(name)) and row(name)["teacher"] in (200, 405)]
)
def test_a_row_of_another_student_is_404_under_ones_own(cast, name):
    rows = {
        "student": cast.child.code,
        "guardian": cast.other_guardian.code,
        "goal": factory.make_goal(cast.other_student).code,
        "note": factory.make_note(cast.other_student).code,
    }
    path = reverse(name, kwargs={key: rows[key] for key in wanted(name)})
    for who in ("owner", "teacher"):
        assert cast.client(who).post(path).status_code == 404, who


def test_no_address_takes_a_form_without_its_token():
    open_doors = [name for name, pattern in ADDRESSES if getattr(pattern.callback, "csrf_exempt", False)]
    assert open_doors == []


@pytest.mark.parametrize("name", [name for name in TABLE if {200, 405} & set(row(name).values())])
def test_no_page_knows_other_methods(cast, address, name):
    path = address(name)
    who = next(who for who, status in reversed(row(name).items()) if status in (200, 405))
    for method in ("put", "patch", "delete"):
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


def test_the_student_page_of_an_archived_student_is_closed(cast):
    path = reverse("practice:s-page", args=[cast.child.code])
    assert cast.client("child").get(path).status_code == 200
    cast.child.status = "archived"
    cast.child.save(update_fields=["status"])
    assert cast.client("child").get(path).status_code == 404
    assert cast.client("guardian").get(reverse("practice:f-week", args=[cast.child.code])).status_code == 404


def test_views_are_found_where_the_table_says():
    """The table is keyed by names: a name that led to another's address would walk one page twice."""
    for name, pattern in ADDRESSES:
        kwargs = {key: "a" if key in ("token", "uidb64") else uuid.uuid4() for key in wanted(name)}
        assert resolve(reverse(name, kwargs=kwargs)).func is pattern.callback, name
