"""What to advise from recent hand notes: one rule book, stated here, that never names a condition.

What one note asks for by itself stands in practice.handrows, as a table that the phone reads too. Here stands what the
notes before it add, and how long an answer holds. The answers, mildest first: nothing; ease off; pause and tell the
teacher; see a doctor or hand therapist; stop for today; medical advice the same day; the emergency department; the
emergency number. The rows that need more than one note:

see someone   4 or more on repeated days
pause         1 to 3 on four of the last seven days
ease off      1 to 3 twice in the last seven days, a rise of 2 points at one place, or a sore or numb fingertip twice

What stops all playing (STOPS) holds until the teacher has closed it with the word of a clinician, whatever is noted
later: 7 or more is a reason to be seen before playing on [derived]. Skin at 7 or more stops the day alone and is a
pause from the next day on, or what its own answers ask for if that is stricter, until it is noted at 0 to 1 or closed.
Fingertip skin at 3 or less is spoken of for two days.

What is left after ten minutes' rest is kept and shown; no row reads it, as no source gives it a threshold. Nor does one
read the practice load, which says nothing of injury: a bigger jump than usual stands beside the answer
(practice.load.bigger_jump).

Where science disagrees the answer shows the other view: on rest [3], on where a middle band begins [5], and on the
smallest change that counts [6].

Conventions: discomfort is a whole number, 0 no pain to 10 worst possible. "The last seven days" are today and
the six days before. "Twice" is on two of these days, and it counts two notes of one day too: by days alone a 0
and a 2 of one day would ease off (a rise of 2) and the worse 1 and 2 would not, and no worse note may yield a
milder answer.
A note that does not stop all playing stays in force until it is settled: by a later note of 0 to 1 at the same place
without a sign, by a later 0 that names no place, or by the teacher who closes it.

References
----------
[1] A change of about 2 points matters: Farrar et al., Pain 2001;94:149 (published).
[2] Five-level performer scale, level III or higher asks for professional help: SHAPE/Actsafe, "Musicians and
    MSI" (published), with NHS hand-and-wrist guidance: the signs are a synthesis of both (derived).
[3] The other view: Stanhope & Weinstein, Br J Pain 2021;15:82 (published): time off is not always right.
[4] Breaks: Klickstein, The Musician's Way, 2009 (published).
[5] Bands: 1-3, 4-6, 7-10 by convention (Canadian Physiotherapy Association page, published), used here; 1-4, 5-6, 7-10
    (Serlin et al., Pain 1995;61:277, published); up to 5, 6-7, 8 and over (Boonstra et al., Front Psychol 2016;7:1466,
    published).
[6] The smallest noticed change, 1 point or 15 %: Salaffi et al., Eur J Pain 2004 (published).
[C] Common practice, no source.  [D] Derived here.
"""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from practice.facts import HandFacts
from practice.handrows import (
    EASE_OFF,
    EMERGENCY,
    FIRM,
    HOSPITAL,
    LEVELS,
    NOTHING,
    NUMB,
    PAUSE,
    ROWS,
    SAME_DAY,
    SEE_SOMEONE,
    SKIN,
    STOP,
    WEAK,
    Row,
    is_any,
    row_of,
)
from practice.said import Said, said

# Nothing is played until the teacher has closed the note with a clinician's word.
STOPS = (STOP, SAME_DAY, HOSPITAL, EMERGENCY)
# The answer is to ask a person, so the teacher hears of it.
ASKS_PERSON = (PAUSE, SEE_SOMEONE, *STOPS)
# Said at once: a person is looked for today.
URGENT = (SAME_DAY, HOSPITAL, EMERGENCY)

REPEATED = "repeated"
SEVERE_SKIN = "severe-skin"
# Every row of the book, by its rule: those of one note, then those of several.
RULES = (*(row.code for row in ROWS), REPEATED, "four-days", "two-days", "rise", "skin-twice")
# Rows that ask for a clinician, or for more, in the order of the table.
SIGNS = (*(row.code for row in ROWS if row.level in (SEE_SOMEONE, *STOPS) and row.code != SEVERE_SKIN), REPEATED)
OTHER_VIEWS = {
    **dict.fromkeys(
        ("severe", "sudden", "numb", "weak", "itself", "rest", "next-day", "daily", REPEATED), ("advice-other-view",)
    ),
    "firm": ("other-bands", "advice-other-view"),
    "four-days": ("other-bands", "advice-other-view"),
    "two-days": ("other-bands",),
    "rise": ("other-rise",),
}

OPEN_FROM = 2
SETTLED_UP_TO = 1
RISE = 2
WINDOW_DAYS = 7
REPEATED_WITHIN_DAYS = 14
SKIN_LOOK_DAYS = 2  # fingertip skin is looked at again after so many [C]

BROKEN_SKIN = ("blister", "broken")
# Where resting barres is what helps; anywhere else what was played rests, and the posture is looked at.
BARRE_PLACES = (
    "index",
    "second",
    "third",
    "little",
    "thumb",
    "palm",
    "wrist",
    "forearm",
    "elbow",
    "fingertip",
)
BARRE_HANDS = ("fretting", "both", "")
# Where high strings may be what tires [C]; they say nothing about numbness, wrist or elbow.
STRING_PLACES = ("index", "thumb", SKIN)


@dataclass(frozen=True)
class Advice:
    """level: one of LEVELS; rule: which row fired; source: codes of its sources; says: what to do, in order, for family
    and teacher.

    note: the note that the rule fired on; other_view: where science disagrees, if there is an answer at all.
    no_barre: whatever lays a finger flat over three strings rests. days: how many ago the note was, since what cannot
    wait is said in other words once its day is over.
    """

    level: str
    rule: str = ""
    source: Said | None = None
    says: tuple[Said, ...] = ()
    note: HandFacts | None = None
    no_barre: bool = False
    days: int = 0

    @property
    def ask_person(self) -> bool:
        """The answer is to ask a person, so the teacher hears of it."""
        return self.level in ASKS_PERSON

    @property
    def stops(self) -> bool:
        """Nothing more is played today."""
        return self.level in STOPS

    @property
    def until_seen(self) -> bool:
        """It stops until the teacher has closed it with a clinician's word, and not its day alone as skin does."""
        return self.stops and self.rule in SIGNS

    @property
    def urgent(self) -> bool:
        """Nothing else is said beside where help is to be had today."""
        return self.level in URGENT and self.days == 0

    @property
    def strictness(self) -> int:
        """0 for nothing to 7 for the emergency number: a stricter answer is told anew."""
        return LEVELS.index(self.level)

    @property
    def text(self) -> Said:
        """All that it says, in one."""
        return said("list", items=self.says)

    @property
    def why(self) -> Said | None:
        """The row of the book that fired, in words that give no past note away."""
        return said(f"rule-{self.rule}") if self.rule else None

    @property
    def other_view(self) -> Said | None:
        codes = OTHER_VIEWS.get(self.rule, ())
        return said("list", items=tuple(said(code) for code in codes)) if codes else None

    @property
    def checks_strings(self) -> bool:
        """Whether the teacher is asked to check string height and gauge: where index, thumb or fingertip skin tire
        [C]."""
        return self.level not in (NOTHING, *URGENT) and self.note is not None and tires_by_strings(self.note)


def open_notes(notes: Iterable[HandFacts]) -> tuple[HandFacts, ...]:
    """The notes of 2 or more that nobody closed and no later note cleared, in the order given.

    A later note of 0 to 1 clears its own place; a later 0 that names no place speaks for every place. The
    same rule in SQL is `practice.queries.HandNoteQuerySet.open`; a test holds the two together.
    """
    notes = tuple(notes)
    return tuple(
        note
        for note in notes
        if note.discomfort >= OPEN_FROM
        and not note.closed
        and not any(
            later.at > note.at and later.discomfort <= SETTLED_UP_TO and later.place in (note.place, "")
            for later in notes
        )
    )


def as_plain(note: HandFacts) -> dict[str, object]:
    """The note as practice.handrows reads it."""
    return vars(note)


def own_row(note: HandFacts) -> Row | None:
    """The row that the note fires by itself."""
    return row_of(as_plain(note))


def _is_row(note: HandFacts, code: str) -> bool:
    row = own_row(note)
    return row is not None and row.code == code


def is_skin(note: HandFacts) -> bool:
    """Fingertip skin under 7 that settles within a day (up to 3: within two), apart from all joint and doctor rules
    [C]."""
    return _is_row(note, "skin")


def is_numb(note: HandFacts) -> bool:
    """Numbness or tingling was said, by either way of asking."""
    return note.sensation == "numb" or NUMB in note.also


def is_numb_tip(note: HandFacts) -> bool:
    """Numb only at the fingertip, under 7, and gone within the hour: worth telling the teacher, nothing more [C]."""
    return _is_row(note, "numb-tip")


def asks_more(note: HandFacts) -> bool:
    """Whether the further yes/no questions belong to a note: from 4 on, or with numbness or weakness."""
    return note.discomfort >= FIRM or is_numb(note) or note.sensation == "weak" or WEAK in note.also


def tires_by_strings(note: HandFacts) -> bool:
    """Whether high strings are worth a look: index, thumb or fingertip skin of the fretting hand, without numbness
    [C]."""
    return note.place in STRING_PLACES and note.hand in BARRE_HANDS and not is_numb(note)


def signs(note: HandFacts, notes: Iterable[HandFacts] = ()) -> tuple[str, ...]:
    """Which rows that ask for a clinician or for more this note fires, the most telling first, in the order of SIGNS
    [2].

    notes: the others of the student, needed for "4 or more on repeated days": a second day with 4 or more within the
    fourteen days that end with this note.
    """
    row = own_row(note)
    found = [row.code] if row is not None and row.code in SIGNS else []
    if _is_firm(note):
        first = note.day - dt.timedelta(days=REPEATED_WITHIN_DAYS - 1)
        if any(_is_firm(other) and not other.closed and first <= other.day < note.day for other in notes):
            found.append(REPEATED)
    return tuple(found)


def stopped_by(note: HandFacts) -> bool:
    """Whether a note by itself stops all playing until a clinician's word: not skin, which stops its day alone."""
    row = own_row(note)
    return row is not None and row.level in STOPS and row.code != SEVERE_SKIN


def _is_firm(note: HandFacts) -> bool:
    return note.discomfort >= FIRM and not _is_tip(note)


def _is_tip(note: HandFacts) -> bool:
    """Kept apart from joints: what only a fingertip feels and loses within the day."""
    return is_skin(note) or is_numb_tip(note)


def in_force(notes: Iterable[HandFacts]) -> tuple[HandFacts, ...]:
    """The notes of 1 or more, or with a row of their own, that are not settled yet, in the order given.

    Stricter than `open_notes` in two points: a later low note that itself shows a sign settles nothing, and what stops
    all playing is settled by its closing alone.
    """
    notes = tuple(notes)
    return tuple(
        note
        for note in notes
        if (note.discomfort > 0 or own_row(note) is not None)
        and not note.closed
        and (stopped_by(note) or not any(_settles(later, note) for later in notes))
    )


def _settles(later: HandFacts, note: HandFacts) -> bool:
    return (
        later.at > note.at
        and later.discomfort <= SETTLED_UP_TO
        and later.place in (note.place, "")
        and not signs(later)
    )


def stopped_spans(notes: Iterable[HandFacts], today: dt.date) -> tuple[tuple[dt.date, dt.date], ...]:
    """The spans (first and last day, both included) in which nothing was to be played: such days ask for nothing and
    count against nobody. From the day of a note that stops until the day on which it was closed, today while it is
    open.
    """
    return tuple(
        (note.day, min(note.closed_on or today, today))
        for note in notes
        if stopped_by(note) and note.day <= today
    )


def advice(notes: Iterable[HandFacts], today: dt.date) -> Advice:
    """The strictest row of the rule book that fires on `today`. Notes after today are not looked at."""
    notes = tuple(note for note in notes if note.day <= today)
    found = max(_fired(notes, today), key=lambda one: one.rank, default=None)
    return Advice(NOTHING) if found is None else found.on(today)


def of_one(note: HandFacts) -> Advice:
    """What a note asks for by itself, whatever was noted before: for whoever stores nothing, and on the phone."""
    row = own_row(note)
    return Advice(NOTHING) if row is None else by_row(row, note)


def by_row(row: Row, note: HandFacts) -> Advice:
    """What a row of the table asks for on the day of the note that fires it."""
    return _Fired(row.level, row.code, note).on(note.day)


@dataclass(frozen=True)
class _Fired:
    """A row that fires, on the note that it fires on."""

    level: str
    rule: str
    note: HandFacts

    @property
    def rank(self) -> tuple[int, bool, int, dt.datetime]:
        """Stricter first, and what holds until a clinician's word before skin that stops its day alone; then the more
        telling row, then the newer note."""
        of_the_day = self.level == STOP and self.rule == SEVERE_SKIN
        return LEVELS.index(self.level), not of_the_day, -RULES.index(self.rule), self.note.at

    def on(self, today: dt.date) -> Advice:
        # what eases off is a hint about how to play, and rests nothing
        rests = self.level in ASKS_PERSON and is_barre_hand(self.note)
        days = (today - self.note.day).days
        says = tuple(_says(self.level, self.rule, self.note, days))
        return Advice(self.level, self.rule, said(f"source-{self.rule}"), says, self.note, rests, days)


def _fired(notes: Sequence[HandFacts], today: dt.date) -> Iterator[_Fired]:
    for note in in_force(notes):
        yield from _own(note, today)
        if REPEATED in signs(note, notes):
            yield _Fired(SEE_SOMEONE, REPEATED, note)
    first = today - dt.timedelta(days=WINDOW_DAYS - 1)
    week = [note for note in notes if note.day >= first and not note.closed]
    felt = [note for note in week if note.discomfort > 0 and not _is_tip(note)]
    if len({note.day for note in felt}) >= 4:
        yield _Fired(PAUSE, "four-days", felt[-1])
    if len(felt) >= 2:
        yield _Fired(EASE_OFF, "two-days", felt[-1])
    if rise := _rise(week):
        yield _Fired(EASE_OFF, "rise", rise)
    skin = [note for note in week if _is_tip(note)]
    if len(skin) >= 2:
        yield _Fired(EASE_OFF, "skin-twice", skin[-1])


def _own(note: HandFacts, today: dt.date) -> Iterator[_Fired]:
    """What a note's own row asks for on a later day: skin that stopped its day is asked after, and what else it said is
    heard then; a little skin is spoken of for two days, a numb tip for seven."""
    row = own_row(note)
    if row is None:
        return
    days = (today - note.day).days
    if row.code == SEVERE_SKIN and days > 0:
        yield _Fired(PAUSE, row.code, note)
        plain = as_plain(note)
        for other in ROWS:
            if other.level == SEE_SOMEONE and is_any(other.when, plain):
                yield _Fired(other.level, other.code, note)
    elif row.level == EASE_OFF:
        lasts = SKIN_LOOK_DAYS if row.code == "skin" and note.discomfort < FIRM else WINDOW_DAYS - 1
        if days <= lasts:
            yield _Fired(row.level, row.code, note)
    else:
        yield _Fired(row.level, row.code, note)


def gentler(minutes: int) -> int:
    """A day's minutes while the answer is to ask a person: half of them, and never none [C]."""
    return max(1, minutes // 2)


def episode_end(notes: Iterable[HandFacts], opened: dt.date, today: dt.date) -> dt.datetime | None:
    """When an episode that was opened on `opened` ended by itself: the last note of the first seven days after it
    that hold two notes or more, all of 0 to 1 and without a sign. None while there are no such seven days up to today,
    and while a note that stops all playing is open: that ends by its closing alone.
    What only a fingertip feels and loses within the day counts neither way: it holds no wrist's episode open.
    """
    notes = tuple(notes)
    if any(stopped_by(note) and not note.closed and note.day <= today for note in notes):
        return None
    notes = (note for note in notes if opened < note.day <= today and not (note.discomfort and _is_tip(note)))
    notes = sorted(notes, key=lambda note: note.at)
    last = opened + dt.timedelta(days=WINDOW_DAYS)
    while last <= today:
        first = last - dt.timedelta(days=WINDOW_DAYS - 1)
        week = [note for note in notes if first <= note.day <= last]
        if len(week) >= 2 and all(note.discomfort <= SETTLED_UP_TO and not signs(note) for note in week):
            return week[-1].at
        last += dt.timedelta(days=1)
    return None


def _rise(week: Sequence[HandFacts]) -> HandFacts | None:
    """The newest note that lies 2 points or more above an earlier one of its place (a 0 without a place
    speaks for every place).
    """
    found = None
    week = [note for note in week if not _is_tip(note)]
    for note in week:
        before = [one for one in week if one.at < note.at and one.place in (note.place, "")]
        if any(note.discomfort - one.discomfort >= RISE for one in before):
            found = note
    return found


def is_barre_hand(note: HandFacts) -> bool:
    """Whether pausing barre work is what answers this note: the fretting hand, from fingers to elbow."""
    return note.hand in BARRE_HANDS and (note.place in BARRE_PLACES or note.place == "")


# -- what is said to family and teacher --------------------------------------------------------------------------------


def _says(level: str, rule: str, note: HandFacts, days: int) -> Iterator[Said]:
    """What to do, in order."""
    if level in URGENT:
        # barres and strings beside it would make it sound like less
        yield said(f"advice-{rule}" if days == 0 else f"advice-still-{level}")
        yield said("advice-stop-until-seen")
    elif rule == SEVERE_SKIN:
        yield said("advice-severe-skin" if level == STOP else "advice-severe-skin-later")
        if note.sensation in BROKEN_SKIN:
            yield said("advice-skin-closes")
        yield said("advice-tell-teacher")
    elif level == STOP:
        if days == 0:
            yield said("advice-severe")
        yield said("advice-stop-until-seen")
    elif level == SEE_SOMEONE:
        if rule == "sudden":
            yield said("advice-emergency")
        yield said(f"advice-see-{rule}")
        if rule in ("numb", "weak") and note.face_arm_leg is None:
            yield said("advice-emergency")
        yield said("advice-see-musicians" if rule == "itself" else "advice-see-someone")
        yield said("advice-until-barre" if is_barre_hand(note) else "advice-until-played")
        yield from _setting(note)
    elif level == PAUSE:
        yield said("advice-pause-barre" if is_barre_hand(note) else "advice-pause-played")
        yield said("advice-tell-teacher")
        yield from _setting(note)
    else:
        yield from _eased(rule, note)
        return
    yield said("advice-no-diagnosis")


def _setting(note: HandFacts) -> Iterator[Said]:
    """What of instrument and posture is worth a look."""
    if tires_by_strings(note):
        yield said("advice-string-height")
    elif not is_barre_hand(note):
        yield said("advice-posture")


def _eased(rule: str, note: HandFacts) -> Iterator[Said]:
    if rule == "numb-tip":
        yield said("advice-numb-tip")
    elif rule in ("skin", "skin-twice"):
        if note.sensation in BROKEN_SKIN:
            yield said("advice-skin-closes")
        yield said("advice-skin-bouts")
        if rule == "skin" and note.discomfort < FIRM:
            yield said("advice-skin-again")
        elif tires_by_strings(note):
            yield said("advice-skin-strings")
    else:
        yield said("advice-shorter-bouts")
        yield said("advice-breaks")
        if is_barre_hand(note):
            yield said("advice-lighter-positions")
