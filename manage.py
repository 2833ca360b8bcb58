#!/usr/bin/env python
"""Ledgerline's commands: `manage.py demo` runs the example studio, `manage.py help` lists the rest."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
