from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("reports", "0002_concerns")]

    operations = [
        migrations.AddField(
            model_name="finding", name="picture", field=models.JSONField(default=dict)
        ),
    ]
