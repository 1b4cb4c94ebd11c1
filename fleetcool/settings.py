"""All settings in one place. `DATABASE_URL` and the `FLEETCOOL_…` variables are the only knobs."""

import os
from importlib.util import find_spec
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key
from django.utils.translation import gettext_lazy as _

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(os.environ.get("FLEETCOOL_VAR", BASE_DIR / "var"))
VAR_DIR.mkdir(parents=True, exist_ok=True)


def env_bool(name: str, default: bool) -> bool:
    text = os.environ.get(name, str(default)).strip().lower()
    if text not in {"1", "true", "yes", "0", "false", "no"}:
        raise ImproperlyConfigured(f"{name} is {text!r}; write yes or no.")
    return text in {"1", "true", "yes"}


def env_number(name: str, default: float) -> float:
    text = os.environ.get(name, str(default))
    try:
        return float(text)
    except ValueError:
        raise ImproperlyConfigured(f"{name} is {text!r}; write a number.") from None


def secret_key() -> str:
    """The key from the environment, else one made once and kept in `var/`, never in the repository."""
    if key := os.environ.get("FLEETCOOL_SECRET_KEY"):
        return key
    kept = VAR_DIR / "secret_key"
    try:
        handle = os.open(kept, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return kept.read_text().strip()
    key = get_random_secret_key()
    with os.fdopen(handle, "w") as file:
        file.write(key)
    return key


SECRET_KEY = secret_key()
DEBUG = env_bool("FLEETCOOL_DEBUG", False)
TLS = env_bool("FLEETCOOL_TLS", False)
ALLOWED_HOSTS = os.environ.get("FLEETCOOL_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if TLS else []
# The address that printed codes point to.
SITE_URL = os.environ.get("FLEETCOOL_SITE_URL", "http://127.0.0.1:8000").rstrip("/")
# Height of the shop above the sea: the air that a gauge reads against where a yard names no other.
SHOP_ELEVATION_M = env_number("FLEETCOOL_ELEVATION_M", 0)
# The shop's place by ISO 3166: its public holidays, and whose certificates count.
REGION = os.environ.get("FLEETCOOL_REGION", "US")
# The IPCC report whose warming potentials the shop's law counts with. AR4 in the United States
# (40 CFR 84 appendix A) and for HFC in the EU (2024/573 annex I).
GWP = os.environ.get("FLEETCOOL_GWP", "AR4")
if GWP not in ("AR4", "AR5", "AR6"):
    raise ImproperlyConfigured(f"FLEETCOOL_GWP is {GWP!r}; write AR4, AR5 or AR6.")

INSTALLED_APPS = [
    "fleetcool",
    "installs",
    "service",
    "reports",
    "fixtures",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_filters",
    "django_tables2",
    "simple_history",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleetcool.signing_in.SignInMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
]

ROOT_URLCONF = "fleetcool.urls"
WSGI_APPLICATION = "fleetcool.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

# Without a mail server, what would be sent lies in files.
EMAIL_HOST = os.environ.get("FLEETCOOL_SMTP_HOST", "")
EMAIL_PORT = int(env_number("FLEETCOOL_SMTP_PORT", 25))
EMAIL_HOST_USER = os.environ.get("FLEETCOOL_SMTP_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("FLEETCOOL_SMTP_PASSWORD", "")
EMAIL_USE_TLS = env_bool("FLEETCOOL_SMTP_TLS", False)
EMAIL_TIMEOUT = 10
EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_BACKEND = "django.core.mail.backends." + (
    "smtp.EmailBackend" if EMAIL_HOST else "filebased.EmailBackend"
)
DEFAULT_FROM_EMAIL = os.environ.get("FLEETCOOL_MAIL_FROM", "fleetcool@localhost")

DATABASES = {
    "default": dj_database_url.config(default=f"sqlite:///{VAR_DIR / 'fleetcool.sqlite3'}")
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        # Taking the write lock at BEGIN makes a second writer wait instead of fail half-way.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
    }
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "fleetcool.Person"
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "login"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
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

LANGUAGE_CODE = "en"
LANGUAGES = [("en", _("English")), ("es", _("Spanish"))]
LOCALE_PATHS = [BASE_DIR / "fleetcool" / "locale"]
TIME_ZONE = os.environ.get("FLEETCOOL_TIME_ZONE", "America/Chicago")
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
# Whitenoise warns of a folder that is not there.
STATIC_ROOT.mkdir(exist_ok=True)
COLLECTED = (STATIC_ROOT / "staticfiles.json").exists()
STATICFILES_DIRS = [("bootstrap", Path(find_spec("bootstrap").submodule_search_locations[0]))]
# Without `collectstatic` (demo, tests) files are served from where the packages keep them.
WHITENOISE_USE_FINDERS = not COLLECTED
MEDIA_ROOT = VAR_DIR / "media"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if COLLECTED
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}

CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"
DJANGO_TABLES2_TEMPLATE = "fleetcool/table.html"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
SECURE_SSL_REDIRECT = TLS
SECURE_HSTS_SECONDS = 31_536_000 if TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = TLS
SECURE_HSTS_PRELOAD = TLS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TLS else None
SESSION_COOKIE_SECURE = TLS
CSRF_COOKIE_SECURE = TLS
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14

# The record book's sheets, in the order in which they are loaded: each row may name rows before it.
RECORD_SHEETS = ["installs.records.sheets", "service.sheets"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
