from django.apps import AppConfig

from servicedesk.celery import app  # so that waking a job by name finds the broker

__all__ = ["ServicedeskConfig", "app"]


class ServicedeskConfig(AppConfig):
    name = "servicedesk"
    default_auto_field = "django.db.models.BigAutoField"
