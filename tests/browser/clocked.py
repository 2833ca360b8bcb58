"""`manage.py` under a clock that a test moves while the server runs: `python clocked.py FILE CODE demo --port N ...`.

CODE is the folder of the code that runs. FILE holds the seconds to add to the real time; it is read at every question.
Only Django's clock is moved, which is the one that pages ask.
"""

import datetime as dt
import os
import sys
from pathlib import Path


def main() -> None:
    offset, code = Path(sys.argv[1]), sys.argv[2]
    sys.path.insert(0, code)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line
    from django.utils import timezone

    # before any model is imported, whose defaults keep the function
    timezone.now = lambda: dt.datetime.now(dt.UTC) + dt.timedelta(seconds=float(offset.read_text()))
    execute_from_command_line([f"{code}/manage.py", *sys.argv[3:]])


if __name__ == "__main__":
    main()
