"""Errors of the API in one shape: what is wrong, where, and how to mend it."""

from typing import Any

from django.core.exceptions import ValidationError
from rest_framework import status
from rest_framework.response import Response
from rest_framework.views import exception_handler


class Conflict(Exception):
    """A request that cannot be carried out as things stand; answered with 409."""


def explain(error: Exception, context: dict[str, Any]) -> Response | None:
    """Turn domain errors into 409 and Django's validation errors into 400; leave the rest to the framework."""
    if isinstance(error, Conflict):
        return Response({"detail": str(error)}, status=status.HTTP_409_CONFLICT)
    if isinstance(error, ValidationError):
        return Response(
            error.message_dict if hasattr(error, "error_dict") else {"detail": error.messages},
            status=status.HTTP_400_BAD_REQUEST,
        )
    return exception_handler(error, context)
