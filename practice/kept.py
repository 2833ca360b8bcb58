"""What is kept of a student: every table and field, and what becomes of it in a file and in an erasure.

One map for the record as a file (practice.record_file), the erasing of hand values and of the whole record
(practice.erase) and the page that says what is kept. Each field stands in exactly one group of its table:

    plain     in the file as it stands
    hand      a hand value: in the file only under a standing consent, emptied when hand values are erased
    of_others a person's own contact: in the studio's file, not in a family's
    left_out  in no file, with the reason

tests/practice/test_kept.py walks the models: a table or field that is not in this map fails. A field that is missing
all the same is treated as a hand value in the file, that is: left out rather than given away.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

# reasons for which a field is in no file
OWN_KEY = "the row's key inside the database"
WHOSE = "whose record it is: the file is about one student"
SECRET = "a secret: whoever has it gets in"
TECHNICAL = "says nothing about the student"


@dataclass(frozen=True)
class Table:
    """model: "app.Model"; path: the lookup that leads from it to the student; file: its name in the ZIP without ending,
    empty for a table that only joins two others. practice.record_file says in words what a row is.

    hand_rows: a whole row is about a hand; its `plain` fields count as hand values too.
    """

    model: str
    path: str
    file: str
    plain: tuple[str, ...] = ()
    hand: tuple[str, ...] = ()
    of_others: tuple[str, ...] = ()
    left_out: Mapping[str, str] = field(default_factory=dict)
    hand_rows: bool = False

    @property
    def fields(self) -> set[str]:
        return {*self.plain, *self.hand, *self.of_others, *self.left_out}


TABLES = (
    Table(
        "students.Student", "pk", "student",
        plain=(
            "studio", "teacher", "user", "name", "birth_year", "joined", "status", "left_on", "instrument", "tuning",
            "capo", "instrument_since", "strings", "string_gauge", "last_setup", "plays", "hand_size", "fingertip_mm",
            "reach_mm", "lesson_weekday", "lesson_time", "lesson_minutes", "lesson_every", "lesson_anchor",
            "plan_days", "plan_minutes", "daily_most", "link_expires", "code",
        ),
        left_out={
            "id": OWN_KEY, "link_version": TECHNICAL, "pin": SECRET, "pin_wrong": TECHNICAL, "pin_wrong_at": TECHNICAL,
            "guardians": "in the file of the guardians",
        },
    ),
    Table(
        "students.Guardian", "guardianships__student", "guardians",
        plain=("name",), of_others=("email", "user", "link_expires"),
        left_out={
            "id": OWN_KEY, "code": "names the guardian's personal link", "studio": "the student's", "pin": SECRET,
            "link_version": TECHNICAL, "pin_wrong": TECHNICAL, "pin_wrong_at": TECHNICAL,
        },
    ),
    Table(
        "students.Guardianship", "student", "",
        left_out={"id": OWN_KEY, "student": WHOSE, "guardian": "in the file of the guardians"},
    ),
    Table(
        "students.Consent", "student", "consents",
        plain=(
            "given_by", "guardian", "name", "given_at", "way", "recorded_by", "wording", "withdrawn_at",
            "withdrawn_name",
        ),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "students.Lesson", "student", "lessons",
        plain=("code", "day", "time", "minutes", "outcome", "words", "recorded_at"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.Goal", "student", "goals",
        plain=(
            "code", "kind", "terms", "measure", "target", "start_value", "due", "words", "acknowledged", "created_by",
            "created_at", "day", "set_aside_at", "changed_at",
        ),
        hand=("hand_reason",),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.PracticeEntry", "student", "entries",
        plain=(
            "code", "begun", "seconds", "day", "by", "by_name", "note", "stored_at", "changed_at", "version", "former",
        ),
        hand=("tiring", "tiring_in_words"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.RemovedEntry", "student", "removed_entries",
        plain=("code", "at", "by", "by_name"), left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.Segment", "entry__student", "segments",
        plain=("entry", "goal", "seconds"), left_out={"id": OWN_KEY},
    ),
    Table(
        "practice.Result", "student", "results",
        plain=("goal", "entry", "lesson", "day", "at", "measure", "value", "failed_strings"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.HandNote", "student", "hand_notes",
        plain=(
            "code", "entry", "at", "day", "by", "discomfort", "hand", "place", "sensation", "settles", "rested",
            "began", "at_rest", "daily", "sudden", "tip_only", "face_arm_leg", "also", "in_words", "seen_at",
            "closed_at", "closed_words", "cleared_by",
        ),
        left_out={"id": OWN_KEY, "student": WHOSE}, hand_rows=True,
    ),
    Table(
        "practice.HandEpisode", "student", "hand_episodes",
        plain=(
            "code", "opened_at", "opened_on", "teacher_told_at", "guardians_told_at", "closed_at", "closed_words",
        ),
        left_out={
            "id": OWN_KEY, "student": WHOSE, "told": "codes of those who were written to; when is said",
            "claimed_at": "stands for the seconds in which a mail is sent",
            "strictness": "follows from the notes",
        },
        hand_rows=True,
    ),
    Table(
        "practice.HandReturn", "student", "hand_returns",
        plain=(
            "code", "begun_on", "cleared_by", "level", "level_since", "play_minutes", "rest_minutes", "rounds",
            "barre", "steps", "set_by", "ended_on", "ended_words",
        ),
        left_out={"id": OWN_KEY, "student": WHOSE}, hand_rows=True,
    ),
    Table(
        "practice.TellTeacher", "student", "asked_for_a_word",
        plain=("code", "at", "by", "about", "seen_at"), left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.Declined", "student", "declined",
        plain=("code", "candidate", "reason", "words", "day", "at", "by"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.Performance", "student", "performances",
        plain=("code", "title", "day", "pieces", "goals", "created_at", "changed_at"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
    Table(
        "practice.TermReport", "student", "term_reports",
        plain=("code", "start", "end", "words", "written_by", "changed_at"),
        left_out={"id": OWN_KEY, "student": WHOSE},
    ),
)  # fmt: skip

# Codes in lists (a goal's acknowledged cautions) and keys in objects (an entry's former values) that tell of a hand.
HAND_CAUTIONS = frozenset({"open-hand-note"})
HAND_KEYS = frozenset({"tiring", "tiring_in_words", "hand", "discomfort", "hand_reason"})

# Tables that hang on a guardian alone, and go with the last child.
BESIDE: dict[str, str] = {}


def without_hand_keys(value: object) -> object:
    """The same plain value (as JSON gives it) without anything under a key of HAND_KEYS, however deep.

    >>> without_hand_keys([{"entry": {"tiring": 7, "note": "slow"}}])
    [{'entry': {'note': 'slow'}}]
    """
    if isinstance(value, dict):
        return {key: without_hand_keys(held) for key, held in value.items() if key not in HAND_KEYS}
    if isinstance(value, list):
        return [without_hand_keys(held) for held in value]
    return value


def without_hand_cautions(codes: list[str]) -> list[str]:
    """The acknowledged cautions without those that only an open hand note gives.

    >>> without_hand_cautions(["open-hand-note", "first-barre-full"])
    ['first-barre-full']
    """
    return [code for code in codes if str(code).partition(":")[0] not in HAND_CAUTIONS]


def mentions(value: object, marks: frozenset[str]) -> bool:
    """Whether a plain value holds one of the texts anywhere: in itself, its keys or its parts."""
    if isinstance(value, dict):
        return any(mentions(key, marks) or mentions(held, marks) for key, held in value.items())
    if isinstance(value, list | tuple):
        return any(mentions(held, marks) for held in value)
    text = str(value)
    return any(mark in text for mark in marks)


def without_marks(session: Mapping[str, object], marks: frozenset[str]) -> dict[str, object]:
    """A session's data without whatever mentions one of the texts: whole elements of lists, whole entries of objects,
    so that no half of a link is left standing.

    >>> without_marks({"links": [["student", "a-1", 1], ["student", "b-2", 3]], "seen": "a-1"}, frozenset({"a-1"}))
    {'links': [['student', 'b-2', 3]]}
    """
    kept: dict[str, object] = {}
    for key, value in session.items():
        if isinstance(value, list):
            kept[key] = [held for held in value if not mentions(held, marks)]
        elif isinstance(value, dict):
            kept[key] = {
                inner: held for inner, held in value.items() if not mentions(inner, marks) and not mentions(held, marks)
            }
        elif not mentions(key, marks) and not mentions(value, marks):
            kept[key] = value
    return kept
