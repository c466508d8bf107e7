"""Labels of a place: the tag in letters and in a square code that says the same."""

import io
import subprocess

import pytest
import segno
from django.core.management import call_command
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from reports.pdf.labels import CODE, GAP, HIGH, LEFT, TOP, build_labels
from reports.sheets import Label, LabelSheet
from tests.flows.bays import load, make_item, make_line, make_lot, make_place


def sheet(*tags: str) -> LabelSheet:
    labels = tuple(Label(tag, f"Thing {tag}") for tag in tags)
    return LabelSheet("Tarn Hollow Fire District", "Station 4, trailer bay", labels)


def text_of(pdf: bytes) -> list[str]:
    return [leaf.extract_text() for leaf in PdfReader(io.BytesIO(pdf)).pages]


def test_thirty_labels_stand_on_a_sheet_and_the_next_begins_another():
    pages = text_of(build_labels(sheet(*(f"GF-{number:02}" for number in range(31)))))
    assert len(pages) == 2
    assert "GF-29" in pages[0]
    assert "GF-30" in pages[1]


def test_the_same_place_gives_the_same_bytes():
    assert build_labels(sheet("SH-01")) == build_labels(sheet("SH-01"))


def test_the_code_as_printed_says_the_tag(tmp_path):
    """Read the drawn squares back off the rastered page, and hold them to the code of the tag."""
    file = tmp_path / "labels.pdf"
    file.write_bytes(build_labels(sheet("SH1-02")))
    subprocess.run(["pdftoppm", "-r", "300", "-png", "-singlefile", file, tmp_path / "page"], check=True)
    page, dots = Image.open(tmp_path / "page.png").convert("L"), 300 / 72
    wanted = [bytes(row) for row in segno.make_qr("SH1-02", error="m", boost_error=False).matrix_iter(border=2)]
    side = CODE / len(wanted)
    x, y = LEFT + GAP, TOP + (HIGH - CODE) / 2
    middle = [(i + 0.5) * side for i in range(len(wanted))]
    seen = [bytes(page.getpixel((int((x + a) * dots), int((y + d) * dots))) < 128 for a in middle) for d in middle]
    assert seen == wanted


def test_a_long_tag_is_set_smaller_and_never_cut():
    tag = "STATION-4-TRAILER-BAY-HEATER-NUMBER-0017"
    assert tag in text_of(build_labels(sheet(tag)))[0]


@pytest.mark.django_db
def test_a_place_gives_a_label_for_every_item_and_lot_in_it(department, quinn, client_of, tmp_path):
    load(department)
    make_line(department)
    make_item(department, "shelter", "SH-01")
    make_item(department, "heater", "WH-09", place="Elsewhere")
    make_lot(department)
    answer = client_of(quinn).get(reverse("reports:labels", args=[make_place(department).pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert "labels-station-4-trailer-bay.pdf" in answer["Content-Disposition"]
    (text,) = text_of(answer.content)
    assert "SH-01" in text
    assert "L1" in text
    assert "WH-09" not in text
    out = tmp_path / "labels.pdf"
    call_command("report", "--labels", make_place(department).name, "--out", str(out))
    assert "SH-01" in text_of(out.read_bytes())[0]


@pytest.mark.django_db
def test_an_empty_place_gives_an_empty_sheet(department, quinn, client_of):
    place = make_place(department, "Nothing here")
    assert client_of(quinn).get(reverse("reports:labels", args=[place.pk])).status_code == 200
