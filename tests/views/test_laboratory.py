"""Pages of laboratory results: entered whole or refused with everything kept, taken back, and due again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.models import GlazeBatch, LabReport, LabTest, Person
from tests import factories
from tests.views.world import signed_in

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.7\n% a report\n"


@pytest.fixture
def maud() -> Person:
    factories.studio()
    return factories.tutor()


@pytest.fixture
def client(maud: Person) -> Client:
    return signed_in(maud)


def typed(**changed: object) -> dict[str, object]:
    return {
        "glaze_1": factories.glaze().code,
        "clay": factories.clay().code,
        "kiln": factories.kiln("Big round").code,
        "cone": "6",
        "laboratory": "Tarn End Laboratory",
        "method": "ISO 6486-1",
        "tested_on": "2025-03-01",
        "ware": "other",
        "can_be_filled": "on",
        "depth_mm": "6",
        "capacity_ml": "600",
        "unit": "mg-l",
        "lead": "0.05 <0.02 0.04",
        "cadmium": "0.01 0.01 <0.005",
        "client_id": factories.client_id(),
        **changed,
    }


def test_a_report_is_entered_once_and_its_file_is_a_download(client: Client) -> None:
    given = typed()
    for _ in range(2):
        answer = client.post(
            reverse("lab-test-new"), {**given, "report": SimpleUploadedFile("report.pdf", PDF)}
        )
        assert answer.status_code == 302
    test = LabTest.objects.get()
    page = client.get(answer.url).content.decode()
    for words in ("Below the limits of ISO 6486-2:1999", "Tarn End Laboratory", "&lt;0.005", "report.pdf"):
        assert words in page
    file = client.get(reverse("lab-report", args=[test.code]))
    assert (file.content, file.headers["Content-Type"]) == (PDF, "application/pdf")
    assert file.headers["Content-Disposition"].startswith("attachment")
    assert "Tarn End" in client.get(reverse("lab-tests")).content.decode()
    assert (
        "What laboratories found"
        in client.get(reverse("glaze", args=[test.combination.layers.get().glaze.code])).content.decode()
    )


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"method": "lemon juice overnight"}, "A test at home is good to have tried"),
        ({"method": "our own"}, "Write the method as the report names it"),
        ({"lead": "0.05 n.d. 0.1"}, "is no figure of lead"),
        ({"lead": "0.05"}, "There are 1 figures of lead and 3 of cadmium"),
        ({"kiln": ""}, "Choose the kiln, or name the firing above."),
        ({"firing": "4711"}, "There is no firing 4711."),
        ({"tested_on": "2999-01-01"}, "still to come"),
        ({"further_lead": "0.1 0.1"}, "Each of the further specimens"),
        ({"glaze_1": ""}, "field--wrong"),
        ({"cone": "99"}, "There is no cone 99."),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(
    client: Client, changed: dict[str, str], sentence: str
) -> None:
    answer = client.post(reverse("lab-test-new"), typed(notes="Three bowls of May", **changed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "Three bowls of May" in page
    assert not LabTest.objects.exists()


def test_what_is_no_pdf_is_refused(client: Client) -> None:
    answer = client.post(reverse("lab-test-new"), typed(report=SimpleUploadedFile("report.pdf", b"<script>")))
    assert answer.status_code == 422
    assert "is no PDF" in answer.content.decode()
    assert not LabReport.objects.exists()
    assert not LabTest.objects.exists()


def test_the_form_begins_with_a_pot_like_those_tested(client: Client, maud: Person) -> None:
    chalk = factories.glaze("Chalk")
    batch = GlazeBatch.objects.create(glaze=chalk, name="11", made_on="2025-01-01")
    piece = factories.piece(stage="glazed", form="mug")
    piece.glazes_on.create(surface="inside", glaze=chalk, batch=batch, put_on_at=timezone.now())
    firing = factories.closed_firing(pieces=[piece], by=maud)
    form = client.get(reverse("lab-test-new"), {"piece": piece.code}).context["form"]
    assert form.initial | {"client_id": ""} == {
        "client_id": "",
        "glaze_1": chalk.code,
        "batches": [batch.code],
        "clay": piece.clay.code,
        "ware": "cup",
        "firing": firing.number,
    }
    assert client.get(reverse("lab-test-new"), {"piece": "\x00"}).status_code == 200


def test_a_mistake_is_taken_back_and_counts_after_all(client: Client, maud: Person) -> None:
    test = factories.lab_test(glazes=[factories.glaze("Chalk")], by=maud)
    url = reverse("lab-test-take-back", args=[test.code])
    client.post(url)
    assert "Taken back" in client.get(reverse("lab-test", args=[test.code])).content.decode()
    client.post(url)
    test.refresh_from_db()
    assert test.taken_back_at is None


def test_an_old_test_is_due_on_today_on_the_glaze_and_on_the_list(client: Client, maud: Person) -> None:
    chalk = factories.glaze("Chalk")
    old = timezone.localdate() - timedelta(days=4 * 366)
    factories.lab_test(glazes=[chalk], by=maud, tested_on=old)
    assert "Have one glaze tested again" in client.get("/").content.decode()
    for url in (reverse("lab-tests"), reverse("glaze", args=[chalk.code])):
        assert "The test is more than 3 years old." in client.get(url).content.decode()
    client.post(reverse("release-limits"), {"release_scheme": "iso", "retest_years": "0"})
    assert "tested again" not in client.get("/").content.decode()


def test_a_helper_reads_and_enters_nothing(maud: Person) -> None:
    test = factories.lab_test(glazes=[factories.glaze("Chalk")], by=maud)
    ivo, ines = signed_in(factories.helper()), signed_in(factories.student())
    assert ivo.get(reverse("lab-test", args=[test.code])).status_code == 200
    assert ivo.post(reverse("lab-test-new"), typed()).status_code == 404
    assert ivo.post(reverse("lab-test-take-back", args=[test.code])).status_code == 404
    for name in ("lab-test", "lab-report"):
        assert ines.get(reverse(name, args=[test.code])).status_code == 404


def test_one_test_or_thirty_ask_the_database_equally_often(
    client: Client, maud: Person, django_assert_max_num_queries: object
) -> None:
    for _ in range(30):
        factories.lab_test(glazes=[factories.glaze(), factories.glaze()], by=maud)
    with django_assert_max_num_queries(16):
        client.get(reverse("lab-tests"))
