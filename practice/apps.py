from django.apps import AppConfig


class PracticeConfig(AppConfig):
    """Work and hands, and every page that shows people together with work."""

    name = "practice"

    def ready(self) -> None:
        from practice import consent_ended, erase, mailing
        from students import held, signals

        signals.teacher_changed.connect(mailing.hear_new_teacher, dispatch_uid=self.label)
        keeper = held.Keeper(
            kept=erase.holds_hand_values, erase=erase.erase_hand_values,
            eases=consent_ended.eases, ended=consent_ended.ask_for_a_talk,
        )  # fmt: skip
        held.register(self.label, keeper)
