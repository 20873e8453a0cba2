
import django.db.models.deletion
import servicedesk.models.repairs
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("servicedesk", "0007_job_beat_reached"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Repair",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=servicedesk.models.repairs.repair_kinds, max_length=20
                    ),
                ),
                ("monday_on", models.DateField()),
                ("day", models.DateField(help_text="The first day that it is about.")),
                ("facts", models.JSONField(help_text="What was said to have happened.")),
                ("says", models.CharField(max_length=250)),
                ("proposed_at", models.DateTimeField()),
                (
                    "stands",
                    models.CharField(
                        help_text="Tells whether the days are still the same.", max_length=64
                    ),
                ),
                (
                    "proposal",
                    models.JSONField(help_text="The days as they would be, and what changes."),
                ),
                ("accepted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "before",
                    models.JSONField(blank=True, default=dict, help_text="The days as they were."),
                ),
                ("undone_at", models.DateTimeField(blank=True, null=True)),
                (
                    "absence",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to="servicedesk.absence",
                    ),
                ),
                (
                    "accepted_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "hold",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to="servicedesk.hold",
                    ),
                ),
                (
                    "proposed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "undone_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        fields=["monday_on", "proposed_at"], name="servicedesk_monday__12228f_idx"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("undone_at", None), ("accepted_at__isnull", False), _connector="OR"
                        ),
                        name="only_an_accepted_repair_is_undone",
                    )
                ],
            },
        ),
    ]
