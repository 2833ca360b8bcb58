"""How the log of a session is laid out: which goals stand open and which wait under "Other goals"."""

from django import template

from practice.entry_form import folded

register = template.Library()
register.filter("folded", folded)
