"""Forms for people: every rule has its message beside the field that can mend it."""

import datetime as dt
import unicodedata
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import forms as auth
from django.contrib.auth.password_validation import password_validators_help_texts
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from students import consent, pins
from students.calendar import day_bounds
from students.models import Consent, Guardian, Guardianship, Student, Studio, Teacher, User, UserManager
from students.viewer import Viewer, viewer_of_user
from studio.theory import INSTRUMENTS, TheoryError, read_tuning

EARLIEST_BIRTH_YEAR = 1900
EARLIEST_DAY = dt.date(1950, 1, 1)
# Nothing that a studio plans lies further ahead; a later day is a slip of the finger.
LATEST_AHEAD = dt.timedelta(days=3653)
# A paper is entered soon after it was signed; an older one was signed under another wording.
OLDEST_PAPER = dt.timedelta(days=366)


def is_one_line(text: str) -> None:
    """Names stand in headings, mails and file names: no line breaks or other control characters."""
    # Django's own message speaks of null characters
    if any(unicodedata.category(character) in {"Cc", "Zl", "Zp"} for character in text.replace("\0", "")):
        raise ValidationError(_("Write this in one line, without control characters."))


class DayInput(forms.DateInput):
    """The browser's own date picker, which reads and writes ISO days."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class TimeOfDayInput(forms.TimeInput):
    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")


def link_end(day: dt.date | None, before: dt.date | None, today: dt.date) -> dt.date | None:
    """The day until which a link works, checked when it is new; an old one may stay as it is."""
    if day is None or day == before:
        return day
    if day < today:
        raise ValidationError(_("This day is past. To stop a link at once, replace it on the people page."))
    if day > today + LATEST_AHEAD:
        raise ValidationError(_("That is more than ten years ahead. Leave it empty for a link without an end."))
    return day


# -- signing in --------------------------------------------------------------------------------------------------


class SignInForm(auth.AuthenticationForm):
    """E-mail and password, both of which a password manager may fill in."""

    username = auth.UsernameField(
        label=gettext_lazy("E-mail"),
        widget=forms.EmailInput(attrs={"autofocus": True, "autocomplete": "username"}),
    )
    error_messages = {
        "invalid_login": gettext_lazy("This e-mail address and password do not belong together. Please try again."),
        "inactive": gettext_lazy("This account may not sign in any more. Ask the studio's owner."),
        "nobody": gettext_lazy("This account belongs to nobody in a studio any more. Ask the studio's owner."),
    }

    def clean_username(self) -> str:
        return UserManager.normalise(self.cleaned_data["username"])

    def confirm_login_allowed(self, user: User) -> None:
        super().confirm_login_allowed(user)
        if viewer_of_user(user) is None:
            raise ValidationError(self.error_messages["nobody"], code="nobody")


class ForgottenPasswordForm(auth.PasswordResetForm):
    """Mails a link for a new password, also to somebody who was invited and never set a first one."""

    def get_users(self, email: str):
        return User.objects.filter(email=UserManager.normalise(email), is_active=True)


def _plain_help(form: forms.Form, name: str) -> None:
    # Django's own help text is a list in HTML; the field's help here is one paragraph of text
    form.fields[name].help_text = " ".join(password_validators_help_texts())


class NewPasswordForm(auth.SetPasswordForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain_help(self, "new_password1")


class ChangePasswordForm(auth.PasswordChangeForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _plain_help(self, "new_password1")


class SignInByEmailForm(auth.SetPasswordForm):
    """An adult student's e-mail address and password, given on their own page; or a new password alone where the
    address stands already. The validators see the address."""

    email = forms.EmailField(
        label=gettext_lazy("E-mail"), max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "username"})
    )
    stop_link = forms.BooleanField(
        label=gettext_lazy("My personal link stops working, on every phone and on paper"), required=False,
        help_text=gettext_lazy("Then only e-mail and password open your page. Your teacher can give you a new link."),
    )  # fmt: skip
    field_order = ["email", "new_password1", "new_password2", "stop_link"]

    def __init__(self, *args: Any, student: Student, **kwargs: Any) -> None:
        self.student = student
        super().__init__(User(), *args, **kwargs)
        _plain_help(self, "new_password1")

    def clean_email(self) -> str:
        email = UserManager.normalise(self.cleaned_data["email"])
        self.user.email = email
        return email

    def refuse_address(self) -> None:
        # one sentence for every reason; that an address is taken cannot be hidden from who wants to take it
        self.add_error("email", _("This address cannot be used here. Take another one, or ask your teacher."))

    def save(self, commit: bool = True) -> User | None:
        """The new user, or None with an error at the address: taken, or the student has a sign-in by now."""
        data = self.cleaned_data
        try:
            with transaction.atomic():
                user = User.objects.create_user(data["email"], data["new_password1"])
                if not Student.objects.filter(pk=self.student.pk, user__isnull=True).update(user=user):
                    raise IntegrityError
                self.student.user = user
                if data["stop_link"]:
                    self.student.replace_link()
        except IntegrityError:
            self.refuse_address()
            return None
        return user


# -- the PIN of a personal link ----------------------------------------------------------------------------------


class PinField(forms.CharField):
    """A PIN as it is typed. Not kept by the browser: a phone that remembers it is a phone without one."""

    def __init__(self, **kwargs: Any) -> None:
        attrs = {"inputmode": "numeric", "autocomplete": "off", "class": "short"}
        super().__init__(max_length=64, widget=forms.PasswordInput(attrs=attrs), **kwargs)


class UnlockForm(forms.Form):
    pin = PinField(label=gettext_lazy("PIN"))
    next = forms.CharField(required=False, max_length=2000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pin"].widget.attrs["autofocus"] = True


class PinForm(forms.Form):
    """Sets, changes or takes off the holder's PIN. One that stands is asked for, with the same patience as at the
    door: a phone left open must not hand the link over for good."""

    SET, REMOVE = "set", "remove"
    action = forms.ChoiceField(choices=[(SET, SET), (REMOVE, REMOVE)])
    current = PinField(label=gettext_lazy("The present PIN"))
    pin = PinField(
        label=gettext_lazy("New PIN"), required=False, help_text=gettext_lazy("4 to 8 digits of your choice.")
    )
    again = PinField(label=gettext_lazy("The new PIN once more"), required=False)

    def __init__(self, *args: Any, holder: Student | Guardian, now: dt.datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.holder, self.now = holder, now
        if not holder.pin:
            del self.fields["current"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("action") == self.SET:
            try:
                pins.check_choice(data.get("pin", ""))
            except ValidationError as error:
                self.add_error("pin", error)
            if not self.errors and data.get("pin") != data.get("again"):
                self.add_error("again", _("The two are not the same."))
        # last, so that a slip in the new one costs no try
        if not self.errors and self.holder.pin:
            match pins.try_pin(self.holder, data["current"], self.now):
                case pins.Answer.WRONG:
                    left = pins.tries_left(self.holder)
                    self.add_error("current", _("That is not the PIN. Tries left: %(n)s.") % {"n": left})
                case pins.Answer.WAIT:
                    self.add_error("current", _("Too many wrong tries. Wait 15 minutes."))
        return data


# -- students and guardians --------------------------------------------------------------------------------------


class StudentForm(forms.ModelForm):
    """Adds or edits a student. Only the owner chooses the teacher, from those of the studio."""

    GROUPS = (
        (gettext_lazy("Person"), ("name", "birth_year", "joined", "teacher", "replace_links", "link_expires")),
        (
            gettext_lazy("Instrument and hand"),
            (
                "instrument", "plays", "tuning", "capo", "strings", "string_gauge", "last_setup",
                "hand_size", "fingertip_mm", "reach_mm",
            ),
        ),
        (
            gettext_lazy("Lesson"),
            ("lesson_weekday", "lesson_time", "lesson_minutes", "lesson_every", "lesson_anchor"),
        ),
        (gettext_lazy("Plan"), ("plan_days", "plan_minutes", "daily_most")),
    )

    class Meta:
        model = Student
        fields = [
            "name", "birth_year", "joined", "teacher", "link_expires",
            "instrument", "plays", "tuning", "capo", "strings", "string_gauge", "last_setup",
            "hand_size", "fingertip_mm", "reach_mm",
            "lesson_weekday", "lesson_time", "lesson_minutes", "lesson_every", "lesson_anchor",
            "plan_days", "plan_minutes", "daily_most",
        ]  # fmt: skip
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "birth_year": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "joined": DayInput,
            "last_setup": DayInput,
            "link_expires": DayInput,
            "lesson_anchor": DayInput,
            "lesson_time": TimeOfDayInput,
        }

    def __init__(self, *args: Any, viewer: Viewer, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.ended_before = self.instance.link_expires
        for name in ("name", "string_gauge"):
            self.fields[name].validators.append(is_one_line)
        if viewer.owns:
            here = Teacher.objects.visible_to(viewer).select_related("user")
            working = here.filter(user__is_active=True) | here.filter(pk=self.instance.teacher_id)
            self.fields["teacher"] = forms.ModelChoiceField(
                working, label=gettext_lazy("Teacher"), empty_label=None, to_field_name="code",
                initial=self.instance.teacher.code,
            )  # fmt: skip
            self.initial["teacher"] = self.instance.teacher.code
            if self.instance.pk is not None:
                self.fields["replace_links"] = replace_links_field(
                    _("When the teacher changes, replace the links of the student and the guardians")
                )
        else:
            del self.fields["teacher"]

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields as the page shows them: (title, fields)."""
        return [(title, [self[name] for name in names if name in self.fields]) for title, names in self.GROUPS]

    def clean_birth_year(self) -> int | None:
        year = self.cleaned_data["birth_year"]
        if year is not None and not EARLIEST_BIRTH_YEAR <= year <= self.today.year:
            raise ValidationError(
                _("Write a year from %(first)s to %(last)s, or leave it empty.")
                % {"first": EARLIEST_BIRTH_YEAR, "last": self.today.year}
            )
        return year

    def clean_joined(self) -> dt.date:
        day = self.cleaned_data["joined"]
        if day > self.today:
            raise ValidationError(
                _("This day is still to come. Write the day of the first lesson, today at the latest.")
            )
        if day < EARLIEST_DAY:
            raise ValidationError(_("Write a day after 1950."))
        return day

    def clean_link_expires(self) -> dt.date | None:
        return link_end(self.cleaned_data["link_expires"], self.ended_before, self.today)

    def clean_last_setup(self) -> dt.date | None:
        day = self.cleaned_data["last_setup"]
        if day is not None and day > self.today:
            raise ValidationError(_("This day is still to come. Write the day on which somebody last checked."))
        if day is not None and day < EARLIEST_DAY:
            raise ValidationError(_("Write a day after 1950."))
        return day

    def clean_lesson_anchor(self) -> dt.date | None:
        day = self.cleaned_data["lesson_anchor"]
        if day is not None and not EARLIEST_DAY <= day <= self.today + dt.timedelta(days=366):
            raise ValidationError(_("Write a day with a lesson from the past or from the coming year."))
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self._clean_person(data)
        self._clean_instrument(data)
        self._clean_lesson(data)
        least, most = data.get("plan_minutes"), data.get("daily_most")
        if least is not None and most is not None and most < least:
            self.add_error(
                "daily_most",
                _("The daily most cannot be less than the %(minutes)s minutes of the plan.") % {"minutes": least},
            )
        return data

    def _clean_person(self, data: dict[str, Any]) -> None:
        born, joined = data.get("birth_year"), data.get("joined")
        if born is not None and joined is not None and joined.year < born:
            self.add_error("joined", _("This is before the student was born (%(year)s).") % {"year": born})

    def _clean_instrument(self, data: dict[str, Any]) -> None:
        preset = INSTRUMENTS.get(data.get("instrument", ""))
        if preset is None:
            return
        tuning = preset.tuning
        if data.get("tuning"):
            try:
                tuning = read_tuning(data["tuning"])
            except TheoryError as error:
                self.add_error("tuning", str(error))
                return
            if len(tuning) != preset.strings:
                self.add_error(
                    "tuning",
                    _("This tuning has %(count)s strings, the instrument %(strings)s.")
                    % {"count": len(tuning), "strings": preset.strings},
                )
                return
        capo = data.get("capo")
        if capo is None:
            return
        if capo >= preset.frets:
            self.add_error("capo", _("This instrument has only %(frets)s frets.") % {"frets": preset.frets})
            return
        try:
            preset.with_(tuning=tuning, capo=capo)
        except TheoryError as error:
            self.add_error("capo" if capo else "tuning", str(error))

    def _clean_lesson(self, data: dict[str, Any]) -> None:
        weekday, anchor = data.get("lesson_weekday"), data.get("lesson_anchor")
        named = "lesson_weekday" not in self.errors
        if named and weekday is None and data.get("lesson_time") is not None:
            self.add_error("lesson_weekday", _("A lesson time needs a lesson day."))
        if data.get("lesson_every") != Student.Every.FORTNIGHT:
            return
        if named and weekday is None and "lesson_weekday" not in self.errors:
            self.add_error("lesson_weekday", _("Lessons every two weeks need a lesson day."))
        if anchor is None:
            if "lesson_anchor" not in self.errors:
                self.add_error("lesson_anchor", _("Write one day on which such a lesson falls."))
        elif weekday is not None and anchor.weekday() != weekday:
            self.add_error("lesson_anchor", _("This day is not the weekday of the lesson."))

    def save(self, commit: bool = True) -> Student:
        """Writes only what was changed, so that a link replaced meanwhile stays replaced.

        A change of teacher cuts off the links that the former teacher knew, if so ticked. From a change of instrument,
        tuning or capo on, results are counted anew.
        """
        if self.instance.pk is None:
            return super().save(commit)
        changed = [name for name in self.changed_data if name in self.fields and name != "replace_links"]
        if {"instrument", "tuning", "capo"} & set(changed):
            self.instance.instrument_since = self.today
            changed.append("instrument_since")
        with transaction.atomic():
            if changed:
                self.instance.save(update_fields=changed)
            if self.cleaned_data.get("replace_links") and "teacher" in changed:
                Student.objects.filter(pk=self.instance.pk).replace_links()
        return self.instance


class StatusForm(forms.Form):
    status = forms.ChoiceField(choices=Student.Status.choices)


class GuardianForm(forms.ModelForm):
    """Edits a guardian. One person has one row, so an address stands once in a studio."""

    class Meta:
        model = Guardian
        fields = ["name", "email", "link_expires"]
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "email": forms.EmailInput(attrs={"autocomplete": "off"}),
            "link_expires": DayInput,
        }

    def __init__(self, *args: Any, viewer: Viewer, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.viewer, self.today = viewer, today
        self.ended_before = self.instance.link_expires
        self.fields["name"].validators.append(is_one_line)

    def clean_email(self) -> str:
        return UserManager.normalise(self.cleaned_data["email"])

    def clean_link_expires(self) -> dt.date | None:
        return link_end(self.cleaned_data["link_expires"], self.ended_before, self.today)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.namesake(data) is not None:
            self.add_error("email", _("Somebody else in the studio has this address already."))
        return data

    def namesake(self, data: dict[str, Any]) -> Guardian | None:
        """Another guardian of the studio with the same address."""
        if not data.get("email"):
            return None
        others = Guardian.objects.filter(studio=self.viewer.studio).exclude(pk=self.instance.pk)
        return others.filter(email__iexact=data["email"]).first()

    def save(self, commit: bool = True) -> Guardian:
        if self.instance.pk is None:
            return super().save(commit)
        if self.changed_data:
            self.instance.save(update_fields=self.changed_data)
        return self.instance


class GuardianAddForm(GuardianForm):
    """Adds a guardian to a student: somebody new, or one who is here already for a sibling.

    An address that is here already attaches its guardian only under the same name: a slip in an address must
    not open a student's pages to another family.
    """

    existing = forms.ModelChoiceField(
        Guardian.objects.none(), required=False, to_field_name="code",
        label=gettext_lazy("Somebody who is here already"), empty_label=gettext_lazy("somebody new, as written below"),
        help_text=gettext_lazy("One link then opens all of this person's children."),
    )  # fmt: skip
    field_order = ["existing", "name", "email", "link_expires"]

    def __init__(self, *args: Any, student: Student, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.student = student
        self.found: Guardian | None = None
        here = Guardian.objects.visible_to(self.viewer).exclude(guardianships__student=student)
        self.fields["existing"].queryset = here
        self.fields["name"].required = False

    def clean(self) -> dict[str, Any]:
        data = forms.ModelForm.clean(self)
        chosen, name = data.get("existing"), data.get("name")
        if "existing" in self.errors or "name" in self.errors:
            return data
        if chosen is not None:
            if name or data.get("email"):
                self.add_error("existing", _("Choose somebody or write somebody new, not both."))
            self.found = chosen
            return data
        if not name:
            self.add_error("name", _("Write a name, or choose somebody above."))
            return data
        same = self.namesake(data)
        if same is None:
            return data
        if same.guardianships.filter(student=self.student).exists():
            self.add_error("email", _("%(name)s has this address and is here already.") % {"name": same.name})
        elif same.name.casefold() == name.casefold():
            self.found = same
        elif self.fields["existing"].queryset.filter(pk=same.pk).exists():
            self.add_error(
                "email", _("This address belongs to %(name)s, who can be chosen above.") % {"name": same.name}
            )
        else:
            self.add_error(
                "email",
                _("Somebody in the studio has this address under another name. Write the name as they do, or ask"
                  " the studio's owner."),
            )  # fmt: skip
        return data

    def _post_clean(self) -> None:
        # an attached guardian stays as stored: nothing of this form is written into a row
        if self.found is None:
            super()._post_clean()

    @transaction.atomic
    def save(self, commit: bool = True) -> Guardian:
        guardian = self.found
        if guardian is None:
            self.instance.studio = self.student.studio
            guardian = super().save(commit)
        Guardianship.objects.get_or_create(guardian=guardian, student=self.student)
        return guardian


# -- consent -----------------------------------------------------------------------------------------------------


class PaperConsentForm(forms.Form):
    """A consent that was signed on paper, entered by a teacher."""

    name = forms.CharField(
        max_length=120, validators=[is_one_line], label=gettext_lazy("Name of who signed"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    guardian = forms.ModelChoiceField(
        Guardian.objects.none(), required=False, to_field_name="code", label=gettext_lazy("Which guardian"),
        empty_label=gettext_lazy("nobody of this list"),
    )  # fmt: skip
    day = forms.DateField(label=gettext_lazy("Day signed"), widget=DayInput)
    wording = forms.CharField(widget=forms.HiddenInput, initial=consent.WORDING_VERSION)
    signed = forms.BooleanField(label=gettext_lazy("The signed paper with the wording of this page is with us."))

    def __init__(self, *args: Any, student: Student, teacher: Teacher, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.student, self.teacher, self.today = student, teacher, today
        self.giver = consent.right_giver(student.birth_year, today, student.studio.adult_age)
        if self.giver == consent.GUARDIAN:
            self.fields["guardian"].queryset = student.guardians.all()
        else:
            del self.fields["guardian"]
            self.initial.setdefault("name", student.name)

    def clean_day(self) -> dt.date:
        day = self.cleaned_data["day"]
        if day > self.today:
            raise ValidationError(_("This day is still to come."))
        if day < self.today - OLDEST_PAPER:
            raise ValidationError(_("This paper is more than a year old; please have the present wording signed."))
        return day

    def clean_wording(self) -> str:
        return same_wording(self.cleaned_data["wording"])

    def save(self) -> Consent:
        # the start of the day: the hour is not known, and a withdrawal on the same day comes after it
        given_at, _end = day_bounds(self.cleaned_data["day"], self.student.studio.zone)
        return Consent.objects.create(
            student=self.student,
            given_by=self.giver,
            guardian=self.cleaned_data.get("guardian"),
            name=self.cleaned_data["name"],
            given_at=given_at,
            way=Consent.Way.PAPER,
            recorded_by=self.teacher,
            wording=self.cleaned_data["wording"],
        )


def same_wording(version: str) -> str:
    """Nobody agrees to a text that was changed while they read the former one."""
    if version != consent.WORDING_VERSION:
        raise ValidationError(_("The wording has changed meanwhile. Please read it once more."))
    return version


class OwnConsentForm(forms.Form):
    """The one click of a student or guardian: give, withdraw (with the choice to erase), erase what is still held."""

    GIVE, WITHDRAW, ERASE = "give", "withdraw", "erase"
    action = forms.ChoiceField(choices=[(GIVE, GIVE), (WITHDRAW, WITHDRAW), (ERASE, ERASE)])
    wording = forms.CharField(required=False, max_length=20)
    erase = forms.BooleanField(required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("action") == self.GIVE and "wording" not in self.errors:
            try:
                same_wording(data.get("wording", ""))
            except ValidationError as error:
                self.add_error("wording", error)
        return data


class WithdrawForm(forms.Form):
    """A withdrawal that the family told the teacher."""

    name = forms.CharField(
        max_length=120, validators=[is_one_line], label=gettext_lazy("Who withdrew it"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    erase = forms.BooleanField(
        required=False, label=gettext_lazy("And erase what was kept about the hand"),
        help_text=gettext_lazy("Only if the family asks for it. It cannot be taken back."),
    )  # fmt: skip


# -- the studio --------------------------------------------------------------------------------------------------


def zone_choices(present: str) -> list[tuple[str, str]]:
    """Places by area, with the present zone whatever it is called."""
    names = {name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "posix", "right"))}
    return [(name, name.replace("_", " ")) for name in sorted(names | {"UTC", present})]


class StudioForm(forms.ModelForm):
    class Meta:
        model = Studio
        fields = ["name", "zone", "week_start", "adult_age", "safeguarding_contact", "retention_months"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone = self.fields["zone"]
        zone.widget = forms.Select(choices=zone_choices(self.instance.zone))
        for name in ("name", "safeguarding_contact"):
            self.fields[name].validators.append(is_one_line)

    def save(self, commit: bool = True) -> Studio:
        if self.changed_data:
            self.instance.save(update_fields=self.changed_data)
        return self.instance


def replace_links_field(label: str) -> forms.BooleanField:
    return forms.BooleanField(
        label=label, required=False, initial=True,
        help_text=gettext_lazy(
            "A teacher who knew a link can go on opening it. The families then need the new ones, and adults who"
            " sign in by e-mail set that up anew."
        ),
    )  # fmt: skip


class TeacherForm(forms.ModelForm):
    """Adds a teacher with an account, or edits both."""

    email = forms.EmailField(
        label=gettext_lazy("E-mail"), max_length=254, widget=forms.EmailInput(attrs={"autocomplete": "off"})
    )
    may_sign_in = forms.BooleanField(label=gettext_lazy("May sign in"), required=False, initial=True)

    class Meta:
        model = Teacher
        fields = ["name", "email", "is_owner", "may_sign_in"]

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.viewer = viewer
        self.fields["name"].validators.append(is_one_line)
        if self.instance.pk is None:
            del self.fields["may_sign_in"]
        else:
            self.initial |= {"email": self.instance.user.email, "may_sign_in": self.instance.user.is_active}
            self.fields["replace_links"] = replace_links_field(
                _("When shut out, replace the links of this teacher's students and their guardians")
            )

    def clean_email(self) -> str:
        email = UserManager.normalise(self.cleaned_data["email"])
        if User.objects.filter(email=email).exclude(pk=self.instance.user_id).exists():
            raise ValidationError(_("There is an account with this address already."))
        return email

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self.instance.pk is not None and self.instance.pk == self.viewer.teacher.pk:
            if not data.get("is_owner"):
                self.add_error("is_owner", _("You cannot give up the studio yourself; another owner can do that."))
            if not data.get("may_sign_in"):
                self.add_error("may_sign_in", _("You cannot shut yourself out; another owner can do that."))
        return data

    def save(self, commit: bool = True) -> Teacher | None:
        """The teacher, or None with an error at the address when somebody took it in the same moment."""
        try:
            with transaction.atomic():
                return self._save()
        except IntegrityError:
            self.add_error("email", _("There is an account with this address already."))
            return None

    def _save(self) -> Teacher:
        teacher, data = self.instance, self.cleaned_data
        if teacher.pk is None:
            teacher.studio = self.viewer.studio
            teacher.user = User.objects.create_user(data["email"])
            teacher.save()
            return teacher
        if data.get("replace_links") and teacher.user.is_active and not data["may_sign_in"]:
            Student.objects.filter(teacher=teacher).replace_links()
        teacher.user.email, teacher.user.is_active = data["email"], data["may_sign_in"]
        teacher.user.save(update_fields=["email", "is_active"])
        teacher.save(update_fields=["name", "is_owner"])
        return teacher
