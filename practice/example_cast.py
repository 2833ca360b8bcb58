"""Who is in the example studio and how each of them learns: invented people as plain values.

Everybody here is made up. What a student's weeks look like follows from the few numbers in `Person` and `Aim`;
`practice.example` lets them live through 26 weeks.

Conventions: weekdays run from Monday 0 to Sunday 6. Weeks are counted back from the current one (0). Days
"ago" are counted back from the last day of the data. Minutes are minutes, levels are in the unit of the measure.
"""

import datetime as dt
import math
from dataclasses import dataclass

from studio.theory import ChordTerm, Goal

STUDIO = "Alder Lane Guitar Studio"
ZONE = "Europe/London"
SAFEGUARDING = "Rosamund Teale, 01632 960 145"  # a number kept free for invented people
WEEKS = 26
# The studio closes for these two weeks, counted back.
CLOSED = (13, 14)


@dataclass(frozen=True)
class Tutor:
    name: str
    email: str
    is_owner: bool = False


OWNER = Tutor("Rosamund Teale", "rosamund@alderlane.example", is_owner=True)
SECOND = Tutor("Gideon Varley", "gideon@alderlane.example")


@dataclass(frozen=True)
class Kin:
    """A guardian."""

    name: str
    email: str


@dataclass(frozen=True)
class Curve:
    """How a measure grows with practice: best + (start - best) * exp(-weeks / tau).

    weeks: weeks of practice as planned, so that a week without practice does not count. noise: standard deviation
    of one measurement, in the unit of the measure. most: the highest value that a measurement ever shows.
    """

    measure: str
    start: float
    best: float
    tau: float
    noise: float
    most: float = math.inf


@dataclass(frozen=True)
class Aim:
    """A goal in a student's life. curve: of the goal's own measure; also: of others that are noted beside it.

    set_weeks: weeks ago, at that week's lesson. due_weeks: in lessons, 0 for the next one, negative when past;
    due_days: in days from the last day, instead. share: weight of the goal in a session. report: how often a
    session on it is measured. aside_weeks, rest_weeks: weeks ago since when it is set aside, or not practised.
    slip: (weeks ago, part of the level kept) from when on it slips back.
    """

    key: str
    goal: Goal
    target: float
    set_weeks: int
    due_weeks: int
    curve: Curve
    also: tuple[Curve, ...] = ()
    due_days: int | None = None
    share: float = 1.0
    report: float = 0.75
    aside_weeks: int | None = None
    rest_weeks: int | None = None
    slip: tuple[int, float] | None = None
    words: str = ""


@dataclass(frozen=True)
class Ache:
    """A hand note: days ago, 0 to 10, and the words of practice.models.HandNote. alone: noted by itself, on a day
    without a session."""

    days: int
    discomfort: int
    place: str = "wrist"
    sensation: str = "ache"
    settles: str = "hour"
    hand: str = "fretting"
    closed_after: int | None = None  # days until the teacher closed it
    closed_words: str = ""
    cleared_by: str = ""
    also: tuple[str, ...] = ()
    alone: bool = False
    seen: bool = True


@dataclass(frozen=True)
class Back:
    """A stepwise return to playing: days ago it began, and the second step; words: to each step."""

    days: int
    up: int
    cleared_by: str
    words: tuple[str, str]


@dataclass(frozen=True)
class Show:
    """A performance, so many days after the last day; goals by key."""

    title: str
    days: int
    pieces: tuple[str, ...]
    goals: tuple[str, ...]


@dataclass(frozen=True)
class Person:
    """One student: the row, the habit and the goals.

    age: reached this calendar year, None when not known. slot: weekday, time and minutes of the lesson. plan:
    days a week, minutes a day, daily most. joined_weeks: weeks ago, 0 for the last lesson day. habit: chance of
    a session by weekday; at: usual time; minutes: usual length. tiring: usual rating. missed: weeks ago without
    any practice, None for two at random. last_days: days ago of the last session, None for nothing but the
    habit. surge: (days, most minutes): the last days in which sessions come daily and grow. most_gap: days that
    are never exceeded without a session. forget: part of the practice lost on a day after two days off.
    stopped: (days ago of the day on which playing stopped, days ago when it began again or -1); back: step by step.
    star: key of the goal that the story is about.
    """

    name: str
    age: int | None
    tutor: Tutor
    slot: tuple[int, dt.time, int]
    plan: tuple[int, int, int]
    joined_weeks: int
    habit: tuple[float, float, float, float, float, float, float]
    at: dt.time
    minutes: float
    aims: tuple[Aim, ...]
    kin: tuple[Kin, ...] = ()
    consent: bool = True
    status: str = "active"
    left_weeks: int | None = None
    instrument: str = "steel-string"
    plays: str = "right"
    every: int = 1
    tiring: float = 3.0
    by: str = "student"
    by_share: float = 1.0
    missed: tuple[int, ...] | None = None
    last_days: int | None = None
    surge: tuple[int, float] | None = None
    most_gap: int = 4
    forget: float = 0.004
    aches: tuple[Ache, ...] = ()
    stopped: tuple[int, int] | None = None
    back: Back | None = None
    told_days: int | None = None
    absent_weeks: tuple[int, ...] = ()
    story: str = ""
    star: str = ""


# -- goals in few words ----------------------------------------------------------------------------------------


def chord(shape: str, root: str, position: int | None = None, **terms: object) -> Goal:
    return Goal(kind="chord", chords=(ChordTerm(shape, root, position),), **terms)  # type: ignore[arg-type]


def change(one: tuple[str, str, int | None], other: tuple[str, str, int | None]) -> Goal:
    return Goal(kind="change", chords=(ChordTerm(*one), ChordTerm(*other)))


def progression(
    key: str, numerals: str, shapes: tuple[str, ...], window: tuple[int, int] | None = None, **terms: object
) -> Goal:
    return Goal(
        kind="progression",
        key=key,
        numerals=tuple(numerals.split()),
        shapes=shapes,
        window=window,
        **terms,  # type: ignore[arg-type]
    )


def roots(string: int, notes: tuple[str, ...] = ()) -> Goal:
    return Goal(kind="roots", string=string, notes=notes)


def piece(title: str, section: str = "", from_memory: bool = False) -> Goal:
    return Goal(kind="piece", title=title, section=section, from_memory=from_memory)


def at_nut(symbol: str) -> tuple[str, str, int | None]:
    """An open chord as a term: shape id, root, position."""
    return f"open-{symbol}", symbol.removesuffix("7").removesuffix("m"), None


def small(symbol: str) -> tuple[str, str, int | None]:
    """A small form as a term."""
    return f"small-{symbol}", symbol.removesuffix("7").removesuffix("m"), None


def clean(start: float, best: float, tau: float, noise: float = 0.45, most: float = math.inf) -> Curve:
    return Curve("clean", start, best, tau, noise, most)


def landings(start: float, best: float, tau: float, noise: float = 0.5) -> Curve:
    return Curve("landings", start, best, tau, noise)


def changes(start: float, best: float, tau: float, noise: float = 1.6, most: float = math.inf) -> Curve:
    return Curve("changes", start, best, tau, noise, most)


def tempo(start: float, best: float, tau: float, noise: float = 1.8) -> Curve:
    return Curve("tempo", start, best, tau, noise)


def seconds(start: float, best: float, tau: float, noise: float = 2.6) -> Curve:
    return Curve("seconds", start, best, tau, noise)


def right(start: float, best: float, tau: float, noise: float = 1.2) -> Curve:
    return Curve("right", start, best, tau, noise)


def runs(start: float, best: float, tau: float, noise: float = 0.5) -> Curve:
    return Curve("runs", start, best, tau, noise)


def mark(start: float, best: float, tau: float, noise: float = 0.5) -> Curve:
    return Curve("mark", start, best, tau, noise)


NATURALS = ("naturals",)
BARRES = ("E-major", "E-minor", "A-major-partial", "A-minor")
OPEN = ("open-G", "open-Em", "open-C", "open-D")
SEVENTHS = ("E-7", "A-7")
# where barre chords lie well: from A at 5 to E at 7 and G at 3 (common practice, no source)
LOW = (2, 9)

# -- guardians -------------------------------------------------------------------------------------------------

MAEVE = Kin("Maeve Halloran", "maeve.halloran@example.org")
JUTTA = Kin("Jutta Castellane", "jutta.castellane@example.org")
OTTILIE = Kin("Ottilie Applegarth", "ottilie.applegarth@example.org")
KOFI = Kin("Kofi Osei", "kofi.osei@example.org")
LINNEA = Kin("Linnea Brackenridge", "linnea.brackenridge@example.org")
PETRA = Kin("Petra Winslade", "petra.winslade@example.org")
AMARA = Kin("Amara Okonjo", "amara.okonjo@example.org")
JORY = Kin("Jory Prideaux", "jory.prideaux@example.org")
SIGNE = Kin("Signe Malmquist", "signe.malmquist@example.org")
HANA = Kin("Hana Calloway", "hana.calloway@example.org")
ROBIN = Kin("Robin Amberley", "robin.amberley@example.org")
AILSA = Kin("Ailsa Deverell", "ailsa.deverell@example.org")

MON, TUE, WED, THU, FRI, SAT, SUN = range(7)
T = dt.time

# The table of people stays a table.
# fmt: off
WREN = Person(
    "Wren Halloran", 10, OWNER, (THU, T(15, 30), 30), (5, 12, 25), 44, (0.75, 0.75, 0.65, 0.35, 0.7, 0.55, 0.3),
    T(17, 10), 13,
    kin=(MAEVE,), instrument="three-quarter", tiring=2.4, missed=(18,), most_gap=3,
    aims=(
        Aim("small-g", chord(*small("G")), 3, 26, -22, clean(1.2, 3.2, 1.5, 0.3), share=0.4),
        Aim("small-c", chord(*small("C")), 3, 24, -19, clean(1.0, 3.2, 2.0, 0.3), share=0.4),
        Aim("g-c", change(small("G"), small("C")), 20, 20, -9, changes(5, 26, 5, 1.4), share=0.6),
        Aim("lantern", piece("Lantern over the Weir", "first page"), 4, 12, 0, mark(1.2, 4.4, 6, 0.45)),
        Aim(
            "small-f", chord(*small("F")), 4, 9, -1, clean(0.4, 3.4, 6, 0.25, most=3),
            also=(landings(0.6, 4.8, 5),), share=1.4,
            words="Only the tips of two fingers. Look at the first string last.",
        ),
        Aim("c-f", change(small("C"), small("F")), 16, 4, 1, changes(4, 15, 5, 1.2)),
        Aim("roots-6", roots(6, NATURALS), 12, 6, 2, right(3.5, 13, 5), share=0.6),
        Aim(
            "in-c", progression("C", "I V I V", ("small-C", "small-G")), 60, 3, 2, tempo(40, 68, 4, 1.4), share=0.6,
            words="Count aloud. Change on the count of four.",
        ),
    ),
    story="small-forms", star="small-f",
)

IMRE = Person(
    "Imre Castellane", 15, OWNER, (THU, T(16, 0), 45), (5, 30, 45), 110, (0.75, 0.7, 0.7, 0.5, 0.65, 0.75, 0.5),
    T(18, 0), 32,
    kin=(JUTTA,), tiring=3.4, missed=(17, 9), surge=(21, 66),
    aims=(
        Aim("a-5", chord("E-major", "A", 5), 6, 26, -20, clean(3.2, 6.3, 2.0, 0.4), share=0.4, rest_weeks=6),
        Aim("d-5", chord("A-major-partial", "D", 5), 4, 24, -17, clean(2.0, 4.3, 2.5, 0.3), share=0.4),
        Aim("bm-7", chord("E-minor", "B", 7), 6, 14, -2, clean(2.8, 6.3, 2.5, 0.4), share=0.8),
        Aim("bm-d", change(("E-minor", "B", 7), ("A-major-partial", "D", 5)), 40, 11, 0, changes(14, 44, 6, 2)),
        Aim("in-d", progression("D", "I vi IV V", BARRES, LOW), 96, 8, 1, tempo(60, 104, 6, 2), share=1.2),
        Aim(
            "tide", piece("Tide Table Study", "whole", from_memory=True), 88, 7, 0, tempo(56, 92, 5, 2),
            due_days=16, share=1.8, words="For the recital. Slow hands before fast ones.",
        ),
        Aim("paper", piece("Paper Orchard", "middle part"), 3, 5, 0, runs(0.3, 2.8, 3), due_days=16, share=1.4),
    ),
    aches=(
        Ache(13, 1, "wrist", "tight", "at-once"),
        Ache(11, 2, "wrist", "tight", "hour"),
        Ache(9, 2, "wrist", "ache", "hour", seen=False),
        Ache(6, 3, "wrist", "ache", "day", seen=False),
        Ache(4, 4, "wrist", "ache", "day", seen=False),
        Ache(2, 5, "wrist", "ache", "next-day", seen=False),
        Ache(1, 6, "wrist", "ache", "next-day", seen=False),
    ),
    story="over-practiser", star="tide",
)

DOROTHEA = Person(
    "Dorothea Lindqvist-Amaro", 67, OWNER, (THU, T(16, 45), 45), (6, 15, 35), 60,
    (0.9, 0.85, 0.9, 0.75, 0.85, 0.7, 0.45), T(10, 20), 17,
    instrument="classical", tiring=2.8, missed=(21,),
    aims=(
        Aim("em-open", chord(*at_nut("Em")), 6, 26, -23, clean(4.5, 6.4, 1.0, 0.4), share=0.2, aside_weeks=16),
        Aim("am-5", chord("E-minor", "A", 5), 6, 22, -14, clean(2.5, 6.4, 3.0, 0.4), share=0.4),
        Aim("d-5", chord("A-major-partial", "D", 5), 4, 12, -3, clean(1.2, 4.35, 3.0, 0.3), share=0.6),
        Aim(
            "d-bm", change(("A-major-partial", "D", 5), ("E-minor", "B", 7)), 36, 9, 2,
            changes(12, 42, 7.5, 1.3), share=1.2, words="Let the third finger lead; the index arrives with it.",
        ),
        Aim(
            "in-g", progression("G", "I vi IV V", BARRES, LOW), 76, 8, 3, tempo(40, 84, 9.5, 1.6), share=1.4,
            report=0.85,
        ),
        Aim("roots-5", roots(5), 40, 2, 3, seconds(74, 30, 4.5, 2.5), share=0.6),
        Aim("heron", piece("A Heron at the Lock", "second half"), 3, 10, 0, runs(0.3, 2.9, 5)),
    ),
    story="on-course", star="in-g",
)

BENEDIKT = Person(
    "Benedikt Sorley", 33, OWNER, (MON, T(18, 0), 30), (5, 20, 45), 20, (0.75, 0.8, 0.75, 0.7, 0.5, 0.6, 0.5),
    T(20, 10), 20,
    tiring=4.2, missed=(15,), most_gap=3,
    aims=(
        Aim("open-c", chord(*at_nut("C")), 5, 20, -15, clean(2.2, 5.3, 2.0, 0.35), share=0.4, aside_weeks=8),
        Aim("am-c", change(at_nut("Am"), at_nut("C")), 36, 18, -4, changes(9, 42, 5.5, 1.8), share=0.7),
        Aim("c-g", change(at_nut("C"), at_nut("G")), 34, 8, 1, changes(10, 38, 6, 1.6)),
        Aim(
            "f-1", chord("E-major", "F", 1), 6, 13, 1, clean(0.8, 3.05, 1.2, 0.3, most=3),
            also=(landings(0.2, 1.2, 2, 0.45),), share=1.7, report=0.85,
            words="Roll the index a little to its side.",
        ),
        Aim(
            "c-f", change(at_nut("C"), ("E-major", "F", 1)), 30, 11, 1, changes(5, 10, 1.0, 0.5, most=12),
            share=1.3, report=0.85,
        ),
        Aim("roots-6", roots(6), 45, 6, 2, seconds(96, 38, 5, 3), share=0.7),
        Aim("harbour", piece("Harbour Ladder", "verse"), 76, 10, 0, tempo(48, 82, 6, 1.8), share=0.8),
    ),
    aches=(
        Ache(
            37, 2, "thumb", "tight", "at-once", closed_after=4,
            closed_words="Thumb lower behind the neck; easy since.",
        ),
    ),
    story="stuck-barre", star="f-1",
)

CALLUM = Person(
    "Callum Restarick", 41, OWNER, (TUE, T(19, 0), 45), (5, 15, 60), 70, (0, 0, 0, 0, 0, 0, 1), T(15, 0), 78,
    tiring=4.5, missed=(19, 11), most_gap=99, forget=0.02,
    aims=(
        Aim("dm-open", chord(*at_nut("Dm")), 4, 26, -21, clean(2.0, 4.4, 1.5, 0.35), share=0.5, aside_weeks=14),
        Aim("am-5", chord("E-minor", "A", 5), 6, 16, 0, clean(2.0, 5.6, 5.0, 0.6)),
        Aim("g-em", change(at_nut("G"), at_nut("Em")), 40, 20, 1, changes(12, 40, 8, 2.2)),
        Aim("in-g", progression("G", "I vi IV V", OPEN), 80, 12, 2, tempo(46, 92, 9, 2.4), share=1.3),
        Aim("copse", piece("Copse Road", "chorus"), 3, 9, 0, runs(0.2, 2.5, 6, 0.6)),
    ),
    story="sunday-only", star="in-g",
)

NADIA = Person(
    "Nadia Ferrant", 27, OWNER, (TUE, T(18, 0), 30), (4, 20, 40), 52, (0.6, 0.5, 0.55, 0.2, 0.45, 0.4, 0.3),
    T(21, 0), 21,
    instrument="electric", tiring=3.2, last_days=37, missed=(12, 9), absent_weeks=(4, 3, 1),
    aims=(
        Aim("em-open", chord(*at_nut("Em")), 6, 26, -22, clean(4.0, 6.4, 1.2, 0.35), share=0.4),
        Aim("g-d", change(at_nut("G"), at_nut("D")), 36, 21, 0, changes(9, 34, 9, 2)),
        Aim("a-5", chord("E-major", "A", 5), 6, 12, 1, clean(1.8, 5.0, 5, 0.5)),
        Aim("mill", piece("Millpond Song", "verse and chorus"), 92, 15, 1, tempo(56, 88, 8, 2)),
    ),
    story="stopped", star="g-d",
)

FEMKE = Person(
    "Femke Adair", 34, OWNER, (WED, T(17, 30), 30), (5, 20, 40), 33, (0.75, 0.8, 0.6, 0.7, 0.6, 0.35, 0.55),
    T(7, 50), 21,
    plays="left", tiring=2.9, missed=(20, 10),
    aims=(
        Aim("a-5", chord("E-major", "A", 5), 6, 25, -15, clean(2.2, 6.4, 3, 0.4), share=0.5),
        Aim("am-5", chord("E-minor", "A", 5), 6, 18, -10, clean(2.8, 6.4, 2.5, 0.4), share=0.4),
        Aim("dm-5", chord("A-minor", "D", 5), 5, 12, -3, clean(2.0, 5.35, 3, 0.35), share=0.7),
        Aim("am-dm", change(("E-minor", "A", 5), ("A-minor", "D", 5)), 44, 10, 1, changes(14, 52, 8, 1.8)),
        Aim(
            "in-am", progression("A minor", "i iv v i", ("E-minor", "A-minor"), LOW), 92, 9, 2,
            tempo(52, 104, 10, 2),
        ),
        Aim("roots-5", roots(5), 45, 5, 2, seconds(88, 36, 5, 3), share=0.6),
    ),
    story="left-hander", star="am-dm",
)

PERPETUA = Person(
    "Perpetua Lindgren", 45, OWNER, (WED, T(18, 30), 45), (5, 20, 40), 90,
    (0.5, 0.55, 0.25, 0.5, 0.3, 0.45, 0.4), T(19, 30), 19,
    tiring=3.5, missed=(22, 16, 8),
    aims=(
        Aim("em-am", change(at_nut("Em"), at_nut("Am")), 40, 26, -15, changes(14, 46, 6, 2), share=0.5),
        Aim("g-3", chord("E-major", "G", 3), 6, 12, -3, clean(2.0, 5.2, 6, 0.45)),
        Aim("bm-2", chord("A-minor", "B", 2), 5, 10, -2, clean(1.4, 4.3, 6, 0.45)),
        Aim(
            "in-g", progression("G", "I IV V I", ("open-G", "open-C", "open-D")), 96, 14, -4,
            tempo(60, 92, 9, 2),
        ),
        Aim("sloe", piece("Sloe Winter", "whole"), 4, 9, 1, mark(1.5, 4.2, 8)),
    ),
    story="past-due", star="g-3",
)

TEODOR = Person(
    "Teodor Winslade", 13, OWNER, (WED, T(16, 30), 30), (5, 15, 30), 30,
    (0.7, 0.75, 0.45, 0.7, 0.55, 0.4, 0.45), T(17, 45), 16,
    kin=(PETRA,), consent=False, instrument="electric", missed=(19,), told_days=2,
    aims=(
        Aim("e5", chord("E-5", "A", 5), 3, 24, -18, clean(1.5, 3.3, 1.5, 0.3), share=0.4),
        Aim("e5-e5", change(("E-5", "A", 5), ("E-5", "G", 3)), 60, 20, -5, changes(22, 68, 6, 2.5), share=0.7),
        Aim("em-5", chord("E-minor", "A", 5), 6, 9, 1, clean(2.2, 5.9, 4, 0.5)),
        Aim("engine", piece("Engine Shed", "riff"), 132, 11, 0, tempo(84, 140, 7, 3), share=1.3),
        Aim("roots-6", roots(6), 40, 7, 2, seconds(80, 34, 5, 3), share=0.6),
    ),
    story="no-consent", star="engine",
)

MAREN = Person(
    "Maren Applegarth", 12, OWNER, (MON, T(16, 0), 30), (5, 15, 30), 65, (0.45, 0.75, 0.7, 0.7, 0.5, 0.5, 0.4),
    T(16, 50), 16,
    kin=(OTTILIE,), tiring=2.6, missed=(8, 7),
    aims=(
        Aim("open-g", chord(*at_nut("G")), 6, 26, -20, clean(3.6, 6.4, 2, 0.4), share=0.4),
        Aim("g-c", change(at_nut("G"), at_nut("C")), 36, 22, -6, changes(10, 44, 6, 1.8), share=0.6),
        Aim("fmaj7", chord(*("open-Fmaj7", "F")), 4, 12, -4, clean(1.6, 4.35, 2.5, 0.3), share=0.6),
        Aim("em-7", chord("E-minor", "B", 7), 6, 6, 1, clean(2.0, 6.0, 4, 0.5)),
        Aim(
            "in-g", progression("G", "I IV V I", ("open-G", "open-C", "open-D")), 88, 10, 1,
            tempo(52, 96, 7, 2),
        ),
        Aim("quiet", piece("Quiet Mile", "both verses"), 3, 8, 0, runs(0.4, 2.9, 4)),
    ),
    story="siblings", star="in-g",
)

JONAS = Person(
    "Jonas Applegarth", 9, OWNER, (MON, T(16, 30), 30), (5, 10, 20), 40,
    (0.4, 0.7, 0.7, 0.65, 0.55, 0.45, 0.35), T(17, 0), 10.5,
    kin=(OTTILIE,), instrument="half-size", tiring=2.2, by="parent", by_share=0.5, missed=(8, 7),
    aims=(
        Aim("small-g", chord(*small("G")), 3, 25, -19, clean(1.4, 3.25, 1.5, 0.3), share=0.5),
        Aim("small-c", chord(*small("C")), 3, 21, -14, clean(1.0, 3.2, 2.5, 0.3), share=0.5),
        Aim("g-c", change(small("G"), small("C")), 18, 16, 0, changes(4, 20, 8, 1.3)),
        Aim("small-d", chord(*small("D")), 3, 8, 1, clean(0.8, 3.0, 4, 0.4)),
        Aim("snail", piece("Snail on the Sill", "whole"), 4, 7, 1, mark(1.2, 4.2, 5)),
    ),
    aches=(Ache(2, 3, "wrist", "ache", "day", also=("fell",), alone=True, seen=False),),
    stopped=(3, -1),
    story="child-who-fell", star="g-c",
)

SUNNIVA = Person(
    "Sunniva Brackenridge-Osei", 11, OWNER, (TUE, T(16, 0), 30), (5, 15, 30), 50,
    (0.7, 0.45, 0.75, 0.7, 0.6, 0.55, 0.4), T(18, 10), 16,
    kin=(KOFI, LINNEA), instrument="three-quarter", tiring=2.5,
    aims=(
        Aim("open-em", chord(*at_nut("Em")), 6, 26, -22, clean(4.0, 6.4, 1.5, 0.4), share=0.4),
        Aim("open-d", chord(*at_nut("D")), 4, 20, -13, clean(1.8, 4.4, 2, 0.3), share=0.5),
        Aim("em-d", change(at_nut("Em"), at_nut("D")), 36, 15, -1, changes(9, 44, 6, 1.8), share=0.8),
        Aim(
            "in-d", progression("D", "I IV V I", ("open-D", "open-G", "open-A")), 80, 8, 1, tempo(48, 88, 7, 2),
        ),
        Aim("roots-6", roots(6, NATURALS), 18, 5, 1, right(6, 20, 5), share=0.6),
        Aim("kite", piece("Kite String Waltz", "first half"), 3, 6, 0, runs(0.4, 2.9, 4)),
    ),
    story="two-guardians", star="in-d",
)

PIP = Person(
    "Pip Okonjo", 8, OWNER, (FRI, T(15, 30), 30), (4, 10, 20), 28, (0.65, 0.6, 0.65, 0.5, 0.3, 0.55, 0.35),
    T(16, 40), 10,
    kin=(AMARA,), instrument="half-size", tiring=2.0, by="parent",
    aims=(
        Aim("small-g", chord(*small("G")), 3, 24, -14, clean(1.0, 3.2, 3, 0.3), share=0.6),
        Aim("small-c", chord(*small("C")), 3, 15, -4, clean(0.8, 3.15, 3.5, 0.3), share=0.8),
        Aim("g-c", change(small("G"), small("C")), 14, 9, 1, changes(3, 16, 7, 1.1)),
        Aim("owl", piece("Owl, Owl, Answer Me", "whole"), 4, 8, 0, mark(1.0, 4.2, 5), share=1.2),
    ),
    story="guardian-logged", star="g-c",
)

ELOWEN = Person(
    "Elowen Prideaux", 14, OWNER, (FRI, T(16, 15), 30), (5, 20, 40), 75, (0.75, 0.7, 0.7, 0.65, 0.45, 0.5, 0.5),
    T(17, 20), 21,
    kin=(JORY,), tiring=3.0,
    aims=(
        Aim("a-5", chord("E-major", "A", 5), 6, 26, -14, clean(2.0, 6.35, 3, 0.4), share=0.5),
        Aim("g-3", chord("E-major", "G", 3), 6, 14, -3, clean(2.2, 6.35, 3, 0.4), share=0.7),
        Aim("a-d", change(("E-major", "A", 5), ("A-major-partial", "D", 5)), 40, 11, 0, changes(12, 48, 7, 2)),
        Aim("f-1", chord("E-major", "F", 1), 6, 4, 2, clean(2.4, 6.1, 4, 0.5), share=1.2),
        Aim("in-g", progression("G", "I V vi IV", BARRES, LOW), 84, 9, 1, tempo(48, 92, 8, 2)),
        Aim("rook", piece("Rook and Candle", "whole"), 4, 8, 1, mark(1.6, 4.4, 6)),
    ),
    aches=(
        Ache(71, 3, "thumb", "ache", "hour"),
        Ache(66, 1, "thumb", "ache", "at-once"),
    ),
    story="steady", star="g-3",
)

IDRIS = Person(
    "Idris Fennimore", 38, OWNER, (FRI, T(18, 0), 45), (5, 25, 50), 95, (0.8, 0.75, 0.8, 0.75, 0.7, 0.35, 0.25),
    T(6, 40), 25,
    instrument="electric", tiring=3.1,
    aims=(
        Aim("a7-5", chord("E-7", "A", 5), 6, 26, -18, clean(3.0, 6.4, 2.5, 0.4), share=0.4),
        Aim("d7-5", chord("A-7", "D", 5), 5, 20, -11, clean(2.2, 5.35, 3, 0.35), share=0.5),
        Aim("a7-d7", change(("E-7", "A", 5), ("A-7", "D", 5)), 48, 16, -2, changes(16, 58, 7, 2), share=0.8),
        Aim(
            "blues-a", progression("A", "I7 IV7 I7 V7", SEVENTHS, LOW), 112, 11, 1, tempo(60, 124, 9, 2.2),
            share=1.4,
        ),
        Aim("am7-5", chord("E-m7", "A", 5), 6, 5, 1, clean(3.2, 6.3, 3, 0.5)),
        Aim("roots-5", roots(5), 35, 10, 0, seconds(70, 30, 6, 2.5), share=0.5),
    ),
    aches=(
        Ache(
            38, 5, "wrist", "ache", "day", closed_after=24, closed_words="Cleared; a stepwise return begins.",
            cleared_by="Dr Ines Marlowe",
        ),
        Ache(
            35, 7, "wrist", "ache", "next-day", closed_after=21, closed_words="Cleared; a stepwise return begins.",
            cleared_by="Dr Ines Marlowe",
        ),
    ),
    stopped=(35, 13),
    back=Back(13, 6, "Dr Ines Marlowe", ("Notes on one string, no chords.", "Still no chords with a flat finger.")),
    story="coming-back", star="blues-a",
)

LINUS = Person(
    "Linus Hathersage", 22, OWNER, (TUE, T(20, 0), 30), (4, 20, 40), 60, (0.6, 0.45, 0.6, 0.55, 0.4, 0.3, 0.45),
    T(21, 10), 20,
    status="paused", left_weeks=6, last_days=44,
    aims=(
        Aim("open-c", chord(*at_nut("C")), 5, 26, -20, clean(3.2, 5.4, 2, 0.35), share=0.5),
        Aim("c-am", change(at_nut("C"), at_nut("Am")), 44, 19, 0, changes(14, 46, 7, 2)),
        Aim(
            "in-c", progression("C", "I vi IV V", ("open-C", "open-Am", "open-G", "E-major")), 84, 11, 1,
            tempo(50, 84, 8, 2),
        ),
    ),
    story="paused", star="c-am",
)

GRETA = Person(
    "Greta Malmquist", 13, OWNER, (FRI, T(17, 0), 30), (4, 15, 30), 80, (0.5, 0.55, 0.5, 0.4, 0.3, 0.35, 0.3),
    T(17, 30), 15,
    kin=(SIGNE,), status="archived", left_weeks=10, last_days=74,
    aims=(
        Aim("open-d", chord(*at_nut("D")), 4, 26, -18, clean(2.6, 4.35, 2.5, 0.3), share=0.6),
        Aim("d-a", change(at_nut("D"), at_nut("A")), 36, 19, -8, changes(10, 36, 7, 2)),
    ),
    story="archived", star="d-a",
)

YUSUF = Person(
    "Yusuf Calloway", 17, SECOND, (THU, T(16, 30), 45), (5, 25, 50), 85, (0.7, 0.7, 0.75, 0.4, 0.6, 0.5, 0.55),
    T(19, 0), 26,
    kin=(HANA,), instrument="electric", tiring=3.3, missed=(7, 6),
    aims=(
        Aim("a-5", chord("E-major", "A", 5), 6, 26, -17, clean(3.0, 6.4, 2.5, 0.4), share=0.5),
        Aim(
            "a-d", change(("E-major", "A", 5), ("A-major-partial", "D", 5)), 44, 18, -7,
            changes(16, 54, 4, 1.6), slip=(5, 0.72), share=1.1, report=0.9,
        ),
        Aim("e-7", chord("A-major-partial", "E", 7), 4, 12, -2, clean(1.8, 4.35, 2.5, 0.3), share=0.6),
        Aim("in-e", progression("E", "I IV V I", BARRES, LOW), 100, 9, 1, tempo(60, 108, 7, 2)),
        Aim("gale", piece("Gale Warning", "solo"), 120, 8, 0, tempo(72, 124, 7, 3)),
    ),
    story="slipped", star="a-d",
)

SOLVEIG = Person(
    "Solveig Tarrant", 52, SECOND, (THU, T(17, 30), 60), (4, 25, 50), 120,
    (0.6, 0.6, 0.6, 0.35, 0.6, 0.5, 0.45), T(8, 30), 26,
    instrument="classical", every=2, tiring=2.7,
    aims=(
        Aim("am-5", chord("E-minor", "A", 5), 6, 26, -16, clean(3.0, 6.4, 2, 0.4), share=0.5, rest_weeks=9),
        Aim("dm-5", chord("A-minor", "D", 5), 5, 20, -8, clean(2.2, 5.4, 3, 0.35), share=0.6),
        Aim("am-dm", change(("E-minor", "A", 5), ("A-minor", "D", 5)), 40, 16, 0, changes(12, 44, 8, 1.8)),
        Aim(
            "in-e", progression("E minor", "i iv V7 i", ("E-minor", "A-minor", "A-7", "E-7")), 76, 10, 2,
            tempo(44, 84, 9, 1.8),
        ),
        Aim(
            "ferry", piece("The Ferryman's Coat", "from memory", from_memory=True), 3, 12, 2, runs(0.3, 2.7, 6),
        ),
    ),
    story="fortnightly", star="am-dm",
)

ASH = Person(
    "Ash Merriweather", None, SECOND, (THU, T(18, 30), 30), (5, 20, 40), 17,
    (0.65, 0.7, 0.65, 0.4, 0.55, 0.4, 0.45), T(20, 0), 20,
    consent=False,
    aims=(
        Aim("open-em", chord(*at_nut("Em")), 6, 17, -12, clean(3.4, 6.4, 1.5, 0.4), share=0.4),
        Aim("em-am", change(at_nut("Em"), at_nut("Am")), 40, 16, -3, changes(10, 48, 6, 1.8), share=0.7),
        Aim("am-c", change(at_nut("Am"), at_nut("C")), 34, 9, 1, changes(8, 38, 7, 1.8)),
        Aim("em-5", chord("E-minor", "A", 5), 6, 5, 2, clean(1.8, 6.0, 4, 0.5)),
        Aim("porch", piece("Porch Light", "chorus"), 88, 7, 0, tempo(54, 94, 6, 2)),
    ),
    story="unknown-birth-year", star="am-c",
)

KIT = Person(
    "Kit Amberley", 9, SECOND, (SAT, T(9, 30), 30), (4, 10, 20), 0, (0, 0, 0, 0, 0, 0, 0), T(16, 30), 10,
    kin=(ROBIN,), instrument="three-quarter",
    aims=(
        Aim("small-g", chord(*small("G")), 3, 0, 2, clean(1.0, 3.2, 3), words="One finger, close to the fret."),
        Aim("bell", piece("Bell Rope", "slowly"), 3, 0, 2, mark(1.0, 4.0, 5)),
    ),
    story="new", star="small-g",
)

HORACE = Person(
    "Horace Penhallow", 61, SECOND, (SAT, T(10, 15), 30), (5, 20, 40), 58,
    (0.75, 0.7, 0.75, 0.7, 0.65, 0.3, 0.5), T(18, 0), 21,
    by="paper", tiring=3.0,
    aims=(
        Aim("open-c", chord(*at_nut("C")), 5, 26, -19, clean(3.0, 5.4, 2.5, 0.35), share=0.5),
        Aim("c-g7", change(at_nut("C"), at_nut("G7")), 36, 20, -2, changes(10, 42, 8, 1.8), share=0.8),
        Aim(
            "in-c", progression("C", "I IV V7 I", ("open-C", "E-major", "open-G7")), 80, 11, 2,
            tempo(44, 84, 9, 2),
        ),
        Aim("gate", piece("The Garden Gate Left Open", "whole"), 4, 14, 1, mark(1.4, 4.3, 7)),
    ),
    story="paper-log", star="c-g7",
)

MARGUERITE = Person(
    "Marguerite Thornalley", 56, SECOND, (SAT, T(11, 15), 45), (5, 20, 40), 22,
    (0.75, 0.75, 0.7, 0.75, 0.7, 0.35, 0.4), T(7, 10), 20,
    tiring=2.9, missed=(12,),
    aims=(
        Aim("open-g", chord(*at_nut("G")), 6, 22, -14, clean(3.0, 6.4, 2, 0.4), share=0.4),
        Aim("g-d", change(at_nut("G"), at_nut("D")), 38, 19, -4, changes(9, 46, 7, 1.8), share=0.7),
        Aim("f-small", chord(*small("F")), 4, 9, -1, clean(1.6, 4.35, 2, 0.3), share=0.8),
        Aim("e-no-index", chord("open-E-no-index", "E"), 6, 5, 1, clean(3.0, 6.3, 2, 0.4)),
        Aim("in-g", progression("G", "I vi IV V", OPEN), 84, 10, 1, tempo(46, 92, 8, 2)),
        Aim("swift", piece("Swifts in August", "introduction"), 3, 6, 0, runs(0.4, 2.9, 4)),
    ),
    aches=(
        Ache(140, 2, "fingertip", "sore", "day"),
        Ache(136, 2, "fingertip", "sore", "day"),
        Ache(130, 1, "fingertip", "sore", "hour"),
    ),
    story="fingertips", star="g-d",
)

HAMISH = Person(
    "Hamish Deverell", 16, SECOND, (SAT, T(12, 15), 45), (5, 25, 50), 66,
    (0.7, 0.65, 0.7, 0.65, 0.5, 0.35, 0.6), T(18, 30), 26,
    kin=(AILSA,), instrument="electric", tiring=3.2,
    aims=(
        Aim("a-5", chord("E-major", "A", 5), 6, 21, -9, clean(2.0, 6.4, 3, 0.4), share=0.6),
        Aim("am-5", chord("E-minor", "A", 5), 6, 18, -9, clean(2.6, 6.4, 2.5, 0.4), share=0.4),
        Aim("c-3", chord("A-major-partial", "C", 3), 4, 9, 0, clean(1.4, 4.3, 3, 0.35)),
        Aim(
            "a-am", change(("E-major", "A", 5), ("E-minor", "A", 5)), 60, 14, -1, changes(20, 72, 6, 2.5),
            share=0.7,
        ),
        Aim("in-a", progression("A", "I IV V I", BARRES, LOW), 104, 8, 1, tempo(56, 112, 8, 2.2), share=1.2),
        Aim("roots-6", roots(6), 36, 6, 0, seconds(76, 31, 5, 3), share=0.6),
    ),
    aches=(Ache(2, 8, "index", "ache", "day", seen=False),),
    stopped=(2, -1),
    story="stopped-at-8", star="in-a",
)

# Who plays for others, and when; each is put down on the day on which the first of its goals was set.
PERFORMANCES: dict[str, tuple[Show, ...]] = {
    IMRE.name: (Show("Winter recital", 23, ("Tide Table Study", "Paper Orchard"), ("tide", "paper")),),
    DOROTHEA.name: (Show("Library afternoon", -20, ("A Heron at the Lock",), ("heron",)),),
    HAMISH.name: (Show("Sixth-form evening", 5, ("Slow Tram Shuffle",), ("in-a",)),),
}

# What a teacher wrote for the term that runs; true of the person's curves on any day.
TERM_WORDS: dict[str, str] = {
    WREN.name: (
        "Wren finds G and C without looking now and changes between them faster than was asked. The small F takes its"
        " time: two fingertips, the first string last. It need not ring every day yet.\n\nWhat helps most at home is"
        " what she does already: a short turn on most days."
    ),
    YUSUF.name: (
        "A to D was in hand and has slipped since the weeks without a guitar. That is what a rest does, and it comes"
        " back sooner than it was learnt: five slow minutes a day, before the solo.\n\nE at 7 is new, and clean."
    ),
}

PEOPLE: tuple[Person, ...] = (
    WREN, IMRE, DOROTHEA, BENEDIKT, CALLUM, NADIA, FEMKE, PERPETUA, TEODOR, MAREN, JONAS, SUNNIVA, PIP, ELOWEN,
    IDRIS, LINUS, GRETA, YUSUF, SOLVEIG, ASH, KIT, HORACE, MARGUERITE, HAMISH,
)
# fmt: on
