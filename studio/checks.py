"""Combinations of settings that start but should not: each a system check with an id and a way out."""

from pathlib import Path

from django.conf import settings
from django.core.checks import Error, Tags, Warning, register


@register(Tags.security)
def time_zone_is_utc(app_configs, **kwargs):
    """Days and weeks are cut in each studio's zone; a server zone other than UTC would cut them twice."""
    if settings.TIME_ZONE == "UTC" and settings.USE_TZ:
        return []
    return [Error("TIME_ZONE must be UTC.", hint="A studio's own zone is set on its page.", id="studio.E001")]


@register(Tags.security, deploy=True)
def secret_key_is_given(app_configs, **kwargs):
    """A key that was made at the first start is fine for trying out and easily lost with its folder."""
    if settings.SECRET_KEY_GIVEN:
        return []
    return [
        Warning(
            "SECRET_KEY is not set; the one in the state folder is used.",
            hint="Set SECRET_KEY, keep it with the backup: every personal link is signed with it.",
            id="studio.W001",
        )
    ]


@register(Tags.security, deploy=True)
def mail_goes_somewhere(app_configs, **kwargs):
    """Without a mail server, password links would be written to the log."""
    if not settings.EMAIL_BACKEND.endswith((".console.EmailBackend", ".dummy.EmailBackend")):
        return []
    return [
        Warning(
            "EMAIL_URL is not set; mails are written to standard output.",
            hint="Set EMAIL_URL: invitations and forgotten passwords go by mail and carry a link.",
            id="studio.W002",
        )
    ]


@register(Tags.security, deploy=True)
def database_file_is_private(app_configs, **kwargs):
    """A SQLite file holds every family's data and is for its owner only."""
    database = settings.DATABASES["default"]
    path = Path(str(database["NAME"]))
    if not database["ENGINE"].endswith("sqlite3") or not path.exists() or not path.stat().st_mode & 0o077:
        return []
    return [
        Warning(
            f"Others on this machine can read {path.name}.",
            hint="chmod 600 it, and 700 its folder: it holds health data.",
            id="studio.W003",
        )
    ]
