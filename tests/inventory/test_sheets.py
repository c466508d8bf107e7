"""Files as sheets: what is read, and what is refused with words that say how to mend it."""

import io
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.importing.sheets import Unreadable, read_sheets
from tests.inventory.registers import text_table, workbook


def written(tmp_path, raw: bytes, name: str = "r.xlsx"):
    path = tmp_path / name
    path.write_bytes(raw)
    return path


def test_cells_come_as_they_stand_with_blanks_for_none(tmp_path):
    (sheet,) = read_sheets(workbook(tmp_path / "r.xlsx", {"Items": [["Tag", None, " Qty "], [None, 2.0, 0.5]]}))
    assert (sheet.name, sheet.rows) == ("Items", [["Tag", None, "Qty"], [None, 2, 0.5]])


def test_a_line_break_inside_a_cell_breaks_no_row(tmp_path):
    (sheet,) = read_sheets(text_table(tmp_path / "r.csv", [["Item", "Note"], ["Mat", "torn\nat one end"]]))
    assert sheet.rows[1] == ["Mat", "torn\nat one end"]


def test_a_workbook_is_known_by_its_content_not_its_name(tmp_path):
    path = workbook(tmp_path / "r.xlsx", {"Items": [["Tag", "Item"]]})
    assert read_sheets(path.rename(tmp_path / "r.csv"))[0].name == "Items"


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "is empty"),
        (b"   \n ", "is empty"),
        (b"PK\x03\x04 not a workbook at all", "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600, "cannot be opened"),
        (b"\x00\x01\x02\x03" * 100, "no text table"),
        (b",,,\n,,,\n", "no filled cell"),
    ],
)
def test_what_is_no_register_is_refused_with_the_mend(tmp_path, raw, says):
    with pytest.raises(Unreadable, match=says):
        read_sheets(written(tmp_path, raw))


def test_a_file_that_is_not_there_is_said_to_be(tmp_path):
    with pytest.raises(Unreadable, match="no file"):
        read_sheets(tmp_path / "nowhere.xlsx")


def test_a_small_file_that_unpacks_to_a_flood_is_refused(tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as container:
        for n in range(5):
            container.writestr(f"xl/{n}.xml", b"0" * (100 * 2**20))
    with pytest.raises(Unreadable, match="unpacks to far more"):
        read_sheets(written(tmp_path, packed.getvalue()))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(raw=st.binary(min_size=1, max_size=300))
def test_no_bytes_crash_the_reading(tmp_path, raw):
    path = written(tmp_path, raw, "r.csv")
    try:
        sheets = read_sheets(path)
    except Unreadable as error:
        sheets = []
        said = str(error)
    else:
        said = "read"
    assert said
    assert all(isinstance(row, list) for sheet in sheets for row in sheet.rows)
