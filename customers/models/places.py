"""Where the work is: regions, sites with their way in, and ponds."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from customers import kinds
from customers.models.parties import Customer
from customers.models.sealed import SealedTextField

MONTH_DAY = "Month and day, such as 12-05. Empty: not known, ask."
NOT_AS_REGION = "Month and day, such as 12-05. Empty: as in the region."


def secret_kinds():
    return kinds.choices(kinds.SecretKind)


def hazard_kinds():
    return kinds.choices(kinds.HazardKind)


class Region(models.Model):
    """Places that share weather and roads."""

    name = models.CharField(max_length=80, unique=True)
    road_factor = models.FloatField(
        null=True, blank=True, help_text="By hand. Empty: as learned, else that of the firm."
    )
    speed_km_h = models.FloatField(null=True, blank=True, help_text="By hand, in the same way.")
    learned_road_factor = models.FloatField(null=True, blank=True)
    learned_speed_km_h = models.FloatField(null=True, blank=True)
    factor_drives = models.PositiveIntegerField(default=0, help_text="Logged drives it rests on.")
    speed_drives = models.PositiveIntegerField(default=0)
    has_winter = models.BooleanField(default=True, help_text="Ponds freeze over in most years.")
    ice_on_typical = models.CharField(max_length=5, blank=True, help_text=MONTH_DAY)
    ice_on_earliest = models.CharField(max_length=5, blank=True, help_text=MONTH_DAY)
    ice_out_typical = models.CharField(max_length=5, blank=True, help_text=MONTH_DAY)
    layering_typical = models.CharField(
        max_length=5, blank=True, help_text="When ponds begin to layer. " + MONTH_DAY
    )
    mixing_typical = models.CharField(
        max_length=5, blank=True, help_text="When ponds mix again in autumn. " + MONTH_DAY
    )
    dates_note = models.CharField(max_length=250, blank=True, help_text="Where the dates are from.")

    def __str__(self):
        return self.name

    @property
    def factor_used(self):
        """Road length over straight length; None: that of the firm."""
        return self.road_factor or self.learned_road_factor

    @property
    def speed_used_km_h(self):
        return self.speed_km_h or self.learned_speed_km_h


class SiteQuerySet(models.QuerySet):
    def visible_to(self, user):
        """Staff of the firm may read every site; nobody else has an account."""
        return self if user.is_active else self.none()


class Site(models.Model):
    """One address with its way in; it may have several ponds and cabinets."""

    key = models.CharField(max_length=40, unique=True, help_text="The firm's own number.")
    name = models.CharField(max_length=120)
    region = models.ForeignKey(Region, on_delete=models.PROTECT, null=True, blank=True)
    street = models.CharField(max_length=160, blank=True)
    town = models.CharField(max_length=80, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    lat = models.FloatField(validators=[MinValueValidator(-90), MaxValueValidator(90)])
    lon = models.FloatField(validators=[MinValueValidator(-180), MaxValueValidator(180)])
    elevation_m = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-430), MaxValueValidator(5000)]
    )
    time_zone = models.CharField(max_length=64, default="America/Chicago")
    way_in = models.TextField(blank=True, help_text="How to get in. No codes here.")
    vehicle_note = models.CharField(max_length=200, blank=True)
    no_van_from = models.CharField(
        max_length=5, blank=True, help_text="Each year no van gets in from this month and day on."
    )
    no_van_to = models.CharField(max_length=5, blank=True, help_text="The last such day.")
    no_van_note = models.CharField(max_length=120, blank=True, help_text="Mud, snow, road limits.")
    notice_h = models.PositiveSmallIntegerField(default=0, help_text="Notice the owner asks for.")
    owner_present = models.BooleanField(default=False, help_text="The owner must be home.")
    power_from = models.CharField(
        max_length=120,
        blank=True,
        help_text="Whose meter the power comes from, if not the owner's.",
    )
    power_phone = models.CharField(max_length=40, blank=True)
    public_access = models.BooleanField(null=True, help_text="May the public reach the water?")
    authority = models.CharField(
        max_length=160, blank=True, help_text="Who decides here on ice signs and permits."
    )
    has_winter = models.BooleanField(
        null=True, blank=True, help_text="Where it differs from the region, such as high up."
    )
    ice_on_typical = models.CharField(max_length=5, blank=True, help_text=NOT_AS_REGION)
    ice_on_earliest = models.CharField(max_length=5, blank=True, help_text=NOT_AS_REGION)
    ice_out_typical = models.CharField(max_length=5, blank=True, help_text=NOT_AS_REGION)
    layering_typical = models.CharField(max_length=5, blank=True, help_text=NOT_AS_REGION)
    mixing_typical = models.CharField(max_length=5, blank=True, help_text=NOT_AS_REGION)
    ice_seen_on = models.DateField(
        null=True,
        editable=False,
        help_text="Ice was seen here on it, and no ice-out since; kept by what is recorded.",
    )

    objects = SiteQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lat__gte=-90, lat__lte=90, lon__gte=-180, lon__lte=180),
                name="site_is_on_the_earth",
            ),
            models.CheckConstraint(
                condition=Q(no_van_from="", no_van_to="") | (~Q(no_van_from="") & ~Q(no_van_to="")),
                name="site_without_vans_has_both_days",
            ),
        ]

    def __str__(self):
        return self.name


class Pond(models.Model):
    """The water."""

    key = models.CharField(max_length=40, unique=True, help_text="The firm's own number.")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="ponds")
    name = models.CharField(max_length=120)
    lat = models.FloatField(null=True, blank=True)
    lon = models.FloatField(null=True, blank=True)
    area_m2 = models.FloatField(null=True, blank=True)
    depth_max_m = models.FloatField(null=True, blank=True)
    depth_mean_m = models.FloatField(null=True, blank=True)
    volume_m3 = models.FloatField(null=True, blank=True)
    fish = models.CharField(max_length=120, blank=True)
    cold_water_fish = models.BooleanField(default=False)
    fish_kill_note = models.CharField(max_length=200, blank=True)
    uses = models.JSONField(default=list, blank=True)
    invasive = models.CharField(max_length=20, blank=True)
    level_mark = models.CharField(max_length=160, blank=True, help_text="The fixed mark.")
    level_swing_m = models.FloatField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(3)],
        help_text="How far its water swings in a usual year. Empty: the firm's figure.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(depth_max_m=None)
                | Q(depth_mean_m=None)
                | Q(depth_mean_m__lte=F("depth_max_m")),
                name="pond_mean_depth_is_not_over_its_greatest",
            )
        ]

    def __str__(self):
        return self.name


class OwnershipQuerySet(models.QuerySet):
    def on_day(self, day):
        return self.filter(from_on__lte=day).filter(Q(to_on=None) | Q(to_on__gt=day))


class Ownership(models.Model):
    """A customer has a site, or one pond of it, from a day; a sale ends one and begins another."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="ownerships")
    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="ownerships"
    )
    pond = models.ForeignKey(
        Pond, on_delete=models.PROTECT, null=True, blank=True, related_name="ownerships"
    )
    from_on = models.DateField()
    to_on = models.DateField(null=True, blank=True, help_text="The first day without it.")

    objects = OwnershipQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(site=None, pond__isnull=False) | Q(pond=None, site__isnull=False),
                name="ownership_of_a_site_or_a_pond",
            ),
            models.CheckConstraint(
                condition=Q(to_on=None) | Q(to_on__gt=F("from_on")),
                name="ownership_ends_after_it_begins",
            ),
            models.UniqueConstraint(
                fields=["site"], condition=Q(to_on=None), name="one_owner_per_site_today"
            ),
            models.UniqueConstraint(
                fields=["pond"], condition=Q(to_on=None), name="one_owner_per_pond_today"
            ),
        ]


class OpeningHours(models.Model):
    """Hours in which a site may be entered; a site without any is open at all hours."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="opening_hours")
    weekday = models.PositiveSmallIntegerField(help_text="1 Monday to 7 Sunday")
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__gte=1, weekday__lte=7), name="opening_hours_on_a_weekday"
            ),
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens")), name="site_closes_after_it_opens"
            ),
        ]


class OwnerHours(models.Model):
    """When the owner is there; where he must be and has none, each visit is agreed with him."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="owner_hours")
    weekday = models.PositiveSmallIntegerField(help_text="1 Monday to 7 Sunday")
    comes = models.TimeField()
    leaves = models.TimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__gte=1, weekday__lte=7), name="owner_hours_on_a_weekday"
            ),
            models.CheckConstraint(
                condition=Q(leaves__gt=F("comes")), name="owner_leaves_after_he_comes"
            ),
        ]


class Hazard(models.Model):
    """What may hurt the person who comes; facts only."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="hazards")
    kind = models.CharField(max_length=20, choices=hazard_kinds)
    note = models.CharField(max_length=250, blank=True)
    until_on = models.DateField(null=True, blank=True)


class SiteSecret(models.Model):
    """A gate code or where the key lies, encrypted; shown on the day, and every look is kept."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="secrets")
    kind = models.CharField(max_length=20, choices=secret_kinds)
    text = SealedTextField()
    given_by = models.CharField(max_length=120, blank=True)
    entered_at = models.DateTimeField()
    until_on = models.DateField(null=True, blank=True)


class SecretLook(models.Model):
    """Who saw a secret, and when."""

    secret = models.ForeignKey(SiteSecret, on_delete=models.CASCADE, related_name="looks")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    at = models.DateTimeField()
