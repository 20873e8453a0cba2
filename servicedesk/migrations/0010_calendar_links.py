from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('servicedesk', '0009_what_a_detour_was_worth'),
    ]

    operations = [
        migrations.AddField(
            model_name='technician',
            name='calendar_number',
            field=models.PositiveIntegerField(default=1, help_text='Of the link to his calendar; a new number ends the old link.'),
        ),
    ]
