"""Reading the environment strictly: a value that cannot be understood stops the start."""

import os
import secrets
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

TRUE = frozenset({"true", "yes", "on", "1"})
FALSE = frozenset({"false", "no", "off", "0", ""})


class StrictEnv(environ.Env):
    """django-environ, except that a boolean is one of the eight words above or the start stops.

    The library reads every unknown word ("Ture") as False, which would switch protections off unseen.
    """

    def flag(self, name: str, default: bool) -> bool:
        text = self.str(name, default=str(default)).strip().lower()
        if text in TRUE:
            return True
        if text in FALSE:
            return False
        raise ImproperlyConfigured(f"{name} is {text!r}: write true or false.")

    def count(self, name: str, default: int, least: int) -> int:
        """A whole number of at least `least`; anything else stops the start."""
        text = self.str(name, default=str(default)).strip()
        if text.isascii() and text.isdigit() and len(text) <= 6 and int(text) >= least:
            return int(text)
        raise ImproperlyConfigured(f"{name} is {text!r}: write a whole number from {least} to 999999.")


def kept_secret(path: Path) -> str:
    """The secret key of this installation: made at the first start, readable by its owner only, then kept.

    Two processes that start at once agree: the key is written whole to a file of its own and linked into
    place, which only one of them can do.
    """
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return path.read_text(encoding="ascii").strip()
