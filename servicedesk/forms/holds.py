"""A hold as somebody enters it: what it is, where, and until when."""

import json
import re

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from customers.models import Region, Site
from equipment.physics import units
from servicedesk.forms.repair import DateInput
from servicedesk.forms.ways import WayField
from servicedesk.kinds import HoldKind
from servicedesk.planning.routing.barriers import Area, area_polygon, barrier_of

KINDS = [
    (HoldKind.NO_GO_AREA, gettext_lazy("A road, a bridge or an area is closed")),
    (HoldKind.TREATMENT, gettext_lazy("The water is treated: no visit, no start")),
    (HoldKind.HEAT, gettext_lazy("Heat: nothing is started, or stopped for long")),
    (HoldKind.BLACKOUT, gettext_lazy("Nobody may come: a wedding, a hunt, a derby")),
]
NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?")
MOST_LETTERS = 20_000  # of a pasted shape


class SiteField(forms.CharField):
    """A site by its number or its name; a list of thousands helps nobody."""

    def __init__(self, **kwargs):
        super().__init__(max_length=120, **kwargs)

    def clean(self, value):
        word = super().clean(value)
        if not word:
            return None
        found = list(Site.objects.filter(Q(key__iexact=word) | Q(name__iexact=word))[:2])
        if len(found) == 1:
            return found[0]
        like = Site.objects.filter(Q(key__icontains=word) | Q(name__icontains=word))
        names = ", ".join(f"{site.name} ({site.key})" for site in like.order_by("name")[:5])
        if found:
            raise ValidationError(_("Several sites are called that. Write its number: %s.") % names)
        if names:
            raise ValidationError(_("No site is called that. Did you mean: %s?") % names)
        raise ValidationError(_("No site is called that. Write its number or its name."))


class HoldForm(forms.Form):
    kind = forms.ChoiceField(label=gettext_lazy("What it is"), choices=KINDS)
    site = SiteField(
        label=gettext_lazy("Site"), required=False, help_text=gettext_lazy("Its number or name.")
    )
    region = forms.ModelChoiceField(
        Region.objects.order_by("name"),
        label=gettext_lazy("or region"),
        required=False,
        help_text=gettext_lazy("For all of its sites; not for a closed road."),
    )
    point = forms.CharField(
        label=gettext_lazy("or a point"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Closed road only. Latitude and longitude, such as 44.95, -93.10."),
    )
    radius = WayField(label="", required=False, most_km=100)
    shape = forms.CharField(
        label=gettext_lazy("or a shape"),
        required=False,
        max_length=MOST_LETTERS,
        widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false"}),
        help_text=gettext_lazy(
            "Closed road only. A GeoJSON polygon that nobody enters, or a line that nobody "
            "crosses, such as a river whose bridge is closed."
        ),
    )
    way_round = WayField(label="", required=False, most_km=500)
    from_on = forms.DateField(label=gettext_lazy("First day"), widget=DateInput)
    to_on = forms.DateField(label=gettext_lazy("Last day"), widget=DateInput)
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=200,
        help_text=gettext_lazy("Bridge works, herbicide by the owner's contractor, …"),
    )

    def __init__(self, *args, reader_units, **kwargs):
        super().__init__(*args, **kwargs)
        self.unit = units.readers_unit("distance", reader_units)
        named = {"unit": self.unit}
        self.fields["radius"].label = _("Closed so far round it, %(unit)s") % named
        self.fields["way_round"].label = _("The way round is longer by, %(unit)s") % named
        self.fields["way_round"].help_text = _(
            "By road, if you know it. Empty: the shortest way round on the map."
        )
        for name in ("radius", "way_round"):
            self.fields[name].unit = self.unit

    def clean(self):
        found = super().clean()
        if self.errors:
            return found
        if found["to_on"] < found["from_on"]:
            self.add_error("to_on", _("The last day lies before the first one."))
        if found["kind"] == HoldKind.NO_GO_AREA:
            self._clean_area(found)
        else:
            self._clean_place(found)
        return found

    def _clean_place(self, found):
        for name in ("point", "radius", "shape", "way_round"):
            if found[name]:
                self.add_error(name, _("Only for a closed road or area. Take it out."))
        if (found["site"] is None) == (found["region"] is None):
            self.add_error("site", _("Name one site or one region."))

    def _clean_area(self, found):
        if found["region"]:
            self.add_error("region", _("A closed road needs a place on the map, not a region."))
        if sum(bool(found[name]) for name in ("site", "point", "shape")) != 1:
            self.add_error("site", _("Name one site, one point or one shape."))
        elif found["shape"]:
            if found["radius"]:
                self.add_error("radius", _("A shape has its own edge. Take the distance out."))
            self._add_shape(found)
        elif not found["radius"]:
            self.add_error("radius", _("Write how far round it nobody gets through."))
        elif middle := self._middle(found):
            found["area"] = area_polygon(Area(*middle, found["radius"]))

    def _add_shape(self, found):
        try:
            shape = json.loads(found["shape"])
            barrier = barrier_of(shape)
        except (ValueError, RecursionError) as error:
            words = str(error) if type(error) is ValueError else ""
            self.add_error("shape", words or _("This is no GeoJSON. Copy it whole."))
            return
        corners = [list(corner) for corner in barrier.corners]
        found["area"] = (
            {"type": "LineString", "coordinates": corners}
            if barrier.is_line
            else {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}
        )

    def _middle(self, found):
        if found["site"]:
            return found["site"].lat, found["site"].lon
        words = found["point"]
        numbers = [float(n.replace(",", ".")) for n in NUMBER.findall(words)]
        if len(numbers) != 2 or re.search(r"[^\W\d_]", words):
            self.add_error("point", _("Write two numbers, such as 44.95, -93.10."))
            return None
        latitude, longitude = numbers
        if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
            self.add_error("point", _("Latitude first, -90 to 90; then longitude, -180 to 180."))
            return None
        return latitude, longitude

    def hold(self):
        """What `enter_hold` takes."""
        data = self.cleaned_data
        is_area = data["kind"] == HoldKind.NO_GO_AREA
        return {
            "kind": HoldKind(data["kind"]),
            "site": None if is_area else data["site"],
            "region": data["region"],
            "area": data.get("area"),
            "way_round_km": data["way_round"],
            "from_on": data["from_on"],
            "to_on": data["to_on"],
            "reason": data["reason"],
        }


class NoVanForm(forms.Form):
    """The days of each year on which no van gets to a site."""

    site = SiteField(label=gettext_lazy("Site"), help_text=gettext_lazy("Its number or name."))
    first = forms.CharField(
        label=gettext_lazy("From each year"),
        required=False,
        max_length=5,
        help_text=gettext_lazy("Month and day, such as 11-15. Both empty: a van always gets in."),
    )
    last = forms.CharField(
        label=gettext_lazy("To and including"),
        required=False,
        max_length=5,
        help_text=gettext_lazy("Such as 04-30; it may lie in the next year."),
    )
    note = forms.CharField(
        label=gettext_lazy("Why"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("Snow, mud, road limits in spring …"),
    )
