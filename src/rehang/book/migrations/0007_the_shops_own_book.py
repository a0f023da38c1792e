from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0006_visits_and_codes")]

    operations = [
        migrations.AddField(
            model_name="job",
            name="is_shop",
            field=models.BooleanField(default=False),
        ),
    ]
