"""Bodies of the API: JSON, and none that would break its reader."""

from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class FlatJSON(JSONParser):
    """JSON; its length is held to DATA_UPLOAD_MAX_MEMORY_SIZE before it comes here."""

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError as problem:
            raise ParseError("This is nested deeper than any record.") from problem
