"""Writes studio/docs/hand-care.md from the rule book and the words that the pages use; a test holds the two together.

    .venv/bin/python -m tests.practice.hand_texts
"""

import os
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = ROOT / "studio" / "docs" / "hand-care.md"

P, D, C, M = "published", "derived", "common practice, no source", "from memory"

# what a rule of the book rests on, and how sure that is
_CLINICIAN = f"{D}: a synthesis of the five-level performer scale ({P}) and NHS hand-and-wrist guidance"
MARKS = {
    **dict.fromkeys(("sudden", "numb", "weak", "rest", "next-day", "daily", "repeated"), _CLINICIAN),
    "face": P,
    "sudden-numb": f"{P}; the older question, which no form asks any more",
    "injury-now": f"{P}; that 10 of 10 is extreme by its own words: {D}",
    "injury": P,
    "hot": P,
    "shape": f"{P} after a fall or a blow; without one: {D}",
    "severe-skin": f"{D}; the bands: {P}",
    "severe": f"{D}; the bands: {P}",
    "itself": P,
    "firm": f"{D}; the bands are one convention of several, {P}",
    "four-days": f"{D}; the bands are one convention of several, {P}",
    "two-days": f"{D}; 25 minutes and 5 of rest: {P}",
    "rise": f"2 points: {P}; the rest: {D}",
    "numb-tip": C,
    "skin": C,
    "skin-twice": C,
}

LEVEL_TITLES = {
    "emergency": "The emergency number",
    "hospital": "An emergency department",
    "same-day": "Medical advice the same day",
    "stop": "Stop for today",
    "see-someone": "See a doctor or hand therapist",
    "pause": "Pause and tell the teacher",
    "ease-off": "Ease off",
}

# texts that stand in a template and not in practice/words.py: (template, text, where it is read)
PAGE_TEXTS = [
    (
        "practice/practise.html",
        "My hand hurts: stop",
        "the student's page, a button under the timer",
    ),
    (
        "practice/practise.html",
        "Stopped. Leave it at that for today and let the hand rest.",
        "after that tap",
    ),
    (
        "practice/practise.html",
        "If it is strong or does not settle, ask a doctor or hand therapist.",
        "after that tap, to an adult",
    ),
    (
        "practice/practise.html",
        "If it is strong or does not settle, tell a grown-up at home.",
        "after that tap, to a minor",
    ),
    (
        "practice/practise.html",
        "If it is strong or does not settle, tell somebody at home.",
        "after that tap, where the birth year is not known",
    ),
    (
        "practice/practise.html",
        "25 minutes of playing: put the guitar down for 5. (Klickstein, The Musician's Way, 2009.)",
        "the timer",
    ),
    (
        "practice/practise.html",
        (
            "10 minutes of playing: put the guitar down for a while. (Common practice with under-tens, no "
            "source.)"
        ),
        "the timer, under ten years",
    ),
    (
        "practice/practise.html",
        "Until somebody has looked at it, half the minutes: {{ n }} a day.",
        "the student's page, while a person is to be asked; common practice, no source",
    ),
    (
        "practice/practise.html",
        "Finding root notes stands in their place: no barre, and in the drill here no string is pressed.",
        "the student's page, where barres rest and a root drill is set",
    ),
    (
        "practice/practise.html",
        "Listening, reading and finding root notes stand in their place; ask your teacher for a root drill.",
        "the same, where none is set",
    ),
    (
        "practice/_hand_questions.html",
        (
            "0 is no pain, 10 the worst possible (Farrar et al., Pain 2001;94:149). Up to 3 is called a little here, "
            "4 to 6 some, from 7 a lot: one convention of several (Canadian Physiotherapy Association page)."
        ),
        "the student's page, under the questions",
    ),
    (
        "practice/_bands.html",
        "In words “a little” stands for 1 to 3 of 10, “some” for 4 to 6, “a lot” for 7 to 10",
        "the family's page, with the advice",
    ),
    (
        "practice/_return.html",
        "Step {{ level }} of your way back: {{ rounds }} times {{ play }} minutes today, and no more.",
        "the student's page, on a step of a return",
    ),
    (
        "practice/_return.html",
        "Rest the hand for {{ rest }} minutes between; set a timer.",
        "the same",
    ),
    (
        "practice/_return.html",
        "Log each turn, and how the hand feels, also when it is 0. If you feel anything, stop for today.",
        "the same",
    ),
    (
        "practice/_hand_return.html",
        (
            "Once a doctor or hand therapist has cleared the hand: 5 minutes, an hour of rest, 5 minutes, for"
            " 3 to 7 days; then 10 and 10. On only when nothing is felt, else back one (British Association "
            "for Performing Arts Medicine)."
        ),
        "the teacher's page of the hand",
    ),
    (
        "practice/hand_notes.html",
        "Please check string height and gauge.",
        "the teacher's page of the hand",
    ),
    (
        "practice/hand_notes.html",
        "Ledgerline never says what a pain is: that is for a doctor or hand therapist.",
        "the teacher's page of the hand",
    ),
    *(
        ("practice/hand_notes.html", text, "the teacher's page of the hand, heading of the answer")
        for text in (
            "The emergency number, now", "An emergency department, now", "Medical advice, today",
            "Stopped until a doctor or hand therapist has had a look", "Stopped for today",
            "A doctor or hand therapist should look at this hand", "Pause, and talk about it", "Ease off this week",
        )
    ),
    (
        "practice/hand_notes.html",
        "It does not close by itself: a doctor or hand therapist has to look first.",
        "the teacher's page of the hand, beside what is not dealt with",
    ),
    *(
        ("students/_consent_ends.html", text, "before a consent is taken back")
        for text in (
            "the advice about your hand", "what it changes in the plan: barre chords that rest, fewer minutes, a stop",
            "the steps of a way back to playing", "mails about the hand",
            "Just now the plan is eased for the hand. From then on it is the full plan again.",
            "{{ teacher }} is asked, without any value, to talk with you about the plan.",
        )
    ),
]


def cases():
    """For each rule of the book notes that fire it: at the fretting hand's wrist, and at the neck; fingertips for
    theirs."""
    from tests.practice.plain import TODAY, ago, note

    # discomfort and what else is said
    one = {
        "face": (2, {"also": ("numb",), "face_arm_leg": True}),
        "sudden-numb": (2, {"sensation": "numb", "sudden": True}),
        "injury-now": (4, {"also": ("fell", "snap")}),
        "injury": (4, {"also": ("fell",)}),
        "hot": (4, {"also": ("hot",)}),
        "shape": (4, {"also": ("shape",)}),
        "severe": (8, {}),
        "sudden": (4, {"sudden": True}),
        "numb": (4, {"sensation": "numb"}),
        "weak": (4, {"sensation": "weak"}),
        "itself": (4, {"also": ("itself",)}),
        "rest": (4, {"at_rest": True}),
        "next-day": (4, {"settles": "next-day"}),
        "daily": (4, {"daily": True}),
        "firm": (4, {}),
    }
    tip = {"place": "fingertip", "settles": "hour"}
    found = {
        rule: lambda place, value=value, more=more: [note(TODAY, value, place, **more)]
        for rule, (value, more) in one.items()
    }
    return found | {
        "severe-skin": lambda _place: [note(TODAY, 8, sensation="broken", **tip)],
        "repeated": lambda place: [note(ago(3), 4, place), note(TODAY, 4, place)],
        "four-days": lambda place: [note(ago(day), 2, place) for day in (6, 4, 2, 0)],
        "two-days": lambda place: [note(ago(2), 2, place), note(TODAY, 2, place)],
        "rise": lambda place: [note(ago(2), 0, ""), note(TODAY, 2, place)],
        "numb-tip": lambda _place: [note(TODAY, 2, sensation="numb", **tip)],
        "skin": lambda _place: [note(TODAY, 4, sensation="blister", **tip)],
        "skin-twice": lambda _place: [note(ago(day), 2, sensation="sore", **tip) for day in (5, 4)],
    }, TODAY


def document() -> str:
    return re.sub(r"\n{3,}", "\n\n", "\n".join(_lines())) + "\n"


def _lines() -> Iterator[str]:
    yield from OPENING.splitlines()
    yield from _rules()
    yield from ("", "## What whoever plays, and a family, reads first", "", READ_FIRST, "")
    yield from _answers()
    yield from ("", "## What is asked", "", ASKED, "")
    yield from _questions()
    yield from ("", "## A stepwise return", "")
    yield from _table(RETURN_ROWS)
    yield from ("", "## What the family and the teacher read beside it", "")
    yield from _table(OTHER_ROWS)
    yield from ("", "## What stands on the pages themselves", "")
    for template, text, where in PAGE_TEXTS:
        yield f"- “{text}” ({where}; `templates/{template}`)"
    yield from ("", "## The mails", "")
    yield "Subject, for both: “A note to look at, Alder Lane”. No value stands in either."
    for title, text in mails().items():
        yield from ("", f"{title}:", "", *(f"> {line}".rstrip() for line in text.strip().splitlines()))


def _rules() -> Iterator[str]:
    import datetime as dt
    from dataclasses import replace

    from practice import handcare
    from practice.words import say

    made, today = cases()
    by_level = sorted(handcare.RULES, key=lambda rule: _level_of(rule, made, today), reverse=True)
    level = ""
    for rule in by_level:
        answers = {where: handcare.advice(made[rule](place), today) for where, place in PLACES.items()}
        first, other = answers.values()
        if first.rule != rule:
            raise AssertionError(f"{rule}: {first.rule} answered")
        if first.level != level:
            level = first.level
            yield from ("", f"### {LEVEL_TITLES[level]}")
        yield from ("", f"**{say(first.why)}**", "")
        if first.text == other.text:
            yield f"> {say(first.text)}"
        else:
            for where, answer in answers.items():
                yield from (f"{where}:", "", f"> {say(answer.text)}", "")
        later = handcare.advice(made[rule]("wrist"), today + dt.timedelta(days=1))
        if first.stops:
            yield from ("", "From the next day on:", "", f"> {say(later.text)}")
        if rule in ("numb", "weak"):
            no = handcare.advice([replace(one, face_arm_leg=False) for one in made[rule]("wrist")], today)
            yield from ("Where arm, leg and face were asked after, and the answer is no:", "", f"> {say(no.text)}")
        if rule == "skin":
            new = handcare.advice([replace(one, discomfort=3, sensation="sore") for one in made[rule]("")], today)
            yield from ("", "At 3 or less:", "", f"> {say(new.text)}")
            more = handcare.advice([replace(one, sensation="sore") for one in made[rule]("")], today)
            yield from ("", "From 4 on, where the skin is closed:", "", f"> {say(more.text)}")
        if rule in ("firm", "numb"):
            index = handcare.advice(made[rule]("index"), today)
            yield from ("", "At the index finger:", "", f"> {say(index.text)}")
        yield from ("", f"Source: {say(first.source)} Mark: {MARKS[rule]}.")
        if first.other_view:
            yield from ("", f"The other view: {say(first.other_view)}")


def _level_of(rule: str, made, today) -> int:
    from practice import handcare

    return handcare.advice(made[rule]("wrist"), today).strictness


def _answers() -> Iterator[str]:
    from practice.hand_words import ANSWER
    from practice.handanswer import ADULT, CHILD, FAMILY, UNKNOWN, Reader
    from practice.words import say

    readers = [Reader(voice, "Robin", "Ada") for voice in (CHILD, ADULT, FAMILY)]
    codes = dict.fromkeys(code.partition("-")[2] for code in ANSWER if code.startswith(("young-", "own-", "family-")))
    rows = dict.fromkeys(" | ".join(say(reader.says(code)) for reader in readers) for code in codes)
    yield from ("| a child, a minor | an adult | a family |", "| --- | --- | --- |", *(f"| {row} |" for row in rows))
    unknown = Reader(UNKNOWN, "Robin", "Ada")
    yield from ("", f"Where the birth year is not known: “{say(unknown.says('severe'))}” “{say(unknown.says('face'))}”")
    yield from ("", "What happens next, what rests the hand, and what heads a day without an answer:", "")
    for code, text in ANSWER.items():
        if code.startswith(("next-", "rests-", "day-", "rule-")) and str(text) != "%(title)s":
            yield f"- {str(text) % BESIDE}"


BESIDE = {"teacher": "Ada", "who": "a grown-up at home", "day": "19 November", "title": "Em"}


def _questions() -> Iterator[str]:
    from practice.hand_words import SIGNS, TICKED

    yield "Any of these? " + "; ".join(map(str, TICKED.values())) + "."
    yield from ("", "Is an arm, a leg or one side of the face suddenly numb or weak?")
    shown = "; ".join(map(str, SIGNS.values()))
    yield from ("", f"What a note shows, behind one tap on Today and the roster: {shown}.")


PLACES = {"The fretting hand, fingers to elbow": "wrist", "Anywhere else": "neck"}

OPENING = """\
# Hand care: every text, its rule and its source

This page is written by `python -m tests.practice.hand_texts` from the words that the site uses; a test keeps it true.

Ledgerline never says what a pain is. It hears a hand early, says little, and sends to people: first the teacher, and
for the signs below a doctor or hand therapist. Nothing here replaces them, and the rule book itself is a synthesis:
each row says what it rests on. Where it errs it errs towards asking a person.

Marks: *published* (read in the source named), *derived* (worked out here from published things), *common practice, no
source*, *from memory*.

## The measure

Discomfort is a whole number: 0 no pain, 10 the worst possible (Farrar et al., Pain 2001;94:149; published). The bands
used here, 1 to 3, 4 to 6 and 7 to 10, are one convention of several (Canadian Physiotherapy Association page;
published). A child under eight answers an adult in three words, “a little”, “some” and “a lot”, kept as 2, 5 and 8 and
marked as words (a spoken 0 to 10 agrees well from 8 years: Ann Emerg Med 2018, published; three words asked by an
adult: from memory; 2, 5 and 8: derived).

## The answers

An answer names the row of the rule book that fired, its source, and the other view where science disagrees. The
strictest row counts. A note stays in force until a later note of 0 to 1 at the same place, a later 0 that names no
place, or the teacher's closing it with what was done. What stops all playing, 7 or more and whatever asks for help the
same day or sooner, stays in force until the teacher has closed it with the word of a doctor or hand therapist, or as
noted by mistake; fingertip skin at 7 or more stops its day alone. An episode closes by itself after seven days with at
least two notes, all at 0 to 1, but never while something stops. While nothing fires nothing is said. Without consent
the same questions are answered for the answer alone: nothing is kept or sent.

Who is answered what, note by note: [the table of answers](hand-answers.md).

Here the strictest comes first, in the words for family and teacher.\
"""

READ_FIRST = """\
The first sentence of each is the one action, the line stands under it; the rule and its source stand behind one tap,
for a child under “For grown-ups”. A child and other minors read at most two short sentences.\
"""

ASKED = """\
At every number, 0 included, one list; the last four only after a fall, an odd shape, heat or weakness. With numbness,
tingling or weakness, at any number, one question before anything is sent: its yes is answered at once.\
"""

RETURN_ROWS = (
    ("return-days", {"days": 2}, "published (BAPAM: 3 to 7 days a level); which days count: derived"),
    ("return-ready", {"days": 3}, "published (BAPAM: on only without symptoms)"),
    ("return-long", {"days": 1}, "published (BAPAM: 3 to 7 days a level)"),
    ("return-felt", {}, "published (BAPAM: else back one)"),
    ("return-felt-first", {}, "derived"),
    ("return-waits", {}, "derived: what stops all playing stops a return, too"),
    ("return-source", {}, "published; later steps are not"),
    ("return-step", {"name": "Robin", "level": 1, "rounds": 2, "play": 5}, "published (BAPAM, step 1), to the family"),
    ("return-rest", {"rest": 60}, "published (BAPAM, step 1)"),
    ("return-no-barre", {}, "derived"),
    ("return-on-step", {"level": 1}, "beside the week’s days, in place of the plan’s"),
    ("return-most", {"minutes": 10, "day": "12 November"}, "beside the week’s minutes and the term’s"),
    ("return-begun", {"day": "12 November"}, "the same, of a week on an earlier step"),
    ("return-earlier-step", {}, "the same"),
    ("week-days-return", {"name": "Robin", "days": 2, "minutes": 20}, "the family: the week’s sentence"),
    ("week-over-step", {"name": "Robin", "days": 2, "most": 10}, "the family: the week’s sentence; derived"),
    ("help-return", {"name": "Robin"}, "published (BAPAM: a timer and a record)"),
    ("help-return-stop", {"name": "Robin"}, "published (BAPAM: back one step), something was felt on a step"),
)

OTHER_ROWS = (
    ("help-hand-ease-off", {"name": "Robin"}, "the family, “one way to help”"),
    ("help-hand-pause", {"name": "Robin"}, "the same"),
    ("help-hand-see-someone", {"name": "Robin"}, "the same"),
    ("help-hand-skin", {"name": "Robin"}, "the same, for fingertip skin at 7 or more"),
    ("help-hand-stop", {"name": "Robin"}, "the same, while all playing is stopped"),
    ("help-hand-same-day", {"name": "Robin"}, "the same, on the day itself"),
    ("help-hand-hospital", {"name": "Robin"}, "the same, on the day itself"),
    ("help-hand-emergency", {"name": "Robin"}, "the same, on the day itself"),
    ("week-rested", {"name": "Robin"}, "the family: the week’s sentence; such weeks count against nobody (derived)"),
    ("week-nothing-rest", {"name": "Robin"}, "the same, of a week with days of rest"),
    ("week-days-rest", {"name": "Robin", "days": 2, "minutes": 20}, "the same"),
    ("attention-quiet-rest", {"days": 9}, "the teacher: days without an entry, those of rest left out (derived)"),
    ("hand-felt", {"days": 2}, "the family: the week in words, no number"),
    ("hand-comfortable", {"days": 2}, "the same"),
    ("hand-no-note", {}, "the same"),
    ("hand-newer", {}, "the same, of the week before the note that the advice is about"),
    ("attention-hand-sign", {}, "the teacher, behind one tap on Today and the roster"),
    ("attention-hand", {"discomfort": 5}, "the same"),
    ("attention-hand-asks", {}, "the same"),
    ("attention-hand-open", {}, "the same, seen and not dealt with yet"),
    ("attention-tell-word", {}, "the same"),
    ("attention-tell-back", {}, "the same"),
    ("attention-tell-consent", {}, "the same"),
    ("load-jump", {"load": 720, "usual": 240, "times": 3}, "the teacher, beside the week; the band is contested"),
)


def _table(rows) -> Iterator[str]:
    from practice.said import said
    from practice.words import say

    nested = {
        "hand-felt": {"much": said("felt-some"), "place": said("place-wrist")},
        "attention-hand-sign": {"sign": said("sign-numb")},
    }
    yield from ("| text | where, or mark |", "| --- | --- |")
    for code, values, where in rows:
        yield f"| {say(said(code, **values, **nested.get(code, {})))} | {where} |"


def mails() -> dict[str, str]:
    """Both mails with invented people."""
    from types import SimpleNamespace

    from django.template.loader import render_to_string

    teacher = SimpleNamespace(name="Ada Teacher")
    student = SimpleNamespace(name="Robin Example", first_name="Robin", teacher=teacher)
    guardian = SimpleNamespace(name="Gil Guardian")
    link = "https://studio.example/…"
    return {
        "To the teacher": render_to_string(
            "practice/mail/teacher.txt", {"teacher": teacher, "student": student, "address": link}
        ),
        "To a minor's guardians": render_to_string(
            "practice/mail/guardian.txt", {"guardian": guardian, "student": student, "address": link}
        ),
    }


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    import django

    django.setup()
    DOCUMENT.write_text(document(), encoding="utf-8")
