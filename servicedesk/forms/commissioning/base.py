"""What every step of a handing over has: facts, points answered for by name, photos, doubts."""

from hashlib import blake2b

from django import forms
from django.utils.translation import gettext_lazy as _

from servicedesk.actions.commissioning.said import Said
from servicedesk.forms.commissioning.measures import MeasureField
from servicedesk.kinds import PhotoKind, Point, Step

STEPS = {
    Step.SITE: _("Site and way in"),
    Step.PEOPLE: _("People"),
    Step.POND: _("Pond and water mark"),
    Step.ELECTRICS: _("Cabinet and electrics"),
    Step.COMPRESSOR: _("Compressor and serials"),
    Step.LINES: _("Lines and plates"),
    Step.START: _("First start and running in"),
    Step.READINGS: _("Readings of the first day"),
    Step.PAPERS: _("Papers and safety talk"),
}
POINTS = {
    Point.HAZARDS_LOOKED_FOR: _(
        "I looked for hazards: dog, bees, steep bank, dam face, soft ground, overhead lines, no "
        "signal"
    ),
    Point.MAIL_READ_BACK: _("I read the mail address back to the owner, letter by letter"),
    Point.NOTHING_DUG: _("Nothing was dug"),
    Point.UTILITIES_LOCATED: _("Utilities were located before anybody dug"),
    Point.GFCI_TESTED: _("I pressed the test button of the GFCI: it tripped, and reset once"),
    Point.CABINET_ABOVE_WATER: _("I checked that the cabinet stands above the highest water known"),
    Point.NEVER_ALONE: _("Nobody was alone on the water"),
    Point.JACKETS_WORN: _("Life jackets were worn on the water"),
    Point.SERIAL_UNREADABLE: _("The compressor's serial number cannot be read"),
    Point.NO_HOUR_METER: _("There is no hour meter; hours are estimated"),
    Point.RESTART_CAUTION: _("I have read the caution on starting"),
    Point.TALK_GIVEN: _("The safety talk was held with the owner"),
    Point.THIN_ICE_GIVEN: _("The notice about thin ice was handed over"),
    Point.RAMP_PLAN_GIVEN: _("The plan for running in was handed over"),
    Point.WINTER_ASKED_LATER: _("How it spends the winter is asked in September"),
}
NOTES = {  # what is asked beside a point
    Point.TALK_GIVEN: _("With whom"),
    Point.THIN_ICE_GIVEN: _("To whom, and how: signed paper, mail"),
    Point.RAMP_PLAN_GIVEN: _("To whom"),
}
FACTS = {Point.NOTHING_DUG, Point.NO_HOUR_METER, Point.SERIAL_UNREADABLE}  # these may change
PHOTOS = {
    PhotoKind.CABINET_OPEN: _("Photo: cabinet, open"),
    PhotoKind.NAMEPLATE: _("Photo: nameplate of the compressor"),
    PhotoKind.GAUGE: _("Photo: gauge, its scale readable"),
    PhotoKind.BOIL: _("Photo: boil over the plates"),
    PhotoKind.TRENCH: _("Photo: trench before backfill"),
    PhotoKind.LEVEL_MARK: _("Photo: level mark"),
}
DAY = {"type": "date"}


def day_input():
    return forms.DateInput(attrs=DAY, format="%Y-%m-%d")


def text(label, most, *, lines=False, help_text=""):
    widget = forms.Textarea(attrs={"rows": 3}) if lines else forms.TextInput()
    return forms.CharField(
        label=label, max_length=most, required=False, widget=widget, help_text=help_text
    )


class StepForm(forms.Form):
    """Fields may be left empty: what is still missing is said, and the rest is kept."""

    step: Step
    points: tuple[Point, ...] = ()
    pictures: tuple[PhotoKind, ...] = ()
    folded: tuple[str, ...] = ()  # asked only now and then; `fold` says when
    fold = ""

    def __init__(self, *args, sheet, user, **options):
        self.sheet, self.user = sheet, user
        super().__init__(*args, initial=self.known(sheet), **options)
        self.prepare()
        for point in self.points:
            self._ask(point)
        for kind in self.pictures:
            picker = forms.FileInput(attrs={"accept": "image/*"})
            field = forms.FileField(label=PHOTOS[kind], required=False, widget=picker)
            self.fields[f"photo_{kind}"] = field
        for name, field in self.fields.items():
            if isinstance(field, MeasureField):
                field.read_in(user.units, self.initial.get(name))

    def known(self, sheet) -> dict:
        """What is on record, by field."""
        return {}

    def prepare(self):
        """Fields that depend on what stands there."""

    def odd(self) -> list[str]:
        """What deserves a second look in the values that were typed."""
        return []

    def _ask(self, point):
        answered = point in self.sheet.points
        if answered and point in FACTS:
            self.fields[f"back_{point}"] = forms.BooleanField(
                label=_("Take back: %s") % POINTS[point], required=False
            )
        if not answered:
            self.fields[f"point_{point}"] = forms.BooleanField(label=POINTS[point], required=False)
            if point in NOTES:
                self.fields[f"note_{point}"] = forms.CharField(
                    label=NOTES[point], max_length=200, required=False
                )

    def clean(self):
        typed = super().clean()
        for point in self.points:
            if typed.get(f"point_{point}") and point in NOTES and not typed.get(f"note_{point}"):
                self.add_error(f"note_{point}", _("Say it: it stands beside the point."))
        return typed

    @property
    def answered(self):
        """Points that somebody answers for already: words, and the row."""
        rows = [(point, self.sheet.points.get(point)) for point in self.points]
        return [(POINTS[point], row) for point, row in rows if row is not None]

    @property
    def facts(self):
        own = [f for f in self.visible_fields() if not f.name.startswith(PARTS)]
        return [f for f in own if f.name not in self.folded]

    @property
    def asked_folded(self):
        return [self[name] for name in self.folded]

    @property
    def fold_is_open(self):
        return any(
            self.errors.get(name) or (self.is_bound and self.cleaned_data.get(name))
            for name in self.folded
            if name != "role"
        )

    @property
    def asked_points(self):
        return [f for f in self.visible_fields() if f.name.startswith(PARTS[:3])]

    @property
    def asked_photos(self):
        """(field, photos of that kind that are kept already)."""
        kept = list(self.sheet.record.photos.all())
        return [
            (self[f"photo_{kind}"], [photo for photo in kept if photo.kind == kind])
            for kind in self.pictures
        ]

    def questions(self):
        """(key, sentence) of each doubt that nobody has looked at again."""
        known = {row.says for row in self.sheet.record.doubts_confirmed.all()}
        sure = set(self.data.getlist("sure")) if self.is_bound else set()
        asked = [(key_of(says), says) for says in self.odd() if says not in known]
        self.confirmed = [says for key, says in asked if key in sure]
        return [(key, says) for key, says in asked if key not in sure]

    def said(self) -> Said:
        typed = self.cleaned_data
        points = {
            point: typed.get(f"note_{point}", "")
            for point in self.points
            if typed.get(f"point_{point}")
        }
        back = [point for point in self.points if typed.get(f"back_{point}")]
        return Said(points, back, self.confirmed)

    def pick(self, *names):
        return {name: self.cleaned_data.get(name) for name in names}


PARTS = ("point_", "note_", "back_", "photo_")


def key_of(says):
    """A doubt by what it says: another value is another doubt."""
    return blake2b(str(says).encode(), digest_size=8).hexdigest()
