"""What pydantic finds wrong with a settings page, as sentences for the person who wrote it."""

from __future__ import annotations

from collections.abc import Sequence
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel

from pipeline.faults import Fault


def fault_of(file: str, item: Any, page: type[BaseModel]) -> Fault:
    """One error of pydantic's list (``ValidationError.errors()``) on a page."""
    location = ".".join(str(part) for part in item["loc"]) or "the page"
    where = f"{file}, setting {location}"
    if item["type"] == "extra_forbidden":
        return Fault(where, "is not a setting of dayburn.", _did_you_mean(item["loc"], page))
    if item["type"] == "missing":
        return Fault(where, "is missing.", "Add it; docs/user-guide.md lists every setting.")
    if item["type"] in ("model_type", "dict_type"):
        return Fault(
            where, f"is a section, not a value (found {item['input']!r}).", f"Write [{location}] above it."
        )
    message = str(item["msg"]).removeprefix("Value error, ")
    return Fault(where, f"{message} (found {item['input']!r})." if location != "the page" else f"{message}.")


def _did_you_mean(location: Sequence[str | int], page: type[BaseModel]) -> str:
    """The nearest real key at that place of the page, if one is near."""
    from rapidfuzz import process

    here: Any = page
    for part in location[:-1]:
        here = _below(here, part)
    if not _is_section(here):
        return "Remove it."
    names = [field.alias or name for name, field in here.model_fields.items()]
    near = process.extractOne(str(location[-1]), names, score_cutoff=70)
    return f"Did you mean '{near[0]}'?" if near else "Remove it, or see docs/user-guide.md for the settings."


def _below(here: Any, part: str | int) -> Any:
    """The type of what lies under a key or an index; None where nothing is known of it."""
    if _is_section(here):
        field = here.model_fields.get(str(part))
        return None if field is None else _bare(field.annotation)
    inside = get_args(here)
    if get_origin(here) is dict:
        return _bare(inside[1])
    return _bare(inside[0]) if get_origin(here) is tuple else None


def _bare(annotation: Any) -> Any:
    """A type without what is annotated to it, and without None beside it."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, UnionType):
        return _bare(next(one for one in get_args(annotation) if one is not type(None)))
    return annotation


def _is_section(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, BaseModel)
