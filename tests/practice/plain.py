"""Plain values for tests of the computing modules, with good defaults; a test names what matters to it."""

import datetime as dt

from practice.facts import EntryFacts, GoalFacts, HandFacts, Mark, StudentFacts
from practice.measures import MEASURES
from studio import theory

TODAY = dt.date(2026, 11, 12)  # a Thursday


def ago(days: int, today: dt.date = TODAY) -> dt.date:
    return today - dt.timedelta(days=days)


def at(day: dt.date, hour: int = 17, minute: int = 0) -> dt.datetime:
    return dt.datetime(day.year, day.month, day.day, hour, minute, tzinfo=dt.UTC)


def mark(day: dt.date, value: float, check: bool = False, measure: str = "clean", hour: int = 17) -> Mark:
    return Mark(day=day, at=at(day, hour), measure=measure, value=value, check=check)


def chord(shape: str = "E-minor", root: str = "B", position: int | None = 7, **over) -> theory.Goal:
    return theory.Goal(kind="chord", chords=(theory.ChordTerm(shape, root, position),), **over)


def change(*chords: tuple[str, str, int | None]) -> theory.Goal:
    return theory.Goal(kind="change", chords=tuple(theory.ChordTerm(*one) for one in chords))


def goal(measure: str = "clean", target: float = 6, **over) -> GoalFacts:
    given = {
        "code": "goal-1",
        "kind": "chord",
        "theory": over["theory"] if "theory" in over else chord(),
        "title": "Bm, E-shape at 7",
        "measure": MEASURES[measure],
        "target": target,
        "set_on": ago(60),
        "due": TODAY + dt.timedelta(days=7),
    }
    return GoalFacts(**(given | over))


def entry(day: dt.date, minutes: float = 20, tiring: int | None = 3, code: str = "", **over) -> EntryFacts:
    given = {"code": code or f"entry-{day}", "day": day, "begun": at(day), "seconds": round(minutes * 60)}
    return EntryFacts(**(given | {"tiring": tiring} | over))


def note(day: dt.date, discomfort: int, place: str = "wrist", hour: int = 18, **over) -> HandFacts:
    given = {"day": day, "at": at(day, hour), "discomfort": discomfort, "hand": "fretting", "place": place}
    if discomfort == 0 and "hand" not in over and place == "wrist":
        given |= {"hand": "", "place": ""}
    return HandFacts(**(given | over))


def facts(**over) -> StudentFacts:
    given = {
        "name": "Wren Example",
        "first_name": "Wren",
        "joined": ago(400),
        "instrument": theory.INSTRUMENTS["steel-string"],
        "hand": theory.Hand(),
        "plan_days": 5,
        "plan_minutes": 12,
        "daily_most": 30,
        "age": 30,
        "minor": False,
        "hand_consent": True,
        "next_lesson": TODAY + dt.timedelta(days=7),
    }
    return StudentFacts(**(given | over))
