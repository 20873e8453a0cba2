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
from servicedesk.views.messages import (
    message,
    message_again,
    message_html,
    message_list,
    message_settled,
)
from servicedesk.views.owner import (
    owner_answer,
    owner_page,
    owner_stop_at_one_click,
    owner_undo,
)
from servicedesk.views.phone import (
    close_ticket,
    day_stop,
    day_visit,
    my_day,
    receive_visits,
    see_claim,
    show_way_in,
    ticket_not_done,
)
from servicedesk.views.registers import check_register, load_register, register_template
from servicedesk.views.start import start, start_firm, start_manager, start_people
from servicedesk.views.systems import pond, record_state, strike_state, system, systems
from servicedesk.views.tasks import task, tasks
from servicedesk.views.tickets import (
    accept_work,
    cancel_ticket,
    postpone_ticket,
    refuse_work,
    ticket,
    tickets,
    verify_work,
    waive_ticket,
    withdraw_decision,
)
from servicedesk.views.week import (
    cancel_plan,
    keep_stop,
    move_stop,
    place_ticket,
    plan_progress,
    plan_week,
    publish_week,
    reopen_day,
    take_off_stop,
    this_week,
    week,
    week_day,
)

urlpatterns = [
    path("messages/", message_list, name="messages"),
    path("messages/<int:pk>/", message, name="message"),
    path("messages/<int:pk>/html/", message_html, name="message_html"),
    path("messages/<int:pk>/again/", message_again, name="message_again"),
    path("messages/<int:pk>/settled/", message_settled, name="message_settled"),
    path("o/<str:token>/", owner_page, name="owner_page"),
    path("o/<str:token>/unsubscribe/", owner_stop_at_one_click, name="owner_stop_at_one_click"),
    path("o/<str:token>/undo/<uuid:uuid>/", owner_undo, name="owner_undo"),
    path("o/<str:token>/<slug:kind>/", owner_answer, name="owner_answer"),
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
    path("systems/<int:pk>/state/", record_state, name="record_state"),
    path("states/<int:pk>/strike/", strike_state, name="strike_state"),
    path("ponds/<int:pk>/", pond, name="pond"),
    path("tickets/", tickets, name="tickets"),
    path("tickets/<int:pk>/", ticket, name="ticket"),
    path("tickets/<int:pk>/postpone/", postpone_ticket, name="postpone_ticket"),
    path("tickets/<int:pk>/waive/", waive_ticket, name="waive_ticket"),
    path("tickets/<int:pk>/cancel/", cancel_ticket, name="cancel_ticket"),
    path("decisions/<int:pk>/withdraw/", withdraw_decision, name="withdraw_decision"),
    path("works/<int:pk>/accept/", accept_work, name="accept_work"),
    path("works/<int:pk>/refuse/", refuse_work, name="refuse_work"),
    path("works/<int:pk>/verify/", verify_work, name="verify_work"),
    path("tasks/", tasks, name="tasks"),
    path("tasks/<int:pk>/", task, name="task"),
    path("import/", load_register, name="load_register"),
    path("import/template.<str:kind>", register_template, name="register_template"),
    path("import/<str:digest>/", check_register, name="check_register"),
    path("start/", start, name="start"),
    path("start/firm/", start_firm, name="start_firm"),
    path("start/people/", start_people, name="start_people"),
    path("start/<str:token>/", start_manager, name="start_manager"),
    path("day/", my_day, name="my_day"),
    path("day/stop/<uuid:uuid>/", day_stop, name="day_stop"),
    path("day/stop/<uuid:uuid>/way-in/", show_way_in, name="show_way_in"),
    path("day/stop/<uuid:uuid>/seen/", see_claim, name="see_claim"),
    path("day/ticket/<int:pk>/", close_ticket, name="close_ticket"),
    path("day/ticket/<int:pk>/not-done/", ticket_not_done, name="ticket_not_done"),
    path("day/visit/<uuid:uuid>/", day_visit, name="day_visit"),
    path("day/visits/", receive_visits, name="receive_visits"),
    path("week/", this_week, name="this_week"),
    path("week/<str:name>/", week, name="week"),
    path("week/<str:name>/plan/", plan_week, name="plan_week"),
    path("week/<str:name>/progress/", plan_progress, name="plan_progress"),
    path("week/<str:name>/stop/", cancel_plan, name="cancel_plan"),
    path("week/<str:name>/publish/", publish_week, name="publish_week"),
    path("week/<str:name>/place/<int:pk>/", place_ticket, name="place_ticket"),
    path("week/<str:name>/<str:technician>/<str:day>/", week_day, name="week_day"),
    path("routes/<int:pk>/reopen/", reopen_day, name="reopen_day"),
    path("stops/<uuid:uuid>/move/", move_stop, name="move_stop"),
    path("stops/<uuid:uuid>/keep/", keep_stop, name="keep_stop"),
    path("stops/<uuid:uuid>/take-off/", take_off_stop, name="take_off_stop"),
    path("health/", health, name="health"),
    path("admin/", house_admin.urls),
]
