"""The web server's entry: `gunicorn fleetcool.wsgi`."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleetcool.settings")
application = get_wsgi_application()
