import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "firm.settings")
application = get_wsgi_application()
import_module("firm.urls")  # the code of every page and what it needs, a second that the first visitor need not wait
