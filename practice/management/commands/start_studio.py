"""`manage.py start_studio`: the first studio of a real installation, and its owner."""

import getpass
import os
import sys
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import IntegrityError, OperationalError, ProgrammingError, transaction
from django.utils.translation import gettext as _

from students.models import Studio, Teacher, User

VARIABLE = "STUDIO_OWNER_PASSWORD"
TRIES = 3


class Command(BaseCommand):
    help = (
        "Makes a studio and its owner. The password is asked for on the terminal, or taken from the environment "
        f"variable {VARIABLE}."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the studio's name")
        parser.add_argument("--owner-name", required=True, help="the owner's name, as students know it")
        parser.add_argument("--email", required=True, help="the owner's e-mail address, to sign in with")
        parser.add_argument("--zone", default="Europe/London", help="time zone such as Europe/London, the default")

    def handle(self, *args: Any, **options: Any) -> None:
        studio = Studio(name=options["name"].strip(), zone=options["zone"])
        user = User(email=User.objects.normalise(options["email"]))
        owner = Teacher(name=options["owner_name"].strip(), is_owner=True)
        check(studio, "name", exclude=["code"])
        check(user, "email", exclude=["password"], unique=False)
        check(owner, "owner-name", exclude=["code", "studio", "user"])
        try:
            taken = User.objects.filter(email=user.email).exists()
        except (OperationalError, ProgrammingError) as error:
            raise CommandError(_("The database is not ready (%s): run `manage.py migrate` first.") % error) from error
        if taken:
            raise CommandError(in_use(user.email))
        user.set_password(self.password(user))
        try:
            with transaction.atomic():
                studio.save()
                user.save()
                owner.studio, owner.user = studio, user
                owner.save()
        except IntegrityError as error:  # somebody was quicker
            raise CommandError(in_use(user.email)) from error
        said = {"studio": studio.name, "owner": owner.name, "email": user.email}
        self.stdout.write(_("%(studio)s is ready. %(owner)s signs in as %(email)s.") % said)

    def password(self, user: User) -> str:
        """From the environment, or typed twice; checked by the same rules as on the password page."""
        given = os.environ.get(VARIABLE)
        if given is not None:
            try:
                validate_password(given, user)
            except ValidationError as error:
                raise CommandError(f"{VARIABLE}: " + " ".join(error.messages)) from error
            return given
        if not sys.stdin.isatty():
            raise CommandError(_("There is no terminal to ask for a password: set %s.") % VARIABLE)
        for _try in range(TRIES):
            typed = getpass.getpass(_("Password for %s: ") % user.email)
            try:
                validate_password(typed, user)
            except ValidationError as error:
                self.stderr.write(" ".join(error.messages))
                continue
            if getpass.getpass(_("The same again: ")) == typed:
                return typed
            self.stderr.write(_("The two differ."))
        raise CommandError(_("No password was set; nothing was stored."))


def in_use(email: str) -> str:
    return _("%s is in use already: somebody signs in with it. Nothing was stored.") % email


def check(row: Studio | User | Teacher, option: str, *, exclude: list[str], unique: bool = True) -> None:
    """Validates a row's fields by the model's own rules; a CommandError names the option."""
    names = {"zone": "--zone", "name": "NAME" if option == "name" else f"--{option}", "email": "--email"}
    try:
        row.clean_fields(exclude=exclude)
    except ValidationError as error:
        said = "; ".join(
            f"{names.get(field, field)}: {' '.join(messages)}" for field, messages in error.message_dict.items()
        )
        raise CommandError(said) from error
