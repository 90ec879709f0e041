"""One settings file: safe defaults, everything else from the environment.

SECRET_KEY      must be set for serving, unless DEBUG is on
DEBUG           1 for a developer's machine (the demo sets it); default off
DATABASE_URL    default: SQLite in .data/spares.sqlite3
ALLOWED_HOSTS   comma-separated; default localhost
HTTPS           0 where a firm serves plain http on its own network (the phone app then cannot work without signal)
BEHIND_PROXY    1 where a proxy ends TLS and sets X-Forwarded-Proto
"""

import contextlib
import os
import secrets
import sys
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured


def _switch(name, default):
    return os.environ.get(name, default).strip().lower() in {"1", "yes", "true", "on"}


BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("DATA_DIR", BASE_DIR / ".data"))
DEBUG = _switch("DEBUG", "0")
COMMAND = sys.argv[1] if Path(sys.argv[0]).name == "manage.py" and len(sys.argv) > 1 else ""
TESTING = "pytest" in sys.modules or COMMAND == "test"
DEMO = COMMAND == "demo"
SERVING = not TESTING and COMMAND in {"", "serve", "runserver"}

SECRET_KEY = os.environ.get("SECRET_KEY", "")
if not SECRET_KEY and SERVING and not DEBUG:
    raise ImproperlyConfigured("Set SECRET_KEY (a long random text), or DEBUG=1 on a developer's machine.")
SECRET_KEY = SECRET_KEY or secrets.token_urlsafe(64)  # commands sign nothing that must outlive them

ALLOWED_HOSTS = [h for h in os.environ.get("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",") if h]
CSRF_TRUSTED_ORIGINS = [o for o in os.environ.get("CSRF_TRUSTED_ORIGINS", "").split(",") if o]

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "django_htmx",
    "csp",
    "axes",
    "firm",
    "inventory",
    "jobs",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    "jobs.figures.behind_newest",
]

ROOT_URLCONF = "firm.urls"
WSGI_APPLICATION = "firm.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "firm.navigation.shell",
                "jobs.figures.behind",
            ],
        },
    }
]

SQLITE = {
    "transaction_mode": "IMMEDIATE",  # with DEFERRED, four writers of five meet «database is locked»
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA mmap_size=134217728;"
    "PRAGMA cache_size=-16000; PRAGMA temp_store=MEMORY",  # FULL: a phone forgets after our 201
}
OWN_FILE = DATA_DIR / ("demo.sqlite3" if DEMO else "spares.sqlite3")
DATABASES = {"default": dj_database_url.config(default=f"sqlite:///{OWN_FILE}", conn_max_age=60)}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE
    Path(DATABASES["default"]["NAME"]).parent.mkdir(parents=True, exist_ok=True)

IN_MEMORY = {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
CACHES = {"default": IN_MEMORY, "figures": IN_MEMORY}
FIGURES = DATA_DIR / "figures"  # what is reckoned from the records, for all processes; may be deleted at any time
SHARED_FIGURES = False
if not TESTING:
    with contextlib.suppress(OSError):  # then each process keeps its own
        FIGURES.mkdir(mode=0o700, parents=True, exist_ok=True)
        if os.access(FIGURES, os.W_OK):
            CACHES["figures"] = {
                "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
                "LOCATION": FIGURES,
                "OPTIONS": {"MAX_ENTRIES": 1000},
            }
            SHARED_FIGURES = SERVING or COMMAND in {"demo", "reckon"}  # other commands reckon for themselves

AUTH_USER_MODEL = "firm.User"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "firm/locked_out.html"
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "Europe/London"
USE_I18N = True
USE_TZ = True
DATE_FORMAT = "j M Y"

STATIC_URL = "static/"
STATIC_ROOT = Path(os.environ.get("STATIC_ROOT", BASE_DIR / ".static"))
with contextlib.suppress(OSError):
    STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # whitenoise warns where there is none yet
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
if not (DEBUG or TESTING or DEMO):
    STORAGES["staticfiles"]["BACKEND"] = "whitenoise.storage.CompressedManifestStaticFilesStorage"
WHITENOISE_USE_FINDERS = DEBUG or TESTING or DEMO
MEDIA_ROOT = DATA_DIR / "media"
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}

HTTPS = _switch("HTTPS", "0" if DEBUG or TESTING or DEMO else "1")
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^healthy/$"]
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_COOKIE_SAMESITE = "Lax"
X_FRAME_OPTIONS = "DENY"
if _switch("BEHIND_PROXY", "0"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["firm.tokens.TokenAuthentication", "firm.tokens.BrowserAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["firm.problems.StrictJSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["firm.reading.StrictJSONParser"],
    "DEFAULT_FILTER_BACKENDS": ["firm.filtering.StrictFilters"],
    "DEFAULT_PAGINATION_CLASS": "firm.paging.CursorPages",
    "PAGE_SIZE": 100,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "firm.problems.problem",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "DEFAULT_THROTTLE_RATES": {"sign-in": "20/min"},
    "NUM_PROXIES": int(_switch("BEHIND_PROXY", "0")),  # without a proxy, X-Forwarded-For is only what a sender claims
    "COERCE_DECIMAL_TO_STRING": False,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Spares Book",
    "DESCRIPTION": "Van stock, prices, jobs, fitted parts and lives of one firm.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "POSTPROCESSING_HOOKS": ["firm.api_schema.with_problems"],  # no enums under names made up for them
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
}
SILENCED_SYSTEM_CHECKS: list[str] = []
