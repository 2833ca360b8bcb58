"""The table of what is answered to whom: each row against an expectation written by hand, and its words as a worried
parent, a nine-year-old and a hand therapist would hear them."""

import io
import re

import pytest
from django.core.management import call_command

from practice.answer_table import CASES, READERS, document, row_of
from practice.hand_words import ANSWER, HAND
from practice.handanswer import ADULT, CHILD, FAMILY, TEEN, UNKNOWN, Reader, answer_of
from practice.handcare import RULES, advice
from practice.handrows import LEVELS
from practice.management.commands.hand_answers import DOCUMENT
from practice.words import say
from tests.practice.plain import TODAY, ago, note

# level, rule, what rests (P: all playing, F: what lies flat, nothing else: ""), and the rows, from the rules as they
# are written in studio/docs and not from the code that answers
EXPECTED = [
    ("nothing", "", "", [
        "wrist 0, adult", "wrist 1, adult", "wrist 2, adult", "wrist 3, adult", "thumb 1, teen", "a little, child",
        "index 3, unknown", "index 3, family", "4, then 0, family", "8, closed with a clinician's word, adult",
        "3 and no consent, child", "3 and no consent, unknown", "3 and no consent, adult", "3 and no consent, family",
    ]),
    ("nothing", "", "F", ["0 on a step, child"]),
    # 4 to 6 once
    ("pause", "firm", "F", [
        "wrist 4, adult", "wrist 5, adult", "wrist 6, adult", "thumb 4, teen", "some, child", "index 6, unknown",
        "index 6, family", "palm 5, adult", "forearm 5, adult", "elbow 5, adult", "shoulder 5, adult", "neck 5, adult",
        "picking wrist 5, teen", "neck 5, child", "fingertip 4, settling not said, teen",
    ]),
    ("pause", "firm", "", [
        "5 and no consent, child", "5 and no consent, unknown", "5 and no consent, adult", "5 and no consent, family",
    ]),
    # 7 and over, "a lot", extreme pain
    ("stop", "severe", "P", [
        "wrist 7, adult", "wrist 8, adult", "wrist 9, adult", "wrist 10, adult", "thumb 7, teen", "a lot, child",
        "index 9, unknown", "index 9, family", "picking wrist 8, family", "neck 7, family", "extreme by itself, child",
        "8 three days ago, 0 today, child", "8 three days ago, 0 today, family", "8 on a step, teen",
    ]),
    ("stop", "severe", "", [
        "8 and no consent, child", "8 and no consent, unknown", "8 and no consent, adult", "8 and no consent, family",
    ]),
    # fingertip skin
    ("ease-off", "skin", "", [
        "fingertip 1, child", "fingertip 1, adult", "fingertip 3, child", "fingertip 3, adult", "fingertip 4, child",
        "fingertip 4, adult", "fingertip 6, child", "fingertip 6, adult", "blister 5, teen",
        "fingertip 3 next day, family", "fingertip 3 next day, a day later, family",
    ]),
    ("ease-off", "skin-twice", "", ["sore tips on two days, then well, teen"]),
    ("ease-off", "numb-tip", "", ["numb tip, teen", "numb tip by answer, child"]),
    ("stop", "severe-skin", "P", [
        "fingertip 7, child", "fingertip 7, adult", "fingertip 10, child", "fingertip 10, adult",
        "fingertip 7 next day, family", "broken skin 8, unknown",
    ]),
    ("pause", "severe-skin", "F", ["fingertip 8 yesterday, child"]),
    ("see-someone", "next-day", "F", [
        "fingertip 4 next day, family", "fingertip 4 next day, a day later, family",
        "fingertip 7 next day, a day later, family", "elbow 2 next day, adult", "wrist 4 next day, child",
    ]),
    # arm, leg or face: yes
    ("emergency", "face", "P", [
        "face, child", "face, unknown", "face, teen", "face, adult", "face, family", "face two days ago, child",
        "face two days ago, family",
    ]),
    ("emergency", "face", "", ["face, no consent, teen"]),
    ("emergency", "sudden-numb", "P", ["sudden and numb, older question, child"]),
    # after an injury
    ("hospital", "injury-now", "P", [
        "fell and shape, child", "fell and snap, child", "fell and extreme, child", "fell and cold, child",
        "fell and stuck, child", "fell and snap, unknown", "fell and snap, adult", "fell and snap, family",
        "fell at 10, teen", "a fall and a snap two days ago, child", "a fall and a snap two days ago, family",
    ]),
    ("same-day", "injury", "P", [
        "0 and fell, child", "0 and fell, family", "fell at 9, teen", "cut fingertip, child", "a fall yesterday, child",
        "a fall yesterday, family",
    ]),
    ("same-day", "injury", "", [
        "fell, no consent, child", "fell, no consent, unknown", "fell, no consent, adult", "fell, no consent, family",
    ]),
    ("same-day", "hot", "P", ["0 and hot, child", "0 and hot, family", "pus, family", "extreme, no fall, adult"]),
    ("same-day", "shape", "P", ["0 and shape, child", "0 and shape, family", "stuck, no fall, adult"]),
    # a doctor or hand therapist
    ("see-someone", "numb", "F", ["0 and numb, child", "0 and numb, family", "numb, the question not answered, adult"]),
    ("see-someone", "weak", "F", ["0 and weak, child", "0 and weak, family", "weak 6, no, teen"]),
    ("see-someone", "itself", "F", [
        "0 and itself, child", "0 and itself, family", "a finger by itself at 5, adult",
        "a finger by itself at 5, teen",
    ]),
    ("see-someone", "rest", "F", [
        "elbow 2 rest, adult", "wrist 4 rest, child", "elbow 2 night, adult", "wrist 4 night, child",
    ]),
    ("see-someone", "daily", "F", ["elbow 2 daily, adult", "wrist 4 daily, child"]),
    ("see-someone", "sudden", "F", ["sudden, older question, adult"]),
    ("see-someone", "repeated", "F", ["4 on two days, family"]),
    # by what was noted before
    ("pause", "four-days", "F", ["2 on four days, teen"]),
    ("ease-off", "two-days", "", ["3 twice in a week, child"]),
    ("ease-off", "rise", "", ["0, then 2, adult"]),
    # felt on a step of a return
    ("stop", "return", "P", ["1 on a step, child", "1 on a step, family"]),
    ("stop", "weak", "P", ["weak on a step, adult"]),
]  # fmt: skip
WANTED = {name: (level, rule, rests) for level, rule, rests, names in EXPECTED for name in names}
BY_NAME = {case.name: case for case in CASES}
RESTS = {"P": "all playing", "F": "what lies flat; "}


def test_every_row_has_its_expectation_and_no_two_have_one_name():
    assert len(BY_NAME) == len(CASES) >= 80
    assert set(WANTED) == set(BY_NAME)
    assert sum(len(names) for *_, names in EXPECTED) == len(WANTED)
    assert {case.voice for case in CASES} == set(READERS) == {CHILD, UNKNOWN, TEEN, ADULT, FAMILY}
    assert {one.notes[-1].discomfort for one in CASES} == set(range(11))
    assert {rule for _, rule, _, _ in EXPECTED} == {*RULES, "", "return"}


@pytest.mark.parametrize("name", WANTED)
def test_a_row_answers_as_expected(name):
    level, rule, rests = WANTED[name]
    row = row_of(BY_NAME[name])
    assert (row.level, row.rule) == (level, rule)
    if not BY_NAME[name].consent:
        assert "Nothing you" in row.next or level == "nothing"
        assert bool(row.rests) == (level != "nothing")
    else:
        assert "Nothing you" not in row.next
        assert row.rests.startswith(RESTS[rests]) if rests else row.rests == ""
        assert ("Rosamund is told." in row.next) == (LEVELS.index(level) >= LEVELS.index("pause"))
    # nothing else is said beside where help is to be had today
    if level in ("same-day", "hospital", "emergency") and " ago" not in name and "yesterday" not in name:
        assert "Listen" not in row.next
        assert "lesson" not in row.next


def test_the_page_is_what_the_command_writes(tmp_path):
    out = io.StringIO()
    call_command("hand_answers", "--to", str(tmp_path / "answers.md"), stdout=out)
    assert out.getvalue() == f"{len(CASES)} answers are written.\n"
    written = (tmp_path / "answers.md").read_text("utf-8")
    assert written == document() == DOCUMENT.read_text("utf-8"), "run manage.py hand_answers"
    assert written.count("\n| ") == len(CASES) + 2


# -- read aloud -------------------------------------------------------------------------------------------------------

SAID = [
    note(TODAY, 0), note(TODAY, 3), note(TODAY, 5), note(TODAY, 5, "shoulder"), note(TODAY, 8), note(ago(2), 8),
    note(TODAY, 2, "fingertip", sensation="sore"), note(TODAY, 5, "fingertip", sensation="blister", settles="day"),
    note(TODAY, 5, "fingertip", sensation="sore", settles="day"), note(TODAY, 8, "fingertip", sensation="sore"),
    note(ago(1), 8, "fingertip", sensation="sore"), note(TODAY, 1, "fingertip", sensation="numb", settles="hour"),
    note(TODAY, 2, also=("numb",)), note(TODAY, 2, "neck", also=("weak",)), note(TODAY, 2, also=("itself",)),
    *(note(day, 2, also=also) for day in (TODAY, ago(1)) for also in (("fell",), ("hot",), ("shape",))),
    note(TODAY, 2, also=("fell", "snap")), note(ago(1), 2, also=("fell", "snap")), note(TODAY, 2, face_arm_leg=True),
    note(ago(1), 2, face_arm_leg=True), note(TODAY, 2, sensation="numb", sudden=True),
]  # fmt: skip


def read(voice):
    """(head, line) of every answer to a reader."""
    reader = Reader(voice, "Wren", "Rosamund")
    found = [answer_of(advice([one], TODAY), reader) for one in SAID]
    found.append(answer_of(advice([note(ago(1), 2), note(TODAY, 2)], TODAY), reader))
    return [(say(one.head), say(one.line)) for one in found if one is not None]


def sentences(text):
    return [one for one in re.split(r"(?<=[.?])\s+", text) if one]


@pytest.mark.parametrize("voice", [CHILD, UNKNOWN, TEEN])
def test_the_young_read_at_most_two_short_sentences_in_words_of_their_own(voice):
    hard = r"fretting|discomfort|clinician|therapist|medical|emergency department|brings it on|settle|\bpus\b|[\d(]"
    for pair in read(voice):
        for text in pair:
            # "Nobody there? Call it yourself." is the one exception: it cannot wait, and nobody may be there
            assert len(sentences(text.replace("Nobody there? Call", "Call"))) <= 2, text
            assert all(len(one.split()) <= 17 for one in sentences(text)), text
            assert not re.search(hard, text, re.I), text


@pytest.mark.parametrize("voice", READERS)
def test_whom_a_reader_is_sent_to(voice):
    texts = " ".join(text for pair in read(voice) for text in pair)
    assert ("a grown-up" in texts) is (voice in (CHILD, TEEN))
    assert ("somebody at home" in texts) is (voice == UNKNOWN)
    assert ("Wren" in texts) is (voice == FAMILY)
    # a family's texts do without the teacher's name: some pages have none at hand
    assert "Rosamund" not in texts or voice != FAMILY
    assert "%(" not in texts


@pytest.mark.parametrize("voice", READERS)
def test_head_and_line_do_not_say_the_same_twice(voice):
    for head, line in read(voice):
        assert head != line
        assert not {one.lower() for one in sentences(head)} & {one.lower() for one in sentences(line)}
        for words in ("brings it on", "has had a look", "has looked", "feels fine"):
            assert f"{head} {line}".count(words) <= 1, (head, line)


def test_nobody_is_named_ill_and_nothing_speaks_in_alarm():
    ill = r"tendon|carpal|arthri|syndrome|strain injury|\brsi\b|sprain|fracture|broken bone|stroke|dystonia|inflam"
    alarm = r"!|\b(danger|damage|serious|severe|warning|permanent|urgent|risk)\b"
    for code, text in (ANSWER | HAND).items():
        if code.startswith("source-"):
            continue
        assert not re.search(ill, str(text), re.I), code
        assert not re.search(alarm, str(text), re.I), code


def test_where_help_is_called_for_the_first_words_say_so():
    first = {voice: dict.fromkeys(head.split(".")[0] for head, _ in read(voice)) for voice in READERS}
    assert "Call the emergency number now" in first[ADULT]
    assert "Call the emergency number now" in first[FAMILY]
    assert "Get a grown-up to call the emergency number now" in first[CHILD]
    assert "Get somebody to call the emergency number now" in first[UNKNOWN]
    assert "Go to an emergency department now" in first[ADULT]
    assert "Take Wren to an emergency department now" in first[FAMILY]
    assert "Tell a grown-up at home now: you need to go to a hospital" in first[TEEN]
