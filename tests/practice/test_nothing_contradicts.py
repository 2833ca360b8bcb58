"""Nothing contradicts a hand: while a rule rests barres, no page, mail, PDF or sheet proposes what lays a finger flat,
and while it stops, none asks for minutes. Every address of every role is read, those that come later too.

`proposals` and `minutes_asked` say what counts. Without a note they find something on the pages that usually propose
(`test_without_a_note_...`), so that a page which stops being read, or words that change, would show.
"""

import datetime as dt
import io
import re
import uuid
import zipfile
from html import unescape

import pypdf
import pytest
from django.core import mail
from django.urls import reverse

from practice.mailing import hear
from practice.models import Goal
from studio import theory
from tests import factory
from tests.factory import NOW, TODAY
from tests.test_access import ADDRESSES, TABLE, row

DAY = dt.timedelta(days=1)
# one of each role: the others of it read the same pages
READERS = ("anonymous", "teacher", "child", "guardian")
FLAT, BARRE, OPEN = "D, A-shape at 5 (partial barre)", "Bm, E-shape at 7", "Em, open"
CHANGE = "Em to D"
RESTING = (FLAT, BARRE, CHANGE)
# what a family reads for them
IN_WORDS = ("the chord D", "the chord Bm", "the change from Em to D")


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def terms(kind, *chords, **more):
    return theory.Goal(kind, tuple(theory.ChordTerm(*one) for one in chords), **more).to_terms()


def progress_of(goal, *days_and_values):
    for days, value in days_and_values:
        factory.make_result(goal, value, day=TODAY - days * DAY)


@pytest.fixture
def rows(cast):
    """A child whose pages would all speak of what lies flat: due first, practised most, risen last week, waiting for
    its review, set aside, and to be played in three days. By what addresses name."""
    child = cast.child
    child.plan_minutes = 15
    child.save()
    factory.make_consent(child)
    soon = {"due": TODAY + DAY}
    flat = factory.make_goal(child, target=4, terms=terms("chord", ("A-major-partial", "D", 5)), **soon)
    progress_of(flat, (12, 1), (8, 2), (5, 3), (4, 3))
    for days in (4, 5):
        factory.make_entry(child, (flat, 900), day=TODAY - days * DAY)
    barre = factory.make_goal(child, day=TODAY - 90 * DAY, due=TODAY - 2 * DAY)
    factory.make_result(barre, 6, day=TODAY - 51 * DAY)
    factory.make_result(barre, 6, lesson=factory.make_lesson(child, day=TODAY - 50 * DAY), day=TODAY - 50 * DAY)
    change = factory.make_goal(
        child, kind="change", measure="changes", target=30,
        terms=terms("change", ("open-Em", "E"), ("A-major-partial", "D", 5)), **soon,
    )  # fmt: skip
    progress_of(change, (11, 10), (4, 16))
    opened = factory.make_goal(child, terms=terms("chord", ("open-Em", "E")), due=TODAY + 20 * DAY)
    progress_of(opened, (9, 3), (3, 4))
    roots = factory.make_roots_goal(child, due=TODAY + 20 * DAY)
    aside = factory.make_goal(child, terms=terms("chord", ("E-major", "A", 5)), set_aside_at=NOW)
    song = factory.make_song(cast.teacher, title="Two Buckets", chords="Bm Em")
    factory.make_song(cast.teacher, title="Far Hill", chords="Em")
    show = factory.make_performance(child, flat, change, day=TODAY + 3 * DAY)
    assert {goal.title for goal in (flat, barre, change, opened)} == {*RESTING, OPEN}
    return {
        "student": child.code, "guardian": cast.guardian.code, "teacher": cast.teacher.code, "goal": aside.code,
        "roots": roots.code, "note": uuid.uuid4(), "declined": factory.make_declined(child).code, "song": song.code,
        "performance": show.code, "entry": child.entries.first().code, "tell": uuid.uuid4(), "token": "never-signed",
        "uidb64": "MQ",
    }  # fmt: skip


def firm(child):
    factory.make_note(child, 5, at=NOW)


def numb(child):
    factory.make_note(child, 0, at=NOW, also=["numb"], face_arm_leg=False)


def repeated(child):
    for days in (0, 2, 4, 6):
        factory.make_note(child, 1, day=TODAY - days * DAY)


def skin(child):
    """Fingertip skin that stopped yesterday rests today."""
    factory.make_note(child, 8, day=TODAY - DAY, place="fingertip", sensation="sore", settles="hour")


def step(child):
    factory.make_return(child)


def severe(child):
    factory.make_note(child, 8, at=NOW)


def hurt(child):
    factory.make_note(child, 0, at=NOW, also=["fell"])


def helpless(child):
    factory.make_note(child, 2, at=NOW, also=["weak"], face_arm_leg=True)


def felt(child):
    factory.make_return(child)
    factory.make_note(child, 1, at=NOW)


def waiting(child):
    """Stopped a week ago and not closed; it was noted at 0 since."""
    factory.make_note(child, 8, day=TODAY - 7 * DAY)
    factory.make_note(child, 0, at=NOW)


RESTS = (firm, numb, repeated, skin, step)
STOPS = (severe, hurt, helpless, felt, waiting)
# every page is read for one of each kind always, for the others in CI
ALWAYS = (firm, step, severe, felt)


def read_for(rules):
    return [
        pytest.param(rule, id=rule.__name__, marks=() if rule in ALWAYS else pytest.mark.long) for rule in rules
    ]


# -- what the pages say -------------------------------------------------------------------------------------------


def readers(name):
    """Who of READERS gets the address by GET, by the table of who gets what; nobody for one that is asked otherwise."""
    return [who for who in READERS if name in TABLE and row(name)[who] == 200]


def wanted(name):
    return next(pattern for known, pattern in ADDRESSES if known == name).pattern.converters


def content(response):
    return b"".join(response.streaming_content) if response.streaming else response.content


def of_pdf(data):
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages).split())


def pages(cast, rows):
    """(address, who, HTML or text) of every page that one of READERS is given."""
    for name, _pattern in ADDRESSES:
        for who in readers(name):
            response = cast.client(who).get(reverse(name, kwargs={key: rows[key] for key in wanted(name)}))
            if response.status_code != 200:
                continue
            kind, data = response.headers["Content-Type"], content(response)
            if "pdf" in kind:
                yield name, who, of_pdf(data)
            elif "zip" in kind:
                with zipfile.ZipFile(io.BytesIO(data)) as archive:
                    for member in archive.namelist():
                        if member.endswith(".pdf"):
                            yield f"{name} {member}", who, of_pdf(archive.read(member))
            elif "html" in kind or "text" in kind:
                yield name, who, data.decode()


def words(markup):
    """The text that a reader sees: no scripts, and nothing that waits for a phone in a template."""
    markup = re.sub(r"<(script|style|template)\b.*?</\1>", " ", markup, flags=re.S)
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", markup)).split())


def inside(markup, pattern):
    """The words of each part of a page that the pattern finds."""
    return [words(part) for part in re.findall(pattern, markup, flags=re.S)]


def titles_in(text):
    return [title for title in (*RESTING, *IN_WORDS) if title in text]


# part of a page, by address ("" for every one) -> where nothing that rests may be spoken of
SPOKEN = {
    "": (r"<h1[^>]*>(.*?)</h1>", r'<p class="lead">(.*?)</p>'),
    "practice:today": (r'<div class="next">(.*?)</div>',),
    "practice:next-chords": (r'<li class="goal">(.*?)</li>',),
    "practice:sheet": (r'<table class="boxes">(.*?)</table>', r'<ol class="sheet-goals">(.*?)</ol>'),
    "practice:f-sheet": (r'<table class="boxes">(.*?)</table>', r'<ol class="sheet-goals">(.*?)</ol>'),
    "practice:s-page": (r'<ol class="goals">(.*?)</ol>', r'<section class="timer"(.*?)</section>'),
    "practice:f-week": (r"One way to help:(.*?)</p>",),
    "practice:student-songs": (r"(.*)",),
    "practice:s-progress": (r"Songs I can play now(.*?)</ul>",),
}


def flat_shapes():
    found = set()
    for shape in theory.SHAPES:
        for root in "ABCDEFG":
            try:
                found |= {shape} if theory.place(shape, root, theory.INSTRUMENTS["steel-string"]).lays_flat else set()
            except theory.TheoryError:
                continue
    return found


FLAT_SHAPES = flat_shapes()


def proposals(name, markup):
    """What a page proposes though it lays a finger flat."""
    name = name.partition(" ")[0]
    said = words(markup)
    found = [f"Start with {title}" for title in titles_in(said) if f"Start with {title}" in said]
    for pattern in (*SPOKEN[""], *SPOKEN.get(name, ())):
        found += [title for part in inside(markup, pattern) for title in titles_in(part)]
    # one tap that sets a goal
    for form in re.findall(r'<form[^>]*action="[^"]*/goals/set/"[^>]*>(.*?)</form>', markup, flags=re.S):
        sent = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
        found += [sent["shape"]] if sent.get("shape") in FLAT_SHAPES else []
    found += re.findall(r'<(?:option|input)[^>]*value="next-root"', markup)
    found += [
        part
        for part in inside(markup, r'<button[^>]*value="next-root"[^>]*>(.*?)</button>')
        if "with your reason" not in part
    ]
    # the song that needs the barre
    if name in ("practice:s-progress", "practice:student-songs"):
        found += ["Two Buckets"] if "Two Buckets" in said else []
    if name == "practice:song-who":
        found += inside(markup, r'<span class="good">(.*?)</span>')
    if name == "practice:f-week-pdf" or name == "practice:f-week":
        help_ = re.search(r"One way to help:?(.*?)(?:What is being worked on|Back to playing|The hand, week|$)", said)
        found += titles_in(help_[1]) if help_ else []
    return found


MINUTES = re.compile(
    r"\d+ minutes? a day|\d+ minutes? planned|of \d+ planned|of \d+ min\b|\d+ quiet minutes"
    r"|(?:at|up to) most \d+|\d+ times \d+ minutes"
)
# what is said there of minutes is no request of today's
SPEAKS_OF_MINUTES = {
    "practice:help": "the rules",
    "practice:hand-notes": "the steps of a return, which the teacher sets",
    "practice:f-week": "of the week that is over: the running one is read beside it",
    "practice:f-week-pdf": "of the week that is over: the running one is read beside it",
    "practice:today": "of the seven days before the lesson",
    "practice:overview": "of the week that is over",
    "practice:report": "of a term",
    "practice:report-pdf": "of a term",
    "practice:reports-zip": "of a term",
    "practice:f-chart": "of the weeks that are over",
    "practice:charts": "of the weeks that are over",
    "practice:s-progress-charts": "of the weeks that are over",
    "practice:record": "what is kept",
    "practice:s-record": "what is kept",
    "practice:f-record": "what is kept",
}


def minutes_asked(name, markup):
    if name.partition(" ")[0] in SPEAKS_OF_MINUTES:
        return []
    return MINUTES.findall(words(markup))


# -- the properties -----------------------------------------------------------------------------------------------


# where without a note something that lies flat is proposed
PROPOSING = {
    "practice:s-page", "practice:sheet", "practice:f-sheet", "practice:f-week", "practice:f-week-pdf",
    "practice:student", "practice:lesson", "practice:s-progress", "practice:student-songs", "practice:song-who",
    "practice:today",
}  # fmt: skip
ASKING = {"practice:s-page", "practice:sheet", "practice:f-sheet", "practice:student", "practice:s-progress"}


def test_without_a_note_the_pages_propose_and_ask(cast, rows):
    proposed, asked = set(), set()
    for name, _who, markup in pages(cast, rows):
        proposed |= {name} if proposals(name, markup) else set()
        asked |= {name} if minutes_asked(name, markup) else set()
    assert not PROPOSING - proposed
    assert not ASKING - asked


@pytest.mark.parametrize("rule", read_for(RESTS))
def test_while_barres_rest_no_page_proposes_one(cast, rows, rule):
    rule(cast.child)
    read = 0
    for name, who, markup in pages(cast, rows):
        assert not proposals(name, markup), (name, who, proposals(name, markup))
        read += 1
    assert read > 60


@pytest.mark.parametrize("rule", read_for(STOPS))
def test_while_nothing_is_played_no_page_proposes_or_asks_for_minutes(cast, rows, rule):
    rule(cast.child)
    for name, who, markup in pages(cast, rows):
        assert not proposals(name, markup), (name, who, proposals(name, markup))
        assert not minutes_asked(name, markup), (name, who, minutes_asked(name, markup))
        assert "Start with" not in words(markup), (name, who)
    monday = TODAY - TODAY.weekday() * DAY
    week = f"{reverse('practice:f-week', args=[cast.child.code])}?week={monday}"
    assert not MINUTES.findall(words(cast.client("guardian").get(week).content.decode()))
    file = f"{reverse('practice:f-week-pdf', args=[cast.child.code])}?week={monday}"
    assert not MINUTES.findall(of_pdf(content(cast.client("guardian").get(file))))


@pytest.fixture
def grown(cast):
    """A grown-up whose turn it is for barres: open chords and the first barre are secure, and the lesson is today."""
    student = cast.student
    factory.make_consent(student)
    lesson = factory.make_lesson(student, day=TODAY - 14 * DAY)
    for shape, root, fret in (
        *(("open-" + chord, chord.removesuffix("m"), None) for chord in ("Em", "A", "D", "G", "E", "Am", "C", "Dm")),
        ("E-major", "A", 5),
    ):
        goal = factory.make_goal(student, target=3, terms=terms("chord", (shape, root, fret)), day=TODAY - 90 * DAY)
        factory.make_result(goal, 6, day=TODAY - 15 * DAY)
        factory.make_result(goal, 6, day=TODAY - 14 * DAY, lesson=lesson)
    factory.make_entry(student, day=TODAY - DAY)
    return student


def suggested(cast, student):
    """The shapes that the page of what could come next sets with one tap, and the drawing on Today."""
    page = cast.client("teacher").get(reverse("practice:next-chords", args=[student.code])).content.decode()
    lines = cast.client("teacher").get(reverse("practice:today")).context["lines"]
    drawn = [line.voicing for line in lines if line.slot.student == student and line.voicing is not None]
    return set(re.findall(r'name="shape" value="([^"]+)"', page)), {one.shape for one in drawn}


@pytest.mark.parametrize("rule", [None, *RESTS, *STOPS], ids=lambda rule: rule.__name__ if rule else "well")
def test_nothing_flat_is_suggested_while_it_rests(cast, grown, rule):
    if rule is not None:
        rule(grown)
    shapes, drawn = suggested(cast, grown)
    assert bool(shapes & FLAT_SHAPES) is (rule is None)
    assert bool(drawn & FLAT_SHAPES) is (rule is None)


@pytest.mark.parametrize("rule", [*RESTS, *STOPS], ids=lambda rule: rule.__name__)
def test_no_mail_proposes_or_asks(cast, rows, rule):
    rule(cast.child)
    hear(cast.child, NOW, lambda path: f"https://ledgerline.example{path}")
    for one in mail.outbox:
        text = f"{one.subject} {one.body}"
        assert not titles_in(text)
        assert not MINUTES.findall(text)
    assert mail.outbox or rule is step


@pytest.mark.parametrize("rule", [*RESTS, *STOPS], ids=lambda rule: rule.__name__)
def test_whatever_is_looked_at_in_the_form_is_not_called_free_of_problems(cast, rows, rule):
    rule(cast.child)
    url = reverse("practice:goal-set", args=[cast.child.code])
    client = cast.client("teacher")
    for goal in Goal.objects.filter(student=cast.child):
        page = words(client.get(url, {"from": goal.code}).content.decode())
        flat = goal.title in RESTING or "E-shape" in goal.title
        assert ("it can be set with your reason alone" in page) is flat, goal.title
        assert "stands against" not in page
        assert not (flat and "No problems found" in page)
