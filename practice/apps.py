from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Work and hands, and every page that shows people together with work."""

    name = "practice"

    def ready(self) -> None:
        from practice import erase, mailing
        from students import held, signals

        signals.teacher_changed.connect(mailing.hear_new_teacher, dispatch_uid=self.label)
        held.register(self.label, held.Keeper(kept=erase.holds_hand_values, erase=erase.erase_hand_values))
