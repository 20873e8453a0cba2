"""Every address of the house."""

from django.contrib import admin
from django.urls import path

from servicedesk.views.health import health

urlpatterns = [
    path("health/", health, name="health"),
    path("admin/", admin.site.urls),
]
