"""Mail kept as files."""

import email
from email import policy
from pathlib import Path

from django.core.mail import EmailMultiAlternatives, get_connection
from django.test.utils import override_settings


def test_each_message_is_one_whole_file(tmp_path: Path) -> None:
    """Headers, text and HTML are read back; files sort in the order they were sent."""
    with override_settings(EMAIL_FILE_PATH=str(tmp_path / "notices")):
        backend = get_connection("config.mail.EmlFileBackend")
        for number in range(3):
            message = EmailMultiAlternatives(
                f"Door {number} \u00e9",
                "plain",
                "records@doors.example",
                ["owner@quillhaven.example"],
                headers={"List-Unsubscribe": "<https://records.example/stop>"},
                connection=backend,
            )
            message.attach_alternative("<p>html</p>", "text/html")
            assert message.send() == 1
    files = sorted((tmp_path / "notices").iterdir())
    assert [file.suffix for file in files] == [".eml"] * 3
    read = [email.message_from_bytes(file.read_bytes(), policy=policy.default) for file in files]
    assert [each["Subject"] for each in read] == [f"Door {n} \u00e9" for n in range(3)]
    assert read[0]["To"] == "owner@quillhaven.example"
    assert read[0]["List-Unsubscribe"] == "<https://records.example/stop>"
    body = read[0].get_body(("html",))
    assert body is not None
    assert body.get_content().strip() == "<p>html</p>"


def test_a_message_to_nobody_is_not_kept(tmp_path: Path) -> None:
    """As a mail server would refuse it."""
    with override_settings(EMAIL_FILE_PATH=str(tmp_path)):
        backend = get_connection("config.mail.EmlFileBackend")
        assert EmailMultiAlternatives("x", "y", connection=backend).send() == 0
    assert list(tmp_path.iterdir()) == []
