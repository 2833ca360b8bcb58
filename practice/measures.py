"""What can be measured of a goal, as a table that every other module reads.

clean     clean strings of a voicing, first try of the day: whole number, at most the strings it sounds
landings  of five placements from hand off the neck, how many ring whole; first try of the day
changes   changes a minute; each arrival counts one, over 30 s doubled or over 60 s
tempo     beats per minute, the day's highest that went through twice without a stop
seconds   seconds for all twelve roots along a string; fewer is better
right     right answers per minute in a root drill
runs      of three run-throughs, how many went without a stop
mark      a 0 to 5 mark
minutes   time alone: minutes practised in a week
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """code: as stored; unit: a code for words; lowest and highest accepted value; whole: no fractions;
    ceiling: the value cannot grow past `highest` (a count with a ceiling); fewer_is_better; first_try: the
    day's first try counts, else the day's best; usual: a target to start from."""

    code: str
    unit: str
    lowest: float
    highest: float
    usual: float
    whole: bool = True
    ceiling: bool = False
    fewer_is_better: bool = False
    first_try: bool = True

    def meets(self, value: float, target: float) -> bool:
        """Whether a value reaches the target."""
        return value <= target if self.fewer_is_better else value >= target

    def better(self, a: float, b: float) -> bool:
        """Whether `a` is strictly better than `b`."""
        return a < b if self.fewer_is_better else a > b


MEASURES: dict[str, Measure] = {
    measure.code: measure
    for measure in (
        #       code        unit       lowest highest usual
        Measure("clean", "strings", 0, 8, 6, ceiling=True),
        Measure("landings", "landings", 0, 5, 4, ceiling=True),
        Measure("changes", "changes a minute", 0, 240, 36),
        Measure("tempo", "bpm", 20, 300, 72, first_try=False),
        Measure("seconds", "s", 5, 3600, 40, fewer_is_better=True),
        Measure("right", "right a minute", 0, 240, 20),
        Measure("runs", "of three", 0, 3, 3, ceiling=True),
        Measure("mark", "mark", 0, 5, 4, ceiling=True),
        Measure("minutes", "min a week", 0, 2000, 30),
    )
}

# What each kind of goal may be measured by; the first is offered.
MEASURES_OF_KIND: dict[str, tuple[str, ...]] = {
    "chord": ("clean", "landings"),
    "change": ("changes",),
    "progression": ("tempo",),
    "roots": ("seconds", "right"),
    "piece": ("tempo", "runs", "mark", "minutes"),
}
