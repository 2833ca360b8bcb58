"""A PIN on a personal link: chosen by whoever holds the link, hashed as a password, asked once in each browser.

The session keeps a mark that follows from the stored hash, so that a PIN set or changed anywhere is asked for again
everywhere else. Wrong tries are counted in the row before the PIN is looked at: tries that come at the same time
cannot slip past one another.
"""

import datetime as dt
import re
from enum import Enum
from itertools import pairwise
from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import ValidationError
from django.db.models import F
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _

from students.models import Guardian, Student

SESSION_KEY = "pins"
DIGITS = re.compile(r"[0-9]{4,8}")
TRIES = 5
WAIT = dt.timedelta(minutes=15)

Holder = Student | Guardian


class Answer(Enum):
    RIGHT = "right"
    WRONG = "wrong"
    WAIT = "wait"


def check_choice(text: str) -> None:
    """Raises ValidationError for what cannot be a PIN, or is tried first by anybody who guesses."""
    if not DIGITS.fullmatch(text):
        raise ValidationError(_("Choose 4 to 8 digits."))
    steps = {int(after) - int(before) for before, after in pairwise(text)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise ValidationError(_("That is guessed at once. Choose digits that are neither all the same nor a row."))


def set_pin(holder: Holder, text: str) -> None:
    """Stores a new PIN; every session is asked for it anew."""
    holder.pin, holder.pin_wrong, holder.pin_wrong_at = make_password(text), 0, None
    holder.save(update_fields=["pin", "pin_wrong", "pin_wrong_at"])


def remove_pin(holder: Holder) -> None:
    holder.pin, holder.pin_wrong, holder.pin_wrong_at = "", 0, None
    holder.save(update_fields=["pin", "pin_wrong", "pin_wrong_at"])


def try_pin(holder: Holder, text: str, now: dt.datetime) -> Answer:
    """Whether a typed PIN is the holder's. After five wrong ones nothing is looked at for 15 minutes; tries that lie
    longer back do not count.

    Three or four queries; `holder` then carries the counter as stored.
    """
    row = type(holder).objects.filter(pk=holder.pk, pin=holder.pin)
    counted = row.filter(pin_wrong_at__lte=now - WAIT).update(pin_wrong=1, pin_wrong_at=now)
    if not counted:
        counted = row.filter(pin_wrong__lt=TRIES).update(pin_wrong=F("pin_wrong") + 1, pin_wrong_at=now)
    if counted and DIGITS.fullmatch(text) and check_password(text, holder.pin):
        row.update(pin_wrong=0, pin_wrong_at=None)
        holder.pin_wrong, holder.pin_wrong_at = 0, None
        return Answer.RIGHT
    holder.refresh_from_db(fields=["pin_wrong", "pin_wrong_at"])
    return Answer.WRONG if counted else Answer.WAIT


def waits_until(holder: Holder, now: dt.datetime) -> dt.datetime | None:
    """Until when no PIN is taken, or None."""
    if not holder.pin or holder.pin_wrong < TRIES or holder.pin_wrong_at is None:
        return None
    until = holder.pin_wrong_at + WAIT
    return until if until > now else None


def tries_left(holder: Holder) -> int:
    return max(0, TRIES - holder.pin_wrong)


# -- the session -----------------------------------------------------------------------------------------------------


def unlock(session: Any, holder: Holder) -> None:
    """The right PIN was given in this browser."""
    session[SESSION_KEY] = {**_marks(session), str(holder.code): _mark(holder)}


def is_open(session: Any, holder: Holder) -> bool:
    """Whether the holder's pages are open in this browser: there is no PIN, or the present one was given."""
    return not holder.pin or constant_time_compare(str(_marks(session).get(str(holder.code), "")), _mark(holder))


def _marks(session: Any) -> dict[str, str]:
    kept = session.get(SESSION_KEY)
    return kept if isinstance(kept, dict) else {}


def _mark(holder: Holder) -> str:
    return salted_hmac("students.pins", f"{holder.code}:{holder.pin}", algorithm="sha256").hexdigest()
