"""What to advise from recent hand notes: one rule book, stated here, that never names a condition.

Four answers, mildest first: nothing to do; ease off; pause and tell the teacher; see a doctor or hand
therapist. Each carries the rule that fired and where the rule comes from. It errs towards asking a person.
The rows are a synthesis of the sources below and are shown as one [D]:

see someone   a sign (SIGNS): numbness or tingling, weakness or loss of control, also at rest or at night,
              still there the next day, in the way of daily tasks, 4 or more on repeated days; sudden and on one
              side of the body, where emergency services are named first
pause         4 or more once, or 1 to 3 on four of the last seven days
ease off      1 to 3 twice in the last seven days, or a rise of 2 points at one place
nothing       else

Apart from these stands the fingertip skin: soreness that settles within a day is every steel-string
beginner's [C] and never fires a rule meant for joints; from 4, or twice in seven days, the answer is shorter
bouts and a look at the string height. Numbness asks once whether it is only at the tip and gone within the hour:
yes is worth telling the teacher, nothing more; no, or no answer, is a sign.

What is left after ten minutes' rest is kept and shown; no row reads it, as no source gives it a threshold. Nor does one
read the practice load, which says nothing of injury: a bigger jump than usual stands beside the answer
(practice.load.bigger_jump).

Where science disagrees the answer shows the other view: on rest [3], on where a middle band begins [5], and on the
smallest change that counts [6].

Conventions: discomfort is a whole number, 0 no pain to 10 worst possible. "The last seven days" are today and
the six days before. "Twice" is on two of these days, and it counts two notes of one day too: by days alone a 0
and a 2 of one day would ease off (a rise of 2) and the worse 1 and 2 would not, and no worse note may yield a
milder answer.
A note stays in force until it is settled: by a later note of 0 to 1 at the same place without a sign, by a
later 0 that names no place, or by the teacher who closes it.

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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from practice.facts import HandFacts
from practice.said import Said, said

NOTHING = "nothing"
EASE_OFF = "ease-off"
PAUSE = "pause"
SEE_SOMEONE = "see-someone"
LEVELS = (NOTHING, EASE_OFF, PAUSE, SEE_SOMEONE)

SUDDEN = "sudden"
NUMB = "numb"
WEAK = "weak"
AT_REST = "rest"
NEXT_DAY = "next-day"
DAILY = "daily"
REPEATED = "repeated"
SIGNS = (SUDDEN, NUMB, WEAK, AT_REST, NEXT_DAY, DAILY, REPEATED)

# Every row of the book, by its rule, strictest first; and what is said of the other view of it [3], [5], [6].
RULES = (*SIGNS, "firm", "four-days", "two-days", "rise", "numb-tip", "skin")
OTHER_VIEWS = {
    **dict.fromkeys(SIGNS, ("advice-other-view",)),
    "firm": ("other-bands", "advice-other-view"),
    "four-days": ("other-bands", "advice-other-view"),
    "two-days": ("other-bands",),
    "rise": ("other-rise",),
}

FIRM = 4  # from here one note is enough
OPEN_FROM = 2
SETTLED_UP_TO = 1
RISE = 2
WINDOW_DAYS = 7
REPEATED_WITHIN_DAYS = 14

WITHIN_THE_HOUR = ("at-once", "hour")
WITHIN_THE_DAY = (*WITHIN_THE_HOUR, "day")
SKIN = "fingertip"
# Words for skin alone; the others may be said of any place.
SKIN_SENSATIONS = ("sore", "dented", "blister", "broken")
BROKEN_SKIN = ("blister", "broken")
FINGERS = (SKIN, "index", "second", "third", "little", "thumb")
# From FIRM on, and with these at any number, the yes/no questions are asked.
ASKING_SENSATIONS = ("numb", "weak")
# Where pausing barre work is what helps; anywhere else what was played is paused, and the posture looked at.
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


@dataclass(frozen=True)
class Advice:
    """level: one of LEVELS; rule: which row fired; source: codes of its sources; says: what to do, in order.

    note: the note that the rule fired on; other_view: where science disagrees, if there is an answer at all.
    no_barre: barre work is paused; ask_person: the answer is to ask a person, so the teacher hears of it.
    """

    level: str
    rule: str = ""
    source: Said | None = None
    says: tuple[Said, ...] = ()
    note: HandFacts | None = None
    no_barre: bool = False

    @property
    def ask_person(self) -> bool:
        return self.level in (PAUSE, SEE_SOMEONE)

    @property
    def urgent(self) -> bool:
        """Sudden numbness or weakness on one side: nothing else is said beside the emergency services."""
        return self.rule == SUDDEN and self.note is not None and self.note.sensation in ASKING_SENSATIONS

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
        """Whether the teacher is asked to check string height and gauge: for both upper answers, and for fingertip
        skin [C]."""
        return self.ask_person or self.rule == "skin"

    @property
    def strictness(self) -> int:
        """0 for nothing to 3 for seeing someone."""
        return LEVELS.index(self.level)


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


def is_skin(note: HandFacts) -> bool:
    """Fingertip skin that settles within a day, apart from all joint and doctor rules [C].

    Where it was not said when it settles, only up to 3: from 4 on a person is asked. What is felt at rest or at
    night has not settled.
    """
    if note.place != SKIN or note.sensation not in ("", *SKIN_SENSATIONS) or note.at_rest:
        return False
    return note.settles in WITHIN_THE_DAY or (note.settles == "" and note.discomfort < FIRM)


def is_numb_tip(note: HandFacts) -> bool:
    """Numb only at the fingertip and gone within the hour: worth telling the teacher, nothing more [C].

    The answer to that one question counts, at a finger; without one, a place and a time that say the same do. A yes
    to any of the three questions, or a later settling, overrules it.
    """
    if note.sensation != NUMB or note.at_rest or note.daily or note.sudden:
        return False
    if note.tip_only is None:
        return note.place == SKIN and note.settles in WITHIN_THE_HOUR
    return note.tip_only and note.place in FINGERS and note.settles in ("", *WITHIN_THE_HOUR)


def asks_more(discomfort: int, sensation: str) -> bool:
    """Whether the three yes/no questions belong to a note: from 4 on, or with numbness or weakness."""
    return discomfort >= FIRM or sensation in ASKING_SENSATIONS


def signs(note: HandFacts, notes: Iterable[HandFacts] = ()) -> tuple[str, ...]:
    """Which signs that ask for a clinician this note shows, in the order of SIGNS [2].

    notes: the others of the student, needed for "4 or more on repeated days": a second day with 4 or more
    within the fourteen days that end with this note. Skin that settles within a day shows none, whatever is said
    of daily tasks: a sore fingertip is felt at a keyboard, too.
    """
    if is_skin(note):
        return ()
    found = {
        SUDDEN: bool(note.sudden),
        NUMB: note.sensation == NUMB and not is_numb_tip(note),
        WEAK: note.sensation == WEAK,
        AT_REST: note.settles == "rest" or bool(note.at_rest),
        NEXT_DAY: note.settles == "next-day",
        DAILY: bool(note.daily),
        REPEATED: False,
    }
    if _is_firm(note):
        first = note.day - dt.timedelta(days=REPEATED_WITHIN_DAYS - 1)
        found[REPEATED] = any(
            _is_firm(other) and not other.closed and first <= other.day < note.day for other in notes
        )
    return tuple(sign for sign in SIGNS if found[sign])


def _is_firm(note: HandFacts) -> bool:
    return note.discomfort >= FIRM and not _is_tip(note)


def _is_tip(note: HandFacts) -> bool:
    """Kept apart from joints: what only a fingertip feels and loses within the day."""
    return is_skin(note) or is_numb_tip(note)


def in_force(notes: Iterable[HandFacts]) -> tuple[HandFacts, ...]:
    """The notes of 1 or more, or with a sign, that are not settled yet, in the order given.

    Stricter than `open_notes` in one point: a later low note that itself shows a sign settles nothing.
    """
    notes = tuple(notes)
    return tuple(
        note
        for note in notes
        if (note.discomfort > 0 or signs(note))
        and not note.closed
        and not any(
            later.at > note.at
            and later.discomfort <= SETTLED_UP_TO
            and later.place in (note.place, "")
            and not signs(later)
            for later in notes
        )
    )


def advice(notes: Iterable[HandFacts], today: dt.date) -> Advice:
    """The strictest row of the rule book that fires on `today`. Notes after today are not looked at."""
    notes = tuple(note for note in notes if note.day <= today)
    force = in_force(notes)

    with_signs = [(note, found) for note in force if (found := signs(note, notes))]
    if with_signs:
        # the newest note with the most telling sign
        note, found = min(with_signs, key=lambda pair: (SIGNS.index(pair[1][0]), -pair[0].at.timestamp()))
        return _see_someone(note, found)

    firm = [note for note in force if _is_firm(note)]
    if firm:
        return _pause("firm", max(firm, key=lambda note: (note.discomfort, note.at)))

    first = today - dt.timedelta(days=WINDOW_DAYS - 1)
    week = [note for note in notes if note.day >= first and not note.closed]
    felt = [note for note in week if note.discomfort > 0 and not _is_tip(note)]
    if len({note.day for note in felt}) >= 4:
        return _pause("four-days", felt[-1])
    if len(felt) >= 2:
        return _ease_off("two-days", felt[-1])
    if rise := _rise(week):
        return _ease_off("rise", rise)

    tips = [note for note in week if is_numb_tip(note)]
    if tips:
        return Advice(EASE_OFF, "numb-tip", said("source-common"), (said("advice-numb-tip"),), tips[-1])
    skin = [note for note in week if note.discomfort > 0 and is_skin(note)]
    if len(skin) >= 2 or any(note.discomfort >= FIRM for note in skin):
        bouts = ["advice-skin-bouts", "advice-skin-strings"]
        if any(note.sensation in BROKEN_SKIN for note in skin):
            bouts.insert(0, "advice-skin-closes")
        return Advice(EASE_OFF, "skin", said("source-common"), tuple(said(code) for code in bouts), skin[-1])
    return Advice(NOTHING)


def gentler(minutes: int) -> int:
    """A day's minutes while the answer is to ask a person: half of them, and never none [C]."""
    return max(1, minutes // 2)


def episode_end(notes: Iterable[HandFacts], opened: dt.date, today: dt.date) -> dt.datetime | None:
    """When an episode that was opened on `opened` ended by itself: the last note of the first seven days after it
    that hold two notes or more, all of 0 to 1 and without a sign. None while there are no such seven days up to today.
    What only a fingertip feels and loses within the day counts neither way: it holds no wrist's episode open.
    """
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
    return note.hand in ("fretting", "both", "") and (note.place in BARRE_PLACES or note.place == "")


def _see_someone(note: HandFacts, found: tuple[str, ...]) -> Advice:
    if SUDDEN in found and note.sensation in ASKING_SENSATIONS:
        # barres and strings beside it would make it sound like less
        says = [said("advice-emergency-now"), said("advice-emergency-after")]
    else:
        says = _see_a_doctor(note, found)
    return Advice(
        SEE_SOMEONE,
        found[0],
        said("source-signs"),
        (*says, said("advice-no-diagnosis")),
        note,
        is_barre_hand(note),
    )


def _see_a_doctor(note: HandFacts, found: tuple[str, ...]) -> list[Said]:
    says = [said(f"advice-see-{found[0]}"), said("advice-see-someone")]
    if SUDDEN in found:
        # sudden, and not said to be numb or weak: what would make it urgent is asked first
        says.insert(0, said("advice-emergency"))
    if (NUMB in found or WEAK in found) and SUDDEN not in found:
        says.insert(1, said("advice-emergency"))
    says.append(said("advice-until-barre" if is_barre_hand(note) else "advice-until-played"))
    says.append(said("advice-string-height" if is_barre_hand(note) else "advice-posture"))
    return says


def _pause(rule: str, note: HandFacts) -> Advice:
    if is_barre_hand(note):
        says = (said("advice-pause-barre"), said("advice-tell-teacher"), said("advice-string-height"))
    else:
        says = (said("advice-pause-played"), said("advice-posture"), said("advice-tell-teacher"))
    source = said("source-pause")
    return Advice(PAUSE, rule, source, (*says, said("advice-no-diagnosis")), note, is_barre_hand(note))


def _ease_off(rule: str, note: HandFacts) -> Advice:
    says = [said("advice-shorter-bouts"), said("advice-breaks")]
    if is_barre_hand(note):
        says.append(said("advice-lighter-positions"))
    source = said("source-rise" if rule == "rise" else "source-ease-off")
    return Advice(EASE_OFF, rule, source, tuple(says), note)
