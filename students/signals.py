"""What apps above may want to hear of; they connect when they start (their AppConfig.ready)."""

from django.dispatch import Signal

# A student has gone over to another teacher. Sent after it was stored, with `student`, `now`, and `absolute`: from a
# path to a whole address (`request.build_absolute_uri`).
teacher_changed = Signal()
