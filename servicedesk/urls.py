"""Every address of the house."""

from django.urls import path

from customers.admin import house_admin
from servicedesk.views.account import (
    account,
    change_password,
    firm_settings,
    sign_in,
    sign_out,
)
from servicedesk.views.health import health
from servicedesk.views.home import handle_answer, handle_office_task, home
from servicedesk.views.registers import check_register, load_register, register_template
from servicedesk.views.start import start, start_firm, start_manager, start_people
from servicedesk.views.systems import pond, system, systems
from servicedesk.views.tasks import tasks
from servicedesk.views.tickets import ticket, tickets

urlpatterns = [
    path("", home, name="home"),
    path("answers/<int:pk>/handled/", handle_answer, name="handle_answer"),
    path("office-tasks/<int:pk>/done/", handle_office_task, name="handle_office_task"),
    path("accounts/login/", sign_in, name="sign_in"),
    path("accounts/logout/", sign_out, name="sign_out"),
    path("account/", account, name="account"),
    path("account/password/", change_password, name="change_password"),
    path("settings/", firm_settings, name="firm_settings"),
    path("systems/", systems, name="systems"),
    path("systems/<int:pk>/", system, name="system"),
    path("ponds/<int:pk>/", pond, name="pond"),
    path("tickets/", tickets, name="tickets"),
    path("tickets/<int:pk>/", ticket, name="ticket"),
    path("tasks/", tasks, name="tasks"),
    path("import/", load_register, name="load_register"),
    path("import/template.<str:kind>", register_template, name="register_template"),
    path("import/<str:digest>/", check_register, name="check_register"),
    path("start/", start, name="start"),
    path("start/firm/", start_firm, name="start_firm"),
    path("start/people/", start_people, name="start_people"),
    path("start/<str:token>/", start_manager, name="start_manager"),
    path("health/", health, name="health"),
    path("admin/", house_admin.urls),
]
