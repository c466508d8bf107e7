import io
import uuid

import pytest
from django.conf import settings
from PIL import Image

from shared.api import AlreadySent, Conflict
from shared.files import LONGEST_SIDE_PX, keep_file, path_of
from shared.models import StoredFile


def photo(size=(3000, 2000), kind="JPEG", **how):
    out = io.BytesIO()
    Image.new("RGB", size, (90, 90, 90)).save(out, kind, **how)
    return out.getvalue()


def keep(quinn, content, **more):
    return keep_file(department=quinn.department, content=content, name="IMG 1.jpg", by=quinn, **more)


@pytest.fixture(autouse=True)
def _folder(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path


def test_a_photo_is_kept_smaller_and_without_where_it_was_taken(quinn):
    exif = Image.Exif()
    exif[0x010F] = "camera"
    exif[0x0112] = 6  # turned a quarter
    kept = keep(quinn, photo(exif=exif))
    with Image.open(path_of(kept)) as image:
        assert max(image.size) == LONGEST_SIDE_PX
        assert image.height > image.width
        assert not image.getexif()
    assert kept.sort == "image/jpeg"
    assert path_of(kept).stat().st_size == kept.size


def test_the_same_id_keeps_one_and_another_photo_under_it_is_refused(quinn):
    one = uuid.uuid4()
    first = keep(quinn, photo(), client_id=one)
    assert keep(quinn, photo(), client_id=one) == first
    with pytest.raises(AlreadySent):
        keep(quinn, photo(size=(10, 10)), client_id=one)
    assert StoredFile.objects.count() == 1


@pytest.mark.parametrize("content", [b"", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"MZ\x90", photo()[:300]])
def test_what_is_no_photo_and_no_paper_is_refused_and_leaves_nothing(quinn, content):
    with pytest.raises(Conflict):
        keep(quinn, content)
    assert not list(settings.MEDIA_ROOT.rglob("*.*"))


def test_a_file_that_is_too_large_is_refused(quinn):
    with pytest.raises(Conflict, match="15 MB"):
        keep(quinn, b"%PDF-" + b"0" * (15 * 1024 * 1024))


def test_a_page_shows_it_and_nothing_in_it_can_run(client_of, quinn):
    kept = keep(quinn, photo(kind="PNG"))
    response = client_of(quinn).get(f"/files/{kept.pk}")
    assert response["Content-Type"] == "image/jpeg"
    assert response["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in response["Content-Security-Policy"]
    assert b"".join(response.streaming_content)[:3] == b"\xff\xd8\xff"


def test_another_department_does_not_find_it(client_of, quinn, sam):
    kept = keep(quinn, photo())
    assert client_of(sam).get(f"/files/{kept.pk}").status_code == 404
