"""Links that a teacher knew stop with the teacher, when the owner says so."""

import pytest

from students.links import sign


def opens(cast, person):
    return cast.client("anonymous").get(f"/open/{sign(person.code, 1)}/").status_code == 302


def teacher_data(cast, **over):
    return {"name": cast.teacher.name, "email": cast.teacher.user.email, **over}


@pytest.mark.parametrize(("ticked", "works"), [(True, False), (False, True)])
def test_a_teacher_who_is_shut_out(cast, ticked, works):
    url = f"/studio/teachers/{cast.teacher.code}/edit/"
    data = teacher_data(cast, **({"replace_links": "on"} if ticked else {}))
    assert cast.client("owner").post(url, data).status_code == 302
    assert opens(cast, cast.child) is works
    assert opens(cast, cast.guardian) is works
    assert opens(cast, cast.other_student)
    assert opens(cast, cast.other_guardian)


def test_a_teacher_who_stays_costs_no_link(cast):
    url = f"/studio/teachers/{cast.teacher.code}/edit/"
    cast.client("owner").post(url, teacher_data(cast, may_sign_in="on", replace_links="on"))
    assert opens(cast, cast.child)


@pytest.mark.parametrize(("change", "works"), [(True, False), (False, True)])
def test_a_student_who_changes_teacher(cast, change, works):
    url = f"/students/{cast.child.code}/edit/"
    form = cast.client("owner").get(url).context["form"]
    assert form["replace_links"].value() is True
    data = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    data["lesson_time"] = "15:30"
    data["replace_links"] = "on"
    if change:
        data["teacher"] = str(cast.other_teacher.code)
    answer = cast.client("owner").post(url, data)
    assert answer.status_code == 302, answer.context["form"].errors
    assert opens(cast, cast.child) is works
    assert opens(cast, cast.guardian) is works


def test_a_teacher_is_not_asked(cast):
    form = cast.client("teacher").get(f"/students/{cast.child.code}/edit/").context["form"]
    assert "replace_links" not in form.fields
