"""What one hand note asks for by itself: one table that the server (practice.handcare) and the phone (hand-rules.js)
read alike, so that what must not wait for a server is said at once, offline too.

A row holds when one of its conditions does; a condition holds when each of its parts does:

    from, to               discomfort, 0 to 10, lies there
    any, all               of what was ticked under "Any of these?" (ALSO) at least one, or each, is there
    none                   nothing of this list was ticked
    a field of the note    its value stands in the list; None is "not answered", "" is "not said"

The rows stand in the order in which they are asked, and the first that holds is the note's answer. It is the strictest
that holds, but for fingertip skin and a numb tip, which stand above the rows that are meant for joints. What needs the
notes before it (more than one day, a rise) is no row here. Marks: published, derived, common practice (no source).

References
----------
[1] Sudden numbness or weakness of face, arm or leg: emergency services at once. Stroke associations' public advice,
    FAST (published). The question is about face, arm or leg, never about a side of the hand.
[2] Emergency department when a bone may be broken: extreme pain after an injury, odd shape, a snap or grinding noise,
    difficulty moving: nidirect, hand pain (published).
[3] Same-day advice: new injury, open wound, misshapen, not able to move, icy cold and pale, or blue: NHS inform, wrist,
    hand and finger problems (published). Hot, red or swollen with raised temperature, same day: NHS trusts' red-flag
    pages for elbow, wrist and hand (published).
[4] 7 and over is "severe" in most bandings (Serlin et al., Pain 1995;61:277, among others; published). The rule for it:
    stop today, tell an adult and the teacher, a doctor or hand therapist before playing on (derived). Fingertip skin
    alone stops its day and is asked after from the next day on (derived).
[5] Loss of control without pain, such as a finger that curls by itself while playing, goes to a clinician who knows
    musicians: BAPAM factsheet (published).
[6] Signs for a clinician: a synthesis of SHAPE/Actsafe, "Musicians and MSI" (published), and NHS hand-and-wrist
    guidance (derived).
[7] 4 begins the middle band of 1 to 3, 4 to 6, 7 to 10 by convention (Canadian Physiotherapy Association page,
    published); that one note is enough is derived.
[C] Fingertip skin alone, no numbness, at most 3: normal for the first weeks; ease off, look again after two days. A tip
    that is numb and back within the hour is worth telling the teacher. Common practice, no source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

NOTHING = "nothing"
EASE_OFF = "ease-off"
PAUSE = "pause"
SEE_SOMEONE = "see-someone"
STOP = "stop"
SAME_DAY = "same-day"
HOSPITAL = "hospital"
EMERGENCY = "emergency"
LEVELS = (NOTHING, EASE_OFF, PAUSE, SEE_SOMEONE, STOP, SAME_DAY, HOSPITAL, EMERGENCY)

# "Any of these?", asked at every value, 0 included; and what is asked further after some of them.
FELL, SHAPE, HOT, NUMB, WEAK, ITSELF = "fell", "shape", "hot", "numb", "weak", "itself"
SNAP, EXTREME, COLD, STUCK = "snap", "extreme", "cold", "stuck"
FIRST_ALSO = (FELL, SHAPE, HOT, NUMB, WEAK, ITSELF)
FURTHER_ALSO = (SNAP, EXTREME, COLD, STUCK)
ALSO = (*FIRST_ALSO, *FURTHER_ALSO)
# After these the further ones are asked.
ASKS_FURTHER = (FELL, SHAPE, HOT, WEAK)

FIRM = 4  # from here one note is enough
SEVERE = 7
WORST = 10  # "the worst you can think of" is extreme by its own words [derived]

SKIN = "fingertip"
# Words for skin alone; the others may be said of any place.
SKIN_SENSATIONS = ("sore", "dented", "blister", "broken")
FINGERS = (SKIN, "index", "second", "third", "little", "thumb")
WITHIN_THE_HOUR = ("at-once", "hour")
WITHIN_THE_DAY = (*WITHIN_THE_HOUR, "day")
NOT_YES = (None, False)
NOT_REST = ("", *WITHIN_THE_DAY, "next-day")

Condition = Mapping[str, Any]

# Fingertip skin that settles within a day, apart from all joint and doctor rules [C]; up to 3 also when it takes
# another day. Where it was not said when it settles, from 4 on a person is asked. What is felt at rest or at night is
# no skin.
_OF_SKIN: dict[str, Any] = {
    "from": 1, "place": (SKIN,), "sensation": ("", *SKIN_SENSATIONS), "at_rest": NOT_YES, "sudden": NOT_YES,
    "none": ALSO,
}  # fmt: skip
SKIN_CONDITIONS: tuple[Condition, ...] = (
    {**_OF_SKIN, "to": FIRM - 1, "settles": NOT_REST},
    {**_OF_SKIN, "settles": WITHIN_THE_DAY},
)
# Numb only at the fingertip and gone within the hour [C]: by the answer to that question, at a finger; without one, by
# a place and a time that say the same. Any yes, or a later settling, overrules it.
_OF_TIP: dict[str, Any] = {
    "at_rest": NOT_YES, "daily": NOT_YES, "sudden": NOT_YES, "face_arm_leg": NOT_YES,
    "none": tuple(one for one in ALSO if one != NUMB),
}  # fmt: skip
_BY_ANSWER = {**_OF_TIP, "tip_only": (True,), "place": FINGERS, "settles": ("", *WITHIN_THE_HOUR)}
_BY_PLACE = {**_OF_TIP, "tip_only": (None,), "place": (SKIN,), "settles": WITHIN_THE_HOUR}
_IS_NUMB: tuple[Condition, ...] = ({"sensation": ("numb",)}, {"any": (NUMB,), "sensation": ("", "numb")})
TIP_CONDITIONS: tuple[Condition, ...] = tuple({**numb, **by} for numb in _IS_NUMB for by in (_BY_ANSWER, _BY_PLACE))


@dataclass(frozen=True)
class Row:
    """code: the rule's name; level: one of LEVELS; when: any of these conditions; mark: "published", "derived" or
    "common"; source: numbers of the module's references."""

    code: str
    level: str
    when: tuple[Condition, ...]
    mark: str
    source: str


_SEVERE_SKIN: tuple[Condition, ...] = ({**_OF_SKIN, "from": SEVERE, "settles": NOT_REST},)

ROWS = (
    #   code           level        when                                                                mark, source
    Row("face", EMERGENCY, ({"face_arm_leg": (True,)},), "published", "1"),
    Row("sudden-numb", EMERGENCY,
        ({"sudden": (True,), "sensation": ("numb", "weak")}, {"sudden": (True,), "any": (NUMB, WEAK)}),
        "published", "1"),
    Row("injury-now", HOSPITAL,
        ({"all": (FELL,), "any": (SHAPE, *FURTHER_ALSO)}, {"all": (FELL,), "from": WORST}), "published", "2"),
    Row("injury", SAME_DAY, ({"any": (FELL,)},), "published", "3"),
    Row("hot", SAME_DAY, ({"any": (HOT,)},), "published", "3"),
    Row("shape", SAME_DAY, ({"any": (SHAPE, COLD, STUCK, SNAP)},), "published", "3"),
    Row("severe-skin", STOP, _SEVERE_SKIN, "derived", "4"),
    Row("numb-tip", EASE_OFF, tuple({**one, "to": SEVERE - 1} for one in TIP_CONDITIONS), "common", "C"),
    Row("skin", EASE_OFF, SKIN_CONDITIONS, "common", "C"),
    Row("severe", STOP, ({"from": SEVERE}, {"any": (EXTREME,)}), "derived", "4"),
    Row("sudden", SEE_SOMEONE, ({"sudden": (True,)},), "derived", "6"),
    Row("numb", SEE_SOMEONE, ({"sensation": ("numb",)}, {"any": (NUMB,)}), "derived", "6"),
    Row("weak", SEE_SOMEONE, ({"sensation": ("weak",)}, {"any": (WEAK,)}), "derived", "6"),
    Row("itself", SEE_SOMEONE, ({"any": (ITSELF,)},), "published", "5"),
    Row("rest", SEE_SOMEONE, ({"settles": ("rest",)}, {"at_rest": (True,)}), "derived", "6"),
    Row("next-day", SEE_SOMEONE, ({"settles": ("next-day",)},), "derived", "6"),
    Row("daily", SEE_SOMEONE, ({"daily": (True,)},), "derived", "6"),
    Row("firm", PAUSE, ({"from": FIRM},), "derived", "7"),
)  # fmt: skip


def holds(condition: Condition, note: Mapping[str, Any]) -> bool:
    """Whether each part of a condition is true of a note. note: its fields by name, `also` among them; a field that is
    missing was not answered."""
    ticked = set(note.get("also") or ())
    for name, wanted in condition.items():
        match name:
            case "from":
                fits = (note.get("discomfort") or 0) >= wanted
            case "to":
                fits = (note.get("discomfort") or 0) <= wanted
            case "any":
                fits = not ticked.isdisjoint(wanted)
            case "all":
                fits = ticked.issuperset(wanted)
            case "none":
                fits = ticked.isdisjoint(wanted)
            case _:
                fits = note.get(name) in wanted or (note.get(name) is None and "" in wanted)
        if not fits:
            return False
    return True


def is_any(conditions: Sequence[Condition], note: Mapping[str, Any]) -> bool:
    """Whether one of the conditions holds."""
    return any(holds(condition, note) for condition in conditions)


def row_of(note: Mapping[str, Any]) -> Row | None:
    """The row that a note fires by itself; None where it asks for nothing."""
    return next((row for row in ROWS if is_any(row.when, note)), None)


def as_data() -> list[dict[str, Any]]:
    """The table as JSON gives it, for the phone."""
    return [
        {
            "code": row.code,
            "level": row.level,
            "when": [{name: list(part) if isinstance(part, tuple) else part for name, part in one.items()}
                     for one in row.when],
        }
        for row in ROWS
    ]  # fmt: skip
