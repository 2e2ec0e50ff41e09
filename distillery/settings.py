"""Settings of the site: every value from the environment, every default fit for a fresh clone.

A `.env` file beside manage.py, or in the site's folder, is read first. A boolean that is not plainly true or false,
and a DATABASE_URL that cannot be read, stop the program at the start rather than be guessed at.
"""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

import environ
from csp.constants import NONE, SELF

from distillery.database.owner_only import close_to_others
from distillery.people import passwords
from distillery.starting import given_settings as given
from distillery.starting import where

BASE_DIR = where.PROGRAM
SITE_DIR = where.site_folder(os.environ)

env = environ.Env()
for _beside in dict.fromkeys([BASE_DIR if where.IS_CHECKOUT else SITE_DIR, SITE_DIR]):
    environ.Env.read_env(_beside / ".env")


def _secret_key() -> str:
    """The key from the environment, or one made once for this copy of the program and kept beside its data."""
    if "SECRET_KEY" in env:
        return given.secret_key(str(env.str("SECRET_KEY")), "SECRET_KEY")
    path = SITE_DIR / "secret-key"
    if not path.exists():
        SITE_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600)
        path.write_text(secrets.token_urlsafe(50), encoding="ascii")
    return given.secret_key(path.read_text(encoding="ascii"), f"The key in {path}")


def _pin_pepper() -> str:
    """What PINs are hashed with besides: from the environment, or made once and kept beside the site's data."""
    if "PIN_PEPPER" in env:
        return given.secret_key(str(env.str("PIN_PEPPER")), "PIN_PEPPER")
    path = SITE_DIR / "pin-pepper"
    SITE_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
    if not path.exists():
        # Written whole under another name first, so that no second process reads half of it.
        made = SITE_DIR / f"pin-pepper-{os.getpid()}"
        made.touch(mode=0o600)
        made.write_text(secrets.token_urlsafe(50), encoding="ascii")
        with suppress(FileExistsError):
            os.link(made, path)
        made.unlink()
    return given.secret_key(path.read_text(encoding="ascii"), f"The secret in {path}")


SECRET_KEY = _secret_key()
PIN_PEPPER = _pin_pepper()
DEBUG = given.boolean(env.ENVIRON, "DEBUG", default=False)
ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[])

# Printed on every page until the site enters its own; blank says that it is not named yet (`rules.stating.details`).
SITE_NAME = env.str("SITE_NAME", default="")
SITE_ADDRESS = env.str("SITE_ADDRESS", default="")
SITE_APPROVAL = env.str("SITE_APPROVAL", default="")

# Where `serve` notes the day's last seal of the books, on another disk or computer; blank notes it nowhere.
SEALS_FILE = env.str("SEALS_FILE", default="")

# Copies that `serve` takes each night: whether, where, and where besides, on another disk or computer.
KEEPS_COPIES = given.boolean(env.ENVIRON, "KEEPS_COPIES", default=True)
COPIES_FOLDER = env.str("COPIES_FOLDER", default="")
COPIES_SECOND_FOLDER = env.str("COPIES_SECOND_FOLDER", default="")
# An empty PostgreSQL database in which copies are tried, where the site's role may not make one.
COPIES_TRIED_IN = env.str("COPIES_TRIED_IN", default="")
# `serve` turns it on where it keeps copies; then every page says how old the newest is.
SAYS_COPIES = False

# Where exports and whatever else long work makes is kept, and for how many days.
LONG_WORK_FOLDER = Path(env.str("LONG_WORK_FOLDER", default=str(SITE_DIR / "long-work")))
LONG_WORK_KEPT_DAYS = given.days(env.ENVIRON, "LONG_WORK_KEPT_DAYS", default=7)
# For how many days a piece of long work that has ended is listed.
LONG_WORK_LISTED_DAYS = given.days(env.ENVIRON, "LONG_WORK_LISTED_DAYS", default=90)
# `serve` starts a process for long work; another server of the same pages does where this is on.
STARTS_LONG_WORK = given.boolean(env.ENVIRON, "STARTS_LONG_WORK", default=False)

INSTALLED_APPS = [
    "distillery",
    "distillery.clock",
    "distillery.people",
    "distillery.pen",
    "distillery.plant",
    "distillery.rules",
    "distillery.trail",
    "distillery.seals",
    "distillery.jobs",
    "distillery.copies",
    "distillery.drafts",
    "distillery.tokens",
    "distillery.prints",
    "ledger",
    "batches",
    "batches.handover",
    "batches.recalls",
    "batches.counting",
    "batches.stores",
    "batches.visits",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_filters",
    "csp",
]

MIDDLEWARE = [
    "distillery.health.slow_pages.NamesSlowPages",
    # Around all others but the one that times them, because it tells that an answer is being made.
    "distillery.afterwards.Answering",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    # Before all that reads the database, while the demonstration is being loaded into it.
    "distillery.management.loading_beside.SaysWhatIsLoaded",
    # Around the session and the messages, whose cookies go with the answer.
    "distillery.drafts.unsent.AnswersUnsent",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    # After it, because the page that gives back what was typed carries a token.
    "distillery.refusing.RefusesUnreadable",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    # Before it, because who is found to have gone is sent to sign on.
    "distillery.pen.keeper.KeepsThePen",
    "distillery.refusing.SignOnRequired",
    "distillery.drafts.pc.KnowsPC",
    "distillery.prints.register.NotesPrints",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "distillery.refusing.OutsideErrors",
]

ROOT_URLCONF = "distillery.urls"
WSGI_APPLICATION = "distillery.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [where.TEMPLATES],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "distillery.context.site",
            ],
        },
    },
]

FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

SITE_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
DATABASES = {"default": given.database(env.str("DATABASE_URL", default="") or f"sqlite:///{SITE_DIR / 'site.sqlite3'}")}
close_to_others(
    SITE_DIR, str(DATABASES["default"]["NAME"]) if DATABASES["default"]["ENGINE"].endswith("sqlite3") else ""
)
# A page view must never take the write lock; services open their own transactions.
DATABASES["default"]["ATOMIC_REQUESTS"] = False

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "people.Person"
PASSWORD_HASHERS = [
    "distillery.people.hashing.FewAtOnce",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": passwords.SHORTEST},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "distillery.people.passwords.NotPlain"},
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "shift"
LOGOUT_REDIRECT_URL = "login"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = given.time_zone(env.str("TIME_ZONE", default="Europe/London"))
USE_I18N = False
USE_TZ = True

STATIC_URL = "static/"
# Two servers that start from one copy of the program must not collect into one folder at the same time.
STATIC_ROOT = Path(env.str("STATIC_ROOT", default=str(SITE_DIR / "static")))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": env.str("STATICFILES_STORAGE", default="django.contrib.staticfiles.storage.StaticFilesStorage")
    },
}

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    },
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# The address of the proxy that speaks HTTPS before this server; its word on scheme and client is taken, no one else's.
TRUSTED_PROXY = given.address(env.ENVIRON, "TRUSTED_PROXY")
SESSION_COOKIE_SECURE = given.boolean(env.ENVIRON, "COOKIES_OVER_HTTPS_ONLY", default=bool(TRUSTED_PROXY))
# Only behind such a proxy is it known which requests came by HTTPS; without one a redirect would never end.
SECURE_SSL_REDIRECT = bool(TRUSTED_PROXY) and SESSION_COOKIE_SECURE
# What watches the server asks it from beside it.
SECURE_REDIRECT_EXEMPT = [r"^health/$"]
SECURE_HSTS_SECONDS = (
    given.days(env.ENVIRON, "HTTPS_REMEMBERED_DAYS", default=30) * 86_400 if SECURE_SSL_REDIRECT else 0
)
# The site speaks for its own name alone: not for names below it, and for no list of names that browsers carry.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
CSRF_FAILURE_VIEW = "distillery.typed.given_back.csrf_failure"
CSRF_COOKIE_SECURE = SESSION_COOKIE_SECURE
SESSION_COOKIE_AGE = 12 * 60 * 60
# After how many minutes a PC locks that is not enrolled; an enrolled one has its own.
IDLE_MINUTES = given.whole(env.ENVIRON, "IDLE_MINUTES", default=10, least=2, most=30)
# For trying the lock out: seconds, for every PC. 0 leaves it to the minutes.
IDLE_SECONDS = given.whole(env.ENVIRON, "IDLE_SECONDS", default=0, least=0, most=1800)
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000

# Where `serve` keeps its log, besides what the console shows, and from how many milliseconds on a page is named in it
# (0: none is).
LOG_FOLDER = Path(env.str("LOG_FOLDER", default=str(SITE_DIR / "log")))
SLOW_PAGE_MS = given.whole(env.ENVIRON, "SLOW_PAGE_MS", default=1000, least=0, most=600_000)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"insides_of_faults_only": {"()": "distillery.starting.console.InsidesOfFaultsOnly"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["insides_of_faults_only"]}},
    "root": {"handlers": ["console"], "level": given.log_level(env.str("LOG_LEVEL", default="WARNING"))},
}
