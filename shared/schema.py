"""What the OpenAPI schema adds to what the views say: the token scheme, and the errors that every address can give."""

from typing import Any, Final

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.views import SpectacularAPIView
from rest_framework.request import Request

TEXT: Final = {"type": "string"}
PROBLEM: Final = {
    "type": "object",
    "description": "An error: what is wrong, where, and how to mend it.",
    "required": ["what", "where", "mend", "problems"],
    "properties": {
        "what": TEXT,
        "where": TEXT,
        "mend": TEXT,
        "problems": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["where", "what", "mend"],
                "properties": {"where": TEXT, "what": TEXT, "mend": TEXT},
            },
        },
    },
}
MEANING: Final = {
    "400": "A value is refused; nothing was recorded.",
    "401": "No sign-in, or a token that is unknown, expired or revoked.",
    "403": "The role does not carry this.",
    "404": "No such row in your department.",
    "409": "It cannot be carried out as things stand.",
}


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "shared.tokens.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "Token KEY, with the key that POST /api/v1/token gave once.",
        }


class SchemaView(SpectacularAPIView):
    """The schema of this API; it holds no rows, so nobody need sign in for it."""

    needs = "public"


def add_errors(
    result: dict[str, Any], generator: SchemaGenerator, request: Request | None, public: bool
) -> dict[str, Any]:
    """Give every operation the errors it can answer with, in the one shape of ``shared.api``."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = PROBLEM
    for path, operations in result.get("paths", {}).items():
        for method, operation in operations.items():
            for code in _codes(path, method, operation):
                operation["responses"].setdefault(
                    code,
                    {
                        "description": MEANING[code],
                        "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
                    },
                )
    return result


def _codes(path: str, method: str, operation: dict[str, Any]) -> list[str]:
    codes = ["400"] if method in ("post", "put", "patch") or operation.get("parameters") else []
    # An operation anybody may ask lists the empty requirement among its securities, or lists none.
    closed = bool(operation.get("security")) and {} not in operation["security"]
    codes += ["401", "403"] if closed or method == "post" else []
    codes += ["404"] if "{" in path or "page" in {p["name"] for p in operation.get("parameters", [])} else []
    return codes + (["409"] if method == "post" and closed else [])
