from django.apps import AppConfig


class StudentsConfig(AppConfig):
    """People, time, consent and access."""

    name = "students"
