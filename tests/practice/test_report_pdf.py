"""The PDF, read back with pypdf: its text, its tags, its words for every picture.

Sources: ISO 14289-1 (PDF/UA-1) asks for tagged content, a title, a language and an alternative for every figure, and
says so in the file's XMP as pdfuaid:part 1; ISO 32000-1, 14.7 to 14.9 (MarkInfo, Lang, Alt).
"""

import io
import re
import subprocess
import sys
import tomllib
import unicodedata
from pathlib import Path

import pypdf
import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from practice import report_pdf, summary
from practice.report import compose_term
from practice.report_charts import figures_of
from practice.report_pdf import term_pdf, week_pdf
from tests.practice.plain import TODAY, ago, change, entry, facts, goal, mark

GOALS = (
    goal(code="a", title="Bm, E-shape at 7", marks=(mark(ago(20), 6), mark(ago(10), 6, check=True))),
    goal(
        "changes", 36, code="b", kind="change", title="D to Bm",
        theory=change(("A-major", "D", 5), ("E-minor", "B", 7)),
        marks=tuple(mark(ago(9 * back), 30 - 3 * back, measure="changes") for back in range(6, -1, -1)),
    ),
)  # fmt: skip
STUDENT = facts(goals=GOALS, entries=tuple(entry(ago(back)) for back in range(60, 0, -2)))


def made(words: str = "", student=STUDENT, **over) -> bytes:
    report = compose_term(student, ago(80), TODAY, TODAY, words)
    return term_pdf(report, figures_of(report, student), **({"studio": "Test Lane", "teacher": "Ada Teacher"} | over))


def read(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


def text_of(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in read(data).pages).split())


def figures_in(data: bytes) -> list[str]:
    """Alternatives of the figures in the structure tree; fails for one without."""
    found = []

    def walk(node):
        node = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(node, list):
            for child in node:
                walk(child)
        elif isinstance(node, dict):
            if node.get("/S") == "/Figure":
                found.append(str(node["/Alt"]))
            if "/K" in node:
                walk(node["/K"])

    walk(read(data).trailer["/Root"]["/StructTreeRoot"]["/K"])
    return found


WHOLE = made("Well done so far.\n\nKeep the D to Bm change slow.")


def test_it_is_tagged_titled_and_says_that_it_is_accessible():
    root = read(WHOLE).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 (a PDF boolean)
    assert root["/Lang"] == "en-GB"
    assert read(WHOLE).metadata.title == "Term report: Wren Example"
    xmp = root["/Metadata"].get_object().get_data().decode()
    assert re.search(r"pdfuaid:part[^1]*1", xmp)


def test_every_figure_has_words_that_state_the_finding():
    found = figures_in(WHOLE)
    assert len(found) == 4  # calendar, minutes, two goals' lines
    assert any(text.startswith("Practice calendar. Practised on 30 of the last 81 days.") for text in found)
    assert any("D to Bm. From" in text for text in found)


def test_what_it_says():
    text = text_of(WHOLE)
    for part in (
        "Wren Example",
        "Test Lane",
        "24 August to 12 November 2026",
        "Wren reached 1 goal this term and logged 600 minutes of practice on 30 days.",
        "From Ada Teacher",
        "Well done so far.",
        "Keep the D to Bm change slow.",
        "Reached this term",
        "Bm, E-shape at 7 6 of 6 strings 2 Nov 2026",
        "What comes next",
        "D to Bm developing 30 changes a minute 36 changes a minute",
        "Practice calendar",
    ):
        assert part in text, part
    assert len(read(WHOLE).pages) == 2


def test_charts_keep_real_text_and_no_font_comes_from_the_machine():
    """Labels of the drawings are found as text; the fonts are the two that typst carries."""
    assert "target 36" in text_of(WHOLE)
    fonts = {
        str(font.get_object()["/BaseFont"]).split("+")[-1]
        for page in read(WHOLE).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert fonts
    assert all(name.startswith(("LibertinusSerif", "DejaVuSansMono")) for name in fonts)


def test_no_words_no_heading_and_one_page_for_a_student_with_nothing():
    data = made(student=facts())
    assert "From Ada Teacher" not in text_of(data)
    assert "No practice at home was logged for Wren this term." in text_of(data)
    assert len(read(data).pages) == 1
    assert figures_in(data) == []


# ---------------------------------------------------------------- what was typed

TYPED = [
    "# no heading",
    "*not bold* _nor slanted_",
    "$x^2$ and $ 5",
    "@nobody <label> #import",
    '"double" and \'single\' "quotes"',
    r"back\slash \u{41} \ end",
    "[box] {code} `raw` ~ -- ... // not a comment /* nor this */",
    "- no list\n+ nor this\n= nor a heading",
    "#sys.inputs #read(\"/etc/passwd\") #eval(\"1\")",
    "</text> & &amp; {{ braces }} {% tag %}",
]  # fmt: skip


@pytest.mark.parametrize("words", TYPED)
def test_typed_text_is_data_and_never_markup(words):
    assert " ".join(words.split()) in text_of(made(words))


@pytest.mark.parametrize("name", ["#name *x* $y$ @z", "Zoë Ångström-O’Neil", '"; DROP', "\\"])
def test_names_titles_and_studios_are_data_too(name):
    student = facts(name=name, first_name=name, goals=(goal(title=f"{name} piece", marks=(mark(ago(3), 2),)),))
    text = text_of(made(student=student, studio=f"{name} studio", teacher=f"{name} teacher", words="w"))
    for part in (name, f"{name} piece", f"{name} studio", f"From {name} teacher"):
        assert part in text


def test_a_word_of_two_thousand_characters_stays_on_the_page():
    """It is broken into lines of at most forty, of which the widest letter leaves no line beyond the margin."""
    data = made("W" * 2000)
    runs = re.findall("W+", " ".join(page.extract_text() for page in read(data).pages))
    assert sum(len(run) for run in runs if len(run) > 1) == 2000
    assert max(len(run) for run in runs) <= 60


def test_right_to_left_words_are_kept_and_stand_at_the_right():
    data = made("שלום עולם\nمرحبا")
    text = text_of(data)
    assert set("שלוםע") <= set(text)
    assert "□" not in text
    assert report_pdf._reads_right_to_left("12 שלום a")
    assert not report_pdf._reads_right_to_left("a שלום")
    assert not report_pdf._reads_right_to_left("12")


def test_a_picture_is_written_by_its_name_and_a_letter_without_a_shape_as_a_square():
    data = made("Play on 🎸 and 👩🏽‍🎤! 日本 stays.")
    text = text_of(data)
    assert "(guitar)" in text
    assert "(woman)(microphone)" in text
    assert "□□ stays." in text
    assert "stands for a letter that this page's fonts do not have" in text
    assert read(data).trailer["/Root"]["/MarkInfo"]["/Marked"] == True  # noqa: E712
    assert "□" not in text_of(WHOLE)


def compiles(monkeypatch) -> list[str]:
    """Every compile that asks whether a text has shapes, from now on."""
    asked: list[str] = []
    has_shapes = report_pdf._has_shapes.__wrapped__
    monkeypatch.setattr(report_pdf, "_has_shapes", lambda text: asked.append(text) or has_shapes(text))
    return asked


# first code point, how many letters; where they begin: Unicode's list of blocks
MISSING_SCRIPTS = [(0x4E00, 2000), (0xAC00, 2000), (0x1F300, 200)]


@pytest.mark.parametrize(("first", "many"), MISSING_SCRIPTS, ids=["han", "hangul", "pictures"])
def test_thousands_of_letters_without_a_shape_take_few_compiles(monkeypatch, first, many):
    asked = compiles(monkeypatch)
    letters = {chr(first + at) for at in range(many)}
    assert report_pdf.unprintable(letters | set("Zoë şalom שלום Ωμέγα Привет")) == letters
    assert len(asked) <= 3


def test_all_that_the_fonts_lack_of_mixed_scripts_is_found(monkeypatch):
    """Against asking typst about every single letter, in blocks of which the fonts have some letters: of kana one."""
    asked = compiles(monkeypatch)
    blocks = [
        range(0x0180, 0x0250),
        range(0x0500, 0x0530),
        range(0x2190, 0x2200),
        range(0x2600, 0x2680),
        range(0x3041, 0x3097),
    ]
    letters = [chr(code) for block in blocks for code in block]
    letters = [letter for letter in letters if unicodedata.category(letter) != "Cn"]
    has_shapes = report_pdf._has_shapes
    found = report_pdf.unprintable(letters)
    assert len(asked) <= 3
    assert found == {letter for letter in letters if not has_shapes(letter)}
    assert 20 < len(found) < len(letters) - 20


def test_a_mark_that_no_font_has_is_found_among_letters():
    assert report_pdf.unprintable("é日\u20ea\u0301") == {"日", "\u20ea"}


def test_control_characters_and_broken_drawings_stop_nothing():
    student = facts(goals=(goal("changes", 36, title="a\x01b\x0bc\ufffe", marks=GOALS[1].marks),))
    assert "a b c" in text_of(made("one\x00two\x7f", student=student))


@settings(max_examples=15)
@given(st.text(max_size=60), st.text(min_size=1, max_size=20))
def test_no_text_stops_a_report(words, name):
    student = facts(name=name, first_name=name)
    assert made(words, student=student).startswith(b"%PDF-")


# ---------------------------------------------------------------- the week, the language, the wheel


def test_the_week_is_drawn_from_the_value_of_the_familys_page():
    from practice.words import say

    week = summary.compose(STUDENT, ago(10), TODAY)
    data = week_pdf(week, [], "Wren Example", "Test Lane")
    text = text_of(data)
    assert say(week.sentence) in text
    assert say(week.help) in text
    assert "D to Bm developing" in text
    assert "Thursday 19 November" in text
    assert len(read(data).pages) == 1
    assert read(data).trailer["/Root"]["/MarkInfo"]["/Marked"] == True  # noqa: E712


def test_a_language_of_another_direction_is_named():
    with translation.override("de"):
        assert read(made()).trailer["/Root"]["/Lang"] == "de"


def test_typst_is_loaded_by_making_a_pdf_and_not_before():
    code = (
        "import os, sys; os.environ['DJANGO_SETTINGS_MODULE'] = 'studio.settings'\n"
        "import django; django.setup(); import practice.views.report\n"
        "assert not {'typst', 'matplotlib', 'numpy'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_style_is_packed_beside_the_code():
    """package-data is what setuptools puts into a wheel besides Python files."""
    root = Path(report_pdf.__file__).parent.parent
    packed = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["package-data"]
    assert report_pdf.STYLE.parent == root / "practice"
    assert any(report_pdf.STYLE.match(pattern) for pattern in packed["practice"])
    assert report_pdf.STYLE.is_file()
