"""Every main page as people meet it: light and dark, phone and desk, measured by axe-core and by width."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.served import PHONE, WIDE, Server, sign_in

# WCAG 2.2 A and AA, and what axe-core calls best practice (one main landmark, headings in order).
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}

# Paths under a student's page; {student} is the student whose link the demo prints.
TEACHER = [
    "/today/",
    "/roster/",
    "/overview/",
    "/help/",
    "/students/add/",
    "/students/{student}/",
    "/students/{student}/next/",
    "/students/{student}/songs/",
    "/songs/",
    "/songs/?who=1",
    "/songs/?student={student}&sort=readiness",
    "/songs/add/",
    "/songs/import/",
    "/teaching-order/",
    "/students/{student}/charts/",
    "/students/{student}/report/",
    "/reports/",
    "/students/{student}/log/",
    "/students/{student}/entries/",
    "/students/{student}/paper/",
    "/students/{student}/sheet/",
    "/students/{student}/hand/",
    "/students/{student}/hand/note/",
    "/students/{student}/record/",
    "/students/{student}/goals/set/",
    "/students/{student}/lesson/",
    "/students/{student}/performances/",
    "/students/{student}/edit/",
    "/students/{student}/people/",
    "/students/{student}/consent/",
    "/password/",
]
STUDENT = [
    "/s/{student}/",
    *(f"/s/{{student}}/{name}/" for name in ("hand", "consent", "entries", "pin", "account", "record")),
]
FAMILY = ("chart", "log", "hand", "consent", "paper", "sheet", "pin", "record")
GUARDIAN = ["/f/{child}/", *(f"/f/{{child}}/{name}/" for name in FAMILY)]
MISSING = ["/no/such/page/"]
NOBODY = ["/sign-in/", "/password/forgotten/", *MISSING]

SCREENS = {"phone": PHONE, "desk": WIDE}
MORE = ("dark phone", "light desk", "dark desk")
LOOKS = ["light phone", *(pytest.param(look, marks=pytest.mark.long) for look in MORE)]


def violations(page: Page) -> list[str]:
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}"
        for rule in Axe().run(page, options=RULES).response["violations"]
        for node in rule["nodes"]
    ]


def check(page: Page, path: str) -> list[str]:
    answer = page.goto(path)
    assert answer is not None
    assert answer.status == (404 if path in MISSING else 200), path
    wrong = [f"{path}: {said}" for said in violations(page)]
    beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if beyond > 0:
        wrong.append(f"{path}: the page is {beyond} px wider than the screen")
    return wrong


def code_in(address: str) -> str:
    """The student's code in the address that a personal link leads to."""
    return address.split("/")[4]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.long
def test_teachers_pages(open_page: Callable[..., Page], server: Server, look: str) -> None:
    scheme, screen = look.split()
    page = open_page(color_scheme=scheme, **SCREENS[screen])
    page.goto(server.student)
    student = code_in(page.url)
    sign_in(page, server)
    wrong = [said for path in TEACHER for said in check(page, path.format(student=student))]
    assert wrong == []


@pytest.mark.parametrize("look", LOOKS)
def test_phone_and_public_pages(open_page: Callable[..., Page], server: Server, look: str) -> None:
    scheme, screen = look.split()
    page = open_page(color_scheme=scheme, **SCREENS[screen])
    page.goto(server.student)
    student = code_in(page.url)
    page.goto(server.guardian)
    child = code_in(page.url)
    paths = [path.format(student=student, child=child) for path in STUDENT + GUARDIAN + NOBODY]
    assert [said for path in paths for said in check(page, path)] == []


def test_axe_sees_what_is_wrong(open_page: Callable[..., Page]) -> None:
    """The instrument itself: a page with a picture without words and a faint text must not pass."""
    page = open_page(**PHONE)
    page.goto("/sign-in/")
    page.evaluate(
        """() => {
            const main = document.querySelector("main");
            main.appendChild(document.createElement("img")).src = "data:,";
            const faint = main.appendChild(document.createElement("p"));
            faint.textContent = "faint";
            faint.style.color = "#d0d0d0";
        }"""
    )
    said = " ".join(violations(page))
    assert "image-alt" in said
    assert "color-contrast" in said
