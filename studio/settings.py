"""Settings of Ledgerline, all of them from the environment, safe when nothing is set.

The names read here are listed in DEVELOPERS.md; a boolean that is neither true nor false stops the start.
"""

from pathlib import Path

from csp.constants import NONE, SELF
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from studio.env import StrictEnv, kept_secret

BASE_DIR = Path(__file__).resolve().parent.parent
env = StrictEnv()

# Everything that this installation writes for itself lies in one folder that git ignores.
STATE_DIR = Path(env.str("STATE_DIR", default=str(BASE_DIR / ".state")))

DEBUG = env.flag("DEBUG", default=False)
HTTPS = env.flag("HTTPS", default=False)

SECRET_KEY_GIVEN = bool(env.str("SECRET_KEY", default=""))
SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret(STATE_DIR / "secret-key")
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])

# `manage.py backup` removes its copies after so many days, and the pages about erasing say so
BACKUP_DAYS = env.count("BACKUP_DAYS", default=30, least=1)

ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "axes",
    "csp",
    "django_filters",
    "django_htmx",
    "django_tables2",
    "studio",
    "students",
    "practice",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    # static files need neither session nor viewer: answered before both
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # a phone on a poor connection gets a fifth of the bytes; tokens are masked anew on every page
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    # before the next, whose answer it corrects
    "students.middleware.leave_session_cookie",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    # closed by default: after authentication, before any view runs
    "students.middleware.ViewerMiddleware",
    # last, so that a lockout answers in place of the view's own response
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{STATE_DIR / 'ledgerline.sqlite3'}")}
DATABASES["default"]["CONN_MAX_AGE"] = None
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    STATE_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    DATABASES["default"]["OPTIONS"] = {
        # a write that begins as a read cannot be refused half-way: it waits for its turn at BEGIN
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # FULL: an entry that was answered with "stored" survives a power cut
        "init_command": (
            "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;PRAGMA busy_timeout=20000;"
        ),
    }
else:
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "students.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "students:sign-in"
LOGIN_REDIRECT_URL = "practice:today"
LOGOUT_REDIRECT_URL = "students:sign-in"
# People come before work: the students app asks a student for its page and need not know who draws it.
ABSOLUTE_URL_OVERRIDES = {
    "students.student": lambda student: reverse("practice:student", args=[student.code])
}

# the sign-in form's field; left out, axes looks for the user model's "email", finds none and locks nobody out
AXES_USERNAME_FORM_FIELD = "username"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_CLIENT_IP_CALLABLE = "studio.network.client_address"
AXES_FAILURE_LIMIT = 6
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_TEMPLATE = "students/locked_out.html"
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", _("English"))]
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # instants are stored and computed in UTC; each studio has a zone of its own

STATIC_URL = "static/"
STATIC_ROOT = STATE_DIR / "static"
STATIC_ROOT.mkdir(mode=0o755, parents=True, exist_ok=True)  # WhiteNoise warns about a folder that is not there
# A real installation runs collectstatic once and gets hashed names that are cached for good; before that
# (and in the demo) files come straight from where they lie.
STATIC_COLLECTED = (STATIC_ROOT / "staticfiles.json").exists() and not DEBUG
WHITENOISE_USE_FINDERS = not STATIC_COLLECTED
WHITENOISE_AUTOREFRESH = DEBUG
# names without a hash say nothing of their content: browsers ask each time
WHITENOISE_MAX_AGE = 60 if STATIC_COLLECTED else 0
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "whitenoise.storage.CompressedManifestStaticFilesStorage"
            if STATIC_COLLECTED or env.flag("COLLECTING", default=False)
            else "django.contrib.staticfiles.storage.StaticFilesStorage"
        ),
    },
}

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "connect-src": [SELF],
        "form-action": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
# Pages keep "same-origin": under "no-referrer" browsers send `Origin: null` with every form, which the CSRF
# check must refuse. The one address that carries a token answers with "no-referrer" itself (students.views).
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "students.errors.csrf_failure"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", default=31_536_000 if HTTPS else 0)
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
BEHIND_PROXY = env.flag("BEHIND_PROXY", default=False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

EMAIL_CONFIG = env.email_url("EMAIL_URL", default="consolemail://")
vars().update(EMAIL_CONFIG)
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="Ledgerline <ledgerline@localhost>")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"hide_links": {"()": "studio.logs.HideLinks"}},
    "formatters": {
        "plain": {
            "()": "studio.logs.HidingFormatter",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "handlers": {
        "console": {"class": "logging.StreamHandler", "filters": ["hide_links"], "formatter": "plain"}
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        "django.server": {"handlers": ["console"], "level": "WARNING", "propagate": False},
    },
}

# django-tables2 draws with the project's own slim template and never obeys a page size above the cap.
DJANGO_TABLES2_TEMPLATE = "practice/_table.html"
DJANGO_TABLES2_PAGE_RANGE = 5
