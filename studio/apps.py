from django.apps import AppConfig


class StudioConfig(AppConfig):
    """The ground floor: static files, settings checks and general commands."""

    name = "studio"

    def ready(self) -> None:
        from studio import checks  # noqa: F401  (registers the checks)
