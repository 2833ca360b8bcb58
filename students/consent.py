"""When a student's hand values may be asked for and stored, as a rule on plain values.

A hand value ("How tiring for the hand?", a hand note) is health data: it needs a consent row of the right
person, a guardian's for a minor, the student's own for an adult. Only the birth year is kept, so somebody is
an adult when that is certain on any day of the year; an unknown birth year counts as a minor.
"""

import datetime as dt

# The wording that is shown and agreed to today. A changed text gets a new version; older rows keep theirs.
WORDING_VERSION = "2026-3"


def present_wording() -> str:
    """WORDING_VERSION, as a field's default that is the same in every migration."""
    return WORDING_VERSION


GUARDIAN = "guardian"
STUDENT = "student"


def is_minor(birth_year: int | None, today: dt.date, adult_age: int = 18) -> bool:
    """True until it is certain that the student has reached `adult_age` years."""
    return birth_year is None or today.year - birth_year <= adult_age


def age_in_years(birth_year: int | None, today: dt.date) -> int | None:
    """Age reached in the course of this calendar year; None when the birth year is not known."""
    return None if birth_year is None else today.year - birth_year


def right_giver(birth_year: int | None, today: dt.date, adult_age: int = 18) -> str:
    """Whose consent counts: "guardian" for a minor, "student" for an adult."""
    return GUARDIAN if is_minor(birth_year, today, adult_age) else STUDENT
