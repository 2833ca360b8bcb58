"""How often something may be asked for: counted in the database, so that all processes count together."""

import datetime as dt

from django.db.models import F, QuerySet
from django.utils.crypto import salted_hmac

from students.models import Tries

KEPT = dt.timedelta(days=1)


def stale(now: dt.datetime) -> QuerySet[Tries]:
    """Counters that nothing asks for any more."""
    return Tries.objects.filter(since__lt=now - KEPT)


def allowed(what: str, who: str, most: int, within: dt.timedelta, now: dt.datetime) -> bool:
    """Counts one more try of `what` by `who` and says whether it is one of the first `most` within that time.

    within: at most a day. One to five queries; only a keyed hash of `who` is kept, for a day.
    """
    key = salted_hmac("students.throttle", f"{what}:{who}", algorithm="sha256").hexdigest()
    row = Tries.objects.filter(key=key)
    if row.filter(since__lte=now - within).update(count=1, since=now):
        return True
    if row.filter(count__lt=most).update(count=F("count") + 1):
        return True
    if row.exists():
        return False
    stale(now).delete()
    _row, first = Tries.objects.get_or_create(key=key, defaults={"count": 1, "since": now})
    # made by another process meanwhile: this one counts after it
    return first or bool(row.filter(count__lt=most).update(count=F("count") + 1))
