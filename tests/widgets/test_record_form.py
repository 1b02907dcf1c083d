"""A form for a record: what it shows is what was put in, and what is typed is what comes out."""

from workbook.widgets.record_form import EMPTY, FormRow, RecordForm


def form() -> RecordForm:
    return RecordForm(
        {
            "scale": [
                FormRow(
                    "craft.payload_g",
                    "payload, g",
                    "weigh it",
                    origin_key="origins.payload_g",
                    origins=("measured", "assumed"),
                ),
                FormRow("craft.motor_max_a", "motor's current, A", optional=True),
            ],
            "flight": [FormRow("flight.pack_airflow", "airflow", choices=("wrapped", "still"))],
        }
    )


def test_what_is_put_in_comes_out_and_what_is_not_stated_does_not():
    shown = form()
    shown.fill({"craft.payload_g": 350.0, "origins.payload_g": "measured"})
    assert shown.value == {
        "craft.payload_g": "350",
        "origins.payload_g": "measured",
        "flight.pack_airflow": "wrapped",
    }
    shown.fields["craft.motor_max_a"].value = "30 A"
    shown.fields["origins.payload_g"].value = EMPTY
    assert shown.value["craft.motor_max_a"] == "30 A"
    assert "origins.payload_g" not in shown.value


def test_a_change_of_many_fields_is_one_event():
    shown, seen = form(), []
    shown.observe(lambda change: seen.append(change["new"]), names="value")
    shown.fill({"craft.payload_g": 350.0, "craft.motor_max_a": 20.0})
    assert len(seen) == 1


def test_steps_are_numbered_and_every_control_says_what_it_is():
    shown = form()
    assert shown.folds.titles == ("1. scale", "2. flight")
    assert all(control.tooltip for control in shown.fields.values())
