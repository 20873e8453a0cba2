from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("servicedesk", "0014_what_if_comparisons")]

    operations = [
        migrations.AddField(
            model_name="photo",
            name="visit_key",
            field=models.UUIDField(
                blank=True,
                db_index=True,
                help_text="Of its visit, which may come later.",
                null=True,
            ),
        ),
    ]
