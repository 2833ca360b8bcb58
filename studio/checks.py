"""Combinations of settings that start but should not: each a system check with an id and a way out."""

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
