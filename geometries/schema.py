"""JSON Schema of design files, so that editors complete and check them."""

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from geometries.container import Container
from geometries.materials_file import MATERIALS_FROM


class _DefaultsAsText(GenerateJsonSchema):
    """Shows a default length as "0.4 mm", as a design file would hold it, not as a number in SI."""

    def encode_default(self, dft: Any) -> Any:
        return dict(dft) if isinstance(dft, dict) else super().encode_default(dft)

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        result = super().default_schema(schema)
        writer: Any = schema["schema"].get("serialization", {})
        if isinstance(result.get("default"), float) and "function" in writer:
            result["default"] = writer["function"](result["default"])
        return result


def container_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a container's design file."""
    schema = Container.model_json_schema(schema_generator=_DefaultsAsText)
    schema["properties"][MATERIALS_FROM] = {"type": "string", "description": "a file of materials beside this one"}
    return {"$schema": _DefaultsAsText.schema_dialect, **schema}
