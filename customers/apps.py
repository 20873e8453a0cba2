from django.apps import AppConfig


class CustomersConfig(AppConfig):
    name = "customers"
    default_auto_field = "django.db.models.BigAutoField"
