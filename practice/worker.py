"""The students' service worker as it is served: its source under a version made of everything that it keeps.

Whenever one of the files changes, the version changes, the browser finds another script and installs it.
"""

import functools
import hashlib
import json
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.templatetags.static import static

FOLDER = "studio"
SOURCE = "studio/worker.js"
# What a page needs to run without a connection.
KEPT = {".css", ".js", ".svg"}


def worker_script() -> str:
    return _script() if settings.DEBUG else _script_once()


def _script() -> str:
    digest = hashlib.sha256(_file(SOURCE).read_bytes())
    names = [name for name in _names() if name != SOURCE]
    for name in names:
        digest.update(static(name).encode())
        digest.update(_file(name).read_bytes())
    told = {
        "version": digest.hexdigest()[:16],
        "kept": [static(name) for name in names],
        "queue": static("studio/queue.js"),
    }
    return f"const TOLD = {json.dumps(told)};\n{_file(SOURCE).read_text('utf-8')}"


# files do not change under a running server
_script_once = functools.cache(_script)


def _names() -> list[str]:
    """The site's own files, as static files are named."""
    folder = _file(SOURCE).parent
    return sorted(f"{FOLDER}/{path.name}" for path in folder.iterdir() if path.suffix in KEPT)


def _file(name: str) -> Path:
    found = finders.find(name)
    if not isinstance(found, str):
        raise FileNotFoundError(name)
    return Path(found)
