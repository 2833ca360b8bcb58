"""The hand's answer to whoever sees it first: one action, a line under it, what happens next. A child, another minor,
an adult and a family read texts of their own; the rule and its source stand behind a tap.
"""

from dataclasses import dataclass

from practice.handcare import BROKEN_SKIN, SEVERE_SKIN, Advice, is_barre_hand
from practice.handrows import EASE_OFF, EMERGENCY, FIRM, HOSPITAL, NOTHING, PAUSE, SEE_SOMEONE, STOP
from practice.said import Said, said

CHILD, UNKNOWN, TEEN, ADULT, FAMILY = "child", "unknown", "teen", "adult", "family"
VOICES = (CHILD, UNKNOWN, TEEN, ADULT, FAMILY)
CHILD_BELOW = 13


@dataclass(frozen=True)
class Reader:
    """Who reads: voice, one of VOICES; name: the student's first name; teacher: the teacher's."""

    voice: str
    name: str
    teacher: str

    @property
    def is_young(self) -> bool:
        return self.voice in (CHILD, UNKNOWN, TEEN)

    @property
    def own_texts(self) -> str:
        """Which of the texts is theirs."""
        return FAMILY if self.voice == FAMILY else "young" if self.is_young else "own"

    @property
    def plain(self) -> bool:
        """Whether sources are for somebody else: a child is not shown them open."""
        return self.voice in (CHILD, UNKNOWN)

    @property
    def at_home(self) -> Said:
        """Whom a young reader turns to."""
        return said("who-somebody" if self.voice == UNKNOWN else "who-grown-up")

    @property
    def helper(self) -> Said:
        """Who calls for help."""
        return said("helper-somebody" if self.voice == UNKNOWN else "helper-grown-up")

    def says(self, code: str) -> Said:
        code = f"{self.own_texts}-{code}"
        return said(code, who=self.at_home, helper=self.helper, name=self.name, teacher=self.teacher)


@dataclass(frozen=True)
class Answer:
    """level and rule: of practice.handcare; head: the one action; line: what stands under it; advice: for rule, source
    and the other view."""

    level: str
    rule: str
    head: Said
    line: Said
    advice: Advice

    @property
    def stops(self) -> bool:
        return self.advice.stops

    @property
    def rests_hand(self) -> bool:
        """Whether music that rests the hand is offered beside it: not where help is called for today."""
        return self.advice.ask_person and not self.advice.urgent


def voice_of(age: int | None, minor: bool) -> str:
    """Whose texts a student reads, by the age reached this year; an unknown one counts as a child's."""
    if age is None:
        return UNKNOWN
    if age < CHILD_BELOW:
        return CHILD
    return TEEN if minor else ADULT


def answer_of(advice: Advice | None, reader: Reader) -> Answer | None:
    """The answer in the reader's texts; None where there is nothing to say."""
    if advice is None or advice.level == NOTHING:
        return None
    head, line = _codes(advice)
    return Answer(advice.level, advice.rule, reader.says(head), reader.says(f"line-{line}"), advice)


def _codes(advice: Advice) -> tuple[str, str]:
    """The codes of the head and of the line under it."""
    level, rule, note = advice.level, advice.rule, advice.note
    if advice.until_seen and advice.days > 0:
        return "waits", f"waits-{level}"
    if level == EASE_OFF:
        if rule == "numb-tip" or note is None or rule not in ("skin", "skin-twice"):
            return (rule, rule) if rule == "numb-tip" else (level, level)
        new = rule == "skin" and note.discomfort < FIRM
        line = "skin-closes" if note.sensation in BROKEN_SKIN else "skin-new" if new else "skin-more"
        return ("skin" if new else level), line
    if rule == SEVERE_SKIN:
        return (rule, "skin") if level == STOP else (f"{rule}-later", "skin-later")
    where = "barre" if note is None or is_barre_hand(note) else "played"
    if level == PAUSE:
        return f"pause-{where}", level
    if level == SEE_SOMEONE:
        return f"see-{where}", ("itself" if rule == "itself" else level)
    return rule, (level if level in (EMERGENCY, HOSPITAL, STOP) else "same-day")
