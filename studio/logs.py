"""What a log may say. A personal link opens a family's pages, a password link an account: no log line carries one."""

import logging
import re

# /open/<token> and /password/new/<user>/<token>
LINK = re.compile(r"(/open/|/password/new/)[^\s\"'?#]+")


class HideLinks(logging.Filter):
    """Replaces the token of every personal link in a record, its arguments included, and lets the record pass."""

    def filter(self, record: logging.LogRecord) -> bool:
        said = record.getMessage()
        hidden = LINK.sub(r"\1[link]", said)
        if hidden != said:
            record.msg, record.args = hidden, None
        return True


class HidingFormatter(logging.Formatter):
    """Hides the tokens in the whole text of a line, a traceback included."""

    def format(self, record: logging.LogRecord) -> str:
        return LINK.sub(r"\1[link]", super().format(record))
