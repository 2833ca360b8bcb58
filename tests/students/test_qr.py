"""The personal link as a QR code: the same link as the text beside it, for whoever may see the student."""

import datetime as dt
import re
from xml.etree import ElementTree

import pytest
from django.urls import reverse

from students.views.qr import qr_svg

NAMESPACE = "{http://www.w3.org/2000/svg}"


def at(student):
    return reverse("students:link-qr", args=[student.code])


def get(cast, who="teacher", student=None):
    return cast.client(who).get(at(student or cast.child))


def the_svg(page):
    return re.search(r"<svg.*?</svg>", page, flags=re.S)[0]


def matrix(svg):
    """The dark modules of the drawing as rows of booleans, the quiet zone included, read off its path."""
    root = ElementTree.fromstring(svg)
    side = int(root.get("viewBox").split()[2])
    rows = [[False] * side for _ in range(side)]
    (path,) = (one for one in root.iter() if one.tag.removeprefix(NAMESPACE) == "path")
    x = y = 0.0
    for step, numbers in re.findall(r"([Mmh])([-\d. ]+)", path.get("d")):
        values = [float(number) for number in numbers.split()]
        if step == "h":
            for column in range(int(x), int(x + values[0])):
                rows[int(y)][column] = True
            x += values[0]
        elif step == "M":
            x, y = values
        else:
            x, y = x + values[0], y + (values[1] if len(values) > 1 else 0)
    return rows


def test_the_page_shows_the_link_as_drawing_and_as_text(cast):
    page = get(cast).content.decode()
    address = re.search(r'value="(http://testserver/open/[^"]+)"', page)[1]
    assert the_svg(page) == qr_svg(address, "QR code of the personal link of Kit")
    opened = cast.client("anonymous").get(address)
    assert opened.url == reverse("practice:s-page", args=[cast.child.code])
    people = cast.client("teacher").get(reverse("students:people", args=[cast.child.code])).content.decode()
    assert f'href="{at(cast.child)}"' in people


def test_the_drawing_keeps_the_policy_and_says_what_it_is(cast):
    svg = the_svg(get(cast).content.decode())
    assert "style" not in svg
    assert "<title>QR code of the personal link of Kit</title>" in svg
    assert "&lt;b&gt;" in qr_svg("http://studio.example/open/x/", "<b>")


def test_the_drawing_is_a_qr_code():
    """Side 17 + 4 * version, finders in three corners, four empty modules round (ISO/IEC 18004, from memory)."""
    rows = matrix(qr_svg("http://studio.example/open/" + "x" * 90, "a code"))
    side = len(rows)
    assert (side - 8 - 17) % 4 == 0
    finder = ["#######", "#.....#", "#.###.#", "#.###.#", "#.###.#", "#.....#", "#######"]
    for top, left in ((4, 4), (4, side - 11), (side - 11, 4)):
        seen = ["".join("#" if dark else "." for dark in row[left : left + 7]) for row in rows[top : top + 7]]
        assert seen == finder
    edge = {*range(4), *range(side - 4, side)}
    assert not any(rows[y][x] for y in range(side) for x in range(side) if x in edge or y in edge)


def test_a_replaced_link_has_another_code(cast):
    before = the_svg(get(cast).content.decode())
    cast.child.replace_link()
    assert the_svg(get(cast).content.decode()) != before


def test_a_link_that_opens_nothing_says_so(cast):
    cast.child.link_expires = dt.date(2020, 1, 1)
    cast.child.save(update_fields=["link_expires"])
    assert "Ended on 1 January 2020" in get(cast).content.decode()
    cast.child.status = "archived"
    cast.child.save(update_fields=["status"])
    assert "Opens nothing while the student is archived" in get(cast).content.decode()


def test_it_is_not_kept_by_a_browser(cast):
    assert "no-store" in get(cast).headers["Cache-Control"]


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("owner", 200),
        ("other_teacher", 404),
        ("stranger", 404),
        ("child", 404),
        ("guardian", 404),
        ("anonymous", 302),
    ],
)
def test_who_gets_it(cast, who, status):
    assert get(cast, who).status_code == status


def test_it_is_only_read(cast):
    assert cast.client("teacher").post(at(cast.child)).status_code == 405
    assert cast.client("other_teacher").post(at(cast.child)).status_code == 404
