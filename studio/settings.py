"""One settings file. What differs between machines comes from the environment and fails loudly."""

from __future__ import annotations

from pathlib import Path

from csp.constants import NONE, SELF

from . import environment
from .domain.languages import ENGLISH
from .domain.languages import LANGUAGES as LANGUAGES_SPOKEN
from .sqlite_library import use_bundled_sqlite

#: Which SQLite runs: see sqlite_library.py for why the one that came with Python may be passed over.
use_bundled_sqlite()

BASE_DIR = Path(__file__).resolve().parent.parent
VAR = environment.folder("WAREBOARD_VAR", BASE_DIR / "var")

DEBUG = environment.flag("WAREBOARD_DEBUG")
#: The demo shows its mails, sign-in codes among them, to anyone who can reach it: never on a real studio.
DEMO = environment.flag("WAREBOARD_DEMO")
SECRET_KEY = environment.secret_key("WAREBOARD_SECRET_KEY", VAR / "secret-key")

#: The address printed in QR codes and written in mails.
SITE_URL = environment.text("WAREBOARD_SITE_URL", "http://127.0.0.1:8000").rstrip("/")
_site_is_https = SITE_URL.startswith("https://")
ALLOWED_HOSTS = environment.words(
    "WAREBOARD_ALLOWED_HOSTS", "127.0.0.1,localhost," + SITE_URL.split("//")[1].split("/")[0].split(":")[0]
)
CSRF_TRUSTED_ORIGINS = [SITE_URL] if _site_is_https else []

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials",
    "csp",
    "studio",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "studio.middleware.GzipPages",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.middleware.StudioMiddleware",
]

ROOT_URLCONF = "studio.urls"
WSGI_APPLICATION = "studio.wsgi.application"
AUTH_USER_MODEL = "studio.Person"

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
                "studio.context_processors.studio",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "studio.templatetags.cautions",
                "studio.templatetags.drawings",
                "studio.templatetags.studio_format",
                "studio.templatetags.navigation",
                "studio.templatetags.scripts",
            ],
        },
    }
]

DATABASES = {"default": environment.database("WAREBOARD_DATABASE_URL", VAR / "wareboard.sqlite3")}

PASSWORD_HASHERS = ["django.contrib.auth.hashers.ScryptPasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "sign-in"

# A person's own choice of language comes first, then the studio's (`middleware`); what a browser prefers does
# not count, as a phone is lent and a studio speaks one language on its boards.
LANGUAGE_CODE = ENGLISH
LANGUAGES = list(LANGUAGES_SPOKEN.items())
LOCALE_PATHS = [BASE_DIR / "studio" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = VAR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
MEDIA_ROOT = VAR / "photos"
MEDIA_ROOT.mkdir(parents=True, exist_ok=True)

globals().update(environment.email("WAREBOARD_EMAIL_URL", f"file:{VAR / 'mail'}"))
DEFAULT_FROM_EMAIL = environment.text("WAREBOARD_MAIL_FROM", "studio@quillmere.example")

# Uploads: a phone photo is shrunk before it is sent where the browser can; the cap is for where it can't.
PHOTO_MAX_BYTES = environment.whole("WAREBOARD_PHOTO_MAX_BYTES", 25 * 1024 * 1024)
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
FILE_UPLOAD_PERMISSIONS = 0o640

SESSION_COOKIE_AGE = 90 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "studio.views.errors.stale_form"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# Cookies travel over HTTPS alone wherever the site has it; a demo on 127.0.0.1 has none.
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _site_is_https
SECURE_SSL_REDIRECT = _site_is_https
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if _site_is_https else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = _site_is_https
if environment.flag("WAREBOARD_BEHIND_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-src": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"studio": {"level": "INFO"}},
}
