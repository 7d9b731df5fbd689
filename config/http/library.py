"""The rules library's own JSON Schemas as components of the OpenAPI document."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from rules.shapes import schema

PREFIX = "rules_"


def shipped() -> list[str]:
    """Return the names of the schemas that the library's package holds."""
    held = (file.name for file in (files("rules") / "schemas").iterdir())
    return sorted(name.removesuffix(".json") for name in held if name.endswith(".json"))


def add_library_schemas(result: dict[str, Any], **_generator: object) -> dict[str, Any]:
    """Add each schema of the library as `rules_<name>` (a hook of the generator).

    They are the library's, word for word, except that a reference names its component: most
    readers of OpenAPI do not follow a schema's own `$id`.
    """
    components = result.setdefault("components", {}).setdefault("schemas", {})
    for name in shipped():
        component = PREFIX + name
        found = _placed(schema(name), f"#/components/schemas/{component}")
        components[component] = {
            key: value for key, value in found.items() if key not in {"$schema", "$id"}
        }
    return result


def _placed(value: Any, place: str) -> Any:
    """Return `value` with every reference into its own document made one into `place`."""
    if isinstance(value, list):
        return [_placed(each, place) for each in value]
    if not isinstance(value, dict):
        return value
    return {
        key: place + inner.removeprefix("#") if key == "$ref" else _placed(inner, place)
        for key, inner in value.items()
    }
