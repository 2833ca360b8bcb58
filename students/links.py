"""Personal links: signed from a code and a version, never stored.

A link opens one student's pages, or those of all of one guardian's children. It is revoked by raising the
row's `link_version`, ends on the row's `link_expires`, and survives a change of the secret key through
SECRET_KEY_FALLBACKS.
"""

import uuid
from dataclasses import dataclass
from typing import Any

from django.core.signing import BadSignature, Signer

SALT = "students.link"
SESSION_KEY = "links"
# A family shares a phone or two; a session that holds more links than this drops the oldest.
MOST_LINKS = 12


@dataclass(frozen=True)
class Link:
    """role: "student" or "guardian"; code: the row's; version: the row's when the link was made."""

    role: str
    code: uuid.UUID
    version: int


def sign(code: uuid.UUID, version: int) -> str:
    """The token of a personal link."""
    return Signer(salt=SALT).sign(f"{code}:{version}")


def unsign(token: str) -> tuple[uuid.UUID, int] | None:
    """Code and version of a token, or None when it is not one of ours. Inverse of `sign`."""
    try:
        code, _, version = Signer(salt=SALT).unsign(token).partition(":")
        return uuid.UUID(code), int(version)
    except (BadSignature, ValueError):
        return None


def session_links(session: Any) -> list[Link]:
    """The links opened in this session, oldest first; anything malformed is passed over."""
    links = []
    for item in session.get(SESSION_KEY, []):
        try:
            role, code, version = item
            links.append(Link(str(role), uuid.UUID(code), int(version)))
        except (TypeError, ValueError):
            continue
    return links


def remember(session: Any, link: Link) -> None:
    """Adds a link to the session; the same person's older link is replaced."""
    kept = [old for old in session_links(session) if (old.role, old.code) != (link.role, link.code)]
    session[SESSION_KEY] = [[old.role, str(old.code), old.version] for old in [*kept, link][-MOST_LINKS:]]
