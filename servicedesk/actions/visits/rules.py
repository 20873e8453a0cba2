"""What a closing must say before it is taken: rules between its works and its systems."""

from equipment.kinds import RUNNING
from equipment.models import System
from servicedesk.actions.states import state_at
from servicedesk.actions.visits import measured
from servicedesk.actions.visits.payload import Node
from servicedesk.actions.visits.shapes import SentCheck, SentVisit
from servicedesk.kinds import NotDoneReason
from servicedesk.planning.calendar import site_date


def note_gaps(sent: SentVisit, node: Node) -> None:
    """Note a sentence at each answer that is missing or cannot stand beside the others."""
    checks = {check.system.pk: check for check in sent.checks}
    for work in sent.works:
        if number := work.place["system_id"]:
            _note_missing_check(work, checks.get(number), node, number)
    for check in sent.checks:
        works = [work for work in sent.works if work.place["system_id"] == check.system.pk]
        done = [work for work in works if work.done]
        if check.looked or done:
            _note_check(check, sent)
        _note_trip(check, done)
        if done:
            measured.fill_gaps(check, [work.task for work in done if work.planned])


def was_off(system: System, at) -> bool:
    """Whether the history says that the system stood still at an instant."""
    state = state_at(system, at)
    return state is not None and state.state not in RUNNING


def _note_missing_check(work, check, node, number):
    field = node.child("systems").child(str(number))
    looked = check is not None and check.looked
    if work.done and not looked:
        field.fault("found_running", "Was it running when you came?")
        field.fault("left_running", "Is it running as you leave? This must be answered.")
    found_off = looked and check.found_running is False
    if work.not_done_reason == NotDoneReason.FOUND_OFF and not found_off:
        field.fault("found_running", "You found it off: answer no here.")


def _note_check(check: SentCheck, sent: SentVisit):
    node = check.node
    if not node.text("found_running"):
        node.fault("found_running", "Was it running when you came?")
    if check.left_running is None:
        node.fault("left_running", "Is it running as you leave? This must be answered.")
    if check.left_running is False and not check.left_off_reason:
        node.fault("left_off_reason", "Say why it stays off. The office is told at once.")
    if check.left_running:
        _note_start(check, sent)
    arrived_on = site_date(sent.arrived_at, sent.site.time_zone)
    if check.off_since_on and check.off_since_on > arrived_on:
        node.fault("off_since_on", "It cannot have stopped after you found it off.")


def _note_start(check, sent):
    """Off when found, running when left: somebody answers for the start."""
    node = check.node
    if check.found_running is None and was_off(check.system, sent.arrived_at):
        node.fault(
            "found_running",
            "Our record says that it stood still. Was it running when you came, yes or no?",
        )
    if check.found_running is not False:
        return
    if check.approved_by is None:
        node.fault(
            "approved_by",
            "You found it off. Leave it off, or name the manager who approved the start.",
        )
    if not check.caution_read:
        node.fault("caution_read", "Read the caution on starting, and tick it.")


def _note_trip(check, done):
    """A trip test stops the system: it is not closed until running was seen again, or left off."""
    trips = [trip for work in done if (trip := work.found.get("trip"))]
    node = check.node
    if "tripped" in trips and check.left_running is None:
        # Said before the general sentence, for this is how a pond stays off for weeks.
        node.faults.pop(node.name("left_running"), None)
        node.fault(
            "left_running",
            "The test stopped the system. Reset the outlet and see it run, or leave it off and "
            "say why.",
        )
    if {"did_not_trip", "no_reset"} & set(trips) and check.left_running:
        node.fault(
            "left_running",
            "An outlet that fails its test protects nobody: leave the system unplugged, answer "
            "no, and a licensed electrician is called.",
        )
