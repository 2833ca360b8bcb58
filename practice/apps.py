from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Work and hands, and every page that shows people together with work."""

    name = "practice"
