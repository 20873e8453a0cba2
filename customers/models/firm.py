"""The firm that does the work, and its people."""

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from customers import kinds


def roles():
    return kinds.choices(kinds.Role)


def unit_systems():
    return kinds.choices(kinds.Units)


OXYGEN = [MinValueValidator(0.5), MaxValueValidator(15)]


class Firm(models.Model):
    """The one firm of this installation, with the settings that its manager may change."""

    only = models.BooleanField(default=True, unique=True, editable=False)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40)
    emergency_phone = models.CharField(
        max_length=40, blank=True, help_text="The public emergency number where your ponds are."
    )
    reply_to = models.EmailField(help_text="A mailbox that somebody reads.")
    postal_address = models.TextField(blank=True)
    language = models.CharField(max_length=10, default="en")
    time_zone = models.CharField(max_length=64, default="America/Chicago")
    units = models.CharField(max_length=10, choices=unit_systems, default=kinds.Units.US)
    shop_name = models.CharField(max_length=120, blank=True)
    shop_lat = models.FloatField(null=True, blank=True)
    shop_lon = models.FloatField(null=True, blank=True)
    road_factor = models.FloatField(default=1.3, help_text="Road distance over straight distance.")
    speed_km_h = models.FloatField(default=55)
    setup_min = models.PositiveSmallIntegerField(
        default=10, help_text="Minutes on arrival and departure at each stop."
    )
    day_full_percent = models.PositiveSmallIntegerField(
        default=80, help_text="A day counts as full at this share of the paid hours."
    )
    pull_forward_days = models.PositiveSmallIntegerField(default=21)
    silent_after_intervals = models.FloatField(
        default=1.5, help_text="Nobody saw a running system for so many of its shortest interval."
    )
    check_in_late_min = models.PositiveSmallIntegerField(
        default=15,  # our judgement
        help_text="Somebody alone at a pond is so many minutes late before the office is alarmed.",
    )
    quiet_from = models.TimeField(default="20:00")
    quiet_until = models.TimeField(default="08:00")
    mail_on_sunday = models.BooleanField(default=False)
    ask_owners = models.BooleanField(
        default=True,
        help_text="Owners and caretakers are asked by mail to do what they look after themselves.",
    )
    run_after_refusal = models.BooleanField(
        default=False,
        help_text="A manager may run a system under ice although its owner refuses signs or lets "
        "people onto the ice. Off: the firm does not.",
    )
    ramp_stop_mg_l = models.FloatField(
        default=3.0,  # our judgement, as the three after it
        validators=OXYGEN,
        help_text="Oxygen near the surface, below which a slow start is stopped. Our judgement.",
    )
    ramp_fall_mg_l = models.FloatField(
        default=2.0,
        validators=OXYGEN,
        help_text="It is stopped, too, when oxygen falls by more in one run. Our judgement.",
    )
    ramp_stop_cold_mg_l = models.FloatField(
        default=5.0, validators=OXYGEN, help_text="Trout need more. Our judgement."
    )
    ramp_fall_cold_mg_l = models.FloatField(
        default=1.5, validators=OXYGEN, help_text="Our judgement."
    )
    tolerances = models.JSONField(
        default=dict, blank=True, help_text="The firm's own figures for judging readings."
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(only=True), name="one_firm_only")]

    def __str__(self):
        return self.name


class User(AbstractUser):
    """A person of the firm. Owners have no account: their links in mails act for them."""

    role = models.CharField(max_length=20, choices=roles, default=kinds.Role.TECHNICIAN)
    units = models.CharField(max_length=10, choices=unit_systems, default=kinds.Units.US)
    language = models.CharField(max_length=10, default="en")
    time_zone = models.CharField(max_length=64, blank=True, help_text="Empty: that of the firm.")
    phone = models.CharField(max_length=40, blank=True)

    def __str__(self):
        return self.get_full_name() or self.username


class Trail(models.Model):
    """Who changed what, and when. Rows are added and never changed."""

    at = models.DateTimeField(db_index=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)
    did = models.CharField(max_length=60)
    about = models.CharField(max_length=60, db_index=True)  # such as "system:4"
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
