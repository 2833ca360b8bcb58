"""Template tags of the pages: thin wrappers over tested functions (`practice.display`, the theory core).

{% load ledger %}
{% diagram voicing %}  {% diagram voicing plays=student.plays labels="notes" uid="d1" size="large" %}
{{ value|measured:measure_code }}   {% measure value measure_code of=6 %}
{% state code %}                    {{ seconds|minutes }}   {{ day|days_ago:today }}   {{ value|number }}
{{ something_said|say }}
"""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from practice import display, words
from practice.said import Said
from studio import theory

register = template.Library()

SIZES = {"": "chord", "small": "chord small", "large": "chord large"}


@register.simple_tag
def diagram(voicing: theory.Voicing | None, size: str = "", **options: Any) -> SafeString | str:
    """A voicing's chord diagram; nothing for None.

    size: "", "small" or "large"; options: of `theory.diagram_svg`. Mirrored when the voicing's instrument
    is played left-handed, unless `plays` says otherwise. The text is safe: the theory core escapes title and
    description and checks the id.
    """
    if voicing is None:
        return ""
    options.setdefault("plays", voicing.instrument.plays)
    return _classed(theory.diagram_svg(voicing, **options), SIZES[size])


def _classed(svg: str, classes: str) -> SafeString:
    return mark_safe(re.sub(r'class="chord"', f'class="{classes}"', svg, count=1))


@register.filter
def measured(value: float | None, measure: str) -> str:
    return display.measured_text(value, measure)


@register.simple_tag
def measure(value: float | None, code: str, of: int | None = None) -> str:
    return display.measured_text(value, code, of)


@register.filter
def number(value: float) -> str:
    return display.number_text(value)


@register.filter
def say(what: Said | None) -> str:
    """What a computation has to say, as a sentence."""
    return words.say(what)


@register.filter
def minutes(seconds: float | None) -> str:
    return display.minutes_text(seconds)


@register.filter
def days_ago(day: dt.date | None, today: dt.date) -> str:
    return display.days_ago_text(day, today)


@register.simple_tag
def state(code: Any) -> SafeString:
    """Mark and word of a goal's state; takes a code or anything with a `code` (practice.progress.State)."""
    shown = display.state_mark(getattr(code, "code", code))
    return format_html(
        '<span class="state {}"><b aria-hidden="true">{}</b> {}</span>', shown.css, shown.mark, shown.word
    )
